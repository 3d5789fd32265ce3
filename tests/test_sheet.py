"""The setup sheet as text: its figures and words, and that it needs nothing else."""

from __future__ import annotations

import math
import re
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest
from conftest import Run
from worlds import BASE, PRESSED, setups

from pincorner.render.blocks.block import render_block
from pincorner.render.pages.sheet import render_sheet
from pincorner.render.pages.steps import jig_steps
from pincorner.render.text.explain import render_explain
from pincorner.render.text.offsets import offsets_table
from pincorner.setups.advice import remedies
from pincorner.setups.setup import OffsetRow, Setup
from pincorner.standing import marks, standing_of

SVG = "http://www.w3.org/2000/svg"
VOID = {"meta", "br", "img", "input"}
BASE_INCH = BASE.replace("dialect: rs274", "dialect: rs274\n    units: in")
NOT_HOMING = BASE.replace("dialect: rs274", "dialect: six\n    homes: false").replace(
    "x: 60", "x: -560"
)
TWO_NESTS = BASE.replace(
    "nests: [{name: a, zero: [25, 20], stock: {size: [410, 240, 20]}}]",
    "nests: [{name: a, zero: [25, 20], stock: {size: [180, 240, 20]}},"
    " {name: b, zero: [225, 20], stock: {size: [180, 240, 28]}}]",
).replace("{a: G55}", "{a: G55, b: G56}")  # fmt: skip


class Page(HTMLParser):
    """The text nodes, elements and attributes of a page; a badly closed element is an error."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Open an element."""
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element of a drawing that closes itself."""
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        """Close an element: the one opened last."""
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Text of an element that is not a style sheet."""
        if self.open and self.open[-1] != "style":
            self.texts.append(data)

    @property
    def words(self) -> str:
        """All text of the page, with single spaces."""
        return " ".join(" ".join(self.texts).split())


def signed(figure: str) -> str:
    """A figure of a block as the box of Z readings has it."""
    if figure.startswith("-") or float(figure) == 0:
        return figure.replace("-", "−")
    return f"+{figure}"


def sheet_of(found: list[Setup], take_out: tuple[str, ...] = ()) -> str:
    """A sheet on A4 from the shipped templates."""
    return render_sheet(found, take_out, "a4", None)


def demo_sheet(shop: Path, station: str) -> Page:
    """A sheet that the demo wrote."""
    return Page((shop / "sheets" / f"{station}.html").read_text(encoding="utf-8"))


STATIONS = ["end-bars", "left", "right", "roof", "spare"]


@pytest.mark.parametrize("station", STATIONS)
def test_figures_are_the_blocks(in_demo: Path, run: Run, station: str) -> None:
    """X, Y, code, height, and fingerprint stand on the sheet with the block's own digits."""
    block = run("block", station).out
    words = demo_sheet(in_demo, station).words
    heights = re.findall(r"\((G\S+) Z0 IS (\S+) MM ABOVE", block)
    tips = re.findall(r"BED SURFACE MUST READ Z(\S+)\)", block)
    writes = re.findall(r"G10 L2 P(\d) X(\S+) Y(\S+)\n", block)
    assert len(writes) == len(heights) == len(tips) == (2 if station == "end-bars" else 1)
    for (code, _), tip, (_, x, y) in zip(heights, tips, writes, strict=True):
        assert f" X {x} Y {y} " in words and f" {code} " in words
        assert re.search(rf" tip on bed (?:plate .* stock )?{re.escape(signed(tip))} ", words)
    for fingerprint in re.findall(r"[0-9A-F]{4}-[0-9A-F]{4}", block):
        assert fingerprint in words


def test_figures_are_the_blocks_in_inches() -> None:
    """A machine in inches has the block's four decimals on its sheet, millimetres beside them."""
    found = setups(BASE_INCH)
    words, block = Page(sheet_of(found)).words, render_block(found)
    assert "G10 L2 P2 X11.6142 Y7.2835\n" in block and "Z-1.4961)" in block
    assert " machine position must read, in: X 11.6142 Y 7.2835 " in words
    assert (
        "tip on bed −1.4961 plate on bed −0.7461 tip on stock 0.0000 plate on stock +0.7500"
        in words
    )
    assert "In millimetres, to compare only: X 295.000 Y 185.000" in words
    assert "0.98 in right of and 0.79 in behind the jig's corner" in words


