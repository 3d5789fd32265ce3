"""register: a station by options, new or changed; what no option states stays, or is another's."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from pydantic import ValidationError

from pincorner.documents.beds import Bed, Pin
from pincorner.documents.fields import WholeDocument, key_of
from pincorner.documents.jigs import Jig
from pincorner.documents.kinds import cross_problems, part_problems
from pincorner.documents.reading import explain_every
from pincorner.documents.stations import BARE_NEST, DowelPins, Station
from pincorner.documents.writing import IN_MM, plain_values
from pincorner.errors import BadInput, Refused
from pincorner.registry.reader import Reader
from pincorner.render.text.tables import first_named
from pincorner.runs.codes import codes_left
from pincorner.setups.choice import choose_pins
from pincorner.setups.facts import Facts, with_pins
from pincorner.setups.locating import locate
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups
from pincorner.work.moved import PLACE, lost
from pincorner.work.session import Library, Session, only_name
from pincorner.work.slips import slips_of_jig, slips_of_stations

Values = Mapping[str, Any]
"""Keys of a station's document, lengths in mm; `code`: the work offset of its only nest; `like`: a
station that it is like in all but its place."""

_WHOSE = ("bed", "jig", "stock", "pin")
"""Of the keys of its place, what a station may go on with at another one."""

_NAMED = 6
"""So many beds or pins to choose from are named; the others are counted."""

_OF_ITS_PLACE = ("measured_holes", "note", "work_offsets")
"""What is done at a station and is not so at one like it: those holes were measured, the note hangs
there, the code is its own."""

_OF_ITS_HOLDER = ("stock_zero", "clamps")
"""What counts from a corner of the jig or of bare stock, and is elsewhere on another one."""


class Registered(NamedTuple):
    """A station that was registered, why its pins (when chosen), and its setups.

    Keys of its document, against the station of that name before: `kept` and `gone` are those of
    what is done there that no option states, `changed` those that read otherwise now; None where
    the station is new. `warnings`: what looks like a slip. `taken`: what was taken for it, in
    sentences: as a station it is like, the only bed, a free work offset.
    """

    setups: tuple[Setup, ...]
    chosen: str | None
    kept: tuple[str, ...] = ()
    gone: tuple[str, ...] = ()
    changed: tuple[str, ...] | None = None
    warnings: tuple[str, ...] = ()
    taken: tuple[str, ...] = ()


class _Anew(NamedTuple):
    """A station as it will be, what it keeps unstated, and what it loses: keys, and in words.

    `like`: the station that it is like; `taken`: what was taken for it, in sentences.
    """

    station: Station
    before: Station | None
    kept: tuple[str, ...] = ()
    gone: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()
    like: Station | None = None
    taken: tuple[str, ...] = ()


def register(session: Session, values: Values, replace: bool) -> Registered:
    """Register a station, or change one, by the keys of its document that are stated (not None).

    What is not stated stays as it is on file, as long as bed and jig (or stock) do; what cannot
    stay is named to the person, and nothing is written unless that is right. `replace`: another
    place may be stated for a station that is there.

    Raises BadInput for bad values and a name in use, Refused where it cannot be located.
    """
    stated = {key: value for key, value in values.items() if value not in (None, {})}
    with session.registry.reading() as reader:
        told = _anew(reader, stated, replace).lost
    session.registry.person_is_sure(_doubt(stated["name"], told))
    with session.writing() as writer:
        anew = _anew(writer.reader, stated, replace)
        if anew.lost != told:
            raise BadInput(f"station {stated['name']} was changed meanwhile; look at it once more")
        station = anew.station
        library = Library(writer.reader, [station])
        problems = list(cross_problems(station, library.has, library.names))
        problems = problems or list(part_problems(station, library))
        if problems:
            raise BadInput("\n".join(f"{_option(path)}: {text}" for path, text in problems))
        given, without = _codes_given(writer.reader, library.facts(station), anew.like)
        station = station.model_copy(update={"work_offsets": {**station.work_offsets, **given}})
        reason = None
        if station.wants_pins:
            choice = choose_pins(library.facts(station))
            station, reason = with_pins(station, choice.pins), choice.reason
        setups = make_setups(library.facts(station))
        writer.put([station])
        library = Library(writer.reader)  # with the pins that were chosen
        warnings = [*without, *slips_of_stations(library, writer.reader, [station])]
        if station.jig is not None:
            warnings += slips_of_jig(library.get(Jig, station.jig), setups[0].facts.machine.units)
    changed = None if anew.before is None else _changed(anew.before, station)
    taken = (*anew.taken, *_codes_told(given, setups[0].facts.machine.name))
    return Registered(tuple(setups), reason, anew.kept, anew.gone, changed, tuple(warnings), taken)


class Entered(NamedTuple):
    """Stations that were entered together: names of those that are new, changed, as before."""

    new: tuple[str, ...]
    changed: tuple[str, ...]
    same: tuple[str, ...]
    warnings: tuple[str, ...]


def as_entered(reader: Reader, stated: Values) -> Station:
    """The station of the keys stated and of what is on file, where `enter` would put it.

    Raises BadInput for bad values, Refused where it cannot be located.
    """
    station = _anew(reader, stated, replace=True).station
    library = Library(reader, [station])
    problems = [*cross_problems(station, library.has, library.names)]
    problems = problems or list(part_problems(station, library))
    if problems:
        raise BadInput("; ".join(f"{path}: {text}" for path, text in problems))
    make_setups(library.facts(station))
    return station


def enter(session: Session, every: Sequence[Values], *, dry_run: bool = False) -> Entered:
    """Enter stations by the keys that are stated, each with its place, all in one change.

    What would lie otherwise than on file is asked about, and nothing is written unless that is
    right. Raises BadInput, Refused as `register` does.
    """
    with session.registry.reading() as reader:
        doubts = _doubts(reader, every)
    if not dry_run:
        session.registry.person_is_sure("; ".join(doubts) or None)
    with session.writing(dry_run=dry_run) as writer:
        if _doubts(writer.reader, every) != doubts:
            raise BadInput("stations were changed meanwhile; look at them once more")
        stations = [as_entered(writer.reader, stated) for stated in every]
        summary = writer.put(stations)
        library = Library(writer.reader)
        warnings = [*doubts] if dry_run else []
        warnings += slips_of_stations(library, writer.reader, stations)
    kinds = (summary.added, summary.changed, summary.same)
    new, changed, same = (tuple(name for _, name in kind) for kind in kinds)
    return Entered(new, changed, same, tuple(warnings))


def _doubts(reader: Reader, every: Sequence[Values]) -> list[str]:
    """What is asked before stations that are on file become others."""
    found = []
    for stated in every:
        anew = _anew(reader, stated, replace=True)
        if anew.before is None or anew.before == anew.station:
            continue
        keys = ", ".join(_changed(anew.before, anew.station))
        told = f", and lose {', '.join(anew.lost)}" if anew.lost else ""
        found.append(f"station {anew.before.name} is there and would change its {keys}{told}")
    return found


def _doubt(name: str, told: tuple[str, ...]) -> str | None:
    """What is asked before something on file is lost."""
    if not told:
        return None
    return f"station {name} would lose what no option states: {', '.join(told)}"


def _anew(reader: Reader, stated: Values, replace: bool) -> _Anew:
    """The station of the keys stated, of one that it is like, and of what is on file.

    Raises BadInput; UnknownName for a station that it is to be like.
    """
    name = stated.get("like")
    if name is None:
        return _by_keys(reader, stated, replace)
    like = reader.get(Station, name)
    whole = _as_like(reader, like, {key: stated[key] for key in stated if key != "like"})
    left = [key for key in plain_values(like) if key in ("measured_holes", "note", *_OF_ITS_HOLDER)]
    left = [key for key in left if key not in whole]
    taken = ", ".join(key for key in whole if key not in (*stated, *_OF_ITS_PLACE))
    told = f"as station {like.name}: {taken}" + (f"; not its {', '.join(left)}" if left else "")
    anew = _by_keys(reader, whole, replace)
    return anew._replace(like=like, taken=(told, *anew.taken))


def _as_like(reader: Reader, like: Station, stated: Values) -> dict[str, Any]:
    """The keys stated, and those of a station that it is like in all but its place.

    The quadrant in which its jig lies is taken over too, where a corner is stated.
    """
    where = f"station {stated['name']}: where does it lie?"
    if isinstance(like.pins, DowelPins) and not {"pins", "jig", "stock", "measured"} & {*stated}:
        raise BadInput(f"{where} On dowels say --pins, the round hole's first, such as D4,G4")
    if not {"pins", "corner", "measured"} & {*stated}:
        raise BadInput(
            f"{where} Say --corner, such as --corner C2 --toward +x+y, or --pins, such as --pins "
            "D2,G2,C4"
        )
    apart = {*_OF_ITS_PLACE, *(_OF_ITS_HOLDER if {"jig", "stock"} & {*stated} else ())}
    old = {key: value for key, value in plain_values(like).items() if key not in apart}
    place = {key: old[key] for key in _WHOSE if key in old}
    if "corner" in stated and "pins" not in stated and (toward := _toward(reader, like)):
        place["toward"] = toward
    done = {key: old[key] for key in old if key not in PLACE}
    return _with_place(place, stated) | _done_there(done, stated)


def _toward(reader: Reader, station: Station) -> str | None:
    """The quadrant in which a station's jig lies; None where none is known."""
    try:
        return station.toward or locate(Library(reader).facts(station)).toward or None
    except Refused:
        return None


