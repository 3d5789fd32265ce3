"""Picture and steps take the room that a page has: as a browser lays sheets out, on both papers."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from pathlib import Path

import pytest
from browsing import Browser
from fullest_sheets import CASES
from test_print import STATE
from thinning import thinned

from pincorner.render.pages.room import in_columns, lines_of
from pincorner.render.pages.sheet import PAPERS, render_sheet
from pincorner.work.files.browser import find_browser

browsed = [
    pytest.mark.browser,
    pytest.mark.skipif(find_browser() is None, reason="no Chromium, Chrome or Edge was found"),
]

MM = 25.4 / 96
BETWEEN_MARGINS_MM = {"a4": 297 - 15.5, "letter": 279.4 - 15.5}
"""ISO 216; 8.5 by 11 inches; less the margins of the style sheet."""
MOST_EMPTY = 0.15
LAID = """(() => {
  const main = document.querySelector("main"), css = getComputedStyle(main);
  const high = each => each.getBoundingClientRect().height;
  return [high(main) - parseFloat(css.paddingTop) - parseFloat(css.paddingBottom),
          high(document.querySelector(".near"))];
})()"""
"""Written for the test only: how high a sheet and its picture are."""


ONE_PAGE = [name for name, case in CASES.items() if case.pages == (1, 1)]
LAID_OUT = [
    (name, paper)
    for (at, name), (on, paper) in product(enumerate(ONE_PAGE), enumerate(PAPERS))
    if (at + on) % 2 == 0 or thinned(12) == 12
]
"""Each on one paper or the other; all on both where the suite runs whole."""


@pytest.mark.parametrize(("name", "paper"), LAID_OUT)
@browsed[0]
@browsed[1]
def test_a_sheet_of_one_page_fills_it(
    tmp_path: Path, browser: Browser, name: str, paper: str
) -> None:
    """Nothing runs over, little is left, and the picture can be made out."""
    case, page = CASES[name], tmp_path / "page.html"
    page.write_text(render_sheet(case.setups, case.take_out, paper, None, STATE), encoding="utf-8")
    browser.screen(1280)
    browser.show(page)
    high, picture = (each * MM for each in browser.value(LAID))
    browser.screen_of_its_own()
    room = BETWEEN_MARGINS_MM[paper]
    assert (1 - MOST_EMPTY) * room <= high <= room
    assert picture >= 50


TEXT = "Brush off chips; lay the jig as drawn, its FRONT edge to you. " * 3


@pytest.mark.parametrize(
    "text", [TEXT, "its LEFT edge, to your left", f"{'panel-tray' * 9} x", "0.5 " * 90]
)
@browsed[0]
@browsed[1]
def test_lines_are_as_a_browser_breaks_them(tmp_path: Path, browser: Browser, text: str) -> None:
    """So many lines, or one more in ten: in narrow columns and wide ones, plain and bold."""
    page = tmp_path / "page.html"
    widths = (28, 56, 90, 130)
    parts = "".join(
        f"<p style='width: {width}mm; font-weight: {weight}'>{text}</p>"
        for width in widths
        for weight in ("normal", "bold")
    )
    style = "p { font: 10pt/1.2 Arial, Helvetica, sans-serif; margin: 0; overflow-wrap: anywhere }"
    page.write_text(f"<!DOCTYPE html><style>{style}</style>{parts}", encoding="utf-8")
    browser.show(page)
    script = "[...document.querySelectorAll('p')].map(p => p.getBoundingClientRect().height / 16)"
    laid = map(round, browser.value(script))
    told = [lines_of(text, width, 10, bold=bold) for width in widths for bold in (False, True)]
    for there, lines in zip(laid, told, strict=True):
        assert there <= lines <= there + 1 + there // 10


def test_columns_are_as_low_as_they_can_be() -> None:
    """By hand: 4 and 3 are one column, 5 the other; nothing is broken, and all keep their order."""
    assert in_columns([4, 3, 5], 2) == 7
    assert in_columns([5, 3, 4], 2) == 7
    assert in_columns([1, 1, 9], 3) == 9
    assert in_columns([2] * 7, 3) == 6
    assert in_columns([], 3) == 0


@pytest.mark.parametrize("width_mm", [0.0, -20.0])
def test_text_without_room_takes_lines_all_the_same(width_mm: float) -> None:
    """Beside the name of a hole that takes the whole box, a letter or two to a line."""
    assert 3 <= lines_of("Peg, its FRONT edge", width_mm, 10) <= 19


def test_columns_of_many_lines_are_looked_at_a_few_times() -> None:
    """Heights are halved into, not tried one after the other: the work grows with the lines."""

    class Counted(list[float]):
        looks = 0

        def __iter__(self) -> Iterator[float]:
            self.looks += 1
            return super().__iter__()

    heights = Counted([4.0 + at % 7 / 10 for at in range(90)])
    assert in_columns(heights, 3) == pytest.approx(sum(heights) / 3, abs=4.6)
    assert heights.looks < 60