@pytest.mark.parametrize("station", STATIONS)
def test_pins_and_cautions(in_demo: Path, run: Run, station: str) -> None:
    """The sheet tells pins, the empty corner, how well it is known, and the cautions."""
    words = demo_sheet(in_demo, station).words
    shown = run("show", station, "--kind", "station", "--json").json["documents"][0]["document"]
    pins = shown["pins"]
    on_dowels = "round" in pins
    holes = [pins["round"], pins["slot"]] if on_dowels else [*pins["edge"], pins["stop"]]
    where = "in its (round hole|slot)" if on_dowels else "its (FRONT|BACK|LEFT|RIGHT) edge, to you"
    where = "the (edge nearest you|left edge|right edge)" if "stock" in shown else where
    assert f"Pins in this order: {shown['pin']} " in words
    for number, hole in enumerate(holes, 1):
        assert re.search(rf" {number} {hole} {where}", words)
    empty = re.findall(r" (\w+) stays empty (?:Out|Take)", words)
    assert len(empty) == (0 if on_dowels else 1)
    assert not empty or f"; {empty[0]} stays empty." in words
    rows = re.findall(
        rf"^{station} .*?(\S+) +(\S+)  [0-9A-F-]{{9}}$", run("offsets", station).out, re.M
    )
    back, lies = (max(column) for column in zip(*rows, strict=True))
    assert (
        f"The part comes back within {back} mm of its usual place; it lies within {lies} mm of"
        in words
    )
    assert (
        "No safeguard." in words
        and "guards, interlocks, the machine's manual and your local rules" in words
    )
    assert not re.search(r"\b(safe|safely|clear|free|OK|okay)\b", words, re.IGNORECASE)


def test_take_out(shop: Path, run: Run) -> None:
    """Other stations' pins within half a pitch of the jig are to be taken out; no farther ones."""
    assert "Out: no other pin stands near." in demo_sheet(shop, "left").words
    # left covers bed x 210 to 670, y 110 to 390 (A1 is 0, 0). D3 and E3 at y 200 stand under it and
    # C5 at 200, 400 beside it; H4 at 700, 300 near its right edge; I2 and J2 do not stand near.
    for name, pins in (("over", "D3,E3,C5"), ("off", "I2,J2,H4")):
        assert run("register", name, "--bed", "long-bench", "--stock", "250,250,18", "--pin",
                   "peg-20", "--pins", pins).code == 0  # fmt: skip
    assert run("sheet", "left", "-o", "new").code == 0
    words = Page((shop / "new" / "left.html").read_text(encoding="utf-8")).words
    assert "Take out: D3 , E3 , H4 , C5" in words and "C5 OUT" in words and "J2 OUT" not in words
    assert "Take out the pins in D3, E3, H4 and C5: they belong to other stations." in words


# The zero is 25, 20 from the corner of a jig of 460 by 280; turned by 90 its corner toward -x+y is
# the front right one as it lies: by hand, 20 from the right and 25 from the front.
@pytest.mark.parametrize(
    ("pins", "turn", "stands"),
    [
        ("{edge: [D2, G2], stop: C4}", 0, "25.0 mm right of and 20.0 mm behind"),
        ("{edge: [M2, K2], stop: N4}", 0, "435.0 mm left of and 20.0 mm behind"),
        ("{edge: [D6, G6], stop: C4}", 0, "25.0 mm right of and 260.0 mm in front of"),
        ("{edge: [M6, K6], stop: N4}", 0, "435.0 mm left of and 260.0 mm in front of"),
        ("{edge: [N3, N6], stop: L2}", 90, "20.0 mm left of and 25.0 mm behind"),
        ("{edge: [D2, G2], stop: C4}", 180, "435.0 mm right of and 260.0 mm behind"),
        ("{edge: [D3, D6], stop: E2}", 270, "20.0 mm right of and 435.0 mm behind"),
    ],
)
def test_check_step_in_every_quadrant(pins: str, turn: int, stands: str) -> None:
    """The check step says how far right or left, behind or in front of the corner the zero is."""
    laid = f"pins: {pins}\n    turn: {turn}\n    program_angle: {turn}"
    text = BASE.replace("pins: {edge: [D2, G2], stop: C4}", laid)
    words = Page(sheet_of(setups(text))).words
    assert f"it stands over the zero, {stands} the jig's corner next to " in words


def test_every_nest_has_its_own_z() -> None:
    """Where nests have different heights, the Z step tells each nest's own readings."""
    words = Page(sheet_of(setups(TWO_NESTS))).words
    assert "with tip on bed plate on bed tip on stock plate on stock G55 −38.000 −18.950 " in words
    assert "nest a: 180 × 240 × 20 mm" in words and "nest b: 180 × 240 × 28 mm" in words


def test_reference_without_expressions() -> None:
    """Where the block cannot count Z from G54, neither block nor sheet says that it does."""
    text = BASE.replace("dialect: rs274", "dialect: six")
    found = setups(
        text.replace("work_offsets: {a: G55}", "work_offsets: {a: G55}\n    z: {set: reference}")
    )
    block, words = render_block(found), Page(sheet_of(found)).words
    assert " Z" not in next(line for line in block.splitlines() if line.startswith("G10"))
    assert "(Z COUNTS FROM G54" not in block and "the block takes Z" not in words
    assert re.search(r"G55 Z G54 Z _+ \+38\.000 = _+", words)


def test_one_block_for_each_nest_under_g68() -> None:
    """Where a block turns the axes about one nest's zero, no other code is selected under it."""
    found = setups(TWO_NESTS.replace("dialect: rs274", "dialect: extended"))
    assert "G56" not in render_block(found, "a")
    words = Page(sheet_of(found)).words
    assert "Each nest has a block of its own: run the block of the nest that is cut" in words
    assert "the other nest's code selected" not in words


