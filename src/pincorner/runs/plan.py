"""Everything that is planned for a run, as one value that text, JSON and page are drawn from."""

from __future__ import annotations

from typing import NamedTuple

from pincorner.documents.records import Run
from pincorner.runs.codes import NestCode
from pincorner.runs.keep_clear import KeepClear
from pincorner.runs.timeline import Timeline, Work
from pincorner.setups.findings import Finding
from pincorner.setups.setup import Setup
from pincorner.units import Unit


class RunPlan(NamedTuple):
    """Everything that is planned for a run.

    `timelines`: with the first station, the first two, ...; the last is the run. `quicker`: an
    order that is quicker. `assumed`: what was not on file, and what was taken instead.
    """

    run: Run
    stations: tuple[tuple[Setup, ...], ...]
    codes: tuple[NestCode, ...]
    table: tuple[KeepClear, ...]
    reach_mm: float
    works: tuple[Work, ...]
    timelines: tuple[Timeline, ...]
    quicker: Timeline | None
    findings: tuple[Finding, ...]
    assumed: tuple[str, ...]

    @property
    def unit(self) -> Unit:
        """The machine's own unit, in which lengths are told."""
        return self.stations[0][0].facts.machine.units
