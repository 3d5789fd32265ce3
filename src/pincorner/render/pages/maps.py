"""The bed map: a page that answers and prints, or a drawing that stands alone."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

from markupsafe import Markup

from pincorner.characters import visible
from pincorner.documents.beds import Bed
from pincorner.documents.fields import key_of
from pincorner.documents.machines import Machine
from pincorner.render.drawing.bed import bed_map, paper_size_of_map
from pincorner.render.drawing.lie import lies_told, reference_told, zero_from_corner
from pincorner.render.drawing.live import LETTERS_MM, Lit, live_map
from pincorner.render.drawing.scene import map_scene, person_of
from pincorner.render.drawing.station_names import Listed, roomless_told
from pincorner.render.pages.steps import keys_in, signed, z_how
from pincorner.render.templating.templates import render_page
from pincorner.render.text.dates import State
from pincorner.render.text.offsets import how_well, not_counted_told, reckoned
from pincorner.setups.facts import Facts
from pincorner.setups.person import Person
from pincorner.setups.printed import counted_from
from pincorner.setups.setup import OffsetRow, Setup, by_station, setups_in

MAP_PAPER_MM = 270.0
_DEEP_MM = 185.0
"""Of the drawing that stands alone, upright or lying, on A4 and Letter."""
_PAPERS: Mapping[str, tuple[float, float]] = {
    "landscape": (160.0, 112.0),
    "portrait": (108.0, 175.0),
}
"""How wide and tall the drawing is on a page that lies or stands: what its letters are reckoned by.
It is printed larger; beside it stand the chosen station and what its numbers mean."""


class RunOfMap(NamedTuple):
    """A run's name and its stations in the order of work."""

    name: str
    stations: tuple[str, ...]


class SheetOfMap(NamedTuple):
    """The newest sheet of a station: where it lies, as seen from the map, and what it shows.

    `link` is empty where there is no way to it that a browser could follow.
    """

    link: str
    path: str
    fingerprints: tuple[str, ...]

    def shows(self, setups: Sequence[Setup]) -> bool:
        """Whether it shows these, all nests of its station that can be located, and no others."""
        return len(self.fingerprints) == len(setups) and all(
            any(map(setup.has_fingerprint, self.fingerprints)) for setup in setups
        )


class MapFacts(NamedTuple):
    """What a map tells beside the setups of its stations, by the stations' keys."""

    state: State | None = None
    runs: tuple[RunOfMap, ...] = ()
    take_out: Mapping[str, Sequence[str]] = MappingProxyType({})
    sheets: Mapping[str, SheetOfMap] = MappingProxyType({})


class _Station(NamedTuple):
    """A station of the map: the rows of its nests, and of those the setups."""

    facts: Facts
    rows: Sequence[OffsetRow]
    setups: Sequence[Setup]

    @property
    def key(self) -> str:
        return key_of(self.facts.station.name)


def render_map_svg(bed: Bed, rows: Sequence[OffsetRow], machine: Machine | None = None) -> str:
    """The bed with its stations as SVG; `machine` is asked where there are none."""
    scene = map_scene(bed, setups_in(rows), machine)
    sizes = ((MAP_PAPER_MM, _DEEP_MM), (_DEEP_MM, MAP_PAPER_MM))
    paper_mm = max(paper_size_of_map(bed, *size, scene.person) for size in sizes)
    order = [each.facts.station.name for each in _stations(rows)]
    drawing = bed_map(scene, paper_mm, named=True, order=order)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{drawing}\n'


def render_map_page(
    bed: Bed,
    rows: Sequence[OffsetRow],
    overrides: Path | None,
    machine: Machine | None = None,
    told: MapFacts | None = None,
) -> str:
    """The bed with its stations as one page that asks for nothing else.

    `machine` is asked where there are no stations. Raises BadInput for a faulty template.
    """
    told = told or MapFacts()
    stations = _stations(rows)
    lit = [Lit(each.setups, told.take_out.get(each.key, ())) for each in stations]
    person = person_of(bed, machine, setups_in(rows))
    way, paper_mm = _paper(bed, person)
    drawn = live_map(bed, lit, person, paper_mm, _in_words(bed, stations))
    script, shared = _script(), _shared(stations)
    return render_page(
        "map.html.j2",
        overrides,
        bed=visible(bed.name),
        machine=visible(bed.machine),
        viewpoint=_viewpoint(person),
        state=_state(rows, told.state),
        way=way,
        numbered=bool(drawn.listed),
        drawing=drawn.drawing + _list(drawn.listed),
        stations=[_told(each, told, shared) for each in stations],
        shared=shared,
        runs=_runs(stations, told.runs),
        unit=rows[0].facts.machine.units if rows else "mm",
        remarks=[],  # nothing: a shop's own template of before asks for it
        script=script,
        policy=_policy(script),
    )