def test_relative_sum_is_left_open() -> None:
    """On a machine that does not home the sheet leaves the sums from G54 open, with their signs."""
    words = Page(sheet_of(setups(NOT_HOMING))).words
    assert "+ -" not in words
    assert re.search(r"G55 X G54 X _+ −325\.000 = _+ G55 Y G54 Y _+ \+185\.000 = _+", words)


SKEWED = BASE.replace("angle: 0}", "angle: 0.12}")


def test_a_refused_station_tells_why_and_what_to_do_first() -> None:
    """Without a block NO BLOCK stands where the code would, with the reason in plain words, what
    to do first and what else helps; its figures, steps and fingerprint are left out."""
    words = Page(sheet_of(setups(SKEWED))).words
    told = words[words.index("No block: this station cannot be run") : words.index("Pins in this")]
    assert "The part would be cut askew, by up to 0.995 mm across the stock" in told
    assert "turned by 0.1200 degrees and dialect rs274 writes no angle: 0.995 mm over" in told
    for way in ("shim the jig by 0.628 mm at pin D2", "program_angle: 0.1200", "use a dialect"):
        assert way in told[told.casefold().index("first:") :].replace("Shim", "shim")
    (setup,) = setups(SKEWED)
    for figure in (setup.printed.own.x, setup.printed.own.y, setup.fingerprint, "−38.000"):
        assert figure not in words
    assert " NO BLOCK Bed " in words and "In this order" not in words and "G0 X0" not in words


def test_a_reason_is_told_once() -> None:
    """A finding that keeps the block back is told as the reason, not as a warning too."""
    words = Page(sheet_of(setups(BASE.replace("x: [0, 1540]", "x: [300, 1540]")))).words
    assert words.count("5.000 mm outside the travel of gantry-1") == 1
    assert "The machine cannot reach the program zero. First: Do not run it" in words


def test_a_nest_without_a_code_is_left_out() -> None:
    """A nest that the block leaves out is told so; the other's steps stay."""
    words = Page(sheet_of(setups(TWO_NESTS.replace(", b: G56", "")))).words
    assert "Not in the block: nest b of station left has no work offset" in words
    assert "In this order" in words and "tip on bed −38.000" in words and "−46.000" not in words
    assert "NO BLOCK" not in words


def drawn_texts(page: str) -> list[tuple[str, float, float]]:
    """Every text of a page's first drawing, with its place on the bed in mm."""
    drawing = ElementTree.fromstring(re.search(r"<svg .*?</svg>", page, re.DOTALL)[0])
    return [
        (each.text, float(each.get("x")), -float(each.get("y")))
        for each in drawing.iter(f"{{{SVG}}}text")
    ]


def test_dowels_are_told_apart_in_the_drawing(in_demo: Path) -> None:
    """Next to its pin stands which of the jig's own holes goes over it: I8 round, M8 slot."""
    page = (in_demo / "sheets" / "end-bars.html").read_text(encoding="utf-8")
    places = {text: (x, y) for text, x, y in drawn_texts(page)}
    # I8 is the ninth column, M8 the thirteenth, both in the eighth row, 100 mm apart: each word
    # stands within a pitch of its pin.
    for word, hole, pin in (("round", "I8", (800, 700)), ("slot", "M8", (1200, 700))):
        assert math.dist(places[word], pin) < 130
        assert math.dist(places[word], places[hole]) < 60


def test_what_stands_up_is_told_with_its_height(in_demo: Path) -> None:
    """Clamps and toggles have a letter in the drawing and in the list with their tops above the
    bed; the highest is told as Z of the code too."""
    page = (in_demo / "sheets" / "left.html").read_text(encoding="utf-8")
    texts = [text for text, _, _ in drawn_texts(page)]
    assert {"A", "B", "C"} < set(texts)
    words = Page(page).words
    listed = (
        " P clamp c1 35.0 mm high 230 from left, 10 over near edge Q toggle-1 55.0 mm high "
        "R toggle-2 55.0 mm high To each clamp's middle (mm). "
    )
    assert listed in words
    # the stock's top is the zero, 38 above the bed: 55 - 38
    assert (
        "Highest here with the clamps listed: 55.0 mm above the bed (Z +17.000 with G55), 17.0 mm "
        "over the stock."
    ) in words
    without = "Highest here without clamps or screws (none is on file): 1.58 in above the bed"
    assert without in Page(sheet_of(setups(BASE_INCH))).words
    # pins end 22 above the bed, 16 below the zero: a cutter beside the work runs into them there
    assert "Pin peg-20: 20 mm thick, 22.0 mm high, top at Z \N{MINUS SIGN}16.000." in words
    clamp = "clamps: [{name: c, from: [0, 0], to: [9, 9], top: 35}]"
    inch = BASE_INCH.replace("    work_offsets", f"    {clamp}\n    work_offsets")
    assert " P clamp c 1.38 in high " in Page(sheet_of(setups(inch))).words
    eighth = Page(sheet_of(setups(inch.replace("top: 35", "top: 1.125 in")))).words
    assert " P clamp c 1.13 in high " in eighth  # never told too low


