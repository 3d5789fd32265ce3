"""Where on a bed a jig, or bare stock, can lie: best first."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple, overload

import numpy as np

from pincorner.documents.jigs import OnDowels
from pincorner.documents.stations import Station
from pincorner.errors import Refused
from pincorner.geometry.clearances import Array, Indices, nearest_gaps, posed
from pincorner.geometry.outline import TOUCH_MM, Outline
from pincorner.geometry.pose import Pose
from pincorner.places.fit import (
    FITS,
    TRACK_REACH_MM,
    Check,
    Scene,
    checks_of,
    first_reasons,
    make_scene,
)
from pincorner.places.lying import held_in, lie, may_end_low, u95s_of
from pincorner.places.pins import BedHoles, Flags, bed_holes
from pincorner.places.ways import Telling, Ways, find_ways, nominal_deg, tell_nobody
from pincorner.setups.budget import bed_not_given, make_budget
from pincorner.setups.choice import SAME_MM
from pincorner.setups.facts import Facts
from pincorner.setups.holes import bed_pose, refuse_pin
from pincorner.setups.locating import Located, locate
from pincorner.standing import Standing
from pincorner.units import figure, in_unit, told_size

_TOLD_EACH = 256
"""So many ways that are looked at one by one are told at once."""

NOT_LOCATED = "are not located by their pins"


class PlaceProposal(NamedTuple):
    """A place for a jig, with the pins that put it there.

    station: a draft with pins, corner, toward, turn and program_angle. u95_worst_mm: of the worst
    nest. gap_mm: to the nearest footprint or loading zone of the other stations asked about; None
    where there is none.
    """

    station: Station
    located: Located
    footprint: Outline
    u95_worst_mm: float
    gap_mm: float | None

    @property
    def holes(self) -> tuple[str, ...]:
        """Labels of the holes for the pins, in the order in which `register --pins` takes them."""
        return self.station.pin_holes

    @property
    def jig_in_bed(self) -> Pose:
        """How the jig would lie."""
        return self.located.jig_in_bed

    @property
    def turn_deg(self) -> float:
        """How the jig lies turned: as `register --turn` takes it, or in (-180, 180] on dowels."""
        if not self.located.on_dowels:
            return self.station.turn
        return self.jig_in_bed.angle_deg

    @property
    def where(self) -> str:
        """The corner hole, or the round hole's on dowels."""
        return self.located.corner_hole or self.holes[0]


class Proposals(Sequence[PlaceProposal]):
    """Places in their order, of which tens of thousands may fit: each is set up in full when it is
    asked for.

    poses: (n, 3) of the jig on the bed, x and y in mm, angle in rad. corners, pins: (n,), (n, 3 or
    2) of their holes, as `Ways` has them.
    """

    def __init__(
        self, facts: Facts, ways: Ways, chosen: Indices, poses: Array, gaps: Array | None
    ) -> None:
        self._facts, self._ways, self._chosen, self._gaps = facts, ways, chosen, gaps
        self.poses, self.corners, self.pins = poses, ways.corners[chosen], ways.pins[chosen]
        self._made: dict[int, PlaceProposal] = {}

    def __len__(self) -> int:
        return len(self._chosen)

    @overload
    def __getitem__(self, at: int) -> PlaceProposal: ...
    @overload
    def __getitem__(self, at: slice) -> Proposals: ...
    def __getitem__(self, at: int | slice) -> PlaceProposal | Proposals:
        if isinstance(at, slice):
            return self.at(np.arange(len(self))[at])
        number = range(len(self))[at]
        if number not in self._made:
            station = self._ways.station(int(self._chosen[number]))
            located = locate(self._facts._replace(station=station))
            gap_mm = None if self._gaps is None else float(self._gaps[number])
            self._made[number] = proposal(self._facts, station, located, gap_mm)
        return self._made[number]

    def at(self, some: Indices | Sequence[int]) -> Proposals:
        """Some of them."""
        numbers = np.array(some, dtype=np.intp)
        gaps = None if self._gaps is None else self._gaps[numbers]
        chosen, poses = self._chosen[numbers], self.poses[numbers]
        return Proposals(self._facts, self._ways, chosen, poses, gaps)

    def by_draft(self) -> Iterator[tuple[Facts, Indices]]:
        """Those of each turn and quadrant."""
        of = self._ways.of[self._chosen]
        for number in np.unique(of).tolist():
            yield self._ways.drafts[number], np.flatnonzero(of == number)

    @property
    def footprints(self) -> Array:
        """Corners (n, l, 2) of the jig, on the bed, mm."""
        return posed(np.array(self._facts.holder.outline), self.poses)


