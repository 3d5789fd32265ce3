"""The bed map as people use it: buttons, keys, search and address in a real browser, and on paper.

Skipped, with the reason, where no browser is found.
"""

from __future__ import annotations

import re
import socket
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
import worlds
from browsing import Browser
from test_print import pages

from pincorner.documents.beds import Bed
from pincorner.documents.stations import Station
from pincorner.render.pages.maps import MapFacts, RunOfMap, SheetOfMap, render_map_page
from pincorner.render.text.dates import State
from pincorner.render.text.offsets import spread
from pincorner.setups.setup import OffsetRow
from pincorner.setups.transform import offset_rows
from pincorner.shipped import shipped_folder
from pincorner.work.files.browser import find_browser

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        find_browser() is None, reason="no Chromium, Chrome or Edge was found on this machine"
    ),
]

DEMO = (shipped_folder("fixtures_db") / "beehive.yaml").read_text(encoding="utf-8")
HOSTILE = '</script><img src=x onerror="document.title=1">&amp;"\'--><svg/onload=1>'


def rows_of(text: str) -> tuple[Bed, list[OffsetRow]]:
    """The bed of a world, and the rows of its stations."""
    world = worlds.world(text)
    rows = [
        row
        for document in world.values()
        if isinstance(document, Station)
        for row in offset_rows(worlds.facts(world, document.name))
    ]
    return rows[0].facts.bed, rows


TOLD = MapFacts(
    State(12, "2026-11-25", "2026-11-30 04:10"),
    (RunOfMap("monday", ("right", "left")), RunOfMap(HOSTILE, ("roof",))),
    {"left": ["D5"], "roof": ["I8"]},
    {"left": SheetOfMap("sheets/left.html", "sheets/left.html", ("0000-0000",))},
)
SKEWED = DEMO.replace("angle: 0}", "angle: 0.12}")


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The map of the demo's bed, with runs of which one has a hostile name."""
    bed, rows = rows_of(DEMO)
    path = tmp_path_factory.mktemp("map") / "map.html"
    path.write_text(render_map_page(bed, rows, None, None, TOLD), encoding="utf-8")
    return path


def panel(browser: Browser) -> str:
    """What the panel says, blanks made one."""
    return " ".join(browser.value("document.getElementById('chosen').innerText").split())


def pressed(browser: Browser) -> list[str]:
    """The stations whose buttons are pressed."""
    names = "[...document.querySelectorAll('[aria-pressed=true] .name')].map(e => e.textContent)"
    return list(browser.value(names))


def lit(browser: Browser) -> list[str]:
    """The words of the drawing that belong to the chosen station alone, as they can be seen."""
    seen = (
        "[...document.querySelectorAll('#bed .m text')].filter(e => e.getClientRects().length)"
        ".map(e => e.textContent)"
    )
    return list(browser.value(seen))


def test_a_button_lights_a_station_up(browser: Browser, page: Path) -> None:
    """Pins in order, the empty hole, what comes out, zero and axes show; figures stand beside."""
    browser.screen(1280)
    asked = browser.show(page)
    assert lit(browser) == [] and not browser.value(
        "document.getElementById('chosen').checkVisibility()"
    )
    browser.tap("#stations button:nth-child(1)")
    assert pressed(browser) == ["left"]
    assert sorted(lit(browser)) == sorted(
        ["1", "2", "3", "D2", "G2", "C4", "C2 EMPTY", "D5 out", "X", "Y"]
    )
    told, setup = panel(browser), rows_of(DEMO)[1][0].setup
    assert setup is not None
    own, lies = setup.printed.own, spread(setup.budget.u95_worst_mm, "mm")
    for words in (
        "left G55", "1 D2, 2 G2, 3 C4", f"X {own.x} mm", f"Y {own.y} mm", setup.fingerprint,
        "never type it into the offset table", "Tip on bed −38.000", "on stock +19.050",
        f"lies within {lies} mm",
    ):  # fmt: skip
        assert words in told, words
    assert "in this list" not in told and "G10" not in browser.value("document.body.innerText")
    assert [url for url in asked if not url.startswith("file:")] == [] and len(asked) == 1


