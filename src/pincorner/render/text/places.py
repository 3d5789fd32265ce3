"""Proposed places as text, with the commands that register them."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from pincorner.characters import quoted, visible
from pincorner.documents.fields import key_of
from pincorner.documents.stations import DowelPins, Station, ZRule
from pincorner.places.search import PlaceProposal, Places
from pincorner.places.several import Selection
from pincorner.render.text.runs import CAUTIONS
from pincorner.render.text.tables import table
from pincorner.runs.gaps import gap_figure
from pincorner.setups.budget import known
from pincorner.setups.locating import two_on_shorter
from pincorner.setups.printed import turn_told
from pincorner.units import Unit, figure, fixed, stated, told

LONGEST_NAME = 64


def places_text(places: Places, shown: Sequence[PlaceProposal], names: Sequence[str]) -> str:
    """The best proposals, those shown, each with a name, for a terminal."""
    if not shown:
        return f"{visible(places.why_none)}\n"
    jig, bed = visible(places.facts.holder.name), visible(places.facts.bed.name)
    head = (
        f"{len(shown)} of {len(places.proposals)} places for {jig} on {bed}, best first "
        f"({places.ways} ways looked at)\n"
    )
    return head + listed(places, shown, names)


def selection_text(places: Places, selection: Selection, names: Sequence[str]) -> str:
    """Places that can be taken at once, for a terminal."""
    if not selection.places:
        return f"{visible(places.why_none)}\n"
    jig, bed = visible(places.facts.holder.name), visible(places.facts.bed.name)
    count = len(selection.places)
    head = f"{count} place{'s' * (count > 1)} at once for {jig} on {bed}\n"
    head += "".join(f"{line}\n" for line in _how_good(selection, unit_of(places)))
    return head + listed(places, selection.places, names)


def unit_of(places: Places) -> Unit:
    """The unit of the machine."""
    return places.facts.machine.units


def _how_good(selection: Selection, unit: Unit) -> list[str]:
    """What is known about the choice: how many more there might be, how much farther apart."""
    known, count = [], len(selection.places)
    if count < selection.asked and selection.most == count:
        known.append(f"no more than {count} fit at once")
    elif count < selection.asked:
        known.append(f"found: {count}; at most {selection.most} fit at once")
    if selection.gap_mm is not None and selection.bound_mm is not None:
        gap = f"smallest gap between them {gap_figure(selection.gap_mm, unit)} {unit}"
        best = f"no choice of {count} has a larger one"
        if selection.bound_mm - selection.gap_mm > 0.5:
            bound = told(selection.bound_mm + 0.5, unit, 0)
            best = f"no choice of {count} has more than {bound}"
        known.append(f"{gap}; {best}")
    if selection.left_out:
        known.append(f"{selection.left_out} places that lie less well were not chosen from")
    return known


def listed(places: Places, shown: Sequence[PlaceProposal], names: Sequence[str]) -> str:
    """A row for each place, the commands that register them, what was taken as given."""
    heads = ("", "corner", "toward", "turn", "pins", "lies within", "gap", "program")
    rows = [_cells(places, at, each) for at, each in enumerate(shown, 1)]
    commands = [
        f"{at}  {register_command(each.station, name, unit_of(places), places.like)}\n"
        for at, (each, name) in enumerate(zip(shown, names, strict=True), 1)
    ]
    return "".join(
        (
            table(heads, rows, "r..r.rr", texts=(heads.index("program"),)),
            f"lies within, gap: {unit_of(places)}. To register one of them:\n",
            *commands,
            *_on_shorter(places, shown),
            *_in_zones(shown),
            *_without_code(places, shown),
            *(f"taken as given: {visible(text)}\n" for text in places.assumed),
            f"{CAUTIONS[0]}\n",
        )
    )


def _on_shorter(places: Places, shown: Sequence[PlaceProposal]) -> list[str]:
    """Which of the places have two pins on the shorter edge, and why."""
    numbers = [
        str(at) for at, each in enumerate(shown, 1) if two_on_shorter(places.facts, each.located)
    ]
    if not numbers:
        return []
    return [
        f"two pins on the shorter edge: {', '.join(numbers)}; "
        "no two free holes of the longer make it lie within less\n"
    ]


def _in_zones(shown: Sequence[PlaceProposal]) -> list[str]:
    """Which of the places lie in a loading zone: it is in no jig's way, but hands are there."""
    numbers = [str(at) for at, each in enumerate(shown, 1) if each.gap_mm and each.gap_mm < 0]
    if not numbers:
        return []
    return [
        f"a gap below 0: {', '.join(numbers)} so far within the loading zone of a station of the "
        "run, where hands are\n"
    ]


