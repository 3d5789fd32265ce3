"""Sheets as a browser prints them: one page each, in black, white and greys.

Common practice, no source: one station, one page on the machine. Skipped, with the reason, where
no browser is found.
"""

from __future__ import annotations

import itertools
import json
import math
import re
import zlib
from collections.abc import Iterable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from browsing import Browser
from worlds import BASE, setups

from pincorner.registry.store import Registry
from pincorner.render.pages.sheet import PAPERS, render_sheet
from pincorner.setups.transform import offset_rows
from pincorner.shipped import shipped_folder
from pincorner.work.files.browser import find_browser, print_to_pdf
from pincorner.work.files.outputs import Outputs
from pincorner.work.session import Library

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        find_browser() is None, reason="no Chromium, Chrome or Edge was found on this machine"
    ),
]

NAME = "W" * 64
NOTE = "Wide and long words, mostly. " * 80
LONG = (
    BASE.replace("left", NAME)
    .replace("panel-tray", "M" * 64)
    .replace("long-bench", "Q" * 64)
    .replace("peg-20", "G" * 64)
    .replace("gantry-1", "H" * 64)
    .replace("    seat: 18", f"    note: {NOTE[:1990]}\n    seat: 18")
    .replace("    work_off", f"    note: {NOTE[:1990]}\n    program: {'P' * 64}\n    work_off")
    + f"programs: [{{name: {'P' * 64}, file: {'f' * 200}.nc, cycle: 4:20, tools: "
    + "{"
    + ", ".join(f"{number}: {{diameter: {number}}}" for number in range(1, 9))
    + "}}]\n"
)  # fmt: skip
SKEWED = BASE.replace("angle: 0}", "angle: 0.12}")
NESTS = ", ".join(
    f"{{name: nest-{number}, zero: [{25 + 50 * number}, 20], stock: {{size: [45, 240, 20]}}}}"
    for number in range(8)
)
EIGHT = BASE.replace(
    "nests: [{name: a, zero: [25, 20], stock: {size: [410, 240, 20]}}]", f"nests: [{NESTS}]"
).replace(
    "{a: G55}",
    "{nest-0: G55, nest-1: G56, nest-2: G57, nest-3: G58, nest-4: G59, nest-5: G59.1, "
    "nest-6: G59.2, nest-7: G59.3}",
)  # fmt: skip
DEMO = (shipped_folder("fixtures_db") / "beehive.yaml").read_text(encoding="utf-8")
HOME = "    home: {g28: [0, 0, 0], g30: [0, 940, 0]}\n"
RELATIVE = (
    DEMO.replace("dialect: rs274", "dialect: six\n    homes: false")
    .replace("x: 60", "x: -560")
    .replace(HOME, "")
)
TURNED = DEMO.replace("dialect: rs274", "dialect: extended").replace("angle: 0}", "angle: 0.12}")
NARROW = BASE.replace(
    "columns: 15, rows: 9, pitch: [100, 100]", "columns: 57, rows: 33, pitch: [25, 25]"
)
NARROW = NARROW.replace("{edge: [D2, G2], stop: C4}", "{edge: [M5, Y5], stop: I13}")
CLAMPS = ", ".join(
    f"{{name: clamp-{at}, from: [{60 * at}, -30], to: [{60 * at + 20}, 0], top: 35}}"
    for at in range(8)
)
CLAMPED = BASE.replace("    work_offsets", f"    clamps: [{CLAMPS}]\n    work_offsets")
CASES: dict[str, tuple[str, str, list[str]]] = {
    "long names and notes": (LONG, NAME, [f"AA{n}" for n in range(12)]),
    "skewed, no block": (SKEWED, "left", []),
    "sums left open": (RELATIVE, "end-bars", ["K6"]),
    "axes turned": (TURNED, "end-bars", []),
    "demo, no block": (DEMO.replace("angle: 0}", "angle: 0.12}"), "left", ["D5"]),
    "eight nests": (EIGHT, "left", ["A1", "B1"]),
    "eight nests, skewed": (EIGHT.replace("angle: 0}", "angle: 0.12}"), "left", []),
    "eight nests, long names": (
        EIGHT.replace("left", NAME).replace("panel-tray", "M" * 64),
        NAME,
        [f"AA{n}" for n in range(12)],
    ),
}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for the pages of all tests here."""
    found = find_browser()
    assert found is not None
    with closing(Browser(found)) as made:
        yield made


def pages(data: bytes) -> int:
    """Pages of a PDF: its page objects, also those inside compressed object streams.

    ISO 32000-1, 7.7.3.3: every page is a dictionary with /Type /Page; 7.5.7: object streams.
    """
    parts = [data]
    for found in re.finditer(rb"stream\r?\n(.*?)\r?\nendstream", data, re.DOTALL):
        try:
            parts.append(zlib.decompress(found[1]))
        except zlib.error:
            continue  # an image or a font that is not deflated holds no page
    return sum(len(re.findall(rb"/Type\s*/Page(?![A-Za-z])", part)) for part in parts)


def printed(text: str, folder: Path, browser: Browser) -> int:
    """Print a page; how many sheets of paper it takes."""
    page = folder / "page.html"
    page.write_text(text, encoding="utf-8")
    return pages(browser.print(page))


def test_pages_are_counted(tmp_path: Path, browser: Browser) -> None:
    """The counter finds three pages where a page breaks twice, printed here or by the program."""
    text = "<!DOCTYPE html><title>t</title>" + "<p style='break-after: page'>a</p>" * 2 + "b"
    assert printed(text, tmp_path, browser) == 3
    print_to_pdf(tmp_path / "page.html", tmp_path / "page.pdf", Outputs(force=True))
    assert pages((tmp_path / "page.pdf").read_bytes()) == 3


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("case", CASES)
def test_fullest_sheets_are_one_page(
    tmp_path: Path, browser: Browser, case: str, paper: str
) -> None:
    """Long names and notes, eight nests and refusals still take one page."""
    text, station, take_out = CASES[case]
    sheet = render_sheet(setups(text, station), take_out, paper, None)
    assert printed(sheet, tmp_path, browser) == 1


LOOK = """<script>
const parts = [...document.querySelector("main").children].map(part => {
  const all = [part, ...part.querySelectorAll("*:not(svg *)")];
  const boxes = all.map(element => element.getBoundingClientRect());
  return [Math.min(...boxes.map(b => b.top)), Math.max(...boxes.map(b => b.bottom)),
          Math.max(...boxes.map(b => b.right))];
});
const right = document.querySelector("main").getBoundingClientRect().right;
document.title = "LAID " + JSON.stringify({right, parts}) + " OUT";
</script>"""
"""Written for the test only: puts top, bottom and right of each part of the page in its title."""


def laid_out(sheet: str, script: str, folder: Path, browser: Browser) -> dict[str, Any]:
    """What a script finds in a page as the browser lays it out."""
    page = folder / "page.html"
    page.write_text(sheet.replace("</body>", f"{script}</body>"), encoding="utf-8")
    told = re.fullmatch(r"LAID (.*) OUT", browser.title(page))
    assert told is not None
    found: dict[str, Any] = json.loads(told[1])
    return found


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("case", CASES)
def test_parts_do_not_overlap(tmp_path: Path, browser: Browser, case: str, paper: str) -> None:
    """No part of a sheet runs into the next one or past the right margin, by more than a pixel."""
    text, station, take_out = CASES[case]
    sheet = render_sheet(setups(text, station), take_out, paper, None)
    laid = laid_out(sheet, LOOK, tmp_path, browser)
    over = [
        (before[1], after[0])
        for before, after in itertools.pairwise(laid["parts"])
        if before[1] > after[0] + 1
    ]
    assert over == []
    assert max(part[2] for part in laid["parts"]) <= laid["right"] + 1


LETTERS = """<script>
const boxes = [...document.querySelector("svg").querySelectorAll("text")].map(text => {
  const size = parseFloat(text.getAttribute("font-size")), box = text.getBBox();
  const base = parseFloat(text.getAttribute("y"));
  return [text.textContent, box.x, base - 0.72 * size, box.x + box.width, base + 0.2 * size];
});
const discs = [...document.querySelector("svg").querySelectorAll("circle")].filter(
  disc => disc.getAttribute("fill") != "none" && disc.getAttribute("fill") != "#ccc");
