"""The bed map as it is printed and drawn, over beds of every shape: words whole, apart, legible.

The PDF is read back by poppler's pdftotext. Skipped, with the reason, where no browser is found.
"""

from __future__ import annotations

import itertools
import shutil
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from browsing import Browser, Word, least_letters_mm, overlapping_words, sizes_of, words_of
from test_map_page import DEMO, OVERLAPS, TOLD, rows_of
from thinning import thinned

from pincorner.render.pages.maps import render_map_page
from pincorner.work.files.browser import find_browser

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        find_browser() is None, reason="no Chromium, Chrome or Edge was found on this machine"
    ),
]


def shop(grid: str, angle: int, stations: str, jigs: str = "") -> str:
    """A shop with one bed of so many columns and rows, so far apart, turned by an angle."""
    columns, rows, pitch = grid.split()
    return f"""
format: 1
machines: [{{name: m, dialect: rs274, travel: {{x: [-9e3, 9e3], y: [-9e3, 9e3], z: [-190, 0]}}}}]
pins: [{{name: peg, shank: 20, body: 20, height: 20}}]
{jigs}beds:
  - name: bed
    machine: m
    surface: -120
    grid: {{columns: {columns}, rows: {rows}, pitch: [{pitch}, {pitch}], hole: 20.02}}
    pose: {{x: 1000, y: 50, angle: {angle}}}
stations:
{stations}"""


def station(name: str, what: str, edge: str, stop: str, codes: str) -> str:
    """A station on pegs; `what`: its jig or stock."""
    return (
        f"  - {{name: {name}, bed: bed, {what}, pin: peg, work_offsets: {{{codes}}}, "
        f"pins: {{edge: [{edge}], stop: {stop}}}}}\n"
    )


LONG = "left-hand-inner-face-frame-stile-of-the-tall-kitchen-cupboard-64"
CODES = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2")
EIGHT_CODES = ", ".join(f"n{at}: {code}" for at, code in enumerate(CODES))


def eight(side: int) -> str:
    """A jig with eight nests, each so wide."""
    step = side + 20
    nests = ", ".join(
        f"{{name: n{at}, zero: [{20 + at % 4 * step}, {20 + at // 4 * step}], "
        f"stock: {{size: [{side}, {side}, 20]}}}}"
        for at in range(8)
    )
    size = f"[{4 * step + 20}, {2 * step + 20}]"
    return f"jigs: [{{name: eight, footprint: {size}, seat: 18, nests: [{nests}]}}]\n"


def slim(wide: float, deep: float) -> str:
    """A jig for one long part."""
    stock = f"size: [{wide - 50}, {deep - 50}, 20]"
    nest = f"{{name: a, zero: [25, 25], stock: {{{stock}}}}}"
    return f"jigs: [{{name: slim, footprint: [{wide}, {deep}], seat: 18, nests: [{nest}]}}]\n"


def twenty(name: str, stock: str, columns: tuple[str, ...], step: int) -> str:
    """Twenty stations in rows; of each column the letters of its stop and of its edge pins."""
    found = ""
    for at in range(20):
        stop, first, second = columns[at % len(columns)].split()
        row = 1 + at // len(columns) * step
        pins = f"{first}{row}, {second}{row}", f"{stop}{row + 1}"
        found += station(f"{name}-{at:02d}", f"stock: {stock}", *pins, f"a: G{54 + at % 6}")
    return found


FRONTS = station("drawer-front", "stock: [300, 150, 22]", "B5, C5", "A6", "a: G56")
SIDES = station("drawer-side", "stock: [300, 150, 12]", "B15, C15", "A16", "a: G57")
STILE = station("face-frame-stile", "stock: [100, 1750, 22]", "J5, J20", "K4", "a: G55")
CLOSE = "".join(
    station(name, "stock: [300, 150, 12]", f"B{row}, F{row}", f"A{row + 1}", f"a: {code}")
    for name, row, code in (("drawer-side", 15, "G57"), ("drawer-back", 12, "G58"))
)
SLIM = station("stile-left", "jig: slim", "D4, D18", "C3", "a: G54") + station(
    "stile-right-of-the-door", "jig: slim", "I6, I19", "H5", "a: G55"
)
RAILS = station("rail-top", "jig: slim", "D4, S4", "C5", "a: G54") + station(
    "rail-bottom-of-the-door", "jig: slim", "D8, S8", "C9", "a: G55"
)
PANEL = station("end-panel", "stock: [300, 150, 22]", "B5, D5", "A6", "a: G57")
NEAR_ANOTHER = """  - {name: nb3, bed: long-bench, stock: [300, 100, 60], pin: peg-20,
     pins: {edge: [F3, G3], stop: E4}, work_offsets: {a: G54}}
"""
BEDS = {
    "demo": DEMO,
    "demo with another": DEMO.replace("stations:\n", f"stations:\n{NEAR_ANOTHER}"),
    "portrait": shop("12 25 100", 0, FRONTS + SIDES + STILE),
    "62 rows": shop("31 62 50", 0, CLOSE),
    "28 columns turned": shop("28 12 75", 90, PANEL),
    "eight codes": shop(
        "12 25 100", 0, station(LONG, "jig: eight", "C5, F5", "B6", EIGHT_CODES), eight(150)
    ),
    "eight codes, 62 rows": shop(
        "31 62 50", 0, station(LONG, "jig: eight", "C5, F5", "B6", EIGHT_CODES), eight(70)
    ),
    "slim": shop("12 25 100", 0, SLIM, slim(152.4, 1778)),
    "slim rails": shop("25 12 100", 0, RAILS, slim(1778, 152.4)),
    "slim on a fine bed": shop("62 62 50", 180, SLIM, slim(70, 1750)),
    "twenty": shop(
        "12 25 100", 0, twenty("drawer", "[250, 170, 22]", ("A B C", "E F G", "I J K"), 3)
    ),
    "twenty, 62 rows": shop(
        "31 62 50",
        0,
        twenty("drawer-front", "[200, 90, 22]", ("A B D", "G H J", "M N P", "S T V"), 10),
    ),
}