class Places(NamedTuple):
    """What was found: proposals, best first, of `ways` in which the jig could lie.

    against: what the other ways failed by, and how many of them, most frequent first.
    assumed: what was not given and what was taken for it, or not looked at. holes, checks: what
    they were looked for with. like: a station on file that one there would be like, but for its
    place.
    """

    facts: Facts
    proposals: Proposals
    ways: int
    against: tuple[tuple[str, int], ...]
    assumed: tuple[str, ...]
    holes: BedHoles
    checks: tuple[Check, ...]
    like: Station | None = None

    @property
    def why_none(self) -> str:
        """One sentence for when there is no proposal."""
        name, bed = self.facts.holder.name, self.facts.bed.name
        if not self.ways and isinstance(self.facts.holder.locate, OnDowels):
            return f"no place: no two holes of bed {bed} suit round hole and slot of {name}"
        if not self.ways:
            return f"no place: {name} may lie in none of its quarter turns"
        most = ", ".join(f"{count} {text}" for text, count in self.against[:3])
        return f"no place: of {self.ways} ways to lay {name} on bed {bed}, {most}"


def find_places(
    facts: Facts,
    standing: Sequence[Standing] = (),
    *,
    empty: Collection[str] = (),
    zones: Mapping[str, Outline] = MappingProxyType({}),
    turns: Sequence[int] | None = None,
    beside: Collection[str] | None = None,
    reach_mm: float = TRACK_REACH_MM,
    most_corners: int | None = None,
    usual: Collection[int] = (),
    telling: Telling = tell_nobody,
) -> Places:
    """All places for `facts.holder` on `facts.bed` with pins of `facts.station.pin`.

    Of `facts.station` also under and program_angle count; its own pins, corner, toward and turn do
    not. A jig fits where its edges reach usable holes, it lies on the bed and clear of what is
    `standing` there, its zeros and stock lie inside the travel, no cut may reach a screw or a track
    under it, and a track is within `reach_mm` (on beds that have tracks). Best is the least
    u95_worst as it is printed; then a turn that is `usual` (degrees, on dowels none), the least
    u95_worst to 1e-6 mm, the largest gap to the stations `beside` (all with None); then by turn,
    quadrant and hole. `empty`: holes that stay empty for other stations. `zones`: where hands
    load other stations, by station: in nobody's way, gaps are measured to them. `turns`: those
    allowed; all with None. `most_corners`: at so many pin corners (or pairs of holes), spread over
    all that fit; all with None. `telling`: it is told how many ways were looked at.
    """
    draft = facts.station.model_copy(
        update={"pins": None, "corner": None, "toward": None, "turn": 0, "measured_holes": False}
    )
    facts = facts._replace(station=draft)
    refuse_pin(facts, facts.pin_of(draft.pin), facts.bed.holes()[0].label)
    scene = make_scene(facts, standing, zones, beside, reach_mm)
    checks, holes = checks_of(scene), bed_holes(facts, standing, empty)
    ways = find_ways(facts, holes, checks, turns, telling)
    against = ways.against.copy()
    poses, located, u95s_of_some = all_at_once(facts, holes, ways, telling)
    against[NOT_LOCATED] += int((~located).sum())
    left = np.flatnonzero(located)
    reasons = first_reasons(checks, poses[left], TOUCH_MM)
    texts = [text for check in checks for text in check.reasons]
    against.update(texts[reason] for reason in reasons[reasons != FITS])
    fitting = left[reasons == FITS]
    if most_corners is not None:
        fitting = _spread(ways, fitting, most_corners)
    gaps = None
    if scene.beside.outlines:
        gaps = nearest_gaps(scene.footprint, poses[fitting], scene.beside)
    # stable: the ways come in order of turn, then hole by hole
    u95s, turns_of = u95s_of_some(fitting), np.array([draft.station.turn for draft in ways.drafts])
    other = ~np.isin(turns_of[ways.of[fitting]], list(usual))
    order = np.lexsort((*_steps(gaps), np.round(u95s / SAME_MM), other, _as_printed(facts, u95s)))
    proposals = Proposals(
        facts, ways, fitting[order], poses[fitting[order]], None if gaps is None else gaps[order]
    )
    told = tuple((text, count) for text, count in against.most_common() if count)
    return Places(facts, proposals, ways.number, told, tuple(_assumed(scene)), holes, tuple(checks))


def _as_printed(facts: Facts, u95s: Array) -> Array:
    """u95_worst (n,), from mm to what a list of places prints, in the machine's unit."""
    unit = facts.machine.units
    return np.round(u95s * in_unit(1.0, unit), len(figure(0.0, unit).partition(".")[2]))


