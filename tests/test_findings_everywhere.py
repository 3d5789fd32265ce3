"""Every finding stands on table, block comment, sheet, map and in JSON alike, and on `explain`."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from blocks import explain_of
from test_dowels import ON_DOWELS
from test_findings import CUT, WITH_HEIGHTS
from test_sheet import Page, sheet_of
from worlds import BASE, facts, world

import pincorner.setups.findings
from pincorner.documents.beds import Slat
from pincorner.documents.records import Disturbance
from pincorner.documents.stations import EdgePins, MeasuredZero, ZRule
from pincorner.errors import Refused
from pincorner.geometry.outline import distance_to
from pincorner.render.blocks.block import render_block
from pincorner.render.blocks.guards import plain_ascii
from pincorner.render.outputs.maps import map_json
from pincorner.render.outputs.stations import offsets_json
from pincorner.render.pages.maps import MapFacts, render_map_page, render_map_svg
from pincorner.render.text import guide
from pincorner.render.text.offsets import how_well, offsets_table
from pincorner.setups.budget import DISTURBED, NO_SURVEY, TOO_FEW_HOLES
from pincorner.setups.facts import Facts, LastPaper, UsedHole, UsedHoles
from pincorner.setups.findings import Finding
from pincorner.setups.refusals import STOPPING
from pincorner.setups.transform import make_setups, offset_rows


def plain(text: str = BASE, station: str = "left") -> Facts:
    """A station of a text."""
    return facts(world(text), station)


def with_pin(hole: str, body: float) -> Facts:
    """Station left while another station has a pin of its own in a hole."""
    found = plain()
    place = found.bed.hole(hole)
    assert place is not None
    pin = found.pins["peg-20"].model_copy(update={"name": "thick", "body": body})
    return found._replace(used=UsedHoles([UsedHole(place.at_mm, hole, pin, ("other", "other"))]))


def test_pins_wider_than_the_pitch() -> None:
    """A pin is in the way by its size, however many holes away its own hole is."""
    found = plain()
    place, outline = found.bed.hole("A1"), make_setups(found)[0].footprint_in_bed()
    assert place is not None
    away = distance_to(outline, place.at_mm)
    assert away > max(found.bed.grid.pitch)
    for reaches in (-1.0, 1.0):
        codes = {f.code for f in make_setups(with_pin("A1", 2 * (away + reaches)))[0].findings}
        assert ("pin-under-jig" in codes) == (reaches > 0)


def on_slats() -> Facts:
    """Station left over two slats with a step between them."""
    found = plain()
    heights = [(-50, 200, -120.0), (200, 850, -119.7)]
    slats = tuple(
        Slat.model_validate({"name": f"L{i}", "from": [-50, a], "to": [1450, b], "surface": z})
        for i, (a, b, z) in enumerate(heights)
    )
    return found._replace(bed=found.bed.model_copy(update={"slats": slats}))


def askew() -> Facts:
    """Station left with an edge pin one row too high, at a controller that turns its axes."""
    found = plain(BASE.replace("dialect: rs274", "dialect: rs274-turned"))
    pins = EdgePins(edge=("C2", "F3"), stop="B4")
    return found._replace(station=found.station.model_copy(update={"pins": pins}))


def two_units() -> Facts:
    """A jig whose second nest was measured in inches and entered as millimetres."""
    stock = "stock: {size: [410, 240, 20]}}"
    second = ", {name: b, zero: [25, 20], stock: {size: [16.1417, 9.4488, 0.7874]}}]"
    return plain(BASE.replace(stock + "]", stock + second))


def with_own_max_skew(limit_mm: float) -> Facts:
    """Station left on a bed turned by 0.03 degrees, with a max_skew of its own."""
    found = plain(BASE.replace("angle: 0}", "angle: 0.03}"))
    return found._replace(station=found.station.model_copy(update={"max_skew": limit_mm}))


HIT = Disturbance(name="2026-11-24", bed="long-bench", note="a sheet slid against it")
"""What was recorded about the bed."""


def by_the_machine() -> Facts:
    """Station left, its Z from heights that were surveyed before the surface was cut."""
    found = plain()
    machine = found.machine.model_copy(update={"tool_lengths": "gauge"})
    found = found._replace(machine=machine)
    station = found.station.model_copy(update={"z": ZRule(set="machine")})
    return found._replace(station=station, survey=WITH_HEIGHTS, surfacings=(CUT,))


def as_measured(day: str | None) -> Facts:
    """Station left where its zero was measured one day, the bed surveyed."""
    zero = MeasuredZero(x=295.5, y=184.25, date=day)
    without = {"pin": "", "pins": None, "measured": zero}
    found = plain()
    station = found.station.model_copy(update=without)
    return found._replace(station=station, survey=WITH_HEIGHTS)


STEEP = WITH_HEIGHTS.fit.plane.model_copy(update={"slope": (0.001, 0.0)})
TILTED = WITH_HEIGHTS.model_copy(
    update={"fit": WITH_HEIGHTS.fit.model_copy(update={"plane": STEEP})}
)
"""A survey of a surface that rises by 1 mm per m."""

CASES: dict[str, Callable[[], Facts]] = {
    "outside-travel": lambda: plain(BASE.replace("x: [0, 1540]", "x: [295.5, 1540]")),
    "below-bed": lambda: plain(BASE.replace("surface: -120", "surface: 5")),
    "outside-bed": lambda: plain(BASE.replace("[460, 280]", "[460, 980]")),
    "pins-askew": askew,
    "pin-under-jig": lambda: with_pin("E4", 20.0),
    "pins-collide": lambda: with_pin("D2", 19.0),
    "pin-proud": lambda: plain(ON_DOWELS.replace("seat: 24", "seat: 20"), "bars"),
    "pin-above-stock": lambda: plain(BASE.replace("height: 22", "height: 44.5")),
    "dowel-tight": lambda: plain(ON_DOWELS.replace("width: 20.05", "width: 19.9"), "bars"),
    "slat-step": on_slats,
    "survey-old": by_the_machine,
    "offset-moved": lambda: plain()._replace(papers={"a": LastPaper("7F3A-91C2", 9.0, 9.0)}),
    "unit-slip": two_units,
    "own-max-skew": lambda: with_own_max_skew(0.3),
    "bed-disturbed": lambda: plain()._replace(disturbed=HIT),
    "surface-tilted": lambda: plain()._replace(survey=TILTED),
    "as-measured": lambda: as_measured("2100-01-01"),
    "measured-before": lambda: as_measured(None),
}
"""A station with each finding."""


NOWHERE = (
    "survey-old", "unit-slip", "own-max-skew", "bed-disturbed", "as-measured", "measured-before",
)  # fmt: skip
"""Findings that are no place of the bed."""


@cache
def finding_of(code: str) -> tuple[Facts, Finding]:
    """The station, and that finding of its first nest."""
    found = CASES[code]()
    return found, next(f for f in make_setups(found)[0].findings if f.code == code)


def test_every_finding_has_a_case() -> None:
    """A finding that is added to the source is added here as well."""
    source = Path(pincorner.setups.findings.__file__).read_text(encoding="utf-8")
    assert set(re.findall(r'Finding\(\s*"([a-z-]+)"', source)) == set(CASES)


def test_every_finding_is_explained() -> None:
    """The guide's table has every code that JSON may have, and none that there is not."""
    table = guide.page("numbers").partition("| code in JSON | when |")[2].partition("\n\n")[0]
    codes = " ".join(row.split("|")[1] for row in table.splitlines() if "|" in row)
    assert sorted(re.findall(r"`([a-z-]+)`", codes)) == sorted(CASES)