def page_of(name: str, folder: Path) -> Path:
    """A bed's map as a file."""
    bed, rows = rows_of(BEDS[name])
    assert all(row.setup is not None for row in rows), [row.refused for row in rows]
    path = folder / "map.html"
    path.write_text(render_map_page(bed, rows, None, None, TOLD), encoding="utf-8")
    return path


@pytest.fixture(scope="module", params=BEDS)
def drawn(
    request: pytest.FixtureRequest, browser: Browser, tmp_path_factory: pytest.TempPathFactory
) -> Any:
    """What a browser makes of a bed's drawing, as wide as a phone."""
    browser.screen(390)
    browser.show(page_of(request.param, tmp_path_factory.mktemp("drawn")))
    return browser.value(DRAWN) | {"over": browser.value(OVERLAPS)}


DRAWN = """(() => {
  const svg = document.querySelector('#bed svg');
  const box = (e, b = e.getBoundingClientRect()) => [b.left, b.top, b.right, b.bottom];
  const words = [...svg.querySelectorAll('text')].filter(e => e.getClientRects().length);
  const { x, y, width, height } = svg.viewBox.baseVal, seen = svg.getScreenCTM();
  const corner = (a, b) => new DOMPoint(a, b).matrixTransform(seen);
  const [from, to] = [corner(x, y), corner(x + width, y + height)];
  return {
    whole: [from.x, from.y, to.x, to.y],
    words: words.map(e => [e.textContent, ...box(e)]),
    signs: [...svg.querySelectorAll('.found polygon')].map(e => box(e)),
    pins: [...svg.querySelectorAll('.n circle')].map(e => box(e)),
    jigs: [...svg.querySelectorAll('.a')].map(e => [...e.querySelectorAll('polygon')].map(
      p => p.getAttribute('points').split(' ').map(xy => xy.split(',').map(Number)))),
  };
})()"""
"""Words that show, and the outlines of each station's jig: itself, its band, its notch."""


def test_every_word_lies_within_the_drawing(drawn: Any) -> None:
    """No name of a column, row or station is cut at the drawing's edge."""
    left, top, right, bottom = drawn["whole"]
    cut = [
        word
        for word, *box in drawn["words"]
        if box[0] < left
        or box[2] > right
        or top > 0.8 * box[1] + 0.2 * box[3]
        or bottom < 0.2 * box[1] + 0.8 * box[3]  # leading is no ink
    ]
    assert drawn["words"] and cut == []


def test_a_notch_lies_in_its_jig(drawn: Any) -> None:
    """Band and notch of a jig's front edge stand out over none of its own edges."""
    for jig, *marks in drawn["jigs"]:
        for corners in marks[:2]:
            for axis in (0, 1):
                side = [corner[axis] for corner in jig]
                assert min(side) - 1 <= min(corner[axis] for corner in corners)
                assert max(corner[axis] for corner in corners) <= max(side) + 1


def test_a_sign_covers_nothing(drawn: Any) -> None:
    """On a screen as wide as a phone no word lies on another, and the signs of findings lie on no
    word and on no pin."""
    assert drawn["over"] == []
    marks = [["pin", *box] for box in drawn["pins"]]
    marks += [[word, box[0], box[1] + 0.2 * (box[3] - box[1]), box[2], box[3]]
              for word, *box in drawn["words"] if word != "!"]  # fmt: skip
    covered = [
        name
        for left, top, right, bottom in drawn["signs"]
        for name, *box in marks
        if left < box[2] - 0.3 and box[0] + 0.3 < right and top < box[3] - 0.3 and box[1] < bottom
    ]
    assert covered == []


