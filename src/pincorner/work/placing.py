"""place: where on a bed a jig can go."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import NamedTuple

from pincorner.documents.beds import Bed, Pin
from pincorner.documents.fields import WholeDocument, key_of
from pincorner.documents.jigs import Jig
from pincorner.documents.records import Program, Run
from pincorner.documents.stations import Station
from pincorner.errors import BadInput, together
from pincorner.geometry.outline import Outline
from pincorner.geometry.pose import XY
from pincorner.places.search import PlaceProposal, Places, find_places
from pincorner.places.several import Selection, spread_out
from pincorner.places.ways import (
    draft_like,
    draft_of,
    draft_with,
    draft_with_codes,
    turns_as_posted,
)
from pincorner.registry.reader import Reader
from pincorner.render.text.places import place_names
from pincorner.render.text.tables import first_named
from pincorner.runs.codes import codes_left
from pincorner.runs.gaps import reach_mm_of, zone_of
from pincorner.setups.holes import bed_pose
from pincorner.setups.person import person_at
from pincorner.setups.setup import Setup, setups_in
from pincorner.setups.transform import make_setups
from pincorner.standing import empty_holes, standing_on
from pincorner.work.files.whereabouts import TEMPLATES_FOLDER, drawing_suffix
from pincorner.work.never_replaced import outputs_of
from pincorner.work.session import Library, Session, only_name, state_of

SHOWN = 10
"""So many single proposals are printed."""

NAMED = 5
"""So many stations that are in the way are named."""


class Wanted(NamedTuple):
    """What is to be placed, on which bed, and what it must keep away from.

    `jig`, or bare `stock` (mm) with its `zero` from its corner (mm). `pin`: None for the one that
    stations of this jig, or of the bed, use. `how_many`: None for single proposals. `beside`: a
    run; `others`: every station of the bed.
    `program`: one that runs at each of several, to look at their loading windows; `terms`: a run
    whose times count then.
    """

    bed: str
    jig: str | None = None
    stock: tuple[float, float, float] | None = None
    pin: str | None = None
    how_many: int | None = None
    beside: str | None = None
    others: bool = False
    program: str | None = None
    terms: str | None = None
    zero: XY = (0.0, 0.0)


def only_bed(session: Session) -> str:
    """The only bed that there is. Raises BadInput where there is none, or a choice."""
    with session.reading() as reader:
        beds, only = reader.names(Bed), only_name(reader, Bed)
    if only is not None:
        return only
    if not beds:
        raise BadInput("there is no bed yet; pincorner start makes one")
    raise BadInput(f"which bed? Give --bed with one of {', '.join(beds)}")


class Looked(NamedTuple):
    """Single places, and what they were looked for beside.

    `around`: setups of the stations to keep away from; `taken`: names of stations on file; `run`:
    the one whose times count; `codes`: work offsets that no station of the machine has, in the
    order in which they are given.
    """

    places: Places
    around: tuple[Setup, ...]
    taken: tuple[str, ...]
    run: Run | None
    codes: tuple[str, ...]


class Placed(NamedTuple):
    """The places found, those to show with names for their stations, and the stations around.

    `selection`: of several at once; None where single ones were asked for.
    """

    places: Places
    shown: tuple[PlaceProposal, ...]
    names: tuple[str, ...]
    selection: Selection | None
    around: tuple[Setup, ...]


Told = Callable[[str], None]
"""It is told what is being done now, for somebody who waits."""


def tell_nobody(_text: str) -> None:
    """Nobody waits."""


def place(session: Session, wanted: Wanted, told: Told = tell_nobody) -> Placed:
    """Look for places, best first. Raises UnknownName, BadInput."""
    if wanted.how_many is not None and wanted.how_many < 1:
        raise BadInput(f"--count: expected one or more, got {wanted.how_many}")
    found = look(session, wanted, told)
    places = found.places
    if wanted.how_many is not None:
        told(f"choosing {wanted.how_many} at once of {len(places.proposals)} places that fit")
    selection = None if wanted.how_many is None else spread_out(places, wanted.how_many)
    if selection is None:
        shown = tuple(with_free_codes([each], found)[0] for each in places.proposals[:SHOWN])
    else:
        if places.proposals:
            refuse_too_few(selection, found)
        shown = with_free_codes(selection.places, found)
        selection = selection._replace(places=shown)
    names = place_names(places, shown, found.taken)
    return Placed(places, shown, names, selection, found.around)


def with_free_codes(places: Sequence[PlaceProposal], found: Looked) -> tuple[PlaceProposal, ...]:
    """Places that are taken together: their nests with the next work offsets that no station has,
    or none where none is left."""
    nests = [*found.places.facts.station.work_offsets]
    codes = iter(found.codes)
    given = (dict(zip(nests, codes, strict=False)) for _ in places)
    return tuple(
        each._replace(station=draft_with_codes(each.station, mine))
        for each, mine in zip(places, given, strict=True)
    )


def look(session: Session, wanted: Wanted, told: Told = tell_nobody) -> Looked:
    """Every single place. Raises UnknownName, BadInput."""
    with session.registry.reading() as reader:
        library = Library(reader)
        bed, *_ = together(
            *(partial(library.get, model, name) for model, name in _named(wanted) if name)
        )
        known = library.stations(())
        same = _alike(library, wanted, known)
        like = max(same, key=lambda s: reader.newest_change("station", s.name)["id"], default=None)
        draft = _draft(reader, library, wanted, known, like)
        around, zones = _around(library, wanted, bed, known)
        facts = library.facts(draft)
        taken = tuple(reader.names(Station))
        run = None if wanted.terms is None else library.get(Run, wanted.terms)
        used = {row["code"] for row in reader.codes_in_use(facts.machine.name)}
    mine = draft.work_offsets.values()
    codes = codes_left(facts.dialect, facts.machine.homes, used, mine) if mine else []
    turns = turns_as_posted(facts) if facts.program is not None else None
    places = find_places(
        facts._replace(used=None),
        tuple(standing_on(bed, around)),
        empty=empty_holes(bed, around),
        zones=zones,
        turns=turns,
        usual={each.turn for each in same if each.measured is None},
        telling=lambda done, ways: told(
            f"looking at {ways} ways to lay {facts.holder.name} on {bed.name}: "
            f"{100 * done // max(ways, 1)} %"
        ),
    )
    bare = (
        () if around else ("the bed bare but for its own solids: other stations are not looked at",)
    )
    unheld = dict.fromkeys(each.unheld for each in around if each.unheld)
    along: tuple[str, ...] = ()
    if like is not None and like.clamps:  # a new station has them, and a draft has none
        along = (f"clamps of {like.name} go along by --like: where they reach was not looked at",)
    places = places._replace(assumed=(*places.assumed, *bare, *unheld, *along), like=like)
    return Looked(places, tuple(around), taken, run, tuple(codes))


def _named(wanted: Wanted) -> Iterator[tuple[type[WholeDocument], str | None]]:
    """What is named of documents, the bed first."""
    yield Bed, wanted.bed
    yield Jig, wanted.jig
    yield Pin, wanted.pin
    yield Program, wanted.program
    yield from ((Run, name) for name in (wanted.beside, wanted.terms))


def refuse_too_few(selection: Selection, looked: Looked) -> None:
    """Raise BadInput where fewer places were found than asked for, with what is known of more."""
    found, where = len(selection.places), f"on bed {looked.places.facts.bed.name}"
    if looked.around:
        stations = tuple(dict.fromkeys(each.facts.station.name for each in looked.around))
        where += f" beside {first_named(stations, NAMED)}"
    if found >= selection.asked:
        return
    known = f"no more fit {where}, whatever their pins"
    if selection.most > found:
        known = f"no more than {selection.most} fit {where}; not every choice was tried"
    raise BadInput(
        f"--count {selection.asked}: {found} found that can be taken at once, and {known}"
    )


def _alike(library: Library, wanted: Wanted, known: Sequence[Station]) -> list[Station]:
    """The stations of the jig that is wanted, or of the very stock. Raises UnknownName."""
    if wanted.jig is not None:
        jig = key_of(library.get(Jig, wanted.jig).name)
        return [each for each in known if each.jig and key_of(each.jig) == jig]
    lying = wanted.stock, wanted.zero
    return [each for each in known if (each.stock, each.stock_zero) == lying]


def _draft(
    reader: Reader,
    library: Library,
    wanted: Wanted,
    known: Sequence[Station],
    like: Station | None,
) -> Station:
    """A station like one on file, if there is one: its program, codes and heights.

    Raises UnknownName, BadInput.
    """
    pin = library.get(Pin, wanted.pin or _usual_pin(reader, wanted, known, like))
    if like is not None:
        draft = draft_like(like, wanted.bed, pin.name)
    else:
        draft = draft_of(wanted.bed, pin.name, wanted.jig, wanted.stock, wanted.zero)
    if wanted.program is None:
        return draft
    program = library.get(Program, wanted.program)
    return draft_with(draft, program.name)


def _usual_pin(
    reader: Reader, wanted: Wanted, known: Sequence[Station], like: Station | None
) -> str:
    """The pin of the jig's own station, else the one that the bed's stations use most."""
    if like is not None and like.pin:
        return like.pin
    pin = usual_pin(wanted.bed, known, reader.names(Pin))
    if pin is None:
        raise BadInput("--pin: there are no pins on file; load a document of pins")
    return pin


def usual_pin(bed: str, known: Iterable[Station], names: Sequence[str]) -> str | None:
    """The pin that a bed's stations use most, else one of those on file; None where none is."""
    there = (station.pin for station in known if key_of(station.bed) == key_of(bed))
    pins = list(filter(None, there)) or names
    return max(pins, key=lambda name: (pins.count(name), name), default=None)


