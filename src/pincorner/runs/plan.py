"""Everything that is planned for a run, as one value that text, JSON and page are drawn from."""

from __future__ import annotations

from typing import NamedTuple

from pincorner.documents.records import Run
from pincorner.runs.codes import NestCode
from pincorner.runs.help import Help
from pincorner.runs.situation import Situation, Turns
from pincorner.runs.timeline import Timeline
from pincorner.setups.findings import Finding
from pincorner.setups.setup import Setup
from pincorner.units import Unit


class RunPlan(NamedTuple):
    """Everything that is planned for a run.

    `stations`: the setups of their nests, in order of work. `timelines`: with the first station,
    the first two, ...; the last is the run. `helps`: what would help.
    `assumed`: what the run does not state, and what was taken instead; `not_given`:
    what is not on file, and what is lost by that. `change`: the newest one that it was planned
    with, and when that was made, in UTC.
    """

    run: Run
    stations: tuple[tuple[Setup, ...], ...]
    codes: tuple[NestCode, ...]
    reach_mm: float
    situation: Situation
    turns: Turns
    timelines: tuple[Timeline, ...]
    helps: tuple[Help, ...]
    findings: tuple[Finding, ...]
    assumed: tuple[str, ...]
    not_given: tuple[str, ...]
    change: tuple[int, str | None] = (0, None)

    @property
    def unit(self) -> Unit:
        """The machine's own unit, in which lengths are told."""
        return self.stations[0][0].facts.machine.units

    @property
    def line(self) -> Timeline:
        """The timeline of the run itself."""
        return self.timelines[-1]
