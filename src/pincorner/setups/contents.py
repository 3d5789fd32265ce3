"""What stands on a station's papers and what its program is checked against, part by part.

The fingerprint is a digest of it. Two of them say in words what changed from one to the other.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from pincorner.bed import Cover, covers
from pincorner.documents.beds import Bed, Solid
from pincorner.documents.fields import Same, key_of
from pincorner.documents.jigs import Jig, OnDowels
from pincorner.documents.machines import Dialect, Machine
from pincorner.documents.records import Program
from pincorner.documents.stations import MeasuredZero
from pincorner.geometry.outline import Box, Outline, bounds
from pincorner.setups.facts import Facts
from pincorner.setups.printed import Printed
from pincorner.setups.setup import Setup
from pincorner.units import Unit, fixed, in_unit

DEFINITION = 2
"""The number of what a fingerprint stands for today; papers keep the one they were made with.

1: names, holes, turn, code, unit, words, height of zero, stock, program and its angle. 2: all that
is told here.
"""


class Part(NamedTuple):
    """One thing that is printed or checked against: whose it is, what of it, as it is printed.

    `of` and `what` are words, such as `clamp toggle` and `top`; `unit` follows the figure and may
    say more (`mm high`).
    """

    of: str
    what: str
    figure: str
    unit: str = ""


Parts = tuple[Part, ...]
_Place = tuple[str, str, str]
"""What a figure is of, what of it, and its unit."""


class Written(NamedTuple):
    """How lengths are printed: in the machine's unit with the dialect's decimals."""

    unit: Unit
    decimals: int

    def length(self, value_mm: float) -> str:
        return fixed(in_unit(value_mm, self.unit), self.decimals)

    def place(self, values_mm: Iterable[float]) -> str:
        return ", ".join(self.length(value) for value in values_mm)

    def size(self, values_mm: Iterable[float]) -> str:
        return " x ".join(self.length(value) for value in values_mm)

    def outline(self, outline: Outline) -> str:
        return "; ".join(map(self.place, outline))

    def box(self, box: Box) -> str:
        return f"{self.place(box[:2])} to {self.place(box[2:])}"


def contents(setup: Setup) -> Parts:
    """All parts of one nest of a station, in a fixed order."""
    written = written_of(setup.facts)
    parts = _alone(setup, written)
    for shared in _shared(setup, written):
        parts += shared.parts
    return tuple(sorted(parts))


def content_lines(setup: Setup) -> list[str]:
    """The same as lines to be digested; what many stations share is one line, itself a digest."""
    written = written_of(setup.facts)
    own = sorted(map("\t".join, _alone(setup, written)))
    return [*own, *(shared.line for shared in _shared(setup, written))]


def _alone(setup: Setup, written: Written) -> list[Part]:
    """What no other station shares."""
    return [
        *_own(setup, setup.printed),
        *_pins(setup, written),
        *_solids("clamp", setup.facts.station.clamps, written),
        *_under(setup, written),
    ]


class Change(NamedTuple):
    """What changed, in words; of several the one that stands first weighs most (`_weight`)."""

    weight: tuple[int, float]
    text: str


def differences(before: Iterable[Part], now: Iterable[Part]) -> list[str]:
    """What changed from one to the other, in words, as `changes` has it."""
    return [change.text for change in changes(before, now)]


def heaviest_first(of_each: Iterable[Sequence[Change]]) -> list[str]:
    """Changes of several nests in words, each nest's together: first of the nest that has the one
    which weighs most."""
    ordered = sorted(filter(None, of_each), key=lambda found: found[0].weight)
    return [change.text for found in ordered for change in found]


def changes(before: Iterable[Part], now: Iterable[Part]) -> list[Change]:
    """What changed from one to the other: `clamp toggle 50.8 to 76.2 mm high`.

    A figure that is written otherwise and is the same (more decimals, say) is no change. Of a
    program or a jig that another one took the place of that alone is told: it is not gone, and nor
    are its nests, its solids or its tools.

    Whoever tells the first few has what matters most: figures that are keyed in or compared
    (offset, angle, code) by how far they move the part, then what another one took the place of,
    what is gone, what is new, and the rest, that too by how far.
    """
    before, now = list(before), list(now)
    old, new = _by_place(before), _by_place(now)
    others, old, new = _others(old, new)
    gone, added = _things(old) - {of for of, _, _ in new}, _things(new) - {of for of, _, _ in old}
    moved = _given_otherwise(gone, old, new) | _given_otherwise(added, new, old)
    found = [Change(_OTHER, text) for text in others]
    found += [Change(_GONE, f"{of} is gone") for of in sorted(gone - moved)]
    found += [Change(_NEW, f"{of} is new") for of in sorted(added - moved)]
    last_digits, reach = _last_digits([*before, *now]), _reach([*before, *now])
    for place in sorted({*old, *new}):
        of, what, unit = place
        was, becomes = old.get(place, []), new.get(place, [])
        if of in gone or (of in added and of not in moved) or was == becomes:
            continue
        if what in moved and not becomes:  # what it is now is told by its own name
            continue
        if what == "stock at" and (of, "zero at", unit) in {*old, *new} and of.endswith(BARE):
            continue  # bare stock has but one place: where its zero is on it
        weight = _weight(place, _moves(place, was, becomes, reach), last_digits.get(place, 0.0))
        if what == "outline" and (sizes := _sizes(was, becomes)):
            what, was, becomes = "", *sizes
        text = _change_told((of, what, unit), was, becomes, bool(moved & {of, what}))
        found.append(Change(weight, text))
    return sorted(found, key=lambda change: change.weight)  # the order of before among equals


_KEYED = ("X", "Y", "Z", "R", "angle", "program zero", "work offset")
"""Figures that an operator keys in, or compares with the screen."""

_OTHER, _GONE, _NEW = (1, 0.0), (2, 0.0), (3, 0.0)


def _weight(place: _Place, moves: float, last_digit: float) -> tuple[int, float]:
    """Smaller weighs more. A figure that is keyed in comes first unless only rounding shows in it:
    by no more than its last digit."""
    of, what, _ = place
    keyed = of in _KEYED and (not what or of == "work offset")
    return (0 if keyed and moves > 1.5 * last_digit else 4, -moves)


def _moves(place: _Place, was: Sequence[str], becomes: Sequence[str], reach: float) -> float:
    """How far a changed figure moves something, in the unit of lengths; an angle the far corner of
    the stock, `reach` from the zero. Of a keyed one that is no number on both sides (a code)
    nobody knows: infinite; of what is no length 0."""
    of, _, unit = place
    old, new = ([float(n.replace(" ", "")) for n in _NUMBER.findall(" ".join(figures))]
                for figures in (was, becomes))  # fmt: skip
    if of in _KEYED and (of == "work offset" or len(old) != len(new)):
        return math.inf
    is_angle = of == "R" or unit == "degrees"
    if len(old) != len(new) or not (of in _KEYED or is_angle or unit.split(" ")[0] in _LENGTHS):
        return 0.0
    moved = max((abs(b - a) for a, b in zip(old, new, strict=True)), default=0.0)
    return 2 * reach * abs(math.sin(math.radians(moved) / 2)) if is_angle else moved


_NUMBER = re.compile(r"(?:[-+] ?)?\d+(?:\.\d+)?", re.ASCII)
_LENGTHS = ("mm", "in")


def _last_digits(parts: Iterable[Part]) -> dict[_Place, float]:
    """What one of the last digit is of figures that are keyed in; of angles none counts."""
    return {
        (of, what, unit): 10.0 ** -len(figure.rstrip("]").partition(".")[2])
        for of, what, figure, unit in parts
        if of in _KEYED and of != "R" and unit != "degrees"
    }


def _reach(parts: Iterable[Part]) -> float:
    """The diagonal of the largest stock among parts."""
    sizes = (map(float, figure.split(" x ")) for of, what, figure, _ in parts
             if (of, what) == ("stock", ""))  # fmt: skip
    return max((math.hypot(*list(size)[:2]) for size in sizes), default=0.0)


def _change_told(
    place: tuple[str, str, str], was: Sequence[str], becomes: Sequence[str], is_moved: bool
) -> str:
    """What became of a thing's figure. `is_moved`: it stood there by another key before."""
    of, what, unit = place
    name, unit = f"{of} {what}".rstrip(), f" {unit}" if unit else ""
    before, now = ", ".join(was), ", ".join(becomes)
    if was and becomes:
        return f"{name} {before} to {now}{unit}"
    if becomes and is_moved:
        return f"{name.rstrip(',')} is now {now}{unit}"
    if what == "is":
        return f"{of} is {'now' if becomes else 'no longer'} {now or before}"
    if becomes:
        return f"{name} {now}{unit}, not given before"
    return f"{name} was {before}{unit}, not given now"


