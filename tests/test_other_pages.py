"""Check, survey and history pages as they are printed: what is needed first is on page one.

Skipped, with the reason, where no browser is found.
"""

from __future__ import annotations

import itertools
import re
import shutil
import subprocess
from pathlib import Path
from typing import NamedTuple

import pytest
from browsing import Browser, least_letters_mm, overlapping_words, pages_of
from conftest import Run
from test_map_page import luminance
from test_page_rules import AXE, CHECKER

from pincorner.cli.main import main
from pincorner.work.files.browser import find_browser

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        find_browser() is None, reason="no Chromium, Chrome or Edge was found on this machine"
    ),
]


OTHERS = ("check", "survey", "history", "run", "place")


@pytest.fixture(scope="module")
def pages(demo_once: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The demo's map, and a check with findings, a survey, a history, a run, a place, by name."""
    folder = tmp_path_factory.mktemp("pages") / "shop"
    shutil.copytree(demo_once, folder)
    shop = ["--db", str(folder / "fixtures_db" / "registry.sqlite")]
    for day in range(3):
        found = ["--x", f"{295 + day / 100}", "--y", "185", "--z", "-82"]
        assert main([*shop, "verify", "left", *found]) in (0, 1)
    lines = {
        "check": ("check", str(folder / "hand-hold.nc"), "--station", "right"),
        "survey": ("survey", "long-bench", str(folder / "long-bench-survey.csv")),
        "history": ("history", "left"),
        "run": ("run", "three-sides"),
        "place": ("place", "panel-tray", "--bed", "long-bench", "--count", "1"),
    }
    made = {"map": folder / "long-bench.html"}
    for name, line in lines.items():
        made[name] = folder / f"{name}.html"
        assert main([*shop, *line, "-o", str(made[name])]) in (0, 1)
    return made


@pytest.fixture(scope="module")
def printed(pages: dict[str, Path], browser: Browser) -> dict[str, bytes]:
    """All but the map as PDFs, by their names."""
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext (poppler) on this machine")
    return {name: browser.print(pages[name]) for name in OTHERS}


SCREENS = [(390, False), (800, False), (800, True), (1280, False)]
"""Phone, tablet, desk: how wide, and whether it is dark."""

COLOURS = """['--ink', '--rule'].map(name =>
  getComputedStyle(document.documentElement).getPropertyValue(name)).concat(
  [getComputedStyle(document.body).backgroundColor,
   getComputedStyle(document.querySelector('svg')).filter])"""


class Seen(NamedTuple):
    """A page on one screen: its colours (ink, rules, ground, what is done to drawings), its width,
    and how many files it asked for."""

    colours: list[str]
    width: int
    asked: int


@pytest.fixture(scope="module")
def seen(pages: dict[str, Path], browser: Browser) -> dict[tuple[str, int, bool], Seen]:
    """Each page and two sheets on each screen; all of a page's when it is shown once."""
    sheets = {name: pages["map"].parent / "sheets" / f"{name}.html" for name in ("left", "roof")}
    found = {}
    for name, path in {**pages, **sheets}.items():
        asked = len(browser.show(path))
        for width, dark in SCREENS:
            browser.screen(width, dark=dark)
            wide = browser.value("document.documentElement.scrollWidth")
            found[name, width, dark] = Seen(browser.value(COLOURS), wide, asked)
    return found


def test_pages_are_dark_where_the_screen_is(seen: dict[tuple[str, int, bool], Seen]) -> None:
    """Words stand out in light and dark (WCAG 2.2, 1.4.3: 4.5 to 1), rules by 3 to 1 (1.4.11).

    Drawings, which are black on white, are turned over with the page.
    """
    for name, dark in itertools.product(OTHERS, (False, True)):
        ink, rule, ground, turned = seen[name, 800, dark].colours
        assert (luminance(ground) < 0.02) == dark, name
        assert contrast(ink, ground) >= 4.5 and contrast(rule, ground) >= 3, name
        assert (turned == "invert(0.93)") == dark, name


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours (WCAG 2.2, definition of contrast ratio)."""
    low, high = sorted(luminance(colour) + 0.05 for colour in (one, other))
    return high / low


STATE = re.compile(r"Change \d+ of \d{4}-\d\d-\d\d; made \d{4}-\d\d-\d\d \d\d:\d\d\.")


def test_no_page_asks_or_scrolls_sideways(seen: dict[tuple[str, int, bool], Seen]) -> None:
    """On phone, tablet and desk each page is as wide as the screen, and asks for nothing else."""
    assert {name: each.asked for (name, *_), each in seen.items() if each.asked != 1} == {}
    assert {place: each.width for place, each in seen.items() if each.width > place[1]} == {}


@pytest.mark.parametrize("name", OTHERS)
def test_every_page_is_legible_and_dated(printed: dict[str, bytes], name: str) -> None:
    """Its state stands on it in one piece, capitals are 2.3 mm or more, no words overlap."""
    words = [" ".join(page.split()) for page in pages_of(printed[name])]
    assert STATE.search(words[0])
    assert least_letters_mm(printed[name]) >= 2.3
    assert overlapping_words(printed[name]) == []


def test_the_check_has_its_findings_on_page_one(printed: dict[str, bytes]) -> None:
    """Verdict with its count, findings with their numbers, and the caution stand on page one."""
    first = " ".join(pages_of(printed["check"])[0].split())
    assert "7 findings" in first and "2, 3, 4, 5, 6, 7" in first
    assert "line 6: it selects G55, not G56" in first and "a hand on the feed hold" in first
    for word in ("N3", "N6", "L2", "toggle-1", "FRONT", "X", "Y", "Z-12.000,"):
        assert word in first.split(), word


def test_a_history_tells_each_day_once(printed: dict[str, bytes], run: Run) -> None:
    """Three verifications of one day have its date once in the table and once below the chart."""
    text = pages_of(printed["history"])[0]
    table = text.partition("remark")[2]
    assert len(re.findall(r"\d{4}-\d\d-\d\d", table.partition("chart begun")[0])) == 1


BROKEN = """axe.run().then(found => found.violations.map(
  each => `${each.id}: ${each.nodes[0].html.slice(0, 200)}`))"""


@pytest.mark.skipif(not AXE.exists(), reason="no axe-core (PINCORNER_TEST_PAGES)")
@pytest.mark.parametrize("name", ["map", *OTHERS])
def test_axe_finds_nothing(pages: dict[str, Path], browser: Browser, name: str) -> None:
    """No rule of axe-core is broken, on a desk in light and on a phone in the dark."""
    for width, dark in ((1280, False), (390, True)):
        browser.screen(width, dark=dark)
        browser.show(pages[name], "#left" if name == "map" else "")
        browser.value(AXE.read_text(encoding="utf-8") + ";0")
        assert browser.value(BROKEN) == []


@pytest.mark.skipif(
    not CHECKER.exists() or shutil.which("java") is None,
    reason="no vnu-jar (PINCORNER_TEST_PAGES), or no Java",
)
def test_the_html_checker_finds_no_error(pages: dict[str, Path]) -> None:
    """The W3C's checker has no error to tell of any page."""
    mine = [str(pages[name]) for name in ("map", *OTHERS)]
    line = ["java", "-jar", str(CHECKER), "--errors-only", "--format", "gnu", *mine]
    ran = subprocess.run(line, capture_output=True, encoding="utf-8", timeout=120, check=False)
    assert [each for each in ran.stderr.splitlines() if ": error" in each] == []