def test_keys_and_taps_choose(browser: Browser, page: Path) -> None:
    """Digits choose by the order of the buttons, arrows go on and back, a tap on a jig works."""
    browser.screen(800)
    browser.show(page)
    browser.press("3")
    assert pressed(browser) == ["end-bars"]
    browser.press("ArrowRight")
    assert pressed(browser) == ["roof"]
    browser.press("ArrowRight")  # it is the last of four
    assert pressed(browser) == ["left"]
    browser.press("ArrowLeft")
    assert pressed(browser) == ["roof"]
    browser.tap("#bed g.a.s0 polygon")
    assert pressed(browser) == ["left"]
    assert browser.value("decodeURIComponent(location.hash)") == "#left"
    browser.press("/")
    browser.press("3")  # goes into the search
    assert pressed(browser) == ["left"] and browser.value("search.value") == "3"


def test_the_address_names_a_station(browser: Browser, page: Path) -> None:
    """A station in the address is lit up at once; an unknown one, or no text, changes nothing."""
    browser.screen(390)
    browser.show(page, "#end-bars")
    assert pressed(browser) == ["end-bars"]
    assert {"G57", "G58"} <= set(lit(browser)) and "G57" in panel(browser)
    browser.value("location.hash = '#RIGHT', new Promise(r => setTimeout(r, 50))")
    assert pressed(browser) == ["right"]
    browser.value("location.hash = '#%E0%A4%A', new Promise(r => setTimeout(r, 50))")
    assert pressed(browser) == ["right"]


def narrowed(browser: Browser, search: str, run: int) -> list[str]:
    """The buttons that are left by a search and a run."""
    shown = (
        f"search.value = {search!r}, search.dispatchEvent(new Event('input')),"
        f" run.selectedIndex = {run}, run.dispatchEvent(new Event('change')),"
        "[...document.querySelectorAll('#stations button')].filter(e => e.checkVisibility())"
        ".map(e => e.querySelector('.name').textContent)"
    )
    return list(browser.value(shown))


def test_search_and_runs(browser: Browser, page: Path) -> None:
    """Names, jigs and codes are searched; a run leaves its stations, in its own order of work."""
    browser.screen(800)
    browser.show(page)
    assert narrowed(browser, "TRAY", 0) == ["left", "right"]
    assert narrowed(browser, "g58", 0) == ["end-bars"]
    assert narrowed(browser, "nothing", 0) == []
    assert narrowed(browser, "", 1) == ["left", "right"]
    browser.tap("#next")
    assert pressed(browser) == ["right"]
    assert "Run monday: station 1 of 2; next in the list: left" in panel(browser)
    browser.tap("#back")
    assert pressed(browser) == ["left"]
    told = browser.value("[...run.options].map(e => e.textContent)")
    assert told == ["all stations", "monday", HOSTILE]


def test_a_sheet_of_another_setup_is_void(browser: Browser, page: Path) -> None:
    """No link leads to a sheet that shows another setup than the map."""
    browser.show(page, "#left")
    assert "shows another setup: void" in panel(browser)
    assert browser.value("document.querySelectorAll('a').length") == 0


def test_the_program_of_each_nest_is_told(browser: Browser, tmp_path: Path) -> None:
    """Where nests have programs of their own the panel has each of them, else the one of all."""
    world = worlds.world(DEMO)
    bars, other = worlds.facts(world, "end-bars"), world["program", "hand-hold"]
    rows = offset_rows(bars._replace(nest_programs={"b": other}))
    path = tmp_path / "map.html"
    path.write_text(render_map_page(bars.bed, rows, None), encoding="utf-8")
    browser.show(path, "#end-bars")
    assert "program a: end-bar-notch; b: hand-hold" in panel(browser)
    path.write_text(render_map_page(bars.bed, offset_rows(bars), None), encoding="utf-8")
    browser.show(path, "#end-bars")
    assert "program end-bar-notch The jig" in panel(browser)


