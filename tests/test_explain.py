"""The arithmetic of `explain`: a person who recomputes a line gets the number at its end."""

from __future__ import annotations

import inspect
import json
import math
import re
from functools import cache
from pathlib import Path

import pytest
from blocks import explain_of
from conftest import Run
from oracles.worked import assert_close, reference
from test_dowels import ON_DOWELS
from test_sheet import Page, sheet_of
from test_transform import drawn, worked_text
from thinning import thinned
from worlds import BASE, PRESSED, facts, make_registry, setups, world

from pincorner.documents.stations import EdgePins, ZRule
from pincorner.render.blocks.block import render_block
from pincorner.render.outputs.schema import report_schema
from pincorner.render.outputs.stations import offsets_json
from pincorner.render.pages.maps import render_map_page
from pincorner.render.text.offsets import offsets_table
from pincorner.setups import budget
from pincorner.setups.advice import GIVEN_BY, REMEDIES
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups, offset_rows
from pincorner.work.loading import read_alone
from pincorner.work.reports import explained

N = r"(-?\d+\.\d+)"
HALF_MM, HALF_DEG = 0.51e-4, 0.51e-5
"""Half the last digit of lengths (four decimals) and angles (five)."""
STEP_RAD = math.radians(HALF_DEG)
SEEDS = range(thinned(90))


def numbers(pattern: str, text: str) -> list[float]:
    """The numbers of the one line that a pattern matches."""
    found = re.findall(pattern, text)
    assert len(found) == 1, f"{pattern!r} matches {len(found)} times in:\n{text}"
    return [float(number) for number in found[0]]


def turned(x: float, y: float, angle_deg: float) -> tuple[float, float]:
    """A vector turned by an angle."""
    cos, sin = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return x * cos - y * sin, x * sin + y * cos


def two_digits(x: float, y: float) -> float:
    """How far rounded figures may be off in x + p cos a - q sin a: four lengths and a lever."""
    return 4 * HALF_MM + math.hypot(x, y) * STEP_RAD


@cache
def setups_of(station: str | int) -> list[Setup]:
    """Setups of a worked station by its name, or of a random one by its seed."""
    if isinstance(station, str):
        return setups(worked_text(station))[:1]
    return make_setups(drawn(station))


@cache
def explained_of(station: str | int) -> list[tuple[Setup, str]]:
    """The same, each with what `explain` says of it."""
    return [(setup, explain_of(setup)) for setup in setups_of(station)]


STATIONS = [*reference("worked_places")["cases"], *SEEDS]


@pytest.mark.parametrize("station", STATIONS)
def test_every_chain_adds_up(station: str | int) -> None:
    """Each line of arithmetic, recomputed from its own printed figures, gives its own result."""
    for _, text in explained_of(station):
        chain_adds_up(text)


def chain_adds_up(text: str) -> None:
    """Fail where a line's result is not that of its own printed figures."""
    x0, p, a, q, a2, x = numbers(rf"X = {N} \+ {N} cos {N} - {N} sin {N} = {N}", text)
    y0, p2, a3, q2, a4, y = numbers(rf"Y = {N} \+ {N} sin {N} \+ {N} cos {N} = {N}", text)
    assert (p, a, q) == (p2, a2, q2)
    assert a == a3 == a4
    dx, dy = turned(p, q, a)
    assert_close(x0 + dx, x, two_digits(p, q), "half the last digit of each figure")
    assert_close(y0 + dy, y, two_digits(p, q), "half the last digit of each figure")
    line = rf"angle = bed {N} \+ corner {N} \+ turn {N} \+ nest {N} - program {N} = {N}"
    bed, corner, turn, nest, program, angle = numbers(line, text)
    off = math.remainder(bed + corner + turn + nest - program - angle, 360)
    assert_close(
        off, 0, 3 * HALF_DEG + 2 * 10 * HALF_DEG, "three figures of five decimals, two of 4"
    )
    assert numbers(rf"A1 lies at X {N}  Y {N}, row 1 is turned by {N}", text) == [x0, y0, bed]


@pytest.mark.parametrize(
    ("edge", "stop", "keys", "why"),
    [
        (
            ("C3", "C4"),
            "D2",
            {"chosen": True},
            "so chosen, since no two on the longer edge made it",
        ),
        (("C3", "C4"), "D2", {}, "as the station's pins say"),
        (("D2", "G2"), "C4", {"chosen": True}, None),
    ],
)
def test_two_pins_on_the_shorter_edge_are_told(
    edge: tuple[str, str], stop: str, keys: dict[str, bool], why: str | None
) -> None:
    """Where the shorter edge carries two pins `explain` says so, and why; else it says nothing."""
    found = facts(world(BASE), pins=EdgePins(edge=edge, stop=stop, **keys))
    told = f"The shorter edge carries two pins, {why}"
    text = explain_of(make_setups(found)[0])
    assert ("shorter edge" in text) == (told in text) == (why is not None)


