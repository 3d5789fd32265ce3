"""Several processes at one registry: what was acknowledged is there, whoever else was at it."""

from __future__ import annotations

from pathlib import Path

import pytest
from faults.children import Nursery
from faults.writers import several, two_inits, two_restores
from postgres import empty_schema, needs_server
from thinning import thinned
from worlds import make_registry


@pytest.mark.parametrize("restores", [False, True])
def test_nothing_acknowledged_is_lost(nursery: Nursery, tmp_path: Path, restores: bool) -> None:
    """Two writers, readers and backups beside them, or a restore: all is there, in order."""
    outcome = several(nursery, tmp_path, str(tmp_path / "r.sqlite"), 2, 4, restores=restores)
    assert outcome.wrong == [] and outcome.acknowledged + outcome.busy == 8


@needs_server
@pytest.mark.parametrize("restores", [False, True])
def test_nothing_is_lost_on_a_server(nursery: Nursery, tmp_path: Path, restores: bool) -> None:
    """The same on PostgreSQL."""
    with empty_schema() as url:
        outcome = several(nursery, tmp_path, url, 2, 4, restores=restores)
    assert outcome.wrong == [] and outcome.acknowledged + outcome.busy == 8


def test_one_of_two_makes_the_registry(nursery: Nursery, tmp_path: Path) -> None:
    """Of two who make a registry in one folder at once, one does, and the other leaves it be."""
    wrong = [two_inits(nursery, tmp_path / f"pair {pair}") for pair in range(thinned(32))]
    assert [each for each in wrong if each] == []


def test_two_restores_leave_the_backup(nursery: Nursery, tmp_path: Path) -> None:
    """Two who put a backup where no registry is, at once, leave it there."""
    make_registry(tmp_path / "copy.sqlite")
    wrong = [
        two_restores(nursery, tmp_path / f"pair {pair}", tmp_path / "copy.sqlite")
        for pair in range(3)
    ]
    assert [each for each in wrong if each] == []