_Places = dict[_Place, list[str]]
_BRINGS = {
    "machine": (), "dialect": (), "bed": ("track ", "screw "), "jig": ("nest ", "solid "),
    "program": ("tool ",),
}  # fmt: skip
"""What stands there by its name, and with which words what it brings along begins."""


def _others(old: _Places, new: _Places) -> tuple[list[str], _Places, _Places]:
    """What another one took the place of, from what to what, and the figures without those names
    and without what only one or the other brings along."""
    told, names, brought = list[str](), set[str](), tuple[str, ...]()
    for what, brings in _BRINGS.items():
        was, becomes = (places.get((what, "", ""), []) for places in (old, new))
        if was and becomes and was != becomes:
            told.append(f"{what} {', '.join(was)} to {', '.join(becomes)}")
            names |= {what, *(f"{what} {name}" for name in (*was, *becomes))}
            brought += brings

    def rest(places: _Places) -> _Places:
        return {
            (of, what, unit): figures
            for (of, what, unit), figures in places.items()
            if (of not in names or (what and of in _BRINGS)) and not of.startswith(brought)
        }

    return told, rest(old), rest(new)


def _given_otherwise(
    names: Iterable[str],
    before: Mapping[tuple[str, str, str], list[str]],
    now: Mapping[tuple[str, str, str], list[str]],
) -> set[str]:
    """Those names that are no things but figures: they stand there by another key now, a nest's
    run-off, say, that went by the largest tool before."""
    return {what for of, what, unit in now if (of, what, unit) not in before} & set(names)


