"""The page of a run: three boxes a visit, seen from where people stand, in black and white."""

from __future__ import annotations

import html
import json
import math
import re
from pathlib import Path

import pytest
from browsing import Browser, least_letters_mm, words_of
from conftest import Run, without_help
from plans import page_of, planned, put, report_of, shop_of
from test_print import pages
from test_run_worked import FAR_APART, program

from pincorner.documents.machines import Side
from pincorner.geometry.outline import rectangle
from pincorner.render.drawing.canvas import text_width
from pincorner.render.pages.run_page import hatched, over_drawing
from pincorner.render.text.runs import run_text
from pincorner.runs.help import MOST_TOLD, Help
from pincorner.runs.plan import RunPlan
from pincorner.setups.setup import Setup
from pincorner.work.files.browser import find_browser
from pincorner.work.files.outputs import Outputs


@pytest.fixture(scope="module")
def demos(demo_once: Path) -> RunPlan:
    """The plan of the demo's run."""
    return planned(demo_once, "three-sides")


@pytest.fixture(scope="module")
def demos_page(demos: RunPlan) -> str:
    """Its page, as HTML."""
    return page_of(demos)


def text_of(page: str) -> str:
    """A page's text without tags, entities resolved, single blanks."""
    text = re.sub(r"<(style|svg).*?</\1>", " ", page, flags=re.S)
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", text)).split())


def test_windows_are_told_in_full(demos: RunPlan, demos_page: str) -> None:
    """Each window of the JSON stands on the page with its lines, time and gap."""
    text = text_of(demos_page)
    for window in report_of(demos)["windows"]:
        assert f"(line {window['ends']['line']})" in text
        assert f"{int(window['nearest_mm'])} mm" in text
        least = int(window["at_least_s"])
        assert f"{least // 60}:{least % 60:02} or longer" in text
    assert "The drawing does not know the machine." in text
    assert "only if your controller stops at M6" in text
    assert text.count("not named is not permitted") == 3
    assert "hand-hold.nc ends above left, tip 30 mm over the stock: move it away first" in text


def told_time(seconds: float) -> str:
    """`1:59`, or `1:41:30` from an hour on."""
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    told = f"{rest // 60}:{rest % 60:02}"
    return f"{hours}:{rest // 60:02}:{rest % 60:02}" if hours else told


