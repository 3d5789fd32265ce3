"""What stands on a paper beside the station's own: notes, and what other things on the bed bring.

It is kept with each paper as it was, and compared with what it is now. A changed note makes a
sheet stale and no program.
"""

from __future__ import annotations

import json
import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from pincorner.bed import covers, surface_z
from pincorner.characters import visible
from pincorner.documents.beds import Bed
from pincorner.documents.fields import key_of
from pincorner.documents.jigs import Jig
from pincorner.documents.machines import Machine, Side
from pincorner.documents.records import Run
from pincorner.geometry.outline import Box, bounds
from pincorner.program.source.text import ProgramText
from pincorner.setups.contents import Part, Written, cover_parts, differences, written_of
from pincorner.setups.findings import of_its_day
from pincorner.setups.setup import OffsetRow, Setup
from pincorner.standing import Standing, standing_on
from pincorner.units import figure, fixed
from pincorner.work.kept.copies import digest_of

if TYPE_CHECKING:  # NumPy stands behind it, which a block does without
    from pincorner.program.check.result import Report

DEFINITION = 2
"""The number of what is kept beside the station's own today; papers keep the one of their day.

1: all but what the second adds. 2: what moves, and the jig's LEFT edge, with sheets
(`since_first`); what is noteworthy with blocks and copies.
"""

NEAR_PITCHES = 0.5
"""Other stations' pins within this many pitches of the jig are told to be taken out."""


class Beside(NamedTuple):
    """What is kept with a paper, each as text; None where it shows nothing of the kind.

    `words`: notes. `around`: other things on the bed. `reach`: where on it those were looked for;
    None: everywhere.
    """

    words: str | None = None
    around: str | None = None
    reach: str | None = None


def as_text(parts: Iterable[Part]) -> str:
    """Parts as they are kept."""
    return json.dumps(sorted(parts), ensure_ascii=False, separators=(",", ":"))


def parts_of(text: str) -> list[Part]:
    """Parts from how they are kept."""
    return [Part(*each) for each in json.loads(text)]


def changed_since(before: Iterable[Part], now: Iterable[Part]) -> list[str]:
    """What changed between two lists of parts, in words; of what is drawn on a bed only that
    something is otherwise (`drawn_changes` names it), of a picture that it is another one."""
    old, new = set(before), set(now)
    if old == new:
        return []
    pictures = [
        {p.of: p.figure for p in parts if p.of.startswith(_PICTURE)} for parts in (old, new)
    ]
    both = pictures[0].keys() & pictures[1].keys()
    told = [
        f"{of} is not there any more" if pictures[1][of] == _NOT_THERE else f"{of} is another one"
        for of in sorted(both)
        if pictures[0][of] != pictures[1][of]
    ]
    kept = ([p for p in parts if p.of not in both and p.what not in _DRAWN] for parts in (old, new))
    return [*differences(*kept), *told]


_PICTURE, _NOT_THERE = "picture ", "not there"


def beside_sheet(setups: Sequence[Setup], take_out: Sequence[str], shop: Path) -> Beside:
    """Beside a station's setup sheet: its notes, pins to take out, and the bed as drawn there."""
    pins = (Part(f"pin to take out in {hole}", "", "") for hole in take_out)
    words = [*_words(setups[0], shop), *_lies(setups[0]), *since_first(setups[0])]
    words += (part for each in setups for part in (*notes_of(each), *_ends(each)))
    return Beside(as_text(words), as_text([*pins, *_drawn(setups[0].facts.bed)]))


def since_first(setup: Setup) -> list[Part]:
    """What is kept with a sheet since the second definition: what moves, by which its arrows are
    read, and the edge that the stock's place is counted from, where nothing touches it."""
    machine, jig = setup.facts.machine, setup.facts.holder
    beam = "which way is not given" if machine.beam is None else f"beam {machine.beam}"
    moves = f"yes, {beam}" if machine.bed_moves else "no"
    sides: list[Side] = ["left"] if "left" not in _sides_touched(setup) else []
    return [Part(f"machine {machine.name}", "bed moves", moves), *_edges(jig, sides)]


def beside_block(setups: Iterable[Setup]) -> Beside:
    """Beside a setup block, which writes the offsets of these nests: what is noteworthy."""
    return Beside(
        words=as_text(
            _note(setup, each.text)
            for setup in setups
            for each in setup.findings
            if not of_its_day(each) and each not in setup.no_block
        )
    )