@pytest.mark.parametrize("station", STATIONS)
def test_the_frames_lead_from_the_pins_to_the_zero(station: str | int) -> None:
    """Contacts lie a radius, less what gives way, from their pins and on the corner's edges."""
    for setup, text in explained_of(station):
        frames_lead_to_the_zero(text, setup.located.pins_along_x)


def frames_lead_to_the_zero(text: str, along_x: bool) -> None:
    """Fail where the printed frames do not lead from the printed pins to the printed zero."""
    pin = rf"(edge|stop)\s+pin in \S+\s+centre {N}, {N}, body radius {N}, touches at {N}, {N}"
    cx, cy, ca = numbers(rf"corner at {N}, {N}, turned by {N}; the jig", text)
    pins = [(role, *map(float, rest)) for role, *rest in re.findall(pin, text)]
    assert [role for role, *_ in pins] == ["edge", "edge", "stop"]
    given_way = [float(mm) for mm in re.findall(r"in [A-Z]+\d+ (\d+\.\d{4})\b", text)] or [0.0] * 3
    for (role, x, y, r, tx, ty), gives_mm in zip(pins, given_way, strict=True):
        apart, because = math.dist((x, y), (tx, ty)) + gives_mm, "half a digit of each figure"
        assert_close(apart, r, 5 * HALF_MM, because)
        east, north = turned(tx - cx, ty - cy, -ca)
        off = north if (role == "edge") == along_x else east
        assert_close(off, 0, two_digits(tx - cx, ty - cy), "on its edge, to the figures' digits")
    jx, jy = numbers(rf"Its own 0, 0 lies at {N}, {N} from there", text)
    turn = float(re.findall(r"in the corner, turned by ([\d.]+)", text)[0])
    zx, zy, _ = numbers(rf"zero at {N}, {N}, turned by {N}", text)
    in_jig = turned(zx, zy, turn)
    in_corner = turned(jx + in_jig[0], jy + in_jig[1], ca)
    bx, by, _ = numbers(rf"in bed coordinates {N}, {N}, turned by {N}", text)
    lever = two_digits(jx, jy) + two_digits(zx, zy)
    assert_close(cx + in_corner[0], bx, lever, "half a digit of each figure")
    assert_close(cy + in_corner[1], by, lever, "half a digit of each figure")


def test_the_skew_is_a_chord() -> None:
    """The skew of case A is 2 sin(angle / 2) times the printed reach: 0.995 mm (guide, Budget)."""
    text = explain_of(setups(worked_text("A"))[0])
    angle, reach, again, skew, limit = numbers(
        rf"no angle: {N} over {N} mm to the farthest stock corner is\n"
        rf"\s+2 sin\(angle / 2\) x {N} = {N} mm; at most {N} mm may stay",
        text,
    )
    assert reach == again
    assert_close(reach, math.hypot(410, 240), HALF_MM, "printed to four decimals")
    chord = 2 * math.sin(math.radians(angle) / 2) * reach
    assert_close(chord, skew, 0.51e-3, "printed to three decimals")
    assert (skew, limit) == (0.995, 0.1)
    assert "way out: shim the jig by 0.628 mm at pin" in text  # 300 mm times tan 0.12 degrees


@pytest.mark.parametrize("zero", ["surface", "seat", "stock-top"])
def test_heights_add_up(zero: str) -> None:
    """Surface and height add up to Z, and the tip's readings are the differences of heights."""
    found = facts(world(), z=ZRule(zero=zero, set="machine"), under=2.5)
    text = explain_of(make_setups(found)[0])
    surface, height, z = numbers(rf"surface {N} \+ {N} = Z {N}", text)
    assert_close(surface + height, z, 1e-9, "decimal figures")
    above, bed, stock, plate = numbers(
        rf"Z0 is {N} mm above .*\n\s+{N} on the bed surface, {N} on the stock, {N} on the touch",
        text,
    )
    assert (above, bed) == (height, -height)
    assert_close(stock, 2.5 + 18 + 20 - height, 1e-9, "decimal figures")
    assert_close(plate, 19.05 - height, 1e-9, "decimal figures")