def test_a_pin_that_lights_up_covers_no_word(browser: Browser, tmp_path: Path) -> None:
    """Where a front edge has no room for its word beside the pins, the word gives way to them;
    where it has, it stays."""
    fronts = (
        "[...document.querySelectorAll('#bed .a.on text')]"
        ".filter(e => getComputedStyle(e).visibility === 'visible').length"
    )
    for name, address, shown in (
        ("eight codes", LONG, 0),
        ("demo", "left", 1),
        ("demo", "right", 1),
    ):
        browser.screen(800)
        browser.show(page_of(name, tmp_path), f"#{address}")
        assert browser.value(OVERLAPS) == []
        assert browser.value(fronts) == shown, address


def test_signs_are_there(browser: Browser, tmp_path: Path) -> None:
    """Each finding that has a place has its sign, as in the report of a pin under another jig."""
    for name, least in (("portrait", 1), ("62 rows", 1), ("demo", 0)):
        browser.show(page_of(name, tmp_path))
        signs = browser.value("document.querySelectorAll('#bed .found polygon').length")
        assert signs >= least, name


def test_stations_upon_one_another_are_all_told(browser: Browser, tmp_path: Path) -> None:
    """Of thirty stations in one place no words meet on the map; each stands in it by name or
    number, and those without room for either are named below it."""
    same = "".join(
        station(f"job-{at:02d}", "stock: [300, 170, 22]", "B5, C5", "A6", f"a: G{54 + at % 6}")
        for at in range(30)
    )
    bed, rows = rows_of(shop("12 25 100", 0, same))
    path = tmp_path / "map.html"
    path.write_text(render_map_page(bed, rows, None, None, TOLD), encoding="utf-8")
    browser.screen(800)
    browser.show(path)
    assert browser.value(OVERLAPS) == []
    words = set(
        browser.value("[...document.querySelectorAll('#bed text')].map(e => e.textContent)")
    )
    told = browser.value("document.querySelector('#bed .numbers').innerText")
    listed, _, roomless = told.partition("No room in the drawing: ")
    numbers = dict(line.split(" ", 1) for line in listed.splitlines()[1:] if line)
    for at, row in enumerate(rows, 1):
        name, code = row.facts.station.name, row.facts.station.code_of(row.nest)
        entry = f"{name}: {code}"
        assert [
            any(name in word for word in words),
            numbers.get(str(at)) == entry and str(at) in words,
            entry in roomless,
        ].count(True) == 1, name


PAPERS = {"A4": (210 / 25.4, 297 / 25.4), "Letter": (8.5, 11.0)}
STANDING = {name for name in BEDS if name not in ("demo", "demo with another", "slim rails")} - {
    "slim on a fine bed"
}
"""Beds that are deeper than wide, as they are seen."""


class Printed(NamedTuple):
    """A map as it is printed: whose, on which paper, the PDF, its words."""

    name: str
    paper: str
    pdf: bytes
    words: list[Word]


PRINTED = [
    (name, paper)
    for (at, name), (on, paper) in itertools.product(enumerate(BEDS), enumerate(PAPERS))
    if (at + on) % 2 == 0 or thinned(12) == 12
]
"""Each bed on one paper or the other; all on both where the suite runs whole."""


@pytest.fixture(scope="module", params=PRINTED, ids="-".join)
def printed(
    request: pytest.FixtureRequest, browser: Browser, tmp_path_factory: pytest.TempPathFactory
) -> Printed:
    """Each map on each paper."""
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext (poppler) on this machine")
    name, paper = request.param
    browser.screen_of_its_own()
    browser.show(page_of(name, tmp_path_factory.mktemp("printed")))
    pdf = browser.print_shown(PAPERS[paper])
    return Printed(name, paper, pdf, words_of(pdf))


def test_names_and_codes_stand_on_page_one(printed: Printed) -> None:
    """Every station's name and all of its codes stand with the map and the caution on page one,
    codes whole."""
    first = [word.text for word in printed.words if word.page == 1]
    whole, text = {word.strip(",.:;") for word in first}, "".join(first)
    assert {"No", "safeguard."} <= set(first)
    for row in rows_of(BEDS[printed.name])[1]:
        assert row.facts.station.name in text
        assert row.facts.station.code_of(row.nest) in whole


def test_no_words_meet_and_none_is_small(printed: Printed) -> None:
    """No word lies on another, and the lowest capitals are 2.3 mm high."""
    assert overlapping_words(printed.pdf) == []
    assert least_letters_mm(printed.pdf) >= 2.3


def test_the_page_lies_as_the_bed_does(printed: Printed) -> None:
    """A bed deeper than wide is printed on paper that stands, others on paper that lies; its
    drawing takes most of the page's height."""
    wide, deep = sizes_of(printed.pdf)[0]
    assert (deep > wide) == (printed.name in STANDING)
    short, long = (round(72 * side) for side in PAPERS[printed.paper])
    assert sorted((wide, deep)) == pytest.approx([short, long], abs=1)
    rows = [w for w in printed.words if w.page == 1 and w.text in ("1", "A", "X+")]
    assert max(word.bottom for word in rows) > 0.75 * deep
