"""Sheets as a browser prints them: pages, words, letters, in black, white and greys.

The PDF is read back by poppler's pdftotext, which knows where each word stands. Skipped, with the
reason, where no browser or no pdftotext is found.
"""

from __future__ import annotations

import itertools
import json
import math
import re
import shutil
import zlib
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from browsing import CAPITALS_MM, LINE, Browser, Word, words_of
from fullest_sheets import CASES, DEMO, Case, changed
from thinning import thinned
from worlds import BASE

from pincorner.render.pages.sheet import PAPERS, minus, render_sheet, signed, small_map
from pincorner.render.text.dates import State
from pincorner.setups.setup import Setup
from pincorner.work.files.browser import find_browser, print_to_pdf
from pincorner.work.files.outputs import Outputs

PDFTOTEXT = shutil.which("pdftotext")
reads_pdf = pytest.mark.skipif(PDFTOTEXT is None, reason="no pdftotext (poppler) on this machine")

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        find_browser() is None, reason="no Chromium, Chrome or Edge was found on this machine"
    ),
]


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


STATE = State(12, "2026-11-25", "2026-11-30 04:10")
SMALLEST_CAPITAL_MM = 2.3
"""Of anything that a person needs: read at arm's length, in dust (ours, no source)."""


def height_of(word: Word) -> float:
    """Height of a word's line, however it is turned."""
    wide, high = word.right - word.left, word.bottom - word.top
    return min(wide, high) if len(word.text) > 3 else high


class Printed(NamedTuple):
    """A sheet on paper: how many pages, and every word. `text`: as HTML."""

    case: Case
    paper: str
    text: str
    sheets: int
    words: list[Word]


WIDE = ("long names and notes", "eight nests", "inch", "62 x 31 holes")
"""Sheets that are printed on A4 as well, which is narrower; all are on Letter, which is shorter."""

PRINTED = [
    (name, paper)
    for name in CASES
    for paper in PAPERS
    if paper == "letter" or name in WIDE or thinned(12) == 12
]


@cache
def letter_of(name: str) -> str:
    """A case's sheet for Letter, as HTML."""
    drawn = DRAWN[name]
    return render_sheet(drawn.setups, drawn.take_out, "letter", None, STATE)


@pytest.fixture(scope="module", params=PRINTED, ids="-".join)
def sheet(
    request: pytest.FixtureRequest, browser: Browser, tmp_path_factory: pytest.TempPathFactory
) -> Printed:
    """Each of the fullest sheets, printed once."""
    if PDFTOTEXT is None:
        pytest.skip("no pdftotext (poppler) on this machine")
    name, paper = request.param
    case, folder = CASES[name], tmp_path_factory.mktemp("sheet")
    page = folder / "page.html"
    text = letter_of(name)
    if paper != "letter":
        text = render_sheet(case.setups, case.take_out, paper, None, STATE)
    page.write_text(text, encoding="utf-8")
    data = browser.print(page)
    return Printed(case, paper, text, pages(data), words_of(data))


def tokens(case: Case) -> set[str]:
    """What must stand whole on a sheet: holes, codes, figures with their sign, fingerprints."""
    found = case.setups
    holes = {pin.hole for pin in found[0].located.pins} | {*case.take_out, STATE.made[:10]}
    if found[0].located.corner_hole:
        holes.add(found[0].located.corner_hole)
    written = [setup for setup in found if setup.work_offset] or found
    if any(setup.no_block for setup in written):
        return {*holes, "BLOCK"}
    for setup in written:
        own = setup.printed.own
        holes |= {*places_told(setup), setup.fingerprint}
        holes |= {*(setup.work_offset or "").split()}
        readings = (own.tip_on_surface, own.tip_on_plate, own.tip_on_stock, own.plate_on_stock)
        holes |= {signed(each) for each in readings if each}
    return holes


def places_told(setup: Setup) -> list[str]:
    """X and Y as the sheet has them: with their sign, where they are added to what is read."""
    words = [word for word in setup.printed.words if word.axis in ("X", "Y")]
    return [
        signed(each.figure) if each.by_hand and each.counts_from else minus(each.figure)
        for each in words
    ]


def test_pages_are_no_more_and_are_named(sheet: Printed) -> None:
    """The fullest sheets take the pages that they may; each says whose it is and of how many."""
    assert sheet.sheets <= sheet.case.pages[list(PAPERS).index(sheet.paper)]
    for number in range(1, sheet.sheets + 1):
        last = [word.text for word in sheet.words if word.page == number][-40:]
        assert [str(number), "of", str(sheet.sheets)] in [last[at : at + 3] for at in range(38)]


