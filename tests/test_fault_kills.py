"""Commands stopped dead in the middle of what they write: nothing is lost, nothing is half."""

from __future__ import annotations

import pytest
from faults.children import Nursery, why_nothing_stops
from faults.kills import CASES, Case, Yard, kill, weighty_points

REASON = why_nothing_stops()
pytestmark = pytest.mark.skipif(REASON is not None, reason=str(REASON))


@pytest.fixture(scope="module")
def yard(nursery: Nursery, tmp_path_factory: pytest.TempPathFactory) -> Yard:
    """Shops to kill commands in."""
    return Yard(nursery, tmp_path_factory.mktemp("kills") / "yard")


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_killed_command_costs_nothing(yard: Yard, case: Case) -> None:
    """Killed where it matters, a command leaves a whole shop and works when given again."""
    lost = {str(point): kill(yard, point) for point in weighty_points(yard, case)}
    assert {point: wrong for point, wrong in lost.items() if wrong} == {}
