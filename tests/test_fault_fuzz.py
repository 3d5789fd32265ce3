"""Hostile inputs through the command line: a thinned run of `python tests/faults/run.py fuzz`."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from faults.fuzz import Ground, fast, run_seed
from thinning import VARIABLE, thinned

COUNTS = {"documents": 60, "surveys": 48, "names": 48, "registries": 24}
if os.environ.get(VARIABLE):
    COUNTS["programs"] = 24  # their corpus is drawn first, which takes longer than all the others


@pytest.fixture(scope="module")
def ground(demo_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ground]:
    """A shop folder that is brought back after every input."""
    here = Path.cwd()
    with fast():
        yield Ground(demo_once, tmp_path_factory.mktemp("fuzz") / "yard")
    os.chdir(here)


@pytest.mark.parametrize("kind", COUNTS)
def test_whatever_comes_is_answered(ground: Ground, kind: str) -> None:
    """Every input gets an answer in time, by the exit codes of the guide, and harms nothing."""
    tried = {seed: run_seed(ground, kind, seed) for seed in range(thinned(COUNTS[kind]))}
    found = [f"{kind} {seed}: {line}" for seed, wrong in tried.items() for line in wrong]
    assert not found, "\n".join(found)