def _paper(bed: Bed, person: Person) -> tuple[str, float]:
    """How the page lies on paper, so that the bed is larger; the drawing's width there."""
    sizes = {
        way: paper_size_of_map(bed, *size, person, letters_mm=LETTERS_MM)
        for way, size in _PAPERS.items()
    }
    way = max(sizes, key=lambda each: sizes[each])
    return way, sizes[way]


def _list(listed: Sequence[Listed]) -> Markup:
    """What numbers in the drawing stand for: part of it, so that every template has it."""
    if not listed:
        return Markup("")
    item = Markup("<li><b>{}</b> {}</li>")
    drawn = [item.format(each.number, visible(each.told)) for each in listed if each.drawn]
    head = Markup('<div class="numbers">')
    if drawn:
        told = Markup("<p>Numbers in boxes stand for:</p><ul>{}</ul>")
        head += told.format(Markup("").join(drawn))
    roomless = roomless_told(listed)
    if roomless:
        head += Markup("<p>{}</p>").format(visible(roomless))
    return head + Markup("</div>")


def _viewpoint(person: Person) -> str:
    """Who looks, as the drawing has it."""
    if person.stated:
        return f"Seen from above; you stand below, at the {person.place}."
    return f"Seen from above, from the {person.place}."


@cache
def _script() -> Markup:
    text = Path(__file__).with_name("map.js").read_text(encoding="utf-8")
    return Markup(text)  # ours alone: no value of a registry gets into it