def test_the_map_shows_the_codes_of_all_nests(in_demo: Path) -> None:
    """A station with two nests has both codes on the map."""
    page = (in_demo / "long-bench.html").read_text(encoding="utf-8")
    assert "G57, G58" in [text for text, _, _ in drawn_texts(page)]


def test_stands_alone(in_demo: Path, run: Run) -> None:
    """Sheets load nothing, run nothing, and their drawings are well-formed XML."""
    pages = [*(in_demo / "sheets").iterdir()]
    assert len(pages) == 5
    for path in pages:
        text = path.read_text(encoding="utf-8")
        assert not re.findall(r"https?:(?!//www\.w3\.org/2000/svg\")|url\(|@import", text)
        page = Page(text)
        assert not {tag for tag, _ in page.tags} & {"script", "link", "img", "iframe", "a"}
        names = {name for _, attributes in page.tags for name in attributes}
        assert not [name for name in names if name in ("src", "href") or name.startswith("on")]
        drawings = re.findall(r"<svg .*?</svg>", text, re.DOTALL)
        assert 2 <= len(drawings) <= 3  # the mark of the empty hole in the list
        for drawing in drawings:
            assert ElementTree.fromstring(drawing).tag == f"{{{SVG}}}svg"


def boxes(sheet: str) -> dict[str, str]:
    """The words of the boxes for offsets and for Z, and the classes of the first."""
    found = re.findall(r'<div class="box (reads|keyed|z)">(.*?)</div>', sheet, re.DOTALL)
    return {name: " ".join(re.sub(r"<[^>]*>", " ", text).split()) for name, text in found}


def test_what_is_keyed_in_is_told_from_what_is_read() -> None:
    """A box is keyed in only where the block cannot write it, with its code; Z never is.

    Never by G92 stands in each box from which somebody sets an offset.
    """
    written = boxes(sheet_of(setups(BASE)))
    assert set(written) == {"reads", "z"}
    assert written["reads"].startswith("Nothing to key in: the block writes these Check: ")
    keyed = boxes(sheet_of(setups(BASE.replace("dialect: rs274", "dialect: keyed"))))
    assert set(keyed) == {"keyed", "z"}
    assert keyed["keyed"].startswith("Key these in for G55, mm X 295.000 Y 185.000")
    assert "never by G92" in keyed["keyed"] and "block writes" not in keyed["keyed"]
    for each in (written["z"], keyed["z"]):
        assert each.startswith("Z: touch off with G55 selected; never type it into the offset")
        assert "Never by G92. Screen must then show: tip on bed −38.000" in each
    words = Page(sheet_of(setups(TWO_NESTS))).words
    assert "Z: touch off with G55 , then G56 selected; never" in words


def test_the_sheet_tells_the_jig_and_the_play() -> None:
    """The jig's own size stands there, and the play that X and Y hold, where they do."""
    pressed = BASE.replace("hole: 20.02", "hole: 20.10").replace(
        "pins_pressed: false", "pins_pressed: true"
    )
    (found,) = setups(pressed)
    words = Page(sheet_of([found])).words
    assert "Jig 460 × 280 mm , seat 18 mm high" in words
    (back,) = {pin.shift_mm for pin in found.located.pins}
    assert back > 0 and f"X and Y hold half the play of pressed pins, {back:.3f} mm" in words
    laid = pressed.replace("pins_pressed: true", "pins_pressed: false")
    assert "half the play" not in Page(sheet_of(setups(laid))).words


def test_only_a_program_on_file_shows_a_setup() -> None:
    """Where no program is on file, no step says what it would show."""
    assert "that shows setup" not in Page(sheet_of(setups(BASE))).words


@pytest.mark.parametrize(
    ("program", "angle", "told"),
    [
        ("", 90, "90 degrees counter-clockwise"),
        ("    program: hand-hold\n", 90, "90 degrees counter-clockwise"),
        ("    program: hand-hold\n", -270, "90 degrees counter-clockwise, -270 on file"),
        ("", 270, "90 degrees clockwise, 270 on file"),
        ("", -90, "90 degrees clockwise, -90 on file"),
        ("", 180, "180 degrees"),
    ],
)
def test_a_program_that_must_be_posted_turned_is_told(program: str, angle: int, told: str) -> None:
    """Sheet and block say by how much and which way, whether or not a program is on file."""
    text = BASE.replace(
        "    work_offsets", f"{program}    program_angle: {angle}\n    work_offsets"
    )
    text = text.replace("dialect: rs274", "dialect: rs274-turned")
    text += "programs:\n  - {name: hand-hold, file: hand-hold.nc, units: mm}\n"
    found = setups(text)
    words = Page(sheet_of(found)).words
    lies = {  # 410 x 240, by hand
        90: "the piece lies at X -240 to 0, Y 0 to 410 mm from the zero",
        180: "the piece lies at X -410 to 0, Y -240 to 0 mm from the zero",
        270: "the piece lies at X 0 to 240, Y -410 to 0 mm from the zero",
    }[angle % 360]
    shown = f", which must be posted turned by {told} ( {lies} ): run only a file that shows setup"
    alone = f"The program must be posted turned by {told} : {lies} ."
    assert (shown if program else alone).replace(" ", "") in words.replace(" ", "")
    block = render_block(found).replace(")\n(cont ", " ")
    assert f"(THE PROGRAM MUST BE POSTED TURNED BY {told.upper()})" in block
    plain = setups(text.replace(f"program_angle: {angle}", "program_angle: 0"))
    assert "must be posted" not in Page(sheet_of(plain)).words
    assert "POSTED TURNED" not in render_block(plain)