def _things(places: Iterable[tuple[str, str, str]]) -> set[str]:
    """What there is by its parts: what is said of a thing in passing does not make it one."""
    return {of for of, what, _ in places if not _IN_PASSING.fullmatch(what)}


BARE = " of bare stock"

_IN_PASSING = re.compile(r"(?:front|back|left|right) edge")

_RECTANGLE = re.compile(r"(-?[\d.]+), (-?[\d.]+); (-?[\d.]+), \2; \3, (-?[\d.]+); \1, \4", re.ASCII)


def _sizes(was: Sequence[str], becomes: Sequence[str]) -> tuple[list[str], list[str]] | None:
    """How large two rectangles are that begin at the same corner, as people say it."""
    found = [_RECTANGLE.fullmatch(each) for each in (*was, *becomes)]
    old, *new = found if all(found) else [None]
    if old is None or len(new) != 1 or new[0] is None or old.group(1, 2) != new[0].group(1, 2):
        return None
    sizes = []
    for left, front, right, back in (old.groups(), new[0].groups()):
        decimals = max(len(each.partition(".")[2]) for each in (left, front, right, back))
        sides = (float(right) - float(left), float(back) - float(front))
        sizes.append([" x ".join(f"{each:.{decimals}f}" for each in sides)])
    return sizes[0], sizes[1]


def _by_place(parts: Iterable[Part]) -> dict[tuple[str, str, str], list[str]]:
    """Figures as people say them, by what they are of."""
    found: dict[tuple[str, str, str], list[str]] = {}
    for of, what, figure, unit in parts:
        found.setdefault((of, what, unit), []).append(_LONG.sub(r"\1", figure))
    return {place: sorted(figures) for place, figures in found.items()}


_LONG = re.compile(r"(\d\.\d+?)0+(?!\d)")
"""Zeros at the end of a number, behind one decimal."""


class _Shared(NamedTuple):
    """The parts that one document brings to many stations, and the line that stands for them."""

    parts: Parts
    line: str


