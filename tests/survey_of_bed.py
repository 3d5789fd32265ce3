"""A survey of the whole demo bed: our transform against the numerical second method.

`python tests/survey_of_bed.py` lays the demo's tray, and its bare roof board, against every pair of
holes that can carry it, in each of the four quadrants and four turns, once with the holes as drawn
and once as measured, and prints how many places that are and the worst disagreement. It takes
minutes; `test_survey_of_bed.py` takes a thinned run of the same places.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from typing import NamedTuple

import numpy as np
from oracles import second_method
from oracles.contacts import Floats, Point, carried
from oracles.second_method import Case, wrapped_deg
from test_transform import case_of
from worlds import facts, world

from pincorner.documents.beds import Bed, Extra, PoseEntry
from pincorner.documents.stations import EdgePins, PinInHole
from pincorner.setups.facts import Facts
from pincorner.setups.transform import make_setups
from pincorner.shipped import shipped_folder

QUADRANTS = ("+x+y", "-x+y", "+x-y", "-x-y")
TURNS = (0, 90, 180, 270)
LEAST_EDGE_SHARE = 0.1  # guide, Corner: edge pins stand at least a tenth of the edge apart


class Pair(NamedTuple):
    """Two edge holes on a row (`axis` 0) or column (1), the stop and the corner hole."""

    edge: tuple[str, str]
    stop: str
    corner: str
    axis: int
    toward: str


class Worst(NamedTuple):
    """How many places were laid, and the largest disagreement of zero, corner and angle."""

    places: int
    zero_mm: float
    corner_mm: float
    angle_deg: float


class Place(NamedTuple):
    """A holder against a pair, turned; `mixed`: the demo's other pin is in the nearer edge hole."""

    base: Facts
    pair: Pair
    turn: int
    mixed: bool

    @property
    def facts(self) -> Facts:
        """The facts of a station that has these pins."""
        return _against(self.base, self.pair, self.turn, mixed=self.mixed)


def places() -> Iterator[Place]:
    """Every place of the survey."""
    for holder, as_measured in itertools.product(("left", "roof"), (False, True)):
        base = _on_bed(holder, as_measured)
        for turn in TURNS:
            for pair in pairs(base, turn):
                yield Place(base, pair, turn, as_measured)


def pairs(base: Facts, turn: int) -> Iterator[Pair]:
    """Every pair of edge holes, with its stop, that locates the holder turned by `turn`.

    One stop for each pair and quadrant. The corner hole is the one next to the pair's nearer
    hole: so the pair lies as near to the corner as it can, and a far hole is within the edge
    wherever any corner would have it so. The stop is the first usable hole of the corner's column
    (or row) from there toward the quadrant. Contacts are judged on the drawn grid, whose holes are
    off by far less than they lie within the edges.
    """
    grid, radius = base.bed.grid, base.pins[base.station.pin].body / 2
    counts, missing = (grid.columns, grid.rows), set(base.bed.missing)
    length, width = base.holder.outline[2]  # the demo's holders are rectangles from 0, 0
    sides = (length, width) if turn % 180 == 0 else (width, length)
    for axis, toward in itertools.product((0, 1), QUADRANTS):
        signs = tuple(1 if sign == "+" else -1 for sign in toward[::2])
        for corner in itertools.product(range(grid.columns), range(grid.rows)):
            along = _reached(corner, axis, signs, counts)
            edge = _touching(along, axis, grid.pitch[axis], radius, sides[axis], missing)
            across = _reached(corner, 1 - axis, signs, counts)
            pitch, side = grid.pitch[1 - axis], sides[1 - axis]
            stops = _touching(across, 1 - axis, pitch, radius, side, missing)
            if not edge or not stops or edge[0] != _label(along[0]):
                continue
            for far in edge[1:]:
                steps = abs(_index(far, axis) - _index(edge[0], axis))
                if steps * grid.pitch[axis] >= LEAST_EDGE_SHARE * sides[axis]:
                    yield Pair((edge[0], far), stops[0], _label(corner), axis, toward)