def _ends(setup: Setup) -> Iterator[Part]:
    """What ends the deepest cut beside or below a jig on another level than the jig itself: all
    else that it counts on belongs to the station's own contents."""
    from pincorner.program.check.surroundings import deepest_cut

    end = deepest_cut(setup)
    if end is None or isinstance(end, str) or setup.no_block:
        return
    facts = setup.facts
    level_mm = end.z_mm + end.into_mm + setup.heights.zero_mm
    own_mm = facts.station.under + facts.holder.seat if facts.holder.seat > 0 else 0.0
    if abs(level_mm - own_mm) > _LEVEL_MM:
        written = written_of(facts)
        yield Part(
            end.name, "lies above the surface here by", written.length(level_mm), written.unit
        )


_LEVEL_MM = 1e-6
"""Heights that differ by less are the same."""


def beside_map(
    bed: Bed, machine: Machine, rows: Sequence[OffsetRow], runs: Iterable[Run], *, is_page: bool
) -> Beside:
    """Beside a map's setups: the bed itself, from where it is seen, which stations (`rows`) are
    there. A page tells runs as well, stations that cannot be located, and what is noteworthy."""
    names = {key_of(row.facts.station.name): row.facts.station.name for row in rows}
    words = [*_seen_from(machine)]
    for row in rows:
        station = f"station {row.facts.station.name}"
        if row.setup is not None:
            words += [Part(station, "", "located"), *_edges(row.facts.holder, ("front",))]
            words += _lies(row.setup)
            words += notes_of(row.setup) if is_page else ()
        elif is_page:
            words.append(Part(station, "", f"not located: {row.refused}"))
    for run in runs if is_page else ():
        mine = ", ".join(names[key] for key in map(key_of, run.stations) if key in names)
        if mine:
            words.append(Part(f"run {run.name}", "works", mine))
    return Beside(as_text(dict.fromkeys(words)), as_text(_drawn(bed)))


def _lies(setup: Setup) -> Iterator[Part]:
    """Where on its bed a jig lies whose zero was measured in the machine: the bed, with all that
    stands on it, moves under such a one with each survey."""
    if setup.located.as_measured:
        written, place = written_of(setup.facts), setup.jig_in_bed
        of = f"jig of station {setup.facts.station.name}"
        yield Part(of, "lies on the bed at", written.place(place.origin), written.unit)
        yield Part(of, "lies on the bed at", fixed(math.degrees(place.angle_rad), 4), "degrees")


def notes_of(setup: Setup) -> Iterator[Part]:
    """What is noteworthy of a nest, as sheets and maps print it; how far it lies from the paper of
    before is of that paper's day alone."""
    texts = [each.text for each in setup.findings if not of_its_day(each)]
    texts += [each.told for each in setup.no_block if each not in setup.findings]
    return (_note(setup, text) for text in texts)


def _note(setup: Setup, text: str) -> Part:
    return Part(f'{setup.name}: note "{text}"', "", "")


def _seen_from(machine: Machine) -> Iterator[Part]:
    """Drawings are turned for the side that people stand at, and words say what is near them."""
    yield Part(f"machine {machine.name}", "operator", machine.operator or "not given")


def _words(setup: Setup, shop: Path) -> Iterator[Part]:
    """Texts and pictures for people that a sheet shows."""
    station, jig = setup.facts.station, setup.facts.holder
    for of, note in ((f"station {station.name}", station.note), (f"jig {jig.name}", jig.note)):
        yield Part(of, "note", f'"{" ".join(visible(note).split())}"' if note else "none")
    if jig.photo:
        yield Part(f"jig {jig.name}", "photo", jig.photo)
        yield Part(f"{_PICTURE}{jig.photo}", "", _picture(shop / jig.photo))
    yield from _edges(jig, dict.fromkeys(("front", *_sides_touched(setup))))
    pushed = dict.fromkeys(pin.shift_mm for pin in setup.located.pins if pin.shift_mm > 0)
    unit = setup.printed.own.unit
    for shift_mm in pushed:
        yield Part("pins", "are pushed aside by", figure(shift_mm, unit), unit)
    yield from _seen_from(setup.facts.machine)
    yield from _beside_reference(setup)


def _sides_touched(setup: Setup) -> tuple[Side, ...]:
    """The jig's own edges that pins touch."""
    located = setup.located
    return (located.edge_side, located.stop_side) if located.on_edges else ()


def _beside_reference(setup: Setup) -> Iterator[Part]:
    """The note of the bed, which a sheet tells where the reference of the day is set."""
    bed = setup.facts.bed
    if setup.relative_to is not None and visible(bed.note or "").strip():
        yield Part(f"bed {bed.name}", "note", f'"{" ".join(visible(bed.note or "").split())}"')


def _edges(jig: Jig, sides: Iterable[Side]) -> Iterator[Part]:
    """What people call a jig's own edges."""
    for side in sides:
        name = jig.edge_name(side)
        if name:
            yield Part(f"jig {jig.name}", f"{side} edge", f'"{visible(name)}"')