def test_another_unit_stands_there_for_those_who_use_it() -> None:
    """Offsets stand in inches beside mm only where the shop or a program is in inches."""
    found = setups(BASE)
    assert "to compare only" not in Page(sheet_of(found)).words
    inches = Page(render_sheet(found, (), "a4", None, shop_unit="in")).words
    assert "In inches, to compare only: X 11.6142 Y 7.2835" in inches
    posted = BASE.replace("    work_offsets", "    program: one\n    work_offsets")
    posted += "programs:\n  - {name: one, file: one.nc, units: in}\n"
    assert "In inches, to compare only" in Page(sheet_of(setups(posted))).words


def test_an_angle_is_told_where_it_matters() -> None:
    """What is not written of an angle stands on sheet and table from half of what a part may lie
    off; `explain` tells it however small."""
    for angle, told in (("0.004", False), ("0.05", True)):
        text = BASE.replace("angle: 0}", f"angle: {angle}}}").replace(
            "max_skew: 0.10", "max_skew: 1"
        )
        (found,) = setups(text)
        assert (found.skew_mm >= found.budget.u95_worst_mm / 2) is told and found.unwritten
        assert Page(sheet_of([found])).words.count("cut askew by up to") == told
        row = OffsetRow(found.facts, found.nest.name, found)
        assert ("is not written" in offsets_table([row])) is told
        assert ("takes no angle, so that the stock's corner" in offsets_table([row])) is told
        assert ("post the program turned by 0.05 degrees" in offsets_table([row])) is told
        assert "The controller writes no angle" in render_explain(found, remedies(found))


@pytest.mark.parametrize(
    ("machine", "words"),
    [
        ("bed_moves: true", "against the arrows: for Y+ it goes to you, for X+ (where it moves "
         "along X) to your left."),
        ("bed_moves: true\n    beam: none", "against the arrows: for Y+ it goes to you, for X+ to "
         "your left."),
        ("bed_moves: true\n    beam: x", "along Y alone, against the arrow: for Y+ it goes to "
         "you."),
        ("bed_moves: true\n    beam: x\n    operator: left", "along Y alone, against the arrow: "
         "for Y+ it goes to your right."),
        ("bed_moves: true\n    beam: y", "along X alone, against the arrow: for X+ it goes to your "
         "left."),
        ("beam: x", ""),
    ],
)  # fmt: skip
def test_a_bed_that_moves_is_told_with_its_way(machine: str, words: str) -> None:
    """The arrows show how the tool goes over the bed: where the bed goes, it goes against them."""
    text = BASE.replace("dialect: rs274", f"dialect: rs274\n    {machine}")
    told = Page(sheet_of(setups(text))).words
    assert (f"The bed moves here, {words}" in told) if words else "bed moves" not in told


def test_a_clamp_is_called_the_same_everywhere() -> None:
    """Its letter stands in the list, in the drawing, in the step and in what a check finds; no
    letter is read as a digit or an axis, and none as a hole or one of its bed's columns."""
    clamps = ", ".join(
        f"{{name: low-{at}, from: [{60 * at}, -30], to: [{60 * at + 20}, 0], top: 35}}"
        for at in range(3)
    )
    (found,) = setups(BASE.replace("    work_off", f"    clamps: [{clamps}]\n    work_off"))
    sheet = sheet_of([found])
    words = Page(sheet).words
    assert "P clamp low-0 35.0 mm high 10 from left, up to near edge Q clamp low-1 35.0 mm" in words
    assert "high 70 from left, up to near edge R clamp low-2" in words
    # they end at the edge of the jig: nobody knows whether they hold it
    assert "Fasten it to the bed, set clamps P, Q and R; nothing may rock." in words
    assert {"P", "Q", "R"} <= {text for text, _, _ in drawn_texts(sheet)}
    marked = [each.marked for each in standing_of(found) if each.kind == "clamp"]
    assert marked == [f"clamp {letter} (low-{at})" for at, letter in enumerate("PQR")]
    bed = found.facts.bed
    many = marks(60, bed)
    assert len(set(many)) == 60 and not re.search(r"[IOXYZ0-9]", "".join(many))
    assert many[:3] == ["P", "Q", "R"] and many[6:10] == ["V", "W", "AA", "AB"]
    wide = bed.model_copy(update={"grid": bed.grid.model_copy(update={"columns": 60})})
    columns = {wide.letters.of(at) for at in range(1, 61)}
    assert not columns & set(marks(600, wide)) and len(set(marks(600, wide))) == 600