def test_no_block_no_figures(browser: Browser, tmp_path: Path) -> None:
    """Where there is no block the page says so and why, and no figure can be keyed in."""
    bed, rows = rows_of(SKEWED)
    path = tmp_path / "map.html"
    path.write_text(render_map_page(bed, rows, None), encoding="utf-8")
    bare = [row.setup.printed.own for row in rows if row.setup is not None and row.setup.no_block]
    text = path.read_text(encoding="utf-8")
    assert bare and not [own.x for own in bare if f">{own.x}<" in text]
    browser.show(path, "#left")
    told = panel(browser)
    assert told.count("NO BLOCK (G55)") == 1 and "max_skew" in told and "X " not in told


OVERLAPS = """(() => {
  const boxes = [...document.querySelectorAll('#bed text')].filter(e => e.getClientRects().length
    && getComputedStyle(e).visibility === 'visible')
    .map(e => [e.textContent, e.getBoundingClientRect()]);
  const over = [];
  boxes.forEach(([a, p], i) => boxes.slice(i + 1).forEach(([b, q]) => {
    const wide = Math.min(p.right, q.right) - Math.max(p.left, q.left);
    const deep = Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top);
    if (wide > 1 && deep > 0.25 * Math.min(p.height, q.height)) { over.push([a, b]); }
  }));
  return over;
})()"""
"""Pairs of words of the drawing of which one lies on the other; leading above letters is no ink."""

LEAST_PX = (
    "Math.min(...[...document.querySelectorAll('#bed text')].filter(e => e.getClientRects().length"
    " && getComputedStyle(e).visibility === 'visible')"
    ".map(e => parseFloat(getComputedStyle(e).fontSize) * e.getCTM().a))"
)


def test_nothing_overlaps_on_any_screen(browser: Browser, page: Path) -> None:
    """On phone, tablet and desk no two words of the drawing overlap, none scrolls sideways."""
    heights = "Math.min(...[...document.querySelectorAll('button')].map(e => e.offsetHeight))"
    for name in ("", "#left", "#right", "#roof", "#end-bars"):
        browser.show(page, name)
        for width, dark, least_px in ((390, True, 6.5), (800, False, 12), (1280, True, 12)):
            browser.screen(width, dark=dark)
            assert browser.value(OVERLAPS) == [], (name, width)
            assert browser.value("document.documentElement.scrollWidth") <= width, name
            if name == "#end-bars":
                assert browser.value(LEAST_PX) >= least_px, (name, width)
            assert browser.value(heights) >= 56, (name, width)


def test_colours_are_told_apart(browser: Browser, page: Path) -> None:
    """Words stand out from their ground in light and dark (WCAG 2.2, 1.4.3: 4.5 to 1)."""
    browser.show(page, "#left")
    for dark in (False, True):
        browser.screen(800, dark=dark)
        colours = browser.value(
            "['--ink', '--dim'].map(n => getComputedStyle(document.documentElement)"
            ".getPropertyValue(n)).concat(getComputedStyle(document.body).backgroundColor)"
        )
        ink, dim, ground = map(luminance, colours)
        for other in (ink, dim):
            high, low = max(other, ground), min(other, ground)
            assert (high + 0.05) / (low + 0.05) >= 4.5