def _picture(path: Path) -> str:
    """A digest of a photo's file."""
    try:
        found = path.stat()
        return _digest_of_picture(path, found.st_size, found.st_mtime_ns)
    except OSError:
        return _NOT_THERE


@lru_cache(maxsize=256)
def _digest_of_picture(path: Path, _size: int, _mtime_ns: int) -> str:
    return digest_of(path)[:12]


def _drawn(bed: Bed) -> Iterator[Part]:
    """A bed's own things as they are drawn, which is without names and heights, each kind as a
    digest: what of it changed `drawn_changes` says."""
    grid = bed.grid
    kinds: dict[str, list[object]] = {
        "outline": [bed.box],
        "holes": [grid.columns, grid.rows, grid.pitch, grid.hole, bed.labels.skip, bed.missing]
        + [(each.name, each.at) for each in bed.extra],
        "tracks": [(each.from_, each.to, each.width) for each in bed.tracks],
        "screws": [(each.at, each.diameter) for each in bed.screws],
        "slats": [each.box for each in bed.slats],
        "solids": [each.box for each in bed.solids],
    }
    for kind, values in kinds.items():
        if values:
            yield Part(f"bed {bed.name}", f"{kind} as drawn", _digest(values))


def drawn_changes(before: Bed | None, now: Bed, written: Written) -> list[str]:
    """What of a bed's own things is drawn otherwise, each thing by its name; None: not known."""
    if before is None:
        return [f"bed {now.name} is drawn otherwise"]
    old, new = (list(_things_drawn(bed, written)) for bed in (before, now))
    holes = [
        f"hole {each} may not be used now" for each in now.missing if each not in before.missing
    ]
    holes += [
        f"hole {each} may be used again" for each in before.missing if each not in now.missing
    ]
    return [*holes, *differences(old, new)] or [f"bed {now.name} is drawn otherwise"]


def _things_drawn(bed: Bed, written: Written) -> Iterator[Part]:
    """A bed's own things by their names, as far as they are drawn."""
    grid, of, unit = bed.grid, f"bed {bed.name}", written.unit
    yield Part(of, "outline", written.box(bed.box), unit)
    yield Part(of, "columns and rows", f"{grid.columns} x {grid.rows}")
    yield Part(of, "holes apart by", written.size(grid.pitch), unit)
    yield Part(of, "holes", written.length(grid.hole), f"{unit} wide")
    yield Part(of, "letters left out", bed.labels.skip or "none")
    for hole in bed.extra:
        yield Part(f"hole {hole.name}", "at", written.place(hole.at), unit)
    for track in bed.tracks:
        ends = f"{written.place(track.from_)} to {written.place(track.to)}"
        yield Part(f"track {track.name}", "at", ends, unit)
        yield Part(f"track {track.name}", "", written.length(track.width), f"{unit} wide")
    for screw in bed.screws:
        yield Part(f"screw {screw.name}", "at", written.place(screw.at), unit)
        yield Part(f"screw {screw.name}", "", written.length(screw.diameter), f"{unit} across")
    for slat in bed.slats:
        yield Part(f"slat {slat.name}", "at", written.box(slat.box), unit)
    for solid in bed.solids:
        yield Part(f"solid {solid.name}", "at", written.box(solid.box), unit)


_DRAWN = tuple(
    f"{kind} as drawn" for kind in ("outline", "holes", "tracks", "screws", "slats", "solids")
)


def is_drawn_otherwise(before: Iterable[Part], now: Iterable[Part]) -> bool:
    """Whether something on the bed is drawn otherwise."""
    old, new = ({part for part in parts if part.what in _DRAWN} for parts in (before, now))
    return old != new


def _digest(values: Iterable[object]) -> str:
    """Short, of figures to a thousandth: the same in whatever unit they were stated."""
    return sha256(repr([_rounded(each) for each in values]).encode("utf-8")).hexdigest()[:12]


def _rounded(value: object) -> object:
    if isinstance(value, float):
        return round(value, 3) + 0.0
    if isinstance(value, tuple):
        return tuple(map(_rounded, value))
    return value


def pins_in_the_way(setup: Setup) -> list[str]:
    """Holes near the jig where other stations' pins may stand, row by row."""
    facts = setup.facts
    if facts.used is None:
        return []
    mine = setup.located.holes
    around = bounds(setup.footprint_in_bed()).grown(NEAR_PITCHES * max(facts.bed.grid.pitch))
    near = {
        (used.at_mm[1], used.at_mm[0], used.hole)
        for used in facts.used.within(around)
        if used.hole not in mine and used.other_than(key_of(facts.station.name)) is not None
    }
    return [hole for _, _, hole in sorted(near)]


