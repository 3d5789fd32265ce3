"""Commands stopped dead in the middle of what they write: nothing is lost, nothing is half."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from faults.children import Nursery, why_nothing_stops
from faults.kills import CASES, Case, Yard, kill, weighty_points
from thinning import VARIABLE

REASON = why_nothing_stops()
pytestmark = pytest.mark.skipif(REASON is not None, reason=str(REASON))


AS_ANOTHER = {
    "register": "load", "retire": "load", "survey --accept": "load", "resurface": "load",
    "block -o": "sheet", "map": "sheet", "repeat": "stamp",
}  # fmt: skip
"""Commands that write as another one does, by one transaction or papers by one trail: they are
killed on purpose, here or by `faults/run.py kills`."""

KILLED_HERE = [case for case in CASES if os.environ.get(VARIABLE) or case.name not in AS_ANOTHER]


@pytest.fixture(scope="module")
def yard(nursery: Nursery, demo_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Yard:
    """Shops to kill commands in."""
    return Yard(nursery, tmp_path_factory.mktemp("kills") / "yard", demo_once)


@pytest.mark.parametrize("case", KILLED_HERE, ids=lambda case: case.name)
def test_a_killed_command_costs_nothing(yard: Yard, case: Case) -> None:
    """Killed where it matters, a command leaves a whole shop and works when given again."""
    lost = {str(point): kill(yard, point) for point in weighty_points(yard, case)}
    assert {point: wrong for point, wrong in lost.items() if wrong} == {}
