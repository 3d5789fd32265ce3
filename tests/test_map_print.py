"""The bed map as it is printed and drawn, over beds of every shape: words whole, apart, legible.

The PDF is read back by poppler's pdftotext. Skipped, with the reason, where no browser is found.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from browsing import Browser
from test_map_page import DEMO, TOLD, rows_of

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
BEDS = {
    "demo": DEMO,
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
    """What a browser makes of a bed's drawing: its words with their boxes, and its own box."""
    browser.screen(800)
    browser.show(page_of(request.param, tmp_path_factory.mktemp("drawn")))
    return browser.value(DRAWN)


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
        if box[0] < left or box[1] < top or box[2] > right or box[3] > bottom
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