@pytest.mark.parametrize("seed", SEEDS[::4])
def test_the_budget_adds_up(seed: int) -> None:
    """Printed variances add up to the line `together`, which times k bounds what is stated."""
    setup = make_setups(drawn(seed, body_tolerance=0.1))[0]
    text = explain_of(setup)
    found = re.findall(rf"^   (\w[\w ]*?)\s+{N}\s+{N}\s+{N}", text, re.MULTILINE)
    rows = {name: tuple(map(float, rest)) for name, *rest in found}
    *sources, together = rows
    assert together == "together"
    assert sources == [row.source for row in setup.budget.rows]
    for axis, half in ((0, HALF_MM), (1, HALF_MM), (2, HALF_DEG)):
        root = math.hypot(*(rows[name][axis] for name in sources))
        want = rows[together][axis]
        assert_close(root, want, (len(sources) + 1) * half, "half a digit of each figure")
    (k,) = [float(each) for each in re.findall(rf"Times k = {N}", text)]
    zero, worst = numbers(rf"lies within\s+{N} mm at the zero, {N} mm at the worst corner", text)
    again, worst_again = numbers(
        rf"comes back within\s+{N} mm at the zero, {N} mm at the worst", text
    )
    larger = k * max(rows[together][:2])
    assert larger - 3 * HALF_MM <= zero <= math.sqrt(2) * larger + 3 * HALF_MM
    assert again <= zero
    assert worst_again <= worst


def test_explain_and_block_show_the_same_figures(run: Run, tmp_path: Path) -> None:
    """The command prints the setup that block and table print: one fingerprint, one X, one Y."""
    make_registry(tmp_path / "shop.sqlite", BASE)
    ran = run("--db", tmp_path / "shop.sqlite", "explain", "left")
    assert ran.code == 0
    text = ran.out.replace("\r\n", "\n")
    assert text == explain_of(setups()[0])
    x, y = re.findall(r"As printed, in mm: X (\S+)  Y (\S+)", text)[0]
    block = render_block(setups())
    assert f"G10 L2 P2 X{x} Y{y}\n" in block
    assert setups()[0].fingerprint in text and setups()[0].fingerprint in block


def test_each_source_tells_what_makes_it_smaller() -> None:
    """Every row that counts has its line, every name that is not given tells how to give it."""
    text = BASE.replace("    repeatability: 0.02\n", "").replace(", depth: 20", "")
    bare, full = make_setups(facts(world(text)))[0], setups()[0]
    for setup in (bare, full):
        said, rows = explain_of(setup), {row.source for row in setup.budget.rows if any(row[1:4])}
        lines = re.findall(r"^     ([\w ()]+): ", said, re.MULTILINE)
        assert [name for name in lines if name in rows | set(setup.budget.not_given)] == lines
        assert set(lines) == rows | set(setup.budget.not_given)
    assert "     machine: measure one mark again and again: repeatability of" in explain_of(bare)


def test_a_play_that_is_known_is_not_to_be_measured() -> None:
    """Measuring it is a way only where a fit class says it with a spread, and the bed does not."""
    fitted = BASE.replace("shank: 20.00,", "shank: 20, fit: H8/g6,")
    assert fitted != BASE
    stated = fitted.replace("hole: 20.02", "hole: 20, play: 0.03")
    for text, is_a_way in ((BASE, False), (fitted, True), (stated, False)):
        said = explain_of(make_setups(facts(world(text)))[0])
        (way,) = re.findall(r"^     pin fit: (.+)$", said, re.MULTILINE)
        assert ("measure the play" in way) == is_a_way, way


def test_sources_and_remedies_have_the_same_names() -> None:
    """Whatever the budget may name, counted or not given, has words; nothing else has."""
    made = inspect.getsource(budget)
    named = set(re.findall(r'(?:[sS]ource\(|not_given\.append\()"([a-z ]+)"', made))
    named |= {budget.NO_SURVEY, budget.TOO_FEW_HOLES, budget.DISTURBED}
    named |= {budget.SETTING_G54, budget.MEASURED_ZERO}
    named |= set(re.findall(r'\("(\w+)", facts\.machine\.', made))
    assert named == set(REMEDIES) | set(GIVEN_BY)


BESIDE = """  - name: other
    bed: long-bench
    jig: panel-tray
    pin: peg-20
    pins: {edge: [G2, J2], stop: F3}
"""


