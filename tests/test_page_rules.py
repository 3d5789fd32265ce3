"""Sheets by outside rules: axe-core finds nothing to say, the W3C's HTML checker no error.

Both are found by PINCORNER_TEST_PAGES, a folder of npm's `node_modules` with `axe-core` and
`vnu-jar` in it, as `.ci/run` makes it; the checker needs Java. Without them the tests are skipped,
with the reason.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest
from browsing import Browser
from fullest_sheets import CASES

from pincorner.render.pages.sheet import Photo, render_sheet
from pincorner.render.text.dates import State

FOLDER = Path(os.environ.get("PINCORNER_TEST_PAGES", "no-such-folder"))
AXE = FOLDER / "axe-core" / "axe.min.js"
CHECKER = FOLDER / "vnu-jar" / "build" / "dist" / "vnu.jar"
RUN = """axe.run().then(found => JSON.stringify(
  found.violations.map(each => [each.id, each.nodes[0].html])))"""
LOOKED_AT = (
    "demo left", "demo end-bars", "long names and notes", "skewed, no block", "sums left open",
    "six nests, twelve clamps",
)  # fmt: skip
"""One of each kind of page: both take their time."""
PIXEL = "data:image/gif;base64,R0lGODlhAQABAAAAACH5BAEKAAEALAAAAAABAAEAAAICTAEAOw=="


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """The sheets as files, one of them with a photo."""
    folder = tmp_path_factory.mktemp("pages")
    found = []
    for number, name in enumerate(LOOKED_AT):
        case, path = CASES[name], folder / f"{number}.html"
        photo = Photo(PIXEL, "and a word") if number == 0 else None
        state = State(12, "2026-11-25", "2026-11-30 04:10")
        text = render_sheet(case.setups, case.take_out, "a4", None, state, photo)
        path.write_text(text, encoding="utf-8")
        found.append(path)
    return found


@pytest.mark.browser
@pytest.mark.skipif(not AXE.is_file(), reason="no axe-core (PINCORNER_TEST_PAGES)")
def test_axe_finds_nothing(pages: list[Path], browser: Browser) -> None:
    """No sheet breaks a rule of axe-core, all rules that are on by default."""
    rules = AXE.read_text(encoding="utf-8")
    assert {page.name: json.loads(browser.told(page, rules, RUN)) for page in pages} == {
        page.name: [] for page in pages
    }


@pytest.mark.skipif(
    not CHECKER.is_file() or shutil.which("java") is None,
    reason="no vnu-jar (PINCORNER_TEST_PAGES), or no Java",
)
def test_the_html_checker_finds_no_error(pages: list[Path]) -> None:
    """The W3C's Nu HTML checker finds neither an error nor anything to warn of."""
    line = ["java", "-jar", CHECKER, "--format", "json", *pages]
    ran = subprocess.run(line, capture_output=True, check=False)
    told = json.loads(ran.stderr.decode("utf-8"))
    assert [(each["type"], each["message"]) for each in told["messages"]] == []