def _shared(setup: Setup, written: Written) -> list[_Shared]:
    facts = setup.facts
    found = [
        _of_machine(Same(facts.machine), written),
        _of_dialect(Same(facts.dialect)),
        _of_bed(Same(facts.bed), written),
        _of_jig(Same(facts.holder), written),
    ]
    program = setup.program
    if program is not None:
        found.append(_of_program(Same(program), written))
    return found


def _as_shared(parts: Iterable[Part]) -> _Shared:
    kept = tuple(sorted(parts))
    return _Shared(kept, "\t".join(map("\v".join, kept)))


def written_of(facts: Facts) -> Written:
    """How lengths are printed on the papers of a station."""
    unit = facts.machine.units
    return Written(unit, facts.dialect.decimals.of(unit))


def _given(parts: Iterable[tuple[str, str, str | None, str]]) -> Iterator[Part]:
    """The parts that a document states: keys that are left out say nothing, today and before."""
    return (Part(of, what, figure, unit) for of, what, figure, unit in parts if figure is not None)


def _own(setup: Setup, printed: Printed) -> Iterator[Part]:
    """What the station's own keys say, and the figures that come of all documents together."""
    facts, own, located = setup.facts, printed.own, setup.located
    station, unit = facts.station, own.unit
    yield Part("station", "", station.name)
    yield Part("nest", "", setup.nest.name)
    yield Part("turn", "", printed.turn, "degrees")
    yield Part("corner hole", "", located.corner_hole or "none")
    for nest in facts.holder.nests:
        code = station.code_of(nest.name)
        if code is not None:
            yield Part("work offset", f"of nest {nest.name}", code)
    for word in printed.words:
        yield Part(word.axis, "", word.word)
    if facts.dialect.rotation == "g68":
        yield Part("angle", "", printed.angle, "degrees")
    yield Part("program zero", "", own.zero_above_surface, f"{unit} above the surface")
    yield Part("Z", "is zero on", station.z.zero)
    yield Part("Z", "is set by", station.z.set)
    if own.tip_on_plate:
        yield Part("touch plate", "", own.plate, f"{unit} thick")
    yield Part("stock", "", " x ".join(own.stock), unit)
    yield Part("program", "posted turned by", printed.program_angle, "degrees")
    yield Part("max_skew", "", printed.max_skew, unit)
    if not station.pins_pressed and located.on_edges:
        yield Part("jig", "is", "laid, not pushed")
    if facts.disturbed is not None:
        yield Part(f"disturbance {facts.disturbed.name} of bed {facts.bed.name}", "", "")
    if station.under:
        yield Part("waste sheet", "", _stated(station.under, unit), f"{unit} thick")
    if any(nest.run_off is None for nest in facts.holder.nests):
        largest = _stated(facts.largest_tool_mm, unit)
        yield Part("run-off", "by the largest tool,", largest, unit)
    yield Part("program", "", setup.program.name if setup.program else "none")
    if station.measured is not None:
        yield from _measured(station.measured, unit)


def _stated(length_mm: float, unit: Unit) -> str:
    """A length that no paper prints with the dialect's decimals."""
    return Written(unit, 4).length(length_mm)


def _measured(measured: MeasuredZero, unit: Unit) -> Iterator[Part]:
    """When a zero was measured, and by whom; of X and Y the words of the offset tell."""
    yield Part("zero", "was measured", measured.when)
    yield from _given((
        ("zero", "was measured by", measured.by, ""),
        ("zero", "was measured at nest", measured.nest, ""),
        ("zero", "was at Z", None if measured.z is None else _stated(measured.z, unit),
         f"{unit} with that day's tool"),
    ))  # fmt: skip


def _pins(setup: Setup, written: Written) -> Iterator[Part]:
    for pin in setup.located.pins:
        of = f"pin in {pin.hole}"
        body, height = _of_pin(Same(pin.pin), written)
        yield Part(of, "", pin.role)
        yield Part(of, "is", pin.pin.name)
        yield Part(of, "body", body, written.unit)
        yield Part(of, "", height, f"{written.unit} high")
        if pin.pin.held != "loose":
            yield Part(of, "held", pin.pin.held)