def _codes_given(
    reader: Reader, facts: Facts, like: Station | None
) -> tuple[dict[str, str], list[str]]:
    """Work offsets that no station of the machine has, for the nests of a station that have none,
    the next behind those of the station that it is like; and what is told where too few are free.
    None where that one has none."""
    station, machine = facts.station, facts.machine.name
    nests = [each.name for each in facts.holder.nests if station.code_of(each.name) is None]
    if like is None or not like.work_offsets:
        return {}, []
    own = key_of(station.name)
    used = {row["code"] for row in reader.codes_in_use(machine) if row["station_key"] != own}
    used |= {*station.work_offsets.values()}
    left = codes_left(facts.dialect, facts.machine.homes, used, like.work_offsets.values())
    given = dict(zip(nests, left, strict=False))
    return given, [
        f"station {station.name}: no work offset is left for nest {nest}: dialect "
        f"{facts.dialect.name} has none that no station of {machine} has; say --work-offset"
        for nest in nests[len(given) :]
    ]


def _codes_told(given: Mapping[str, str], machine: str) -> Iterator[str]:
    for nest, code in given.items():
        yield f"work offset of nest {nest}: {code}, the next that no station of {machine} has"


def _with_the_only(reader: Reader, stated: Values) -> tuple[Values, tuple[str, ...]]:
    """The keys stated of a new station, with the bed and the pins where there is but one, and that
    they were taken. Raises BadInput where they are to be stated."""
    wanted: list[tuple[str, type[WholeDocument]]] = []
    if "bed" not in stated:
        wanted.append(("bed", Bed))
    if "pin" not in stated and "measured" not in stated:
        wanted.append(("pin", Pin))
    only = {key: only_name(reader, model) for key, model in wanted}
    new = f"station {stated['name']} is not registered yet"
    if wanted and "jig" not in stated and "stock" not in stated:
        raise BadInput(
            f"{new}: say --bed, --pin and --jig (or --stock), or --like and a station that is; or "
            "choose one of pincorner list stations"
        )
    for key, model in wanted:
        if only[key] is None:
            there = first_named(reader.names(model), _NAMED)
            raise BadInput(f"{new}: say --{key}, {there or 'once one is loaded: none is on file'}")
    told = (f"{key} {name}: the only one on file" for key, name in only.items())
    return {**stated, **only}, tuple(told)


