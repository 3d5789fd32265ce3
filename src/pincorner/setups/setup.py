"""The one value that everything printed is drawn from."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

from pincorner.documents.jigs import Nest
from pincorner.documents.records import Program
from pincorner.errors import Refused
from pincorner.geometry.outline import Outline
from pincorner.geometry.pose import XY, Pose
from pincorner.setups.budget import Budget
from pincorner.setups.facts import Facts
from pincorner.setups.findings import Finding
from pincorner.setups.heights import Heights
from pincorner.setups.locating import Located
from pincorner.setups.person import Person, person_at
from pincorner.setups.printed import Figures, Printed, figures, unwritten_deg
from pincorner.units import Unit, exact_mm, fixed

NO_WORK_OFFSET = "no-work-offset"
"""A nest that has none: its station may do without, and a run gives it one."""

TOO_SKEW = "skew"
"""What cannot be written of an angle, and is more than max_skew over the stock."""


ON_REFERENCE_MM = 0.01
"""A hole that lies nearer to where offsets count from lies on it."""


def seen_from_corner(person: Person, located: Located, nest: Nest) -> XY:
    """Where a nest's zero lies from the corner at the pins, mm: to the person's right, and away."""
    return person.bed_vector(located.jig_in_corner.point(nest.zero))


class Setup(NamedTuple):
    """Every number that an operator can see or key in, for one nest of one station.

    `zero_in_machine` is the pose of program zero, its angle less the program's own; `angle_deg`
    the same in (-180, 180]. `skew_mm`: the deviation over the stock of what is not written of the
    angle: all of it, or what the dialect's decimals leave, if that shows. `relative_to`: the code
    whose origin the offset counts from, on machines that do not home. `no_block`: everything that
    speaks against writing the offset, `findings` among it; empty where a block may be written.
    """

    facts: Facts
    nest: Nest
    work_offset: str | None
    relative_to: str | None
    located: Located
    bed_in_machine: Pose
    nest_in_bed: Pose
    zero_in_machine: Pose
    heights: Heights
    angle_deg: float
    writes_angle: bool
    skew_mm: float
    budget: Budget
    findings: tuple[Finding, ...]
    printed: Printed
    no_block: tuple[Finding, ...] = ()

    @property
    def name(self) -> str:
        """Station and nest, as people say it."""
        return f"{self.facts.station.name} {self.nest.name}"

    @property
    def program(self) -> Program | None:
        """The program that runs at the nest, as its document has it."""
        return self.facts.program_of(self.nest)

    @property
    def code_or_nest(self) -> str:
        """Its work offset, or its nest where it has none: `G55`, `nest 1`."""
        return self.work_offset or f"nest {self.nest.name}"

    @property
    def fingerprint(self) -> str:
        return self.printed.fingerprint

    def fingerprint_by(self, definition: int) -> str:
        """The fingerprint by the definition of that number (`contents.DEFINITION`)."""
        return self.printed.first_fingerprint if definition == 1 else self.printed.fingerprint

    @property
    def fingerprints(self) -> tuple[str, ...]:
        """By today's definition, and by those of before, which older papers show."""
        return self.printed.fingerprint, self.printed.first_fingerprint

    def has_fingerprint(self, text: str) -> bool:
        """Whether a paper or a program with this fingerprint shows it, by any definition."""
        return text in self.fingerprints

    @property
    def stopped(self) -> tuple[Finding, ...]:
        """What of `no_block` has to be mended: a nest may do without a work offset."""
        return tuple(reason for reason in self.no_block if reason.code != NO_WORK_OFFSET)

    @property
    def too_skew(self) -> Finding | None:
        """Of `no_block` the angle that cannot be written, or not whole, with its ways out."""
        return next((reason for reason in self.no_block if reason.code == TOO_SKEW), None)

    @property
    def rotates(self) -> bool:
        """Whether its block leaves a rotation on (G68), be it by nought, behind which the program
        runs, and which that has to take off."""
        return self.facts.dialect.rotation == "g68"

    @property
    def unwritten_deg(self) -> float:
        """What is not written of the angle: all of it, or what the dialect's decimals leave."""
        return unwritten_deg(self.facts, self.angle_deg)

    @property
    def exact_angle(self) -> str:
        """The angle with enough decimals to show what of it is not written."""
        if not self.writes_angle:
            return self.printed.angle
        return fixed(self.angle_deg, max(4, self.facts.dialect.decimals.deg + 2))

    @property
    def unwritten(self) -> str:
        """That the angle is not written, or not all of it, in words; nothing where none shows."""
        if float(self.printed.skew) == 0:
            return ""
        how = f"written as {self.printed.angle}" if self.writes_angle else "not written"
        return f"angle {self.exact_angle} degrees is {how}"

    @property
    def unheld(self) -> str:
        """That no pins say where the jig lies, in words; empty where they do."""
        measured, name = self.facts.station.measured, self.facts.station.name
        if measured is None:
            return ""
        return f"where {self.facts.holder.name} of station {name} lies: as its zero was measured"

    @property
    def person(self) -> Person:
        """Who stands at the machine: drawings are turned for them, directions are theirs."""
        return person_at(self.facts.machine, self.bed_in_machine)

    @property
    def jig_in_bed(self) -> Pose:
        return self.located.jig_in_bed

    @property
    def reach_mm(self) -> float:
        """Distance from the zero to the farthest corner of the stock."""
        return max(math.hypot(*corner) for corner in self.nest.stock.outline)

    @property
    def zero_in_bed(self) -> XY:
        return self.nest_in_bed.origin

    @property
    def program_in_bed(self) -> Pose:
        """The program's own frame, with its axes as the controller has them, on the bed."""
        return self.bed_in_machine.inverse() @ self.zero_in_machine

    @property
    def reference(self) -> tuple[str, XY] | None:
        """A hole to set `relative_to` by, and its place from there, mm.

        The hole that lies on its origin, else A1, whose place the bed's document states. None
        where the machine homes.
        """
        if self.relative_to is None:
            return None
        bed, grid = self.facts.bed, self.facts.bed.grid
        origin = self.bed_in_machine.inverse().point((0.0, 0.0))
        column, row = (round(at / pitch) for at, pitch in zip(origin, grid.pitch, strict=True))
        labels = [f"{bed.letters.of(column + 1)}{row + 1}"] if column >= 0 and row >= 0 else []
        first = f"{bed.letters.of(1)}1"
        for hole in map(bed.hole, [*labels, first]):
            if hole is not None and hole.usable:
                place = self.bed_in_machine.point(hole.at_mm)
                if hole.label == first or math.hypot(*place) < ON_REFERENCE_MM:
                    return hole.label, place
        usable = next(each for each in bed.holes() if each.usable)  # its pins stand in some
        return usable.label, self.bed_in_machine.point(usable.at_mm)

    def in_other_unit(self) -> Figures:
        """The figures in the unit that is not the machine's, for reading alongside."""
        unit: Unit = "in" if self.printed.own.unit == "mm" else "mm"
        from_corner = seen_from_corner(self.person, self.located, self.nest)
        return figures(unit, self.facts, self.nest, self.zero_in_machine, self.heights, from_corner)

    def footprint_in_bed(self) -> Outline:
        """The jig's outline in bed coordinates."""
        return self.jig_in_bed.points(self.facts.holder.outline)

    def stock_in_bed(self) -> Outline:
        """The stock of this nest in bed coordinates."""
        return self.nest_in_bed.points(self.nest.stock.outline)