def _solids(kind: str, solids: Sequence[Solid], written: Written) -> Iterator[Part]:
    """Clamps and solids: where, how large, how high; a second of a name is told apart."""
    names: dict[str, int] = {}
    for solid in solids:
        count = names[key_of(solid.name)] = names.get(key_of(solid.name), 0) + 1
        of = f"{kind} {solid.name}" if count == 1 else f"{kind} {solid.name} ({count})"
        box = solid.box
        yield Part(of, "at", written.place(box[:2]), written.unit)
        yield Part(of, "size", written.size((box.width, box.depth)), written.unit)
        yield Part(of, "", written.length(solid.top), f"{written.unit} high")


def _under(setup: Setup, written: Written) -> Iterator[Part]:
    """Tracks and screws where the jig and its programs' run-off reach."""
    metal = _metal(Same(setup.facts.bed), tuple(map(Same, setup.facts.surfacings)))
    if not metal:
        return
    near = reach_of(setup)
    for cover, box in metal:
        if near.meets(box):
            yield from cover_parts(cover, written)


def reach_of(setup: Setup) -> Box:
    """Where a station's jig lies with its programs' run-off around it, in bed coordinates."""
    facts = setup.facts
    outline = _reach_in_jig(Same(facts.holder), facts.largest_tool_mm)
    return bounds(setup.jig_in_bed.points(outline))


@lru_cache(maxsize=512)
def _reach_in_jig(key: Same, tool_mm: float) -> Outline:
    jig: Jig = key.it
    most_mm = max(nest.run_off_mm(tool_mm) for nest in jig.nests) + tool_mm
    points = tuple(point for outline in jig.body for point in outline)
    return bounds(points).grown(most_mm).outline


@lru_cache(maxsize=512)
def cover_parts(cover: Cover, written: Written) -> Parts:
    """A track or a screw: where it is and how deep it lies."""
    of, unit = f"{cover.kind} {cover.name}", written.unit
    depth = Part(of, "depth", "not known")
    if cover.cover_mm is not None:
        depth = Part(of, "", written.length(cover.cover_mm), f"{unit} below the surface")
    across = Part(of, "", written.length(2 * cover.radius_mm), f"{unit} across")
    return Part(of, "at", written.outline(cover.outline), unit), across, depth


@lru_cache(maxsize=512)
def _of_pin(key: Same, written: Written) -> tuple[str, str]:
    """A pin's body and height."""
    return written.length(key.it.body), written.length(key.it.height)


@lru_cache(maxsize=64)
def _metal(bed: Same, cuts: tuple[Same, ...]) -> tuple[tuple[Cover, Box], ...]:
    """What metal there is in a bed, each with the box around it."""
    return tuple(
        (each, bounds(each.outline).grown(each.radius_mm))
        for each in covers(bed.it, [cut.it for cut in cuts])
    )


@lru_cache(maxsize=64)
def _of_machine(key: Same, written: Written) -> _Shared:
    """What a controller does with a program, and where its axes end."""
    machine: Machine = key.it
    travel, home = machine.travel, machine.home
    of, unit = f"machine {machine.name}", written.unit
    parts = [
        ("machine", "", machine.name, ""),
        (of, "unit", machine.units, ""),
        (of, "homes", _yes(machine.homes), ""),
        (of, "tool lengths", machine.tool_lengths, ""),
        (of, "straight rapids", _yes(machine.straight_rapids), ""),
        (of, "homes named axes alone", _yes(machine.home_named_axes), ""),
        (of, "touch plate", _length(machine.touch_plate, written), unit),
        (of, "nose", _length(machine.nose, written), f"{unit} across"),
    ]
    for axis in ("x", "y", "z"):
        span = getattr(travel, axis) if travel is not None else None
        ends = None if span is None else f"{written.length(span[0])} .. {written.length(span[1])}"
        parts.append((of, f"travel {axis.upper()}", ends, unit))
    for word in ("g28", "g30"):
        place = getattr(home, word) if home is not None else None
        at = None if place is None else written.place(place)
        parts.append((of, f"{word.upper()} goes to", at, unit))
    return _as_shared(_given(parts))