def _by_keys(reader: Reader, stated: Values, replace: bool) -> _Anew:
    """The station of the keys stated and of what is on file. Raises BadInput."""
    before = reader.find(Station, stated["name"])
    stated = _codes_by_nest(reader, before, stated)
    if before is None:
        stated, taken = _with_the_only(reader, stated)
        return _Anew(_station(stated), None, taken=taken)
    if not replace and any(key in stated for key in ("bed", "jig", "stock")):
        raise BadInput(
            f"station {before.name} is registered already; choose another name, or say --replace "
            "to register it anew, or state only what is to change, without --bed, --jig and --stock"
        )
    old = plain_values(before)
    if _lies_elsewhere(before, stated):
        place: dict[str, Any] = {key: old[key] for key in old if key in _WHOSE}
        gone = tuple(key for key in old if key not in PLACE and key not in stated)
        station = _station(_with_place(place, stated) | _done_there({}, stated))
        return _Anew(station, before, (), gone, tuple(lost(before, station, stated)))
    return _same_place(reader, before, old, stated)


def _lies_elsewhere(before: Station, stated: Values) -> bool:
    """Whether another bed, or another jig or stock, is stated than the one on file."""
    bed, jig, stock = (stated.get(key) for key in ("bed", "jig", "stock"))
    if bed is not None and key_of(bed) != key_of(before.bed):
        return True
    if jig is not None and (before.jig is None or key_of(jig) != key_of(before.jig)):
        return True
    return stock is not None and tuple(stock) != before.stock