def test_an_option_of_a_command_is_not_broken() -> None:
    """What helps against a refusal is a command that may be typed: its options stay whole."""
    sheet = sheet_of(setups(BASE.replace("angle: 0}", "angle: 0.12}")))
    assert 'register left <span class="t">--max-skew</span> 1.00mm' in sheet


def test_a_skew_that_is_accepted_is_told_once_in_a_shops_words() -> None:
    """With both limits; nothing of it where nothing lies askew."""
    bears = BASE.replace("    work_offsets", "    max_skew: 2\n    work_offsets")
    words = Page(sheet_of(setups(bears.replace("angle: 0}", "angle: 0.12}")))).words
    assert (
        "Look out: The part is cut askew by up to 0.995 mm across the stock: it lies turned by "
        "0.1200°, and this controller cannot turn its axes. Here up to 2.000 mm is accepted, "
        "elsewhere 0.100."
    ) in words
    assert words.count("0.995") == 1 and "max_skew" not in words
    assert "Look out" not in Page(sheet_of(setups(bears))).words


def drawn_outline(sheet: str, look: str) -> tuple[float, float, float, float]:
    """Left, lower, right, upper border of a shape of the close-up, on the bed as it is seen."""
    corners = re.search(rf'<polygon points="([^"]+)" {look}', sheet)[1].split()
    xs, ys = zip(
        *((float(x), -float(y)) for x, y in (each.split(",") for each in corners)), strict=True
    )
    return min(xs), min(ys), max(xs), max(ys)


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_the_stock_is_laid_where_it_is_drawn(turn: int) -> None:
    """Which way it lies and how far from the jig's own edges: the step says what the drawing
    shows, however the jig lies."""
    pins = {0: "{edge: [D2, G2], stop: C4}", 90: "{edge: [N3, N6], stop: L2}"}
    pins |= {180: "{edge: [D2, G2], stop: C4}", 270: "{edge: [D3, D6], stop: E2}"}
    laid = f"pins: {pins[turn]}\n    turn: {turn}\n    program_angle: {turn}"
    sheet = sheet_of(setups(BASE.replace("pins: {edge: [D2, G2], stop: C4}", laid)))
    jig, stock = (
        drawn_outline(sheet, 'fill="#f2f2f2"'),
        drawn_outline(sheet, 'fill="none"[^>]*stroke-dasharray'),
    )
    told = re.search(
        r"Lay the stock on the seat as drawn, (\S+) mm from left to right, (\S+) deep: (\S+) mm "
        r"from the jig's LEFT edge(?:, which points (?:to your |to )?(\w+).*?)?, (\S+) mm from its "
        r"FRONT edge(?:, which points [a-z ]+)?. Fix it in the jig; nothing may rock.",
        Page(sheet).words,
    )
    points, (wide, deep, left, front) = told[4], (float(told[at]) for at in (1, 2, 3, 5))
    assert points == {0: None, 90: "you", 180: "right", 270: "away"}[turn]
    assert (wide, deep) == pytest.approx((stock[2] - stock[0], stock[3] - stock[1]), abs=0.02)
    gaps = [abs(a - b) for a, b in zip(jig, stock, strict=True)]  # left, lower, right, upper
    faces = ["left", "you", "right", "away"].index(
        re.search(r"its FRONT edge (?:to your |to )?(\w+)", Page(sheet).words)[1]
    )
    assert (front, left) == pytest.approx((gaps[faces], gaps[(faces - 1) % 4]), abs=0.02)
    assert len({wide, deep, left, front}) == 4


def test_clamps_that_reach_over_the_stock_are_set_when_it_lies_there() -> None:
    """A clamp beside it holds the jig, and is set before; what the stock lies against is named."""
    clamps = "{name: low, from: [0, -30], to: [20, 5], top: 35}, "
    clamps += "{name: over, from: [100, 250], to: [120, 300], top: 55}"
    text = BASE.replace("    work_off", f"    clamps: [{clamps}]\n    work_off")
    text = text.replace("    nests:", "    solids: [{name: rail, from: [20, 100], to: [25, 200], "
                        "top: 30}]\n    nests:")  # fmt: skip
    words = Page(sheet_of(setups(text))).words
    assert "until its LEFT edge meets 3. Set clamp P; nothing may rock. Lay the stock" in words
    assert "from its FRONT edge; against R (rail). Set clamp Q; nothing may rock." in words
    both = Page(sheet_of(setups(TWO_NESTS))).words
    assert "Lay stock into each nest as drawn, on the seat, 180 mm from left to right, 240 deep; "\
        "sizes stand under Stock. Fix it in the jig; nothing may rock." in both  # fmt: skip
    bare = BASE.replace("jig: panel-tray", "stock: [410, 240, 20]")
    alone = Page(sheet_of(setups(bare))).words
    assert "lay the stock on the bed as drawn, 410 mm from left to right, 240 deep." in alone
    assert "Lay the stock" not in alone
    holes = "round: {at: [40, 40], hole: 20.05}, slot: {at: [322.84, 40], width: 20.05, travel: 4}"
    askew = BASE.replace("    seat:", f"    locate: {{{holes}}}\n    seat:")
    askew = askew.replace("{edge: [D2, G2], stop: C4}", "{round: D3, slot: F5}")
    askew = askew.replace("    pins_pressed: false\n", "")
    beside = "    clamps: [{name: c, from: [440, 100], to: [470, 130], top: 40}]\n    work_offsets"
    (turned,) = setups(askew.replace("    work_offsets", beside))
    assert round(turned.angle_deg) == 45
    assert "Set clamp P; nothing may rock." in str(jig_steps([turned])[1])