def test_page_text_and_json_tell_the_same(shop: Path, demos: RunPlan) -> None:
    """Every time, share, line and gap of the JSON stands on the terminal and on the page, of each
    of the demo's runs and of one of six stations."""
    put(
        shop,
        """
stations:
  - {name: shelf, bed: long-bench, stock: [150, 250, 18], pin: peg-20, program: roof-groove,
     pins: {edge: [A2, A3], stop: B1}, work_offsets: {a: G54}}
runs:
  - {name: six, load: 40, start: 5, reach: 120, parts: 70,
     stations: [left, right, spare, shelf, roof, end-bars]}
""",
    )
    for name in ("three-sides", "monday-sides", "six"):
        found = demos if name == "three-sides" else planned(shop, name)
        report, text = report_of(found), " ".join(run_text(found).split())
        page = text_of(page_of(found))
        for line in report["timelines"]:
            hourly, gain = f"{line['parts_per_hour']:.1f}", line["gain"]
            more = [] if gain is None else [f"{gain * 100:+.0f} %"]
            cuts, stands, takes, bound, total = (
                told_time(line[f"{key}_s"])
                for key in ("loaded_while_cutting", "loaded_while_standing", "round",
                            "bound_round", "total")
            )  # fmt: skip
            shares = [f"{line[key] * 100:.0f} %" for key in ("spindle_share", "operator_share")]
            row = [takes, bound, total, hourly, *more, *shares, cuts, stands]
            assert f"{line['order'][-1]} {' '.join(row)}" in text
            assert " ".join([f"{takes} ({bound})", hourly, *more, f"{cuts} / {stands}"]) in page
        visits = dict(zip(report["stations"], re.split(r"step \d+: cuts", page)[1:], strict=True))
        assert (report["windows"] and report["no_window"]) or name == "monday-sides"
        for window in report["windows"]:
            least, near = told_time(window["at_least_s"] // 1), f"{int(window['nearest_mm'])} mm"
            first, last = window["from"]["line"], window["ends"]["line"]
            end = f"(line {last}), {least} or longer, nothing nearer than {near}"
            assert f"(line {first}) until {window['ends']['event']} {end}" in text
            visit = visits[window["runs"]]
            for figure in (f"line {first}", f"(line {last})", f"{least} or longer", near):
                assert figure in visit, (name, window)
        for none in report["no_window"]:
            same = [n["loaded"] for n in report["no_window"] if n["why"] == none["why"]
                    and n["runs"] == none["runs"]]  # fmt: skip
            assert f"{', '.join(same)}: no window; {none['why']}" in text
            findings = [f for f in report["findings"] if none["why"] in f["text"]]
            assert text.count(none["why"]) == len(findings) + len(
                {n["runs"] for n in report["no_window"] if n["why"] == none["why"]}
            )
            visit = visits[none["runs"]]
            if none["overlap_mm"] is not None:
                told = f"{math.ceil(none['overlap_mm'] - 1e-6)} mm inside its loading zone"
                assert told in none["why"] and told in visit
            elif "from its loading zone" not in none["why"]:
                assert none["why"] in visit
        for found in report["findings"]:
            at_visit = found["code"] == "program-unfit"  # there with its windows, as seen above
            assert found["text"] in text and (at_visit or found["text"] in page)


def test_no_clock_no_colour(demos_page: str) -> None:
    """No countdown, no "now", nothing that is not black, white or grey."""
    assert not re.search(r"(?i)\b(now|countdown|remaining)\b", text_of(demos_page))
    for found in re.findall(r"#([0-9a-fA-F]{3,6})\b", demos_page.replace("&#", "")):
        step = len(found) // 3
        assert len({found[at : at + step] for at in range(0, len(found), step)}) == 1, found


def seen_from(plan: RunPlan, operator: Side | None) -> RunPlan:
    """A plan whose drawings are of a machine where people stand elsewhere."""

    def moved(setup: Setup) -> Setup:
        machine = setup.facts.machine.model_copy(update={"operator": operator})
        return setup._replace(facts=setup.facts._replace(machine=machine))

    return plan._replace(stations=tuple(tuple(map(moved, each)) for each in plan.stations))


@pytest.mark.parametrize(
    ("operator", "portrait"), [("front", False), ("back", False), ("left", True), ("right", True)]
)
def test_seen_from_where_people_stand(demos: RunPlan, operator: Side, portrait: bool) -> None:
    """The bed is drawn with the operator's side below, where a word says that they stand."""
    drawing = over_drawing(seen_from(demos, operator), "left", 188.0, 36.0)
    box = re.search(r'viewBox="(\S+) (\S+) (\S+) (\S+)"', drawing)
    assert box is not None
    _, top, _, high = map(float, box.groups())
    corners = re.search(r'<polygon points="([^"]*)"', drawing)
    assert corners is not None
    xs, ys = zip(*(map(float, place.split(",")) for place in corners[1].split()), strict=True)
    assert (max(ys) - min(ys) > max(xs) - min(xs)) == portrait
    here = re.search(r'<text x="(\S+)" y="(\S+)"[^>]*>you stand here', drawing)
    assert here is not None
    assert float(here[2]) > top + 0.85 * high


def test_without_operator_nobody_is_drawn(demos: RunPlan, demos_page: str) -> None:
    """Where it is not known where people stand, the page does not say it."""
    assert "you stand here" in demos_page
    assert "you stand here" not in page_of(seen_from(demos, None))


def test_the_legend_tells_what_is_drawn(demos: RunPlan, demos_page: str) -> None:
    """Nothing of hatches where the drawings have none."""
    assert "Hatched: the machine while it cuts; dashed: the machine on its ways. Str" in demos_page
    still = demos._replace(situation=demos.situation._replace(moving=None))
    assert "hatched" not in page_of(still).split("</style>")[1].lower()


def test_hatching() -> None:
    """Strokes at 45 degrees from side to side, one step apart across x + y, none beyond."""
    strokes = hatched(rectangle(10, 20, 110, 60), 7)
    sums = sorted(x + y for (x, y), _ in strokes)
    assert sums == pytest.approx([7.0 * at for at in range(5, 25)])
    for (x1, y1), (x2, y2) in strokes:
        assert math.isclose(x1 + y1, x2 + y2)
        for x, y in ((x1, y1), (x2, y2)):
            assert 10 <= x <= 110 and 20 <= y <= 60
            assert min(abs(x - 10), abs(x - 110), abs(y - 20), abs(y - 60)) < 1e-9


@pytest.mark.browser
@pytest.mark.skipif(find_browser() is None, reason="no browser was found on this machine")
@pytest.mark.parametrize(
    ("stations", "papers", "most"),
    [
        (["left"], ["a4"], 1),
        (["spare", "left", "right"], ["a4", "letter"], 1),
        (["spare", "left", "right", "roof"], ["a4", "letter"], 1),
        (["spare", "left", "right", "roof", "end-bars"], ["a4"], 2),
    ],
)
def test_pages(
    shop: Path, browser: Browser, stations: list[str], papers: list[str], most: int
) -> None:
    """One page for up to four stations, A4 and Letter, never more than one for each visit more,
    with as much that would help as is ever told; nothing is set smaller than 3.2 mm type, whose
    capitals are 2.3 mm, and tokens stay whole."""
    keys = {"name": "some", "load": 60, "start": 10, "tool_change": 40, "stations": stations}
    put(shop, f"runs: [{json.dumps(keys)}]\n")
    found = planned(shop, "some")
    words = "lay left at C2, toward +x+y, turned by 0, pins D2,G2,C4, instead of where it is now"
    found = found._replace(helps=(Help("place", words, 12.3, 0.21),) * MOST_TOLD)
    codes = {setup.work_offset for each in found.stations for setup in each}
    for paper in papers:
        (shop / "page.html").write_text(page_of(found, paper), encoding="utf-8")
        pdf = browser.print(shop / "page.html")
        assert pages(pdf) <= most
        assert least_letters_mm(pdf) >= 2.29
        told = [word.text.rstrip(",") for word in words_of(pdf)]
        assert len(codes) == 1 or codes <= set(told), codes


@pytest.mark.browser
@pytest.mark.skipif(find_browser() is None, reason="no browser was found on this machine")
def test_many_tool_changes(tmp_path: Path, browser: Browser) -> None:
    """Four stations whose programs change tools 45 times stand on one page of Letter, with
    the windows that are loaded in and the others summed up; the JSON has every one."""
    text, places = FAR_APART, {"c": "K2, M2], stop: J3", "d": "R2, T2], stop: Q3"}
    for code, (name, pins) in zip(("G56", "G57"), places.items(), strict=True):
        more = (
            f"  - {{name: {name}, bed: bench, stock: [400, 300, 18], pin: peg, pins: {{edge: "
            f"[{pins}}}, z: {{set: touch}}, work_offsets: {{a: {code}}}, program: p{name}}}\n"
            "programs:"
        )
        tool = (
            f"  - {{name: p{name}, file: p{name}.nc, units: mm, tools: {{'1': {{diameter: 6}}}}}}\n"
        )
        text = text.replace("programs:", more).replace("runs:\n", f"{tool}runs:\n")
    text += "  - {name: four, load: 60 s, tool_change: 30 s, stations: [a, b, c, d]}\n"
    for code, name in zip(("G54", "G55", "G56", "G57"), ("one", "other", "pc", "pd"), strict=True):
        lines = program(code, dict.fromkeys(range(1, 46), 20.0), "")
        (tmp_path / f"{name}.nc").write_text(lines, encoding="ascii")
    shop_of(tmp_path, text)
    found = planned(tmp_path, "four")
    page = page_of(found, "letter")
    (tmp_path / "four.html").write_text(page, encoding="utf-8")
    assert pages(browser.print(tmp_path / "four.html")) == 1
    summed = re.search(r"\b(\d+) more, 0:\d\d or longer, nothing nearer than", text_of(page))
    windows = report_of(found)["windows"]
    pair = [w for w in windows if (w["runs"], w["loaded"]) == ("a", "b")]
    assert summed is not None and int(summed[1]) + 1 == len(pair)


@pytest.mark.browser
@pytest.mark.skipif(find_browser() is None, reason="no browser was found on this machine")
@without_help
def test_a_run_on_paper(
    shop: Path, run: Run, browser: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`sheet --run --pdf` has a browser print the page, as one file."""

    def printed(page: Path, pdf: Path, outputs: Outputs) -> None:
        outputs.write(pdf, browser.print(page))

    monkeypatch.setattr("pincorner.work.files.browser.print_to_pdf", printed)
    ran = run("sheet", "--run", "three-sides", "--pdf", "-o", "papers")
    assert ran.code == 0, ran.err
    [pdf] = (shop / "papers").glob("*.pdf")
    assert pages(pdf.read_bytes()) == 1


def test_the_page_says_which_state_it_shows(demos_page: str) -> None:
    """The newest change with its day, and when it was made, once."""
    text = text_of(demos_page)
    assert len(re.findall(r"Change \d+ of \d{4}-\d\d-\d\d; made \d{4}-\d\d-\d\d", text)) == 1


def test_the_strip_of_a_visit_names_windows_at_their_bars(demos_page: str) -> None:
    """Bars and names lie in the strip, and each name as high as one of the bars."""
    strips = [
        each for each in re.findall(r"<svg.*?</svg>", demos_page, re.S) if "<title>visit" in each
    ]
    named = 0
    for strip in strips:
        [box] = re.findall(r'viewBox="(\S+) (\S+) (\S+) (\S+)"', strip)
        left, top, wide, deep = map(float, box)
        bars = [
            [tuple(map(float, point.split(","))) for point in points.split()]
            for points in re.findall(r'<polygon points="([^"]*)"', strip)
        ]
        assert all(left <= x <= left + wide and top <= y <= top + deep for b in bars for x, y in b)
        for y, size in re.findall(r'<text x="\S+" y="(\S+)" font-size="(\S+)"', strip):
            middle = float(y) - 0.35 * float(size)
            reach = [(min(y for _, y in bar), max(y for _, y in bar)) for bar in bars]
            assert any(low < middle < high for low, high in reach), strip
            named += 1
    assert len(strips) == 3 and named > 6


def written(drawing: str) -> list[tuple[str, float, float, float]]:
    """Words of a drawing with left end, right end and height of their middles, in its own units."""
    found = []
    for x, y, size, anchor, word in re.findall(
        r'<text x="(\S+)" y="(\S+)" font-size="(\S+)" text-anchor="(\w+)"[^>]*>([^<]*)<', drawing
    ):
        wide = text_width(html.unescape(word), float(size), bold=True)
        left = float(x) - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
        found.append((html.unescape(word), left, left + wide, float(y) - 0.35 * float(size)))
    return found


def test_long_names_and_many_nests_stay_in_their_places(shop: Path) -> None:
    """Where a name has no room in a drawing all have numbers there; none is cut; a box of
    codes may break between them alone."""
    name = "Wide-name " + "W" * 54
    nests = ", ".join(
        f"{{name: n{at}, zero: [{10 + 70 * at}, 20], stock: {{size: [60, 150, 20]}}}}"
        for at in range(6)
    )
    put(shop, f"""
jigs: [{{name: six, footprint: [440, 200], seat: 18, height: 20, nests: [{nests}]}}]
stations:
  - {{name: {name}, bed: long-bench, jig: six, pin: peg-20, pins: {{edge: [D6, G6], stop: C7}},
     work_offsets: {{n0: G54, n1: G59.2, n2: G59.3}}, program: hand-hold}}
runs:
  - {{name: wide, load: 60, start: 10, tool_change: 40, stations: [left, {name}, right]}}
  - {{name: alone, load: 60, start: 10, tool_change: 40, stations: [{name}]}}
""")  # fmt: skip
    page = page_of(planned(shop, "wide"))
    for drawing in re.findall(r"<svg.*?</svg>", page, re.S):
        [(left, wide)] = re.findall(r'viewBox="(\S+) \S+ (\S+) \S+"', drawing)
        words = written(drawing)
        for word, begins, ends, _ in words:
            room = 1.002 * float(wide)  # widths of words are estimates
            assert float(left) <= begins and ends <= float(left) + room, word
    over = [each for each in re.findall(r"<svg.*?</svg>", page, re.S) if "<title>while" in each]
    assert all({"1", "2", "3"} <= {word for word, *_ in written(each)} for each in over)
    assert f'<td class="big name">Wide-name {"W" * 8}<wbr>{"W" * 8}<wbr>' in page
    second = re.findall(r'<p class="code">(.*?)</p>', page)[1]
    token = '<span class="token">{}</span>'
    codes = ("G54", "G59.2", "G59.3", "G57", "G58", "G59")  # three are given by the run
    assert second == ", ".join(map(token.format, codes))
    [drawing] = re.findall(r"<svg.*?</svg>", page_of(planned(shop, "alone")), re.S)
    [left] = re.findall(r'viewBox="(\S+) ', drawing)
    lines = [each for each in written(drawing) if each[0][0] == "W"]
    assert "".join(word for word, *_ in lines) == name.replace(" ", "")
    assert all(float(left) <= begins and ends < 0 for _, begins, ends, _ in lines)