def all_at_once(
    facts: Facts, holes: BedHoles, ways: Ways, telling: Telling = tell_nobody
) -> tuple[Array, Flags, Callable[[Indices], Array]]:
    """How the jig lies in all ways (n, 3), whether it is located, and u95_worst, mm, of some."""
    if isinstance(facts.holder.locate, OnDowels):
        return one_by_one(facts, ways, telling)
    poses, located = np.empty((len(ways.of), 3)), np.empty(len(ways.of), dtype=np.bool_)
    every, worst_mm = held_in(facts, holes), np.empty(len(ways.of))
    drafts = []
    for at, draft in enumerate(ways.drafts):
        mine = ways.of_draft(at)
        lying = lie(draft, holes, every, ways.corners[mine], ways.pins[mine])
        poses[mine], located[mine] = lying.poses, lying.located
        drafts.append((mine, lying))
    if may_end_low(facts):
        _, by_each, _ = one_by_one(facts, ways)
        located &= by_each

    def known(some: Indices) -> Array:
        wanted = np.isin(np.arange(len(worst_mm)), some)
        for mine, lying in drafts:
            worst_mm[mine[wanted[mine]]] = u95s_of(lying.of(np.flatnonzero(wanted[mine])))
        return worst_mm[some]

    return poses, located, known


def one_by_one(
    facts: Facts, ways: Ways, telling: Telling = tell_nobody
) -> tuple[Array, Flags, Callable[[Indices], Array]]:
    """The same by `locate` and `make_budget` for one way at a time."""
    found: dict[int, Located] = {}
    poses = np.zeros((len(ways.of), 3))
    for at in range(len(ways.of)):
        if at % _TOLD_EACH == 0:
            telling(at, len(ways.of))
        try:
            found[at] = locate(facts._replace(station=ways.station(at)))
        except Refused:
            continue
        poses[at] = poses_of([found[at]])[0]

    def known(some: Indices) -> Array:
        jigs = ((each := found[at], each.jig_in_bed) for at in some.tolist())
        return np.array([_u95_worst_mm(facts, *jig) for jig in jigs], dtype=float)

    located = np.isin(np.arange(len(poses)), list(found))
    return poses, located, known


def _spread(ways: Ways, fitting: Indices, most: int) -> Indices:
    """Those of some ways that lie at so many corners, spread over the corners of all."""
    at_edges = bool((ways.corners >= 0).all())
    corners = [(corner,) for corner in ways.corners.tolist()] if at_edges else ways.pins.tolist()
    lie_at = {at: tuple(corners[at]) for at in fitting.tolist()}
    once = list(dict.fromkeys(lie_at.values()))
    step = max(len(once) / most, 1.0)
    chosen = {once[int(number * step)] for number in range(int(len(once) / step))}
    return np.array([at for at in fitting.tolist() if lie_at[at] in chosen], dtype=np.intp)


def poses_of(located: Sequence[Located]) -> Array:
    """Poses (n, 3) of the jig on the bed: x and y in mm, angle in rad."""
    poses = [each.jig_in_bed for each in located]
    return np.array([pose[2:] for pose in poses], dtype=float).reshape(-1, 3)


def _steps(gaps: Array | None) -> list[Array]:
    """Gaps as they are ranked, the largest first; none where none are asked for."""
    return [] if gaps is None else [-np.round(gaps / SAME_MM)]


def proposal(
    facts: Facts, station: Station, located: Located, gap_mm: float | None
) -> PlaceProposal:
    """A place for a draft that was located; `facts` are those that it was looked for with."""
    jig_in_bed = located.jig_in_bed
    if facts.dialect.rotation == "none":
        posted = {"program_angle": nominal_deg(facts, jig_in_bed)}
        station = station.model_copy(update=posted)
    return PlaceProposal(
        station=station,
        located=located,
        footprint=jig_in_bed.points(facts.holder.outline),
        u95_worst_mm=_u95_worst_mm(facts._replace(station=station), located, jig_in_bed),
        gap_mm=gap_mm,
    )


def _u95_worst_mm(facts: Facts, located: Located, jig_in_bed: Pose) -> float:
    """The largest u95 over the stock corners of all nests."""
    bed_in_machine, worst = bed_pose(facts), 0.0
    for nest in facts.holder.nests:
        in_bed = jig_in_bed @ nest.in_jig
        arms = [(bed_in_machine @ in_bed).vector(point) for point in nest.stock.outline]
        budget = make_budget(facts, located, in_bed.origin, arms)
        worst = max(worst, budget.u95_worst_mm)
    return worst


def _assumed(scene: Scene) -> list[str]:
    facts, unit = scene.facts, scene.facts.machine.units
    told = [f"{name}, not counted in lies within" for name in bed_not_given(facts)]
    if not facts.machine.homes:
        told.append(f"{facts.machine.name} does not home: its travel is not checked")
    elif facts.machine.travel is None:
        told.append(f"the travel of {facts.machine.name} is not given and not checked")
    if facts.bed.tracks:
        told.append(
            f"clamps reach {told_size(scene.reach_mm, unit)} from their track (common practice)"
        )
    if scene.metal_names and any(nest.run_off is None for nest in facts.holder.nests):
        largest = facts.largest_tool_mm
        taken = f"the largest tool's {told_size(largest, unit)}" if largest else f"0 {unit}"
        told.append(f"run_off is not given: {taken} taken")
    return told