class Things:
    """What stands on a bed, found by place: thousands of copies are held against it."""

    def __init__(self, bed: Bed, setups: Iterable[Setup]) -> None:
        found = [
            (bounds(each.outline).grown(each.radius_mm), each) for each in standing_on(bed, setups)
        ]
        self._all = sorted(found, key=lambda each: each[0])
        self._lefts = [box.left for box, _ in self._all]
        self._widest = max((box.width for box, _ in self._all), default=0.0)

    def others(self, stations: Iterable[str], reach: Box | None) -> list[Standing]:
        """What belongs to none of these stations (keys) and lies within `reach`, or anywhere."""
        mine, found = set(stations), self._all
        if reach is not None:
            first = bisect_left(self._lefts, reach.left - self._widest)
            found = found[first : bisect_right(self._lefts, reach.right)]
        return [
            thing
            for box, thing in found
            if (reach is None or reach.meets(box)) and key_of(thing.station) not in mine
        ]


def reach_of(setup: Setup, text: ProgramText, report: Report) -> Box | None:
    """Where on the bed a program may come near anything; None: that is not known.

    Its extent, grown by how near it may come and by half of what is widest of cutters and nose.
    """
    from pincorner.setups.setup import bed_in_program

    span_x, span_y = report.extent.x, report.extent.y
    facts = setup.facts
    if span_x is None or span_y is None or report.verdict == "not-fully-read":
        return None
    if facts.machine.home is None and text.goes_home:
        return None
    tools = [tool.size.diameter_mm or 0.0 for tool in report.tools]
    widest = max([facts.widest_mm, *tools])
    box = Box(span_x[0], span_y[0], span_x[1], span_y[1])
    on_bed = bed_in_program(setup).inverse().points(box.outline)
    return bounds(on_bed).grown((report.margin_mm or 0.0) + widest / 2)


def around_run(
    setups: Sequence[Setup], things_on: Callable[[Setup], Things], reach: Box | None
) -> Iterator[Part]:
    """Around a run's stations, which may lie on several beds: the beds as drawn, and what checks of
    its programs see there."""
    beds = {key_of(each.facts.bed.name): each.facts.bed for each in setups}
    for key, bed in beds.items():
        mine = [each for each in setups if key_of(each.facts.bed.name) == key]
        yield from _seen(mine, things_on(mine[0]), reach)
        yield from _drawn(bed)


def front_edge(jig: Jig) -> Iterator[Part]:
    """What people call a jig's FRONT edge, which drawings mark."""
    return _edges(jig, ("front",))


def beside_copy(setups: Sequence[Setup], things: Things, reach: Box | None) -> Beside:
    """Beside a stamped or repeated program whose blocks write these nests: what its check saw that
    is not their stations' own, and what the blocks note."""
    return Beside(
        words=beside_block(setups).words,
        around=as_text(_seen(setups, things, reach)),
        reach=reach_text(reach),
    )


def reach_text(reach: Box | None) -> str | None:
    """A reach as it is kept with a paper: JSON of its edges, mm; None where it is not known."""
    return None if reach is None else json.dumps([round(each, 3) for each in reach])


def _seen(setups: Sequence[Setup], things: Things, reach: Box | None) -> Iterator[Part]:
    first = setups[0]
    facts, written = first.facts, written_of(first.facts)
    stations = {key_of(each.facts.station.name) for each in setups}
    yield from dict.fromkeys(part for setup in setups for part in _lies(setup))
    for thing in things.others(stations, reach):
        yield from _of_thing(thing, written)
    for cover in covers(facts.bed, facts.surfacings):
        if reach is None or reach.meets(bounds(cover.outline).grown(cover.radius_mm)):
            yield from cover_parts(cover, written)
    middle = bounds(first.footprint_in_bed()).middle
    heights = {"the surface": first.heights.surface_mm}
    for slat in facts.bed.slats:
        if reach is None or reach.meets(slat.box):
            height = surface_z(facts.bed, facts.survey, facts.surfacings, slat.name, middle)
            heights[f"slat {slat.name}"] = height
    for name, height_mm in heights.items():
        text = "not known" if height_mm is None else written.length(height_mm)
        yield Part(f"{name} of bed {facts.bed.name}", "lies at Z", text)


def _of_thing(thing: Standing, written: Written) -> Iterator[Part]:
    of, unit = f"{thing.called}{thing.whose}", written.unit
    if thing.kind == "pin":
        yield Part(of, "", written.length(2 * thing.radius_mm), f"{unit} across")
    yield Part(of, "at", written.outline(thing.outline), unit)
    yield Part(of, "", written.length(thing.top_mm), f"{unit} high")
    if thing.surface_mm is not None and thing.station:
        yield Part(of, "stands at Z", written.length(thing.surface_mm), unit)