@lru_cache(maxsize=64)
def _of_dialect(key: Same) -> _Shared:
    """The words that blocks and copies are written in, and what is read over."""
    dialect: Dialect = key.it
    of = f"dialect {dialect.name}"
    places = dialect.decimals
    return _as_shared((
        Part("dialect", "", dialect.name),
        Part(of, "writes", dialect.write),
        Part(of, "rotation", dialect.rotation),
        Part(of, "expressions", _yes(dialect.expressions)),
        Part(of, "converts", _yes(dialect.converts)),
        Part(of, "begins with", " ".join(dialect.first)),
        Part(of, "reads over", " ".join(map(str, sorted(dialect.harmless)))),
        Part(of, "cancels by", " ".join(dialect.cancel)),
        Part(of, "comments", dialect.comment),
        Part(of, "capitals", _yes(dialect.upper_case)),
        Part(of, "line length", str(dialect.line_length)),
        Part(of, "decimals", f"{places.mm} {places.inch} {places.deg}"),
    ))  # fmt: skip


@lru_cache(maxsize=64)
def _of_bed(key: Same, written: Written) -> _Shared:
    bed: Bed = key.it
    of = f"bed {bed.name}"
    return _as_shared((
        Part("bed", "", bed.name),
        Part(of, "outline", written.box(bed.box), written.unit),
        Part(of, "spoil", written.length(bed.spoil), written.unit),
    ))  # fmt: skip


@lru_cache(maxsize=512)
def _of_jig(key: Same, written: Written) -> _Shared:
    """A jig with all its nests: the nose may reach over the stock of each."""
    jig: Jig = key.it
    of, unit = f"jig {jig.name}", written.unit
    parts = [
        Part("jig", "", jig.name),
        Part(of, "outline", written.outline(jig.outline), unit),
        Part(of, "seat", written.length(jig.seat), unit),
        Part(of, "", written.length(jig.top_mm), f"{unit} high"),
        Part(of, "spoil", written.length(jig.spoil), unit),
        *_solids("solid", jig.solids, written),
        *_dowels(jig, written),
    ]
    for nest in jig.nests:
        name = f"nest {nest.name} of {jig.name}"
        parts += [
            Part(name, "zero at", written.place(nest.zero), unit),
            Part(name, "angle", fixed(nest.angle, 4), "degrees"),
            Part(name, "stock at", written.place(nest.stock.from_), unit),
            Part(name, "stock", written.size(nest.stock.size), unit),
        ]
        if nest.run_off is not None:
            parts.append(Part(name, "run-off", written.length(nest.run_off), unit))
    return _as_shared(parts)


def _dowels(jig: Jig, written: Written) -> Iterator[Part]:
    way, of, unit = jig.locate, f"jig {jig.name}", written.unit
    if isinstance(way, OnDowels):
        yield Part(of, "round hole at", written.place(way.round.at), unit)
        yield Part(of, "round hole", written.length(way.round.hole), f"{unit} across")
        yield Part(of, "slot at", written.place(way.slot.at), unit)
        yield Part(of, "slot", written.size((way.slot.width, way.slot.travel)), unit)


@lru_cache(maxsize=512)
def _of_program(key: Same, written: Written) -> _Shared:
    program: Program = key.it
    of, unit = f"program {program.name}", written.unit
    parts = [
        (of, "file", program.file, ""),
        (of, "unit", program.units, ""),
        (of, "cycle", None if program.cycle is None else f"{program.cycle:g}", "s"),
    ]
    for number, tool in program.tools.items():
        parts.append((f"tool T{number}", "", written.length(tool.diameter), f"{unit} across"))
        parts.append((f"tool T{number}", "stickout", _length(tool.stickout, written), unit))
    for known in program.known:
        first, last = known.lines
        parts.append((of, f"known as {known.what}, lines", f"{first} .. {last}", ""))
    return _as_shared(_given(parts))


def _length(value_mm: float | None, written: Written) -> str | None:
    return None if value_mm is None else written.length(value_mm)


def _yes(value: bool) -> str:
    return "yes" if value else "no"