@pytest.mark.parametrize(
    ("holder", "boxes", "first", "then"),
    [
        # toggles over the stock, one beyond the jig's edge too, may stand on the jig
        ("jig: panel-tray", ["[200, 100], to: [220, 120]", "[200, 200], to: [220, 300]"],
         "Fasten it to the bed", "Set clamps P and Q"),
        ("jig: panel-tray", ["[5, 5], to: [15, 15]"],  # on the jig alone
         "Fasten it to the bed, set clamp P", "Fix it in the jig"),
        ("jig: panel-tray", ["[5, -15], to: [15, 15]", "[500, 0], to: [520, 20]"],
         "Set clamps P and Q", "Fix it in the jig"),
        ("stock: [410, 240, 20]", ["[100, 100], to: [120, 120]"],  # within it
         "Fasten it to the bed, set clamp P", ""),
        ("stock: [410, 240, 20]", ["[100, 200], to: [120, 300]"], "Set clamp P", ""),
    ],
)  # fmt: skip
def test_jig_and_stock_are_fastened_unless_a_clamp_is_known_to_hold_them(
    holder: str, boxes: list[str], first: str, then: str
) -> None:
    """A jig is held by what reaches over it and off it, and over no stock; all else is a guess."""
    clamps = ", ".join(f"{{name: c{at}, from: {box}, top: 60}}" for at, box in enumerate(boxes))
    text = BASE.replace("jig: panel-tray", holder)
    steps = jig_steps(setups(text.replace("    work_off", f"    clamps: [{clamps}]\n    work_off")))
    assert str(steps[1]).endswith(f". {first}; nothing may rock.")
    assert [str(each).endswith(f". {then}; nothing may rock.") for each in steps[2:]] == (
        [True] if then else []
    )


def test_the_top_of_a_waste_sheet_is_where_z_is_touched() -> None:
    """It covers the bed, so the Z box has a row of it; laid down, it has holes for pins. By hand:
    18 mm of seat and 20 of stock on a sheet of 6 end 44 above the bed, 38 above the sheet."""
    sheet = BASE.replace("    work_off", "    under: 6\n    work_off")
    words = Page(sheet_of(setups(sheet))).words
    assert re.search(r"tip on bed −44.000 .*tip on waste sheet −38.000 .*tip on stock 0.000", words)
    assert "on a waste sheet 6 mm thick, with holes where it meets the pins, as drawn" in words
    bare = sheet.replace("jig: panel-tray", "stock: [410, 240, 20]")
    for text, on in (
        (sheet, "the face that the stock lies on"),
        (bare, "the waste sheet"),
        (bare.replace("under: 6", "under: 0"), "the bed"),
    ):
        seat = text.replace("    work_off", "    z: {zero: seat}\n    work_off")
        assert f" touch Z off on {on}. Where" in Page(sheet_of(setups(seat))).words
    assert "waste sheet" not in Page(sheet_of(setups(BASE))).words


@pytest.mark.parametrize(("pressed", "is_off"), [("true", 0), ("false", 0), ("false", 1)])
def test_bare_stock_is_never_called_a_jig(pressed: str, is_off: int) -> None:
    """Sheet, block, table and explanation of bare stock know no jig, nor where its zero is not at
    its corner; a table of both has both."""
    text = BASE.replace("jig: panel-tray", "stock: [410, 240, 20]")
    if is_off:
        text = text.replace("240, 20]\n    pin", "240, 20]\n    stock_zero: [205, 120]\n    pin")
        assert "stock_zero" in text
    text = text.replace("hole: 20.02", "hole: 20.10").replace("d: false", f"d: {pressed}")
    (found,) = setups(text)
    rows = [OffsetRow(found.facts, found.nest.name, found)]
    told = {
        "sheet": Page(sheet_of([found])).words,
        "block": render_block([found]),
        "table": offsets_table(rows),
        "explanation": render_explain(found, remedies(found)),
    }
    for where, words in told.items():
        words = re.sub(
            "jig edge|make it a jig|of the jig", "", words
        )  # a source of error, and what helps
        assert not re.search(r"\bjigs?\b", words), where
    assert "(bed long-bench, bare stock, edge D2 G2, stop C4, C2 stays empty)" in told["block"]
    if pressed == "true":
        (jig,) = setups(
            PRESSED.replace("hole: 20.02", "hole: 20.10").replace("left", "tray"), "tray"
        )
        both = offsets_table([*rows, OffsetRow(jig.facts, "a", jig)])
        assert "a jig or stock that is not pressed home" in both