def test_tokens_are_whole(sheet: Printed) -> None:
    """No hole, code, figure or fingerprint is broken or missing."""
    there = {word.text.strip(".,;:()") for word in sheet.words}
    assert tokens(sheet.case) - there == set()


def test_no_two_words_intersect(sheet: Printed) -> None:
    """No word of a page lies on another: their boxes, less what lines lend each other."""
    over = []
    for page in range(1, sheet.sheets + 1):
        mine = sorted((w for w in sheet.words if w.page == page), key=lambda word: word.top)
        for at, one in enumerate(mine):
            for other in mine[at + 1 :]:
                lent = 0.24 * (height_of(one) + height_of(other))
                if other.top > one.bottom - lent:
                    break
                wide = min(one.right, other.right) - max(one.left, other.left)
                if wide > 0.8 and min(one.bottom, other.bottom) - max(one.top, other.top) > lent:
                    over.append((one.text, other.text))
    assert over == []


def test_letters_are_large_enough(sheet: Printed) -> None:
    """No capital is lower than 2.3 mm; what is keyed in or compared is 5 mm high."""
    mm = CAPITALS_MM / LINE
    small = {w.text for w in sheet.words if height_of(w) * mm < SMALLEST_CAPITAL_MM - 0.02}
    assert small == set()
    found = sheet.case.setups
    if not any(setup.no_block for setup in found):
        for setup in found:
            for text in (places_told(setup)[0], setup.fingerprint):
                assert max(height_of(w) for w in sheet.words if w.text == text) * mm > 4.95


def test_each_label_is_written_once(sheet: Printed) -> None:
    """The empty hole's label stands once in the PDF: letters have no outline of their own."""
    hole = sheet.case.setups[0].located.corner_hole
    empty = [word.text for word in sheet.words].count("EMPTY")
    assert empty == (1 if hole else 0)


LETTERS = """<script>
const laid = [...document.querySelectorAll("svg")].map(svg => {
  const boxes = [...svg.querySelectorAll("text")].map(text => {
    const size = parseFloat(text.getAttribute("font-size")), box = text.getBBox();
    const base = parseFloat(text.getAttribute("y"));
    const high = 0.92 * size, middle = base - 0.26 * size, across = box.x + box.width / 2;
    const [wide, deep] = text.hasAttribute("transform") ? [high, box.width] : [box.width, high];
    return [text.textContent, across - wide / 2, middle - deep / 2, across + wide / 2,
            middle + deep / 2];
  });
  const discs = [...svg.querySelectorAll("circle")].filter(
    disc => disc.getAttribute("fill") != "none" && disc.getAttribute("fill") != "#ccc");
  const marks = discs.map(
    mark => ["mark", ...["cx", "cy", "r"].map(name => parseFloat(mark.getAttribute(name)))]);
  return {boxes, marks};
});
document.title = "LAID " + JSON.stringify({laid}) + " OUT";
</script>"""
"""Written for the test only: where the browser sets the letters of close-ups, on the bed."""

DRAWN: dict[str, Case] = {
    **CASES,
    "turned axes": Case(
        changed(DEMO, ("dialect: rs274", "dialect: extended"), ("angle: 0}", "angle: 0.7}"))
    ),
    "far from square": Case(changed(DEMO, ("angle: 0}", "angle: 31}")), "right", ("K4",)),
}


def laid_out(sheet: str, script: str, folder: Path, browser: Browser) -> dict[str, Any]:
    """What a script finds in a page as the browser lays it out."""
    page = folder / "page.html"
    page.write_text(sheet.replace("</body>", f"{script}</body>"), encoding="utf-8")
    told = re.fullmatch(r"LAID (.*) OUT", browser.title(page))
    assert told is not None
    found: dict[str, Any] = json.loads(told[1])
    return found


def is_middle(
    x: float, y: float, radius: float, left: float, top: float, right: float, bottom: float
) -> bool:
    """Whether letters stand in the middle of a disc: the number of a pin in its tag."""
    return math.hypot((left + right) / 2 - x, (top + bottom) / 2 - y) < 0.3 * radius


def over_others(laid: dict[str, Any]) -> list[tuple[str, str]]:
    """Letters that lie on other letters, or on a pin or zero whose number they are not."""
    over = [
        (one[0], other[0])
        for one, other in itertools.combinations(laid["boxes"], 2)
        if one[1] < other[3] and other[1] < one[3] and one[2] < other[4] and other[2] < one[4]
    ]
    return over + [
        (name, "mark")
        for name, left, top, right, bottom in laid["boxes"]
        for _, x, y, radius in laid["marks"]
        if math.hypot(min(max(x, left), right) - x, min(max(y, top), bottom) - y) < radius
        and not (name.isdecimal() and is_middle(x, y, radius, left, top, right, bottom))
    ]