def written_in_machine(setup: Setup) -> Pose:
    """The program's frame as the block writes it: rounded, and turned only if the angle is written.

    On machines that do not home the frame `machine` is that of the reference code.
    """
    own = setup.printed.own
    x_mm, y_mm = (exact_mm(float(figure), own.unit) for figure in (own.x, own.y))
    angle_deg = float(setup.printed.angle) if setup.writes_angle else 0.0
    return Pose.of_degrees("machine", "program", x_mm, y_mm, angle_deg)


def bed_in_program(setup: Setup) -> Pose:
    """Where the bed, and all that stands on it, lies in the program's frame as it is written."""
    return written_in_machine(setup).inverse() @ setup.bed_in_machine


class OffsetRow(NamedTuple):
    """One nest of one station: its setup, or with what it is refused."""

    facts: Facts
    nest: str
    outcome: Setup | Refused

    @property
    def setup(self) -> Setup | None:
        """The setup; None where `refused` says why there is none."""
        return None if isinstance(self.outcome, Refused) else self.outcome

    @property
    def refused(self) -> str | None:
        """Why the station cannot be located now; None where it can."""
        return self.outcome.text if isinstance(self.outcome, Refused) else None


def by_station(rows: Iterable[OffsetRow]) -> dict[str, list[OffsetRow]]:
    """Rows by the names of their stations, in order."""
    found: dict[str, list[OffsetRow]] = {}
    for row in rows:
        found.setdefault(row.facts.station.name, []).append(row)
    return found


def setups_in(rows: Iterable[OffsetRow]) -> list[Setup]:
    """The setups of those rows that can be located."""
    return [row.setup for row in rows if row.setup is not None]