ON_SHEET = {
    "own-max-skew": "The part is cut askew by up to 0.249 mm across the stock: it lies turned by "
    "0.0300°, and this controller cannot turn its axes. Here up to 0.300 mm is accepted, "
    "elsewhere 0.100.",
}


@pytest.mark.parametrize("code", CASES)
def test_a_finding_stands_on_everything_printed(code: str) -> None:
    """Table, JSON, sheet, map and explanation tell one sentence, and the map marks the place; a
    skew that is accepted the sheet tells in its own words, with the same figures."""
    found, finding = finding_of(code)
    rows, setups = offset_rows(found), make_setups(found)
    nests = [each.nest.name for each in setups if finding in each.findings]
    whose = f"{setups[0].facts.station.name} {', '.join(nests)}"
    assert f"! {whose}: {finding.text}\n" in offsets_table(rows)
    told = offsets_json(rows)["offsets"][0]["findings"]
    assert {"code": code, "text": finding.text, "figure_mm": finding.figure_mm} in told
    sentence = " ".join(finding.text.split())
    on_sheet = ON_SHEET.get(code, sentence)
    assert on_sheet in Page(sheet_of(setups)).words
    assert sentence in Page(render_map_page(found.bed, rows, None)).words
    assert f"! {finding.text}\n" in explain_of(setups[0])
    marks = re.findall(r"<text[^>]*>!</text>", render_map_svg(found.bed, rows))
    places = {f.place_mm for setup in setups[:1] for f in setup.findings if f.place_mm}
    assert len(marks) == len(places)
    assert bool(places) == (code not in NOWHERE)