def _same_place(reader: Reader, before: Station, old: Values, stated: Values) -> _Anew:
    """On the same bed with the same jig or stock: what is not stated stays."""
    values = _with_place({key: old[key] for key in PLACE if key in old}, stated)
    if "pins" in stated and before.pins is not None:
        values["pins"] = _own_pins_kept(before, stated["pins"])
    if "measured" in stated:
        old = {key: value for key, value in old.items() if key != "measured_holes"}
    values |= _done_there({key: old[key] for key in old if key not in PLACE}, stated)
    known = set(map(key_of, _nests(reader, before, stated)))
    codes = values.get("work_offsets", {})
    own = {key_of(name) for name in stated.get("work_offsets", {})}
    homeless = [name for name in codes if key_of(name) not in known | own]
    if homeless:
        values["work_offsets"] = {n: code for n, code in codes.items() if n not in homeless}
    kept = tuple(key for key in old if key not in PLACE and key not in stated)
    station = _station(values)
    return _Anew(station, before, kept, (), tuple(lost(before, station, stated)))


def _nests(reader: Reader, before: Station | None, stated: Values) -> list[str]:
    """The nests of what lies there; none where a jig is stated that is not on file."""
    jig = stated.get("jig")
    if jig is None and "stock" not in stated and before is not None:
        jig = before.jig
    found = None if jig is None else reader.find(Jig, jig)
    if jig is None:
        return [BARE_NEST]
    return [] if found is None else [nest.name for nest in found.nests]


def _codes_by_nest(reader: Reader, before: Station | None, stated: Values) -> Values:
    """The same with a code that stands alone under its nest. Raises BadInput where there are
    several."""
    if "code" not in stated:
        return stated
    codes, code = stated.get("work_offsets", {}), stated["code"]
    nests = _nests(reader, before, stated)
    if len(nests) > 1:
        raise BadInput(
            f"--work-offset: there are nests {', '.join(nests)}; say of which, such as "
            f"{nests[0]}={code}"
        )
    if set(map(key_of, nests)) & set(map(key_of, codes)):
        raise BadInput(f"--work-offset: nest {nests[0]} was given a code already")
    rest = {key: value for key, value in stated.items() if key != "code"}
    return {**rest, "work_offsets": {**codes, **dict.fromkeys(nests, code)}}


def _with_place(place: dict[str, Any], stated: Values) -> dict[str, Any]:
    """Where the station is: as stated, else as on file.

    Pins that were chosen are chosen anew where the kind of pin, turn, corner or quadrant changes.
    """
    values = {**place, **{key: stated[key] for key in PLACE if key in stated}}
    if "jig" in stated:
        values.pop("stock", None)
    elif "stock" in stated:
        values.pop("jig", None)
    if "measured" in stated:
        for key in ("pin", "pins", "corner", "toward"):
            values.pop(key, None)
    elif "pins" in stated or "corner" in stated or "toward" in stated:
        values.pop("measured", None)
    if "pins" in stated:
        for key in ("corner", "toward"):
            if key not in stated:
                values.pop(key, None)
    elif "corner" in stated or "toward" in stated:
        values.pop("pins", None)
    elif values.get("pins", {}).get("chosen") and ("pin" in stated or "turn" in stated):
        values.pop("pins")
    return values


def _done_there(old: Values, stated: Values) -> dict[str, Any]:
    """What is done at the station: nest by nest and rule by rule as stated, else as on file."""
    values = {**old, **{key: stated[key] for key in stated if key not in PLACE}}
    if "work_offsets" in stated:
        own = {key_of(name) for name in stated["work_offsets"]}
        others = {
            n: code for n, code in old.get("work_offsets", {}).items() if key_of(n) not in own
        }
        values["work_offsets"] = {**others, **stated["work_offsets"]}
    if "z" in stated:
        values["z"] = {**old.get("z", {}), **stated["z"]}
    return values


def _own_pins_kept(before: Station, pins: dict[str, Any]) -> dict[str, Any]:
    """Pins stated by hole alone: a pin of its own stays in its hole."""
    own = {
        key_of(entry.hole): entry
        for _, _, entry in before.pins_by_role
        if not isinstance(entry, str)
    }

    def kept(hole: str) -> Any:
        entry = own.get(key_of(hole))
        return hole if entry is None else {"hole": hole, "pin": entry.pin}

    return {
        role: [kept(hole) for hole in holes] if isinstance(holes, list) else kept(holes)
        for role, holes in pins.items()
    }


def _changed(before: Station, now: Station) -> tuple[str, ...]:
    """Keys of the document that read otherwise than before."""
    old, new = plain_values(before), plain_values(now)
    return tuple(
        key for key in Station.model_fields if key != "name" and old.get(key) != new.get(key)
    )


def _option(path: str) -> str:
    """The option of `register` that a key path of the station's document comes from."""
    root = path.replace("[", ".").split(".")[0]
    return {"work_offsets": "--work-offset", "name": "STATION"}.get(root, f"--{root}")


def _station(values: Values) -> Station:
    try:
        return Station.model_validate(dict(values), context=IN_MM)
    except ValidationError as error:
        raise BadInput("; ".join(explain_every(error))) from None