const marks = discs.map(
  mark => ["mark", ...["cx", "cy", "r"].map(name => parseFloat(mark.getAttribute(name)))]);
document.title = "LAID " + JSON.stringify({boxes, marks}) + " OUT";
</script>"""
"""Written for the test only: where the browser sets the letters of the close-up, on the bed."""

DRAWN = {
    **{name: (DEMO, name, []) for name in ("left", "right", "end-bars")},
    "roof": (DEMO, "roof", ["I8", "M8"]),
    "turned axes": (
        DEMO.replace("rs274", "extended").replace("angle: 0}", "angle: 0.7}"),
        "left",
        [],
    ),
    "far from square": (DEMO.replace("angle: 0}", "angle: 31}"), "right", ["K4"]),
    "much to take out": (BASE, "left", ["D3", "E3", "C5", "H4", "D4", "G4"]),
    "narrow pitch": (NARROW, "left", []),
    "eight nests": (EIGHT, "left", []),
    "clamps side by side": (CLAMPED, "left", ["D3", "E3"]),
}


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("case", DRAWN)
def test_no_label_covers_another_or_a_pin(
    tmp_path: Path, browser: Browser, case: str, paper: str
) -> None:
    """In the close-up no letters lie on other letters, on a pin or on a zero."""
    text, station, take_out = DRAWN[case]
    sheet = render_sheet(setups(text, station), take_out, paper, None)
    laid = laid_out(sheet, LETTERS, tmp_path, browser)
    assert len(laid["boxes"]) > 8 and len(laid["marks"]) >= 3
    over = [
        (one[0], other[0])
        for one, other in itertools.combinations(laid["boxes"], 2)
        if one[1] < other[3] and other[1] < one[3] and one[2] < other[4] and other[2] < one[4]
    ]
    over += [
        (name, "mark")
        for name, left, top, right, bottom in laid["boxes"]
        for _, x, y, radius in laid["marks"]
        if math.hypot(min(max(x, left), right) - x, min(max(y, top), bottom) - y) < radius
    ]
    assert over == []


@pytest.mark.parametrize("paper", PAPERS)
def test_demo_sheets_are_one_page(
    demo_once: Path, tmp_path: Path, browser: Browser, paper: str
) -> None:
    """Every station of the demo takes one page."""
    registry = Registry(str(demo_once / "fixtures_db" / "registry.sqlite"))
    with registry.reading() as reader:
        library = Library(reader)
        rows = [offset_rows(library.facts(station)) for station in library.stations(())]
    assert len(rows) == 5
    for each in rows:
        found = [row.setup for row in each if row.setup is not None]
        sheet = render_sheet(found, ["A1"], paper, None)
        assert printed(sheet, tmp_path, browser) == 1


def colours(text: str) -> Iterable[tuple[str, ...]]:
    """Red, green and blue of every colour written in a page, as hex digits."""
    for digits in re.findall(r"#([0-9a-fA-F]{6}|[0-9a-fA-F]{3})\b", text):
        step = len(digits) // 3
        yield tuple(digits[at : at + step] for at in range(0, len(digits), step))


NAMED = r"\b(?:fill|stroke|color|background)\s*[=:]\s*[\"']?\s*(?!none\b|#|inherit\b)([a-z]+)"


@pytest.mark.parametrize("case", CASES)
def test_black_and_white(case: str) -> None:
    """Every colour of a sheet is a grey, written as three equal parts."""
    text, station, take_out = CASES[case]
    sheet = render_sheet(setups(text, station), take_out, "a4", None)
    style = re.findall(r"<style>.*?</style>|<svg .*?</svg>", sheet, re.DOTALL)
    found = [colour for part in style for colour in colours(part)]
    assert len(found) > 10
    assert {colour for colour in found if len(set(colour)) != 1} == set()
    assert not [name for part in style for name in re.findall(NAMED, part)]
    assert not re.findall(r"rgb|hsl|gradient", "".join(style))
