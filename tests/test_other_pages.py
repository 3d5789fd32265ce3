"""Check, survey and history pages as they are printed: what is needed first is on page one.

Skipped, with the reason, where no browser is found.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from browsing import Browser, least_letters_mm, overlapping_words, pages_of
from conftest import Run

from pincorner.work.files.browser import find_browser

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        find_browser() is None, reason="no Chromium, Chrome or Edge was found on this machine"
    ),
]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for the pages of all tests here."""
    found = find_browser()
    assert found is not None
    with closing(Browser(found)) as made:
        yield made


@pytest.fixture(scope="module")
def printed(
    demo_once: Path, tmp_path_factory: pytest.TempPathFactory, browser: Browser
) -> dict[str, bytes]:
    """A check with findings, a survey and a history of the demo as PDFs, by their names."""
    from pincorner.cli.main import main

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
    }
    made = {}
    for name, line in lines.items():
        page = folder / f"{name}.html"
        assert main([*shop, *line, "-o", str(page)]) in (0, 1)
        made[name] = browser.print(page)
    return made


STATE = re.compile(r"Change \d+ of \d{4}-\d\d-\d\d; made \d{4}-\d\d-\d\d \d\d:\d\d\.")


@pytest.mark.parametrize("name", ["check", "survey", "history"])
def test_every_page_is_legible_and_dated(printed: dict[str, bytes], name: str) -> None:
    """Its state stands on it in one piece, capitals are 2.25 mm or more, no words overlap."""
    words = [" ".join(page.split()) for page in pages_of(printed[name])]
    assert STATE.search(words[0])
    assert least_letters_mm(printed[name]) >= 2.25
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
