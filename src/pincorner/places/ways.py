"""All the ways in which a jig may lie on a bed: every corner, quadrant and turn, or dowel pair."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from shapely import STRtree, points

from pincorner.documents.jigs import OnDowels
from pincorner.documents.stations import DowelPins, EdgePins, Station, Toward
from pincorner.geometry.clearances import Array, Indices
from pincorner.geometry.outline import Outline
from pincorner.geometry.pose import XY, Pose, normal_deg
from pincorner.places.fit import FITS, Check, first_reasons
from pincorner.places.pins import BedHoles, Flags, best_pins
from pincorner.setups.choice import SLACK
from pincorner.setups.facts import Facts
from pincorner.setups.holes import bed_pose
from pincorner.setups.locating import jig_in_quadrant, sign_of

QUARTERS = (0, 90, 180, 270)
TOWARDS: tuple[Toward, ...] = ("+x+y", "-x+y", "+x-y", "-x-y")

NO_PINS = "reach too few usable holes"
TAKEN_PINS = "need holes that are taken"
TAKEN_CORNER = "have their corner where a pin of another station stands"

_SQUARE_DEG = 1.0
"""Dowels nearer than this to a quarter turn lie along a row or a column."""

DRAFT = "draft"
"""The name of a station that is yet to be placed."""


class Ways(NamedTuple):
    """Ways to lie that have pins, n of them; they may still have something in their way.

    drafts: with turn and toward; on dowels there is one. of: (n,) the draft of each. corners: (n,)
    its corner's hole; none (-1) on dowels. pins: holes of the two edge pins and the stop (n, 3), or
    of round hole and slot (n, 2). labels: of all holes. number: how many ways there are at all.
    against: what the others failed by, and how many.
    """

    drafts: tuple[Facts, ...]
    of: Indices
    corners: Indices
    pins: Indices
    labels: tuple[str, ...]
    number: int
    against: Counter[str]

    def station(self, at: int) -> Station:
        """One of them as a draft of a station."""
        first, second, *stop = (self.labels[hole] for hole in self.pins[at])
        like: Station = self.drafts[self.of[at]].station
        if not stop:
            on_dowels = DowelPins(round=first, slot=second)
            return like.model_copy(update={"pins": on_dowels, "turn": 0})
        on_edges = EdgePins(edge=(first, second), stop=stop[0])
        corner = self.labels[self.corners[at]]
        return like.model_copy(update={"pins": on_edges, "corner": corner})

    def of_draft(self, draft: int) -> Indices:
        """Those of one draft."""
        return np.flatnonzero(self.of == draft)


Telling = Callable[[int, int], None]
"""It is told how many ways were looked at, and of how many."""


def tell_nobody(_done: int, _ways: int) -> None:
    """Nobody waits."""


def find_ways(
    facts: Facts,
    holes: BedHoles,
    checks: Sequence[Check],
    turns: Sequence[int] | None,
    telling: Telling = tell_nobody,
) -> Ways:
    """Every way of laying `facts.holder` on `facts.bed`.

    turns: those allowed, in degrees. With None all quarter turns at a corner, any on dowels.
    """
    way = facts.holder.locate
    if isinstance(way, OnDowels):
        return _on_dowels(facts, way, holes, turns)
    turns = QUARTERS if turns is None else turns
    drafts = [
        facts._replace(station=facts.station.model_copy(update={"turn": turn, "toward": toward}))
        for turn in turns
        for toward in TOWARDS
    ]
    number = len(drafts) * len(holes.places)
    labels = tuple(place.label for place in holes.places)
    if not number:
        none = np.empty(0, dtype=np.intp)
        return Ways((), none, none, none.reshape(0, 3), labels, 0, Counter())
    telling(0, number)
    poses = np.concatenate([_nominal_poses(draft, holes) for draft in drafts])
    reasons = first_reasons(checks, poses, SLACK * min(facts.bed.grid.pitch))
    texts = [text for check in checks for text in check.reasons]
    against = Counter(texts[reason] for reason in reasons[reasons != FITS])
    open_ones = (reasons == FITS).reshape(len(drafts), -1)
    found = []
    for done, (draft, here) in enumerate(zip(drafts, open_ones, strict=True), 1):
        found.append(_with_pins(draft, holes, here, against))
        telling(done * len(labels), number)
    of = np.repeat(np.arange(len(drafts)), [len(corners) for corners, _ in found])
    corners, pins = (np.concatenate(each) for each in zip(*found, strict=True))
    return Ways(tuple(drafts), of, corners, pins, labels, number, against)


def _nominal_poses(facts: Facts, holes: BedHoles) -> Array:
    """Poses (h, 3) of the jig at every corner, from the corner hole alone."""
    toward, jig = _toward_and_jig(facts)
    radius = facts.pin_of(facts.station.pin).body / 2
    at = holes.true + np.array(toward) * radius + jig.origin
    return np.column_stack((at, np.full(len(at), jig.angle_rad)))


def _toward_and_jig(facts: Facts) -> tuple[tuple[int, int], Pose]:
    """The signs of the station's quadrant, and the jig turned in it from the corner."""
    toward = facts.station.toward or ""
    signs = sign_of(toward, 0), sign_of(toward, 1)
    return signs, jig_in_quadrant(facts.holder.outline, facts.station.turn, *signs)


def outline_of(facts: Facts) -> Outline:
    """The jig from its corner, with the station's turn, toward its quadrant."""
    return _toward_and_jig(facts)[1].points(facts.holder.outline)