@pytest.mark.parametrize("code", CASES)
def test_a_finding_stands_in_the_block_or_keeps_it_back(code: str) -> None:
    """A block carries the finding as a comment; outside the travel none is written, and it says."""
    found, finding = finding_of(code)
    if code in STOPPING:
        with pytest.raises(Refused) as refusal:
            render_block(make_setups(found))
        assert refusal.value.cause == code and finding.text in refusal.value.text
        return
    first = {found.holder.nests[0].name: "G57"}  # dowel jigs' second nest is turned: no block
    coded = found._replace(station=found.station.model_copy(update={"work_offsets": first}))
    whole = render_block(make_setups(coded)).replace(")\n(cont ", " ")
    assert f"(NOTE {plain_ascii(finding.text)})" in whole


def test_a_pin_that_two_stations_share_is_no_finding() -> None:
    """The same kind of pin in the same hole serves both stations; so does one beside the edge."""
    found = plain()
    for hole in ("D2", "G2", "C4", "E2"):
        place = found.bed.hole(hole)
        assert place is not None
        shared = UsedHole(place.at_mm, hole, found.pins["peg-20"], ("left", "other"))
        assert make_setups(found._replace(used=UsedHoles([shared])))[0].findings == ()


def test_why_a_station_is_refused_is_told_alike() -> None:
    """Table, JSON and map tell the same reason for a station that cannot be located."""
    found = plain(BASE.replace("surface: -120", "missing: [G2]"))
    rows = offset_rows(found)
    reason = "station left: hole G2 of bed long-bench is marked missing"
    table = offsets_table(rows)
    assert f"! {reason}\n" in table and re.search(r"^left .* refused$", table, re.MULTILINE)
    (told,) = offsets_json(rows)["offsets"]
    assert (told["refused"], told["x_mm"], told["fingerprint"]) == (reason, None, None)
    assert reason in Page(render_map_page(found.bed, rows, None)).words
    (of_map,) = map_json(found.bed, rows, MapFacts())["stations"]
    assert of_map["no_block"] == [reason]
    (located,) = map_json(found.bed, offset_rows(plain()), MapFacts())["stations"]
    assert located["no_block"] == []


@pytest.mark.parametrize(
    ("travel", "said"),
    [
        ("    travel: {x: [0, 1540], y: [0, 940], z: [-190, 0]}\n", ""),
        ("    travel: {x: [0, 1540], z: [-190, 0]}\n", "the travel in Y (not given)"),
        ("", "the travel (not given)"),
        ("    homes: false\n", "the travel (the machine does not home)"),
    ],
)
def test_travel_that_is_not_checked_is_said(travel: str, said: str) -> None:
    """Table, sheet and explanation say what of the travel nothing was held against (1)."""
    found = plain(BASE.replace("    travel: {x: [0, 1540], y: [0, 940], z: [-190, 0]}\n", travel))
    setups = make_setups(found)
    shown = [
        offsets_table(offset_rows(found)),
        Page(sheet_of(setups)).words,
        explain_of(setups[0]),
    ]
    for text in shown:
        assert (said in text) if said else ("not checked" not in text.casefold())


def test_what_nothing_is_given_for_is_not_known() -> None:
    """Where no document states an error, no figure says that there is none."""
    bare = BASE.replace(", hole_position: 0.04", "").replace("    repeatability: 0.02\n", "")
    bare = bare.replace(", body_tolerance: 0.01", "").replace("hole: 20.02", "hole: 20")
    found = plain(bare)
    (row,) = (
        line
        for line in offsets_table(offset_rows(found)).splitlines()
        if line.startswith(found.station.name)
    )
    assert row.count("not known") == 2 and "0.00 " not in row
    explained = explain_of(make_setups(found)[0])
    assert "comes back within: not known" in explained
    assert "lies within: not known" in explained
    sheet = Page(sheet_of(make_setups(found))).words
    assert "How well the part lies and comes back is not known" in sheet