def test_no_label_covers_another_or_a_pin(tmp_path: Path, browser: Browser) -> None:
    """In the close-ups no letters lie on other letters, on a pin or on a zero."""
    sheets = {name: letter_of(name) for name in DRAWN}
    style = re.findall(STYLE, sheets["portrait"], re.DOTALL)[0]  # alike but for words in margins
    drawings = [re.findall(r"<svg .*?</svg>", each, re.DOTALL)[0] for each in sheets.values()]
    page = f"<!DOCTYPE html><head>{style}</head><body>{''.join(drawings)}</body>"
    found = laid_out(page, LETTERS, tmp_path, browser)["laid"]
    for laid in found:
        assert len(laid["boxes"]) > 8 and len(laid["marks"]) >= 3
    told = {name: over_others(laid) for name, laid in zip(sheets, found, strict=True)}
    assert {name: over for name, over in told.items() if over} == {}


def colours(text: str) -> Iterable[tuple[str, ...]]:
    """Red, green and blue of every colour written in a page, as hex digits."""
    for digits in re.findall(r"#([0-9a-fA-F]{6}|[0-9a-fA-F]{3})\b", text):
        step = len(digits) // 3
        yield tuple(digits[at : at + step] for at in range(0, len(digits), step))


STYLE = r"<style>.*?</style>"
NAMED = r"\b(?:fill|stroke|color|background)\s*[=:]\s*[\"']?\s*(?!none\b|#|inherit\b|var\()([a-z]+)"


@pytest.mark.parametrize("case", CASES)
def test_black_and_white(case: str) -> None:
    """Every colour of a sheet is a grey, written as three equal parts."""
    style = re.findall(rf"{STYLE}|<svg .*?</svg>", letter_of(case), re.DOTALL)
    found = [colour for part in style for colour in colours(part)]
    assert len(found) > 10
    assert {colour for colour in found if len(set(colour)) != 1} == set()
    assert not [name for part in style for name in re.findall(NAMED, part)]
    assert not re.findall(r"rgb|hsl|gradient", "".join(style))


MAPS = """<script>
const laid = [...document.querySelectorAll("svg")].map(svg => {
  const side = svg.getBoundingClientRect();
  const words = [...svg.querySelectorAll("text")].map(text => {
    const box = text.getBoundingClientRect(), lent = 0.2 * box.height;
    return [text.textContent, box.left, box.top + lent, box.right, box.bottom - lent];
  });
  const head = [...svg.querySelectorAll("circle")].pop().getBoundingClientRect();
  words.push(["head", head.left, head.top, head.right, head.bottom]);
  return [words, [side.left, side.top, side.right, side.bottom]];
});
document.title = "LAID " + JSON.stringify({laid}) + " OUT";
</script>"""
"""Written for the test only: where the browser sets the letters of maps, and the head of who stands
there."""

SMALL_BEDS = [(8, 60), (12, 24), (9, 9), (30, 6), (62, 31)]
"""Columns and rows of beds whose maps are narrow, or whose columns have long names."""


def test_no_word_of_a_small_map_covers_another(tmp_path: Path, browser: Browser) -> None:
    """On tall, wide and fine beds, seen from the front or a side: names of columns, who stands
    there and axes lie apart and within the drawing."""
    maps, cases = [], list(itertools.product(SMALL_BEDS, ("front", "left")))
    for (columns, rows), side in cases:
        text = changed(
            BASE,
            ("columns: 15, rows: 9", f"columns: {columns}, rows: {rows}"),
            ("dialect: rs274", f"dialect: rs274\n    operator: {side}"),
            ("x: [0, 1540], y: [0, 940]", "x: [0, 12540], y: [0, 12940]"),
        )
        maps.append(small_map(Case(text).setups[0]))
    page = f"<!DOCTYPE html><body>{''.join(maps)}</body>"
    laid = laid_out(page, MAPS, tmp_path, browser)["laid"]
    for case, (words, (left, top, right, bottom)) in zip(cases, laid, strict=True):
        over = [
            (one[0], other[0])
            for one, other in itertools.combinations(words, 2)
            if one[1] < other[3] and other[1] < one[3] and one[2] < other[4] and other[2] < one[4]
        ]
        outside = [
            word
            for word, *box in words
            if box[0] < left or box[1] < top or box[2] > right + 0.1 or box[3] > bottom
        ]
        assert (over, outside) == ([], []), case