def luminance(colour: str) -> float:
    """Relative luminance of a colour (WCAG 2.2, definition of relative luminance)."""
    text = colour.strip()
    if text.startswith("#"):
        digits = text[1:] if len(text) == 7 else "".join(2 * digit for digit in text[1:])
        parts = [int(digits[at : at + 2], 16) for at in (0, 2, 4)]
    else:
        parts = [int(part) for part in re.findall(r"\d+", text)[:3]]
    shares = [part / 255 for part in parts]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_without_script_it_is_a_printed_map(browser: Browser, page: Path, tmp_path: Path) -> None:
    """With its script taken out the page shows map, table and caution, and no dead control."""
    text = re.sub(r"<script>.*</script>", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    plain = tmp_path / "plain.html"
    plain.write_text(text, encoding="utf-8")
    browser.screen(1280)
    browser.show(plain)
    seen = " ".join(browser.value("document.body.innerText").split())
    for words in ("No safeguard.", "29", "Tip on bed −38.000", "1 D2, 2 G2, 3 C4",
                  "Change 12 of 2026-11-25; made 2026-11-30 04:10."):  # fmt: skip
        assert words in seen, words
    assert (
        browser.value(
            "[...document.querySelectorAll('button, input, select')].some(e => e.checkVisibility())"
        )
        is False
    )


def test_the_policy_lets_nothing_else_run(browser: Browser, page: Path, tmp_path: Path) -> None:
    """A script, a style's picture or an image that got into the page is neither run nor fetched."""
    text = page.read_text(encoding="utf-8")
    bad = tmp_path / "bad.html"
    with closing(socket.create_server(("127.0.0.1", 0))) as listener:
        listener.setblocking(False)
        here = f"http://127.0.0.1:{listener.getsockname()[1]}"
        more = (
            f"<script>document.title = 'run'</script><img src='{here}/x.png'>"
            f"<style>body {{ background: url('{here}/y.png') }}</style>"
        )
        bad.write_text(text.replace("</main>", f"</main>{more}"), encoding="utf-8")
        browser.show(bad, "#left")
        assert pressed(browser) == ["left"] and browser.value("document.title").startswith("left")
        with pytest.raises(BlockingIOError):
            listener.accept()


GRID = """
format: 1
machines: [{name: m, dialect: rs274, travel: {x: [0, 3200], y: [0, 2200], z: [-190, 0]}}]
beds:
  - name: big
    machine: m
    grid: {columns: 30, rows: 20, pitch: [100, 100], hole: 20.02, hole_position: 0.04, depth: 20}
    pose: {x: 60, y: 55, angle: 0}
    surface: -120
pins: [{name: peg, shank: 20.00, body: 20.00, height: 22, body_tolerance: 0.01}]
jigs:
  - name: tray
    footprint: [280, 180]
    seat: 18
    nests: [{name: a, zero: [25, 20], stock: {size: [230, 140, 20]}}]
stations:
"""


def many(count: int) -> str:
    """A bed of 30 x 20 holes with so many stations, all over it."""
    letters = [chr(65 + at) if at < 26 else f"A{chr(39 + at)}" for at in range(30)]
    lines = []
    for at in range(count):
        column, row = at * 7 % 26, 1 + at // 20 * 2 % 17
        a, b, c = letters[column + 1], letters[column + 2], letters[column]
        lines.append(
            f"  - {{name: station-{at:03d}, bed: big, jig: tray, pin: peg, work_offsets: "
            f"{{a: G{54 + at % 6}}}, pins: {{edge: [{a}{row}, {b}{row}], stop: {c}{row + 1}}}}}\n"
        )
    return GRID + "".join(lines)


def test_a_large_map_is_light_enough_to_be_carried_about() -> None:
    """30 x 20 holes with 200 stations take less than 600 KB: as much for each as for the first."""
    bed, rows = rows_of(many(40))
    assert len(rows) == 40 and all(row.setup for row in rows)
    few, more = (
        len(render_map_page(bed, some, None, None, TOLD).encode("utf-8"))
        for some in (rows[:20], rows)
    )
    assert more + 8 * (more - few) < 600_000


def test_it_prints_map_and_caution_on_one_page(browser: Browser, page: Path) -> None:
    """The printed map is one page with the caution on it; the table follows on the next."""
    data: dict[str, Any] = {}
    for name in ("", "#left"):
        browser.show(page, name)
        data[name] = pages(browser.print_shown())
    assert data == {"": 2, "#left": 2}