def _cells(places: Places, number: int, each: PlaceProposal) -> tuple[str, ...]:
    posted, needed = places.facts.station.program_angle, each.station.program_angle
    return (
        str(number),
        each.where,
        each.located.toward or "dowels",
        _short(each.turn_deg),
        " ".join(each.holes),
        figure(each.u95_worst_mm, unit_of(places)) if known(each.u95_worst_mm) else "not known",
        "-" if each.gap_mm is None else gap_figure(each.gap_mm, unit_of(places)),
        "" if needed == posted else f"post it turned by {turn_told(needed)}",
    )


def _short(value: float) -> str:
    text = fixed(value, 6)
    return text.rstrip("0").rstrip(".")


def place_names(
    places: Places, shown: Sequence[PlaceProposal], taken: Collection[str]
) -> tuple[str, ...]:
    """A name for the station at each place, after jig and hole, that is not taken."""
    keys = {key_of(name) for name in taken}
    stem = "stock" if places.facts.station.stock else places.facts.holder.name
    found = []
    for each in shown:
        first = f"{stem.lstrip('-')[: LONGEST_NAME - len(each.where) - 8]} {each.where}"
        base = first if " " in stem else first.replace(" ", "-", 1)
        name, number = base, 2
        while key_of(name) in keys:
            name, number = f"{base}-{number}", number + 1
        keys.add(key_of(name))
        found.append(name)
    return tuple(found)


def register_command(
    station: Station, name: str, unit: Unit = "mm", like: Station | None = None
) -> str:
    """The command that registers a draft under a name, for any shell (sh, PowerShell, cmd).

    Lengths carry their unit, the machine's, so that the registry's display unit does not matter.
    `like`: a station on file, of which all but the place is taken over.
    """
    if like is not None:
        return _command_like(station, name, like)
    words = ["pincorner", "register", name, "--bed", station.bed]
    if station.stock is not None:
        words += ["--stock", ",".join(stated(size, unit) for size in station.stock)]
        if any(station.stock_zero):
            words += ["--stock-zero", ",".join(stated(way, unit) for way in station.stock_zero)]
    else:
        words += ["--jig", station.jig or ""]
    words += ["--pin", station.pin, "--pins", ",".join(station.pin_holes)]
    if station.turn:
        words += ["--turn", str(station.turn)]
    if station.program_angle:
        words += ["--program-angle", _short(station.program_angle)]
    if station.under:
        words += ["--under", stated(station.under, unit)]
    if station.program:
        words += ["--program", station.program]
    if station.z.zero != ZRule().zero:
        words += ["--z-zero", station.z.zero]
    if station.z.set != ZRule().set:
        words += ["--z-set", station.z.set]
    return " ".join(map(quoted, [*words, *_coded(station)]))


def _command_like(station: Station, name: str, like: Station) -> str:
    """The same beside a station that it is like: where it lies, and what is otherwise there."""
    words = ["pincorner", "register", name, "--like", like.name]
    if key_of(station.bed) != key_of(like.bed):
        words += ["--bed", station.bed]
    if like.pin is None or key_of(station.pin) != key_of(like.pin):
        words += ["--pin", station.pin]
    if isinstance(station.pins, DowelPins) or station.corner is None:
        words += ["--pins", ",".join(station.pin_holes)]
    else:
        words += ["--corner", station.corner]
        words += ["--toward", station.toward] if station.toward else []
    words += _turned(like, station)
    if station.program and station.program != like.program:
        words += ["--program", station.program]
    return " ".join(map(quoted, [*words, *_coded(station)]))


def _coded(station: Station) -> list[str]:
    """Options for the work offsets of a draft."""
    each = [f"{nest}={code}" for nest, code in station.work_offsets.items()]
    return [word for code in each for word in ("--work-offset", code)]


def _without_code(places: Places, shown: Sequence[PlaceProposal]) -> list[str]:
    """Which of the places have a nest less with a work offset than the station they are like."""
    many = len(places.facts.station.work_offsets)
    numbers = [str(at) for at, each in enumerate(shown, 1) if len(each.station.work_offsets) < many]
    if not numbers:
        return []
    return [
        f"no work offset is left for every nest at {', '.join(numbers)}: dialect "
        f"{places.facts.dialect.name} has none that no station of {places.facts.machine.name} has\n"
    ]


def _turned(now: Station, found: Station) -> list[str]:
    """Options for what a draft has turned otherwise than a station on file."""
    words: list[str] = []
    if found.turn != now.turn:
        words += ["--turn", str(found.turn)]
    if found.program_angle != now.program_angle:
        words += ["--program-angle", _short(found.program_angle)]
    return words


def command_for_pins(now: Station, found: Station) -> str:
    """The command that lays a station that is on file against the pins of a draft."""
    words = ["pincorner", "register", now.name]
    words += ["--pin", found.pin, "--pins", ",".join(found.pin_holes), *_turned(now, found)]
    return " ".join(map(quoted, words))