def _policy(script: str) -> str:
    """Nothing is fetched, sent or run but this script (Content Security Policy Level 3, 2.3.1)."""
    digest = base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")
    return (
        "default-src 'none'; style-src 'unsafe-inline'; "
        f"script-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    )


def _stations(rows: Sequence[OffsetRow]) -> list[_Station]:
    """Rows by their stations, in order."""
    every = by_station(rows).values()
    return [_Station(mine[0].facts, mine, setups_in(mine)) for mine in every]


def _state(rows: Sequence[OffsetRow], state: State | None) -> list[str]:
    """Survey and surfacings in force, the newest change, and when the page was made."""
    parts = []
    if rows:
        survey, cuts = rows[0].facts.survey, rows[0].facts.surfacings
        parts.append(f"Survey {survey.name}." if survey else "Not surveyed.")
        parts += [f"Surfaced {cuts[-1].name}."] if cuts else []
    parts += state.parts if state else []
    return [visible(part) for part in parts]


def _in_words(bed: Bed, stations: Sequence[_Station]) -> str:
    """What the drawing shows, for whoever cannot see it."""
    grid = bed.grid
    last = bed.letters.of(grid.columns)
    words = [
        f"{grid.columns} columns of holes, {bed.letters.of(1)} to {last}, "
        f"and {grid.rows} rows, 1 to {grid.rows}."
    ]
    for each in stations[:_READ_OUT]:
        if each.setups:
            pins = ", ".join(pin.hole for pin in each.setups[0].located.pins)
            where = f"at pins {pins}" if pins else "as measured, without pins"
            words.append(f"Station {each.facts.station.name} {where}.")
    if len(stations) > _READ_OUT:
        words.append(f"{len(stations) - _READ_OUT} more stations stand in the table.")
    return " ".join(words)


_READ_OUT = 20
"""Stations that are read out with the drawing; the table has all of them."""


def _runs(stations: Sequence[_Station], runs: Sequence[RunOfMap]) -> list[dict[str, str]]:
    """Runs with a station on this bed: the numbers of their stations, in the order of work."""
    numbers = {each.key: at for at, each in enumerate(stations)}
    found = []
    for run in runs:
        mine = [str(numbers[key]) for key in map(key_of, run.stations) if key in numbers]
        if mine:
            found.append({"name": visible(run.name), "stations": " ".join(mine)})
    return found


def _shared(stations: Sequence[_Station]) -> str:
    """What is not counted at any station, where that is the same everywhere: told once."""
    missing = {not_counted_told(each.setups) for each in stations if each.setups}
    return missing.pop() if len(missing) == 1 else ""


def _told(station: _Station, told: MapFacts, shared: str) -> dict[str, Any]:
    """A station as the template prints it; `shared`: what is told once for all of them."""
    facts, setups = station.facts, station.setups
    nests = [_nest(row) for row in station.rows]
    take_out = told.take_out.get(station.key, ())
    sheet, sheet_told = _sheet(station, told.sheets.get(station.key))
    codes = [nest["code"] for nest in nests if nest["code"] != "no code"]
    located = setups[0].located if setups else None
    return {
        "name": visible(facts.station.name),
        "code": "NO BLOCK" if not any(nest["block"] for nest in nests) else " ".join(codes),
        "jig": "bare stock" if facts.is_bare else visible(facts.holder.name),
        "pins": ", ".join(
            f"{at}{_KEPT}{pin.hole}" for at, pin in enumerate(located.pins if located else (), 1)
        )
        or ("" if located is None else "none, as measured"),
        "empty": (located.corner_hole or "none") if located else "",
        "out": (", ".join(take_out) or "none") if located else "",
        "nests": nests,
        "count": len(nests),
        "rows": len(nests) + 1,
        "lies": _lies(setups[0]) if setups else "",
        "within": _within(setups, shared),
        "remarks": [visible(text) for text in dict.fromkeys(_remarks(station.rows))],
        "sheet": sheet,
        "sheet_told": sheet_told,
    }


def _nest(row: OffsetRow) -> dict[str, Any]:
    """A nest's figures; none where there is no block, so that nobody keys them in."""
    setup = row.setup
    bare = {
        "name": visible(row.nest), "code": row.facts.station.code_of(row.nest) or "no code",
        "block": False, "x": "", "y": "", "angle": "", "how": "", "look": "", "zhow": "",
        "zreads": "", "setup": "NO BLOCK", "program": "",
    }  # fmt: skip
    if setup is None:
        return bare
    bare["program"] = visible(setup.program.name) if setup.program else "none"
    bare["setup"] = setup.fingerprint
    if setup.no_block:
        return {**bare, "code": f"NO BLOCK ({bare['code']})"}
    own, start = setup.printed.own, setup.relative_to or ""
    zhow, zreads = _height(setup)
    return {
        **bare,
        "block": True,
        "x": counted_from(start, own.x),
        "y": counted_from(start, own.y),
        "angle": f"R {setup.printed.angle}°" if setup.writes_angle else "",
        "how": "Key these in" if keys_in(setup) else "",
        "look": _look(setup),
        "zhow": zhow,
        "zreads": zreads,
    }


def _look(setup: Setup) -> str:
    """What is done with X and Y, where it is not as the page has it: compared after G0 X0 Y0."""
    if keys_in(setup):
        return "Into the offset table, never by G92:"
    if setup.relative_to is not None:
        there = setup.relative_to
        return (
            f"Check: spindle up, G0 X0 Y0; with {there} selected it must read what follows {there}:"
        )
    return ""


def _lies(setup: Setup) -> str:
    """How the jig lies, where its zero is, and what offsets count from but for the machine."""
    text = (
        f"The {setup.facts.thing} lies with {lies_told(setup)}; zero is {zero_from_corner(setup)}."
    )
    if setup.relative_to is not None:
        text += f" Offsets count from {setup.relative_to} as set there: {reference_told(setup)}."
    return visible(text)


def _height(setup: Setup) -> tuple[str, str]:
    """How Z comes into the code, and what the tip must read then."""
    own, code = setup.printed.own, setup.work_offset
    keyed = "".join(word.word for word in setup.printed.words if word.axis == "Z")
    counts = setup.facts.station.z.set == "reference"
    surface = "; the Z zero of G54 is the bed surface" if counts else ""
    how = {
        "touch": f"Z: touch off with {code} selected; never type it into the offset table.",
        "keyed": f"Z: key in {keyed} for {code}{surface}.",
        "reference": f"Z of this station counts from G54{surface}.",
        "machine": "The block writes Z; tool lengths must be applied (G43).",
    }[z_how(setup)]
    reads = [
        f"{where}{_KEPT}{signed(figure)}"
        for where, figure in (
            ("Tip on bed", own.tip_on_surface),
            ("plate on bed", own.tip_on_plate),
            ("tip on waste sheet", own.tip_on_sheet),
            ("plate on waste sheet", own.plate_on_sheet),
            ("tip on stock", own.tip_on_stock),
            ("plate on stock", own.plate_on_stock),
        )
        if figure
    ]
    return how, f"{'; '.join(reads)}."


_KEPT = "\N{NO-BREAK SPACE}"
"""Keeps a figure on the line of its word."""


def _within(setups: Sequence[Setup], shared: str) -> str:
    if not setups:
        return ""
    return reckoned("It", setups, _KEPT) if shared else how_well("It", setups, _KEPT)


def _sheet(station: _Station, sheet: SheetOfMap | None) -> tuple[str, str]:
    """A link to the station's sheet, and what is told of it."""
    if sheet is None:
        return "", "No setup sheet of it is on record."
    if not sheet.shows(station.setups):
        return "", visible(f"Its sheet {sheet.path} shows another setup: void, print it anew.")
    return sheet.link, visible(f"Setup sheet {sheet.path}")


def _remarks(rows: Sequence[OffsetRow]) -> Iterator[str]:
    """Findings of a station, and why a nest has no block, each once with its nests."""
    nests: dict[str, list[str]] = {}
    for row in rows:
        if row.setup is None:
            yield f"NO BLOCK: {row.refused}"
            continue
        found = [each.text for each in row.setup.findings if each not in row.setup.no_block]
        for text in (*found, *(f"NO BLOCK: {reason.told}" for reason in row.setup.no_block)):
            nests.setdefault(text, []).append(row.nest)
    for text, names in nests.items():
        yield f"{rows[0].facts.station.name} {', '.join(dict.fromkeys(names))}: {text}"