@pytest.mark.parametrize(("beside", "hole"), [("", "G5"), (BESIDE, "C3")])
def test_a_hole_is_proposed_only_where_nothing_is_in_the_way(
    beside: str, hole: str, tmp_path: Path
) -> None:
    """A pin is told to stand elsewhere where that does more, but for under another station's jig,
    285 mm deep from row 2."""
    text = BASE.replace("edge: [D2, G2], stop: C4", "edge: [D5, F5], stop: C6")
    (tmp_path / "shop.yaml").write_text(
        text.replace("[460, 280]", "[460, 285]") + beside, encoding="utf-8"
    )
    alone = read_alone([tmp_path / "shop.yaml"], tmp_path)
    _, found = explained(alone, "left", None, None)
    assert found.change is not None and found.change.hole == hole


def test_what_play_of_a_fit_and_friction_do_is_told() -> None:
    """That the largest play of a fit counts where it varies, and what friction does to a push."""
    fit = BASE.replace("height: 22", "height: 22, fit: H11/h9")
    pushed = setups(fit.replace("    pins_pressed: false\n", ""))[0]
    told = [explain_of(each) for each in (setups()[0], setups(fit)[0], pushed)]
    assert ["the largest play" in text for text in told] == [False, True, False]
    assert ["Friction may keep" in text for text in told] == [False, False, True]


PEG = "height: 22, body_tolerance"
STANDING = {
    "pressed": (PRESSED, "in D2 0.0100, in G2 0.0100, in C4 0.0100:", True),
    "leaning": (
        PRESSED.replace("    work_offsets", "    under: 5\n    work_offsets"),
        "by 0.0025, 0.0025, 0.0025, and figures hold pins that always stand at one end",
        True,
    ),
    "laid": (BASE, "by at most 0.0320 in D2, 0.0320 in G2, 0.0320 in C4;", True),
    "dowels": (ON_DOWELS, "off the bed's by at most 0.0350 in I5, 0.0350 in M5.", True),
    "screwed": (PRESSED.replace(PEG, f"held: screwed, {PEG}"), "are not pushed aside", True),
    "tapered": (PRESSED.replace(PEG, f"held: tapered, {PEG}"), "Pins have no play", False),
}
"""Documents, what is told of their pins, whether there is play to measure."""


@pytest.mark.parametrize("name", STANDING)
def test_how_pins_stand_and_how_play_is_measured_is_told(name: str) -> None:
    """However a jig is held, `explain` has how far its pins stand off, and how to measure play."""
    text, told, plays = STANDING[name]
    said = explain_of(make_setups(facts(world(text), "bars" if name == "dowels" else "left"))[0])
    assert told in said
    assert ("To measure the play: push a pin both ways" in said) == plays


@pytest.mark.parametrize("name", STANDING)
def test_uncertainties_are_the_same_everywhere(name: str) -> None:
    """Table, sheet, map and `explain` have JSON's two figures, rounded up to two decimals."""
    station = "bars" if name == "dowels" else "left"
    all_of = facts(world(STANDING[name][0]), station)
    made, rows = make_setups(all_of)[:1], offset_rows(all_of)[:1]
    (exact,) = offsets_json(rows)["offsets"]
    back, lies = (exact[key] for key in ("repeat95_worst_mm", "u95_worst_mm"))
    assert back is not None and lies is not None
    up = [f"{math.ceil(figure * 100 - 1e-6) / 100:.2f}" for figure in (back, lies)]
    assert re.search(rf"{up[0]} +{up[1]} +{exact['fingerprint']}", offsets_table(rows))
    pages = sheet_of(made), render_map_page(all_of.bed, rows, None)
    for words in (" ".join(Page(page).words.split()) for page in pages):
        assert f"comes back within {up[0]} mm" in words and f"lies within {up[1]} mm" in words
        for source in exact["not_given"]:
            assert source in words
    said = explain_of(made[0])
    worst = rf"{N} mm at the zero, {N} mm at the worst corner"
    for told, figure in ((f"comes back within {worst}", back), (f"lies within +{worst}", lies)):
        assert_close(numbers(told, said)[1], figure, HALF_MM, "printed to four decimals")


def test_the_usual_place_is_told_in_the_same_words() -> None:
    """Sheet, map, `explain`, guide and schema say of what the part comes back within a figure."""
    of = "of its usual place"
    folder, setup = Path(inspect.getfile(budget)).parents[1] / "guide", setups()[0]
    told = {
        "map": Page(render_map_page(setup.facts.bed, offset_rows(setup.facts), None)).words,
        "sheet": Page(sheet_of(setups())).words,
        "explain": explain_of(setup),
        "schema": json.dumps(report_schema("offsets")),
        "guide": " ".join(
            (folder / "numbers").with_suffix(".md").read_text(encoding="utf-8").split()
        ),
    }
    assert [name for name, words in told.items() if of not in words] == []