def _around(
    library: Library, wanted: Wanted, bed: Bed, known: Sequence[Station]
) -> tuple[list[Setup], dict[str, Outline]]:
    """Setups of the stations to keep away from, and the loading zones of a run's stations."""
    on_bed = [s for s in known if key_of(s.bed) == key_of(bed.name)]
    if wanted.beside is None:
        if not wanted.others:
            return [], {}
        return setups_in(library.rows(on_bed)), {}
    run = library.get(Run, wanted.beside)
    stations = [make_setups(library.facts(each)) for each in library.stations(run.stations)]
    reach = reach_mm_of(run)
    zones = {each[0].facts.station.name: zone_of(each[0], reach).drawn[0] for each in stations}
    return [setup for each in stations for setup in each], zones


def draw_places(
    session: Session,
    places: Places,
    shown: Sequence[PlaceProposal],
    around: Sequence[Setup],
    path: Path,
    force: bool,
    *,
    together: bool,
) -> None:
    """The places over the bed as .svg or .html, or the bed alone; `around`: stations on it.

    Raises FileExists, BadInput.
    """
    from pincorner.render.pages.place_map import PlaceDrawing, render_place_map, render_place_page

    suffix, outputs = drawing_suffix(path), outputs_of(session, force)
    facts = places.facts
    jig = None if facts.station.stock is not None else facts.holder
    person = person_at(facts.machine, bed_pose(facts))
    drawn = PlaceDrawing(facts.bed, person, tuple(around), jig, tuple(shown), together)
    if suffix == ".svg":
        text = render_place_map(drawn)
    else:
        with session.registry.reading() as reader:
            state = state_of(reader)
        text = render_place_page(drawn, session.shop / TEMPLATES_FOLDER, state)
    outputs.write(path, text.encode("utf-8"))