def _with_pins(
    facts: Facts, holes: BedHoles, open_ones: Flags, against: Counter[str]
) -> tuple[Indices, Indices]:
    """Open corners (n,) at which pins reach the jig, with the facts' turn and toward the facts'
    quadrant, and those pins (n, 3)."""
    against[TAKEN_CORNER] += int((open_ones & holes.keeps_out).sum())
    corners = np.flatnonzero(open_ones & ~holes.keeps_out)
    outline = outline_of(facts)
    rows, triples = best_pins(facts, holes, corners, outline, holes.free)
    without = np.setdiff1d(np.arange(len(corners)), rows)
    if len(without):
        with_taken, _ = best_pins(facts, holes, corners[without], outline, holes.usable)
        against[TAKEN_PINS] += len(with_taken)
        against[NO_PINS] += len(without) - len(with_taken)
    return corners[rows], triples


def _on_dowels(facts: Facts, way: OnDowels, holes: BedHoles, turns: Sequence[int] | None) -> Ways:
    """All pairs of holes whose distance the slot takes."""
    pairs, angles_deg = _dowel_pairs(way, holes)
    if turns is not None:
        square = [
            any(abs(normal_deg(a - turn)) < _SQUARE_DEG for turn in turns) for a in angles_deg
        ]
        pairs = pairs[np.array(square, dtype=bool)]
    free = holes.free[pairs].all(axis=1)
    labels = tuple(place.label for place in holes.places)
    of = np.zeros(int(free.sum()), dtype=np.intp)
    against = Counter({TAKEN_PINS: int((~free).sum())})
    return Ways((facts,), of, of - 1, pairs[free], labels, len(pairs), against)


def _dowel_pairs(way: OnDowels, holes: BedHoles) -> tuple[Indices, Array]:
    """Pairs of usable holes (n, 2) for round hole and slot, and how the jig lies turned (n,)."""
    (x1, y1), (x2, y2) = way.round.at, way.slot.at
    length, give = math.hypot(x2 - x1, y2 - y1), way.slot.travel / 2
    usable = np.flatnonzero(holes.usable)
    at = points(holes.true[usable])
    pairs = usable[STRtree(at).query(at, predicate="dwithin", distance=length + give).T]
    dx, dy = (holes.true[pairs[:, 1]] - holes.true[pairs[:, 0]]).T
    pairs_fit = (np.abs(np.hypot(dx, dy) - length) <= give) & (np.hypot(dx, dy) > 0)
    angles = np.degrees(np.arctan2(dy, dx) - math.atan2(y2 - y1, x2 - x1))
    return pairs[pairs_fit], angles[pairs_fit]


def draft_like(like: Station, bed: str, pin: str) -> Station:
    """A station that is yet to be placed: as another one of its jig, lying nowhere so far."""
    fresh: dict[str, object] = {"name": DRAFT, "bed": bed, "pin": pin}
    fresh |= {"pins": None, "corner": None, "toward": None, "turn": 0, "clamps": ()}
    fresh["measured"] = None
    kept_there = {"note": None, "measured_holes": False, "max_skew": None}
    return like.model_copy(update={**fresh, **kept_there})


def draft_of(
    bed: str, pin: str, jig: str | None, stock: tuple[float, float, float] | None, zero: XY
) -> Station:
    """The same where no station has the jig, or the stock with that zero (mm).

    Raises ValidationError.
    """
    lying = {"jig": jig} if stock is None else {"stock": stock, "stock_zero": zero}
    made = {"name": DRAFT, "bed": bed, "pin": pin, **lying, "corner": "A1", "toward": "+x+y"}
    # any corner and quadrant: each is tried
    return Station.model_validate(made, context={"units": "mm"})


def draft_with(draft: Station, program: str) -> Station:
    """The same where another program runs."""
    return draft.model_copy(update={"program": program})


def draft_with_codes(draft: Station, codes: Mapping[str, str]) -> Station:
    """The same with these work offsets, by nest."""
    return draft.model_copy(update={"work_offsets": dict(codes)})


def draft_named(draft: Station, name: str) -> Station:
    """The same under the name of a station."""
    return draft.model_copy(update={"name": name})


def nominal_deg(facts: Facts, jig_in_bed: Pose) -> float:
    """The angle, in (-180, 180], that a program has to be posted turned by for the first nest.

    To the machine's axes; small angles of corner and bed left out where the jig lies square.
    """
    square = 90.0 * round(bed_pose(facts).angle_deg / 90.0)
    jig_deg = jig_in_bed.angle_deg
    nearest = 90.0 * round(jig_deg / 90.0)
    lies = nearest if abs(jig_deg - nearest) < _SQUARE_DEG else round(jig_deg, 4)
    return normal_deg(square + lies + facts.holder.nests[0].angle)


def turns_as_posted(facts: Facts) -> tuple[int, ...] | None:
    """The turns at which the station's program can run as it was posted; None for all of them.

    All where the dialect writes the angle, else those that its program_angle makes up for.
    """
    if facts.dialect.rotation != "none":
        return None
    posted_deg = facts.station.program_angle
    return tuple(
        turn
        for turn in QUARTERS
        if abs(
            normal_deg(
                nominal_deg(facts, Pose.of_degrees("bed", "jig", 0.0, 0.0, turn)) - posted_deg
            )
        )
        < _SQUARE_DEG
    )