def test_a_part_that_lies_known_and_comes_back_unknown() -> None:
    """Where only what is the same each time is given, table, sheet, explain and the words of the
    map all say that how well the part comes back is not known, and not so of where it lies; JSON
    has null for the one and a figure for the other."""
    bare = BASE.replace(", repeatability: 0.02", "").replace("    repeatability: 0.02\n", "")
    found = plain(bare.replace("hole: 20.02", "hole: 20"))
    (setup,) = make_setups(found)
    assert setup.budget.repeat95_worst_mm == 0 < setup.budget.u95_worst_mm
    assert offsets_table(offset_rows(found)).count("not known") == 1
    told = "how well it comes back is not known"
    assert told in Page(sheet_of([setup])).words
    assert told in how_well("It", [setup])
    explained = explain_of(setup)
    assert "comes back within: not known" in explained and "lies within: not" not in explained
    (row,) = offsets_json(offset_rows(found))["offsets"]
    assert row["repeat95_zero_mm"] is None and row["repeat95_worst_mm"] is None
    assert row["u95_worst_mm"] == setup.budget.u95_worst_mm


OF_MANY = WITH_HEIGHTS.model_copy(
    update={"fit": WITH_HEIGHTS.fit.model_copy(update={"s": 0.02, "dof": 9})}
)


@pytest.mark.parametrize(
    ("keys", "name"),
    [
        ({}, NO_SURVEY),
        ({"survey": WITH_HEIGHTS}, TOO_FEW_HOLES),
        ({"survey": OF_MANY}, None),
        ({"survey": OF_MANY, "disturbed": HIT}, DISTURBED),
    ],
)
def test_where_the_bed_lies_is_named_everywhere(keys: dict[str, Any], name: str | None) -> None:
    """Where no survey tells where the bed lies, table, sheet, map, `explain` and JSON name that,
    and say that the part lies within its figure on the bed; with one they say nothing of it."""
    found = plain()._replace(**keys)
    rows, (setup,) = offset_rows(found), make_setups(found)
    told = {
        "table": offsets_table(rows),
        "sheet": Page(sheet_of([setup])).words,
        "map": Page(render_map_page(found.bed, rows, None)).words,
        "explain": explain_of(setup),
        "JSON": str(offsets_json(rows)["offsets"][0]["not_given"]),
    }
    for words in (NO_SURVEY, TOO_FEW_HOLES, DISTURBED):
        says = [where for where, text in told.items() if words in text]
        assert says == (list(told) if words == name else [])
    on_bed = [where for where, text in told.items() if "of its place on the bed" in text]
    assert on_bed == (["sheet", "map", "explain"] if name else [])


@pytest.mark.parametrize("pressed", [True, False])
def test_pressed_pins_are_told_everywhere(pressed: bool) -> None:
    """That X and Y hold half the play of pressed pins stands on table, sheet and `explain`; where
    the jig is laid nothing of it does."""
    found = facts(world(), pins_pressed=pressed)
    (setup,) = make_setups(found)
    assert (setup.located.pins[0].shift_mm > 0) == pressed
    words = "X and Y hold half the play of pressed pins, 0.010 mm"
    texts = (offsets_table(offset_rows(found)), Page(sheet_of([setup])).words, explain_of(setup))
    assert [words in text for text in texts] == [pressed] * 3


def test_each_nest_is_told_its_own_angle() -> None:
    """Nests at two angles: the sheet names both, each with the code in which it holds."""
    two = (
        BASE.replace("dialect: rs274", "dialect: rs274-turned")
        .replace(
            "stock: {size: [410, 240, 20]}}]",
            "stock: {size: [410, 240, 20]}},\n"
            "            {name: b, zero: [200, 90], angle: 30, stock: {size: [99, 40, 20]}}]",
        )
        .replace("{a: G55}", "{a: G55, b: G56}")
        .replace("angle: 0}", "angle: 0.12}")
    )
    words = Page(sheet_of(make_setups(plain(two)))).words
    assert "turned by 0.1200 degrees in G55 and 30.1200 degrees in G56" in words