def test_a_pin_that_touches_near_an_end_is_told_where_the_jig_is_pushed() -> None:
    """With the figure that the choice of pins tells: a footprint of 395 ends 5 mm beyond the pin
    that touches it 390 from the corner (by hand: 4 x 100 less a radius of 10)."""
    text = BASE.replace("footprint: [460, 280]", "footprint: [395, 280]").replace(
        "size: [410, 240, 20]", "size: [340, 240, 20]"
    )
    words = Page(sheet_of(setups(text))).words
    assert "until its LEFT edge meets 3. Look at 2: it touches only 5.0 mm from the end of its "\
        "edge. Fasten it to the bed; nothing may rock." in words  # fmt: skip
    assert "Look at" not in Page(sheet_of(setups(BASE))).words


def test_the_note_of_the_bed_is_read_with_the_reference_of_the_day() -> None:
    """Where all offsets count from a code that is set each day, its step has the note of the bed,
    a long one at the end of the sheet; where the machine homes it is not there."""
    noted = NOT_HOMING.replace("    surface:", "    note: cross scribed at A1\n    surface:")
    words = Page(sheet_of(setups(noted))).words
    step = words[words.index("First, whenever the machine was switched on") :]
    assert "Note of bed long-bench: cross scribed at A1 Put in the pins" in step
    long = noted.replace("cross scribed at A1", "cross scribed at A1 " * 20)
    words = Page(sheet_of(setups(long))).words
    assert "Note of bed long-bench: read it at the end of this sheet Put in" in words
    assert words.count("cross scribed at A1 cross") == 10
    home = BASE.replace("    surface:", "    note: cross scribed at A1\n    surface:")
    assert "scribed" not in Page(sheet_of(setups(home))).words


def test_codes_of_turned_axes_are_selected_after_their_own_blocks() -> None:
    """Where a block turns the axes for one nest, no step has the next code selected without its own
    block; an angle is told in degrees."""
    plain = Page(sheet_of(setups(TWO_NESTS))).words
    assert "G0 X0 Y0, each code in turn; machine position must read" in plain
    turned = TWO_NESTS.replace("dialect: rs274", "dialect: extended")
    words = Page(sheet_of(setups(turned.replace("angle: 0}", "angle: 0.12}")))).words
    assert "G0 X0 Y0, each after its own block; machine position must read" in words
    assert "in turn" not in words and "0.1200 degrees: the read-out follows the part" in words


@pytest.mark.parametrize(
    ("unit", "told"), [("mm", "T1 ⌀ 3.175 sticks out 25.5"), ("in", "T1 ⌀ 0.125 sticks out 1.004")]
)
def test_tools_have_the_digits_that_they_are_bought_by(unit: str, told: str) -> None:
    """An eighth of an inch is 3.175 mm on paper, as `check` tells it; a stickout is never told too
    short (25.5 mm are 1.00394 in)."""
    text = BASE.replace("    work_offsets", "    program: one\n    work_offsets")
    text += f"programs:\n  - name: one\n    file: one.nc\n    units: {unit}\n"
    text += '    tools: {"1": {diameter: 1/8 in, stickout: 25.5}}\n'
    assert told in Page(sheet_of(setups(text))).words
    bare = Page(sheet_of(setups(text.replace(", stickout: 25.5", "")))).words
    assert f"{told.partition(' sticks')[0]})" in bare and "sticks out" not in bare


@pytest.mark.parametrize(
    ("operator", "edge"),
    [("front", "the edge nearest you"), ("right", "the left edge"),
     ("back", "the edge farthest from you"), ("left", "the right edge")],
)  # fmt: skip
def test_an_edge_of_bare_stock_is_called_as_it_is_seen(operator: str, edge: str) -> None:
    """It has no marked edges: that at pins 1 and 2 is the one nearest, farthest, left or right; it
    is fastened, since no clamp of it is on file."""
    text = BASE.replace("jig: panel-tray", "stock: [410, 240, 20]")
    text = text.replace("dialect: rs274", f"dialect: rs274\n    operator: {operator}")
    words = Page(sheet_of(setups(text))).words
    assert f" 1 D2 {edge} 2 G2 {edge} " in words
    assert f"Lay {edge} against 1 and 2" in words
    assert "Fasten it to the bed; nothing may rock." in words
    assert "points" not in words.split("In this order")[1].split("How well")[0]


def test_what_is_not_counted_is_told_in_words_of_the_bench() -> None:
    """Sources of error have names that reports share; the sheet says what they are."""
    text = PRESSED.replace("    edge_straightness: 0\n", "").replace("jig: panel-tray",
        "stock: [410, 240, 20]")  # fmt: skip
    words = Page(sheet_of(setups(text))).words
    told = words[words.index("How well:") : words.index("No safeguard")]
    assert "Not counted, since nobody gave it: where the bed lies (no survey), straight" in told
    assert "jig" not in told