def survey(found: Iterable[Place]) -> Worst:
    """The worst disagreement over these places between the transform and the second method."""
    count, zero_mm, corner_mm, angle_deg = 0, 0.0, 0.0, 0.0
    for place in found:
        station = place.facts
        (setup,) = make_setups(station)
        zero, corner = _by_second_method(case_of(station))
        ours = setup.zero_in_machine
        count += 1
        zero_mm = max(zero_mm, math.dist((ours.x_mm, ours.y_mm), (zero[0], zero[1])))
        corner_mm = max(corner_mm, math.dist(setup.located.corner.point, corner))
        off = wrapped_deg(setup.angle_deg - math.degrees(zero[2]) + station.station.program_angle)
        angle_deg = max(angle_deg, abs(off))
    return Worst(count, zero_mm, corner_mm, angle_deg)


def _by_second_method(case: Case) -> tuple[Floats, Point]:
    """The zero in the machine (x mm, y mm, rad) and the holder's corner at the pins (bed, mm)."""
    pose = np.array(
        [second_method.place(case.outline, case.pins, case.toward, case.turn_deg, case.push_mm)]
    )
    bed = np.array([[case.bed_pose[0], case.bed_pose[1], math.radians(case.bed_pose[2])]])
    signs = tuple(1 if sign == "+" else -1 for sign in case.toward[::2])
    posed = [carried(np.zeros((1, 3)), pose, point)[0][:2] for point in case.outline]
    nearest = min(posed, key=lambda at: float(signs[0] * at[0] + signs[1] * at[1]))
    return carried(bed, pose, case.zero)[0], (float(nearest[0]), float(nearest[1]))


def _on_bed(station: str, as_measured: bool) -> Facts:
    """A demo station; `as_measured` moves every hole by the stated spread and turns the bed."""
    text = (shipped_folder("fixtures_db") / "beehive.yaml").read_text(encoding="utf-8")
    base = facts(world(text), station)
    if not as_measured:
        return base
    draw, sd_mm = np.random.default_rng(20261125), base.bed.grid.hole_position
    moved = [
        Extra(name=hole.label, at=tuple((np.array(hole.at_mm) + draw.normal(0, sd_mm, 2)).tolist()))
        for hole in base.bed.holes()
    ]
    pose = PoseEntry(x=base.bed.pose.x, y=base.bed.pose.y, angle=0.12)
    changed = base.bed.model_copy(update={"extra": tuple(moved), "pose": pose})
    return base._replace(bed=Bed.model_validate(changed.model_dump(by_alias=True)))


def _against(base: Facts, pair: Pair, turn: int, *, mixed: bool) -> Facts:
    """The station against a pair; `mixed` puts the demo's other pin into the nearer edge hole."""
    other = next(name for name in base.pins if name != base.station.pin)
    near = PinInHole(hole=pair.edge[0], pin=other) if mixed else pair.edge[0]
    changes = {
        "pins": EdgePins(edge=(near, pair.edge[1]), stop=pair.stop),
        "corner": pair.corner,
        "toward": pair.toward,
        "turn": turn,
    }
    return base._replace(station=base.station.model_copy(update=changes))


Cell = tuple[int, int]


def _reached(corner: Cell, axis: int, signs: tuple[int, ...], counts: Cell) -> list[Cell]:
    """Cells beyond the corner's along an axis, nearest first, on the quadrant's side."""
    ends = range(corner[axis] + signs[axis], counts[axis] if signs[axis] > 0 else -1, signs[axis])
    return [(at, corner[1]) if axis == 0 else (corner[0], at) for at in ends]


def _touching(
    cells: list[Cell], axis: int, pitch: float, radius: float, side_mm: float, missing: set[str]
) -> list[str]:
    """Labels of those whose pin touches the side: from the corner on, one radius less than far."""
    within = [cell for steps, cell in enumerate(cells, 1) if 0 <= steps * pitch - radius <= side_mm]
    return [label for cell in within if (label := _label(cell)) not in missing]


def _label(cell: Cell) -> str:
    return f"{chr(ord('A') + cell[0])}{cell[1] + 1}"


def _index(label: str, axis: int) -> int:
    return ord(label[0]) - ord("A") if axis == 0 else int(label[1:]) - 1


if __name__ == "__main__":
    worst = survey(places())
    print(f"{worst.places} places; worst disagreement: zero {worst.zero_mm:.2g} mm,")
    print(f"corner {worst.corner_mm:.2g} mm, angle {worst.angle_deg:.2g} degrees")
