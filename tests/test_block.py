"""Setup blocks: exact text, what a controller does with them, and what never gets into them."""

from __future__ import annotations

import re
from functools import cache
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from oracles.block_reader import (
    MachineState,
    ReadError,
    program_angle_deg,
    program_origin,
    read_block,
)
from oracles.worked import assert_close
from worlds import BASE, World, facts, world

from pincorner.documents.beds import Bed, Extra, Pin, PoseEntry, Solid
from pincorner.documents.fields import check_name
from pincorner.documents.jigs import Nest, Stock
from pincorner.documents.machines import Dialect
from pincorner.documents.records import Program
from pincorner.documents.stations import EdgePins, PinInHole, ZRule
from pincorner.errors import Refused
from pincorner.render.block import render_block
from pincorner.render.word_check import BlockFaultError, check_block
from pincorner.setups.facts import Facts
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups

A0 = """\
(setup left a {0} from here)
(bed long-bench, jig panel-tray, edge D2 G2, stop C4, C2 stays empty)
(Z NOT SET BY THIS BLOCK, SET IT IN G55, NOT BY G92)
(G55 Z0 IS 38.000 MM ABOVE THE BED SURFACE)
(TOOL TIP ON THE BED SURFACE MUST READ Z-38.000)
G21 G90
G17 G40 G80
G92.1
G10 L2 P2 X295.000 Y185.000
G55
(MM STAYS ACTIVE, setup {0} to here)
"""
EXTENSIONS = {
    "ngc": frozenset[str](),
    "ngc-r": frozenset({"r-word"}),
    "six": frozenset({"six", "converts", "no-expressions"}),
    "extended": frozenset({"six", "converts", "no-expressions", "g68", "g54.1", "g52"}),
}
NINE = ["G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3"]


@cache
def plain_world() -> World:
    """The world of the worked examples and a program, read once; documents are frozen."""
    return world(BASE + "programs:\n  - {name: hand-hold, file: hand-hold.nc}\n")


def station(
    dialect: str | dict[str, Any] = "ngc",
    *,
    machine: dict[str, Any] | None = None,
    bed: dict[str, Any] | None = None,
    jig: dict[str, Any] | None = None,
    **changes: Any,
) -> Facts:
    """Station `left` with keys of its documents changed; a dict is a dialect of the shop's own."""
    found = facts(plain_world(), **changes)
    if isinstance(dialect, str):
        spoken = plain_world()["dialect", dialect]
    else:
        spoken = Dialect.model_validate({"name": "d", "work_offsets": ["G54", "G55"]} | dialect)
    return found._replace(
        dialect=spoken,
        machine=found.machine.model_copy(update={"max_skew": 5.0} | (machine or {})),
        bed=Bed.model_validate(found.bed.model_copy(update=bed or {}).model_dump(by_alias=True)),
        holder=found.holder.model_copy(update=jig or {}),
    )


def setup_of(found: Facts) -> Setup:
    """The setup of the first nest."""
    return make_setups(found)[0]


def block_of(found: Facts) -> str:
    """The block of all nests, the first selected."""
    return render_block(make_setups(found))


TURNED = {"pose": PoseEntry(x=60, y=55, angle=0.12)}
TWO = tuple(
    Nest(name=name, zero=(x, 20.0), stock=Stock(size=(180.0, 240.0, 20.0)))
    for name, x in (("a", 25.0), ("b", 245.0))
)
Z_REFERENCE, Z_MACHINE = ZRule(set="reference"), ZRule(set="machine")
OTHER_BLOCKS: dict[str, tuple[Facts, str]] = {
    "inch": (
        station(machine={"units": "in"}),
        A0.replace("38.000 MM", "1.4961 INCH").replace("Z-38.000", "Z-1.4961")
        .replace("G21", "G20").replace("X295.000 Y185.000", "X11.6142 Y7.2835")
        .replace("(MM", "(INCH"),
    ),
    "two nests": (
        station(jig={"nests": TWO}, work_offsets={"a": "G55", "b": "G59.1"}),
        A0.replace("(Z NOT", "(nest b in G59.1, setup {1})\n(Z NOT", 1)
        .replace("G21 G90", "(Z NOT SET BY THIS BLOCK, SET IT IN G59.1, NOT BY G92)\n"
                 "(G59.1 Z0 IS 38.000 MM ABOVE THE BED SURFACE)\n"
                 "(TOOL TIP ON THE BED SURFACE MUST READ Z-38.000)\nG21 G90")
        .replace("Y185.000\n", "Y185.000\nG10 L2 P7 X515.000 Y185.000\n"),
    ),
    "skew": (
        station(bed=TURNED),
        A0.replace("G21 G90", "(ANGLE 0.1200 DEGREES NOT WRITTEN, UP TO 0.995 MM OVER THE STOCK)\n"
                   "G21 G90").replace("X295.000 Y185.000", "X294.727 Y185.492"),
    ),
    "turned": (
        station("ngc-r", bed=TURNED),
        A0.replace("X295.000 Y185.000", "X294.727 Y185.492 R0.1200"),
    ),
    "not turned": (station("ngc-r"), A0.replace("Y185.000", "Y185.000 R0.0000")),
    "z reference": (
        station(z=Z_REFERENCE),
        A0.replace("(Z NOT SET BY THIS BLOCK, SET IT IN G55, NOT BY G92)",
                   "(Z COUNTS FROM G54, WHOSE Z ZERO IS THE BED SURFACE, NOT BY G92)")
        .replace("Y185.000", "Y185.000 Z[#5223+38.000]"),
    ),
    "z machine": (
        station(z=Z_MACHINE, machine={"tool_lengths": "gauge"}),
        A0.replace("(Z NOT SET BY THIS BLOCK, SET IT IN G55, NOT BY G92)",
                   "(Z SET BY THIS BLOCK, TOOL LENGTHS MUST BE APPLIED)")
        .replace("Y185.000", "Y185.000 Z-82.000"),
    ),
    "does not home": (
        station(machine={"homes": False}, bed={"pose": PoseEntry(x=60, y=-142.125)}),
        A0.replace("X295.000 Y185.000", "X[#5221+295.000] Y[#5222-12.125]")
        .replace("G21 G90", "(OFFSETS COUNT FROM G54, SET AT THE REFERENCE, NOT BY G92)\nG21 G90"),
    ),
    "upper case": (
        station({"upper_case": True}),
        A0.replace("from here", "FROM HERE").replace("to here", "TO HERE")
        .replace("setup", "SETUP").replace("left a", "LEFT A").replace("stop", "STOP")
        .replace("bed long-bench, jig panel-tray, edge", "BED LONG-BENCH, JIG PANEL-TRAY, EDGE")
        .replace("stays empty", "STAYS EMPTY"),
    ),
    "semicolon": (
        station({"comment": "semicolon"}),
        re.sub(r"^\((.*)\)$", r"; \1", A0, flags=re.MULTILINE),
    ),
    "short lines": (
        station({"line_length": 40}),
        A0.replace("edge D2 G2, stop C4, C2", "edge)\n(and D2 G2, stop C4, C2")
        .replace("SET IT IN G55", "SET IT IN)\n(and G55")
        .replace("BED SURFACE)", "BED)\n(and SURFACE)")
        .replace("READ Z", "READ)\n(and Z").replace("{0} to", "{0} to)\n(and"),
    ),
    "restored unit": (
        station("six")._replace(program=Program(name="p", file="p.nc", units="in")),
        A0.replace("G55\n(MM", "G55\nG20\n(INCH"),
    ),
    "extended": (
        station("extended", bed=TURNED, work_offsets={"a": "G54.1 P7"}),
        A0.replace("G92.1\nG10 L2 P2 X295.000 Y185.000\nG55\n",
                   "G69\nG52 X0 Y0 Z0\nG54.1 P7\nG10 L20 P7 X294.727 Y185.492\n"
                   "G54.1 P7\nG68 X0 Y0 R0.1200\n(THE PROGRAM MUST END WITH G69 IN FRONT OF M2 OR "
                   "M30, RUN G69 AFTER ANY STOP)\n").replace("G55", "G54.1 P7"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", ["worked", *OTHER_BLOCKS])
def test_exact_blocks(name: str) -> None:
    """A block is this text, line by line, and only the fingerprints come from the setup."""
    found, want = OTHER_BLOCKS.get(name, (station(), A0))
    made = make_setups(found)
    text = render_block(made)
    assert text.splitlines() == want.format(*(each.fingerprint for each in made)).splitlines()
    assert text.endswith("\n")


def origin_of(found: Facts, state: MachineState, extensions: frozenset[str]) -> Setup:
    """The station's setup, once a controller that read its block has the zero where it says."""
    setup, unit = setup_of(found), found.machine.units
    after = read_block(block_of(found), state, extensions)
    half, factor = (0.51e-3, 1.0) if unit == "mm" else (0.51e-4, 25.4)
    x, y, _ = program_origin(after, unit)
    zero = setup.zero_in_machine
    assert_close(x, zero.x_mm / factor, half, "half the last digit printed")
    assert_close(y, zero.y_mm / factor, half, "half the last digit printed")
    assert (after.moved, after.distance, after.plane, after.cutter_comp) == (
        False, "G90", "G17", "G40",
    )  # fmt: skip
    angle = setup.angle_deg if setup.writes_angle else 0.0
    assert_close(program_angle_deg(after), angle, 0.51e-4, "half the last digit printed")
    assert not after.messages
    return setup


DIRTY: list[dict[str, Any]] = [
    {},
    {"g92": {"X": 7.0, "Y": -3.0, "Z": 2.0}, "parameters": {5211: 7.0, 5212: -3.0, 5213: 2.0}},
    {"distance": "G91", "plane": "G18", "motion": "G81", "system": 4, "feed_mode": "G93"},
    {"cutter_comp": "G41", "plane": "G19", "tool_length": "G43", "position": None},
]


@pytest.mark.parametrize("code", NINE)
@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("other_unit", [False, True])
def test_all_nine_systems_are_read_back(code: str, unit: str, other_unit: bool) -> None:
    """Whatever state a controller was left in, its zero lies where the transform says."""
    found = station(machine={"units": unit}, work_offsets={"a": code}, bed=TURNED)
    for dirt in DIRTY:
        if other_unit and "cutter_comp" in dirt:
            continue  # the report's interpreter stops at a unit change under compensation
        start = unit if not other_unit else {"mm": "in", "in": "mm"}[unit]
        origin_of(found, MachineState(unit=start, **dirt), EXTENSIONS["ngc"])


@pytest.mark.parametrize(
    ("dialect", "code"),
    [("ngc-r", "G54"), ("ngc-r", "G59.3"), ("six", "G54"), ("six", "G59"), ("extended", "G57"),
     ("extended", "G54.1 P1"), ("extended", "G54.1 P48")],
)  # fmt: skip
@pytest.mark.parametrize("bed_deg", [0.0, 0.12, -3.7])
def test_other_dialects_are_read_back(dialect: str, code: str, bed_deg: float) -> None:
    """Turned, converting and further systems put the zero, and any old rotation goes."""
    bed = {"pose": PoseEntry(x=60, y=155, angle=bed_deg)}
    found = station(dialect, bed=bed, work_offsets={"a": code}, machine={"max_skew": 99.0})
    state = MachineState(rotations_deg={1: 30.0, 9: -8.0} if dialect == "ngc-r" else {})
    if dialect == "extended":
        state.g68, state.g52["X"] = (1.0, 2.0, 33.0), 5.0
    origin_of(found, state, EXTENSIONS[dialect])


def test_a_converting_controller_keeps_the_zero_in_the_programs_unit() -> None:
    """Where origins convert, the program's inches find the zero that was written in millimetres."""
    found = station("six")._replace(program=Program(name="p", file="p.nc", units="in"))
    after = read_block(block_of(found), None, EXTENSIONS["six"])
    assert after.unit == "in"
    assert_close(program_origin(after, "mm")[0], 295.0, 1e-9, "printed exactly")


def test_a_unit_change_under_compensation_stops_before_any_write() -> None:
    """Where the unit cannot change, reading stops on the block's first line and nothing is set."""
    with pytest.raises(ReadError) as stopped:
        read_block(block_of(station()), MachineState(unit="in", cutter_comp="G41"))
    assert stopped.value.text == "G21 G90"


REFUSED: list[tuple[Facts, str, str]] = [
    (station(bed=TURNED, machine={"max_skew": 0.1}), "skew", "0.995 mm over the stock, more than"),
    (station("six", work_offsets={"a": "G59.1"}), "code-unknown", "no G59.1; it has G54 to G59"),
    (station("ngc", work_offsets={"a": "G54.1 P1"}), "code-unknown", "has no G54.1 P1"),
    (station(work_offsets={}), "no-work-offset", "work_offsets: {a: G54}"),
    (station(bed={"pose": PoseEntry(x=-235.5, y=55)}), "outside-travel", "0.500 mm outside the"),
    (station(z=Z_MACHINE), "z-unknown", "do not refer to a gauge point"),
    (station(z=Z_MACHINE, machine={"homes": False}), "z-unknown", "it does not home"),
    (station(z=Z_MACHINE, machine={"tool_lengths": "gauge"}, bed={"surface": None}),
     "z-unknown", "is not known (surface:)"),
    (station(z=Z_REFERENCE, work_offsets={"a": "G54"}), "code-is-reference", "G54 holds the refer"),
    (station(machine={"homes": False}, work_offsets={"a": "G54"}), "code-is-reference", "G54"),
]  # fmt: skip


@pytest.mark.parametrize(("found", "cause", "fragment"), REFUSED)
def test_refused_blocks(found: Facts, cause: str, fragment: str) -> None:
    """A block that would write a wrong or unusable offset is refused with its figure."""
    with pytest.raises(Refused) as refusal:
        block_of(found)
    assert refusal.value.cause == cause
    assert fragment in refusal.value.text
    assert "\n" not in refusal.value.text


@pytest.mark.parametrize("bed_deg", [0.12, -0.12, 0.9, -0.9, 4.5, -4.5])
@pytest.mark.parametrize(
    ("edge", "stop", "turn"),
    [(("D2", "G2"), "C4", 0), (("K2", "H2"), "L4", 0), (("D8", "G8"), "C6", 180),
     (("C3", "C6"), "E2", 90), (("L7", "L4"), "J8", 270)],
)  # fmt: skip
def test_the_shim_takes_the_angle_out(
    bed_deg: float, edge: tuple[str, str], stop: str, turn: int
) -> None:
    """A pin of the proposed body at the proposed hole leaves less than 0.01 mm of skew."""
    # two pins a distance d apart need d sin(angle); d tan(angle) leaves 0.116 mm at 4.5 degrees
    bed = {"pose": PoseEntry(x=60, y=155, angle=bed_deg)}
    pins = EdgePins(edge=edge, stop=stop)
    less = {"program_angle": float(turn)}  # the jig's own quarter turn is in the program
    found = station(bed=bed, pins=pins, turn=turn, machine={"max_skew": 0.01}, **less)
    with pytest.raises(Refused) as refusal:
        block_of(found)
    said = re.search(r"shim the jig by .* at pin (\w+), .* body ([\d.]+) mm", refusal.value.text)
    assert said is not None, refusal.value.text
    shimmed = Pin(name="shimmed", shank=20.0, body=float(said[2]), height=22.0)
    entries = [PinInHole(hole=h, pin="shimmed") if h == said[1] else h for h in edge]
    held = pins.model_copy(update={"edge": tuple(entries)})
    mended = station(bed=bed, pins=held, turn=turn, **less)
    assert setup_of(mended._replace(pins={**mended.pins, "shimmed": shimmed})).skew_mm < 0.01


legal = st.characters(categories=["L", "M", "Nd"], include_characters=" -_.+")


def _legal(text: str) -> bool:
    try:
        return check_name(text) == text
    except ValueError:
        return False


names = st.text(legal, min_size=1, max_size=64).filter(_legal)
notes = st.text(st.characters(exclude_categories=["Cc", "Cs"], include_characters="\t\n"))
COMMENT = re.compile(r"\([A-Za-z0-9 .,+=-]+\)|; [A-Za-z0-9 .,+=-]+")
WORDS = re.compile(r"(?:G(?:10|17|2[01]|40|80|90|92\.1|5[4-9]|59\.[123])|L2|P\d|[XY]-?\d+\.\d+| )+")


@settings(deadline=None, max_examples=80)
@given(
    st.tuples(names, names, names, names, names), notes, st.sampled_from(["parens", "semicolon"]),
    st.booleans(), st.integers(40, 90),
)  # fmt: skip
def test_no_name_gets_out_of_its_comment(
    called: tuple[str, ...], note: str, comment: str, upper_case: bool, line_length: int
) -> None:
    """Whatever things are called, a block holds its own words, and comments of plain characters."""
    this, bed, jig, nest, hole = called
    spoken = {"comment": comment, "upper_case": upper_case, "line_length": line_length}
    found = station(
        spoken,
        bed={"name": bed, "note": note, "extra": (Extra(name=hole.upper(), at=(200.0, 300.0)),)},
        jig={"name": jig, "nests": (TWO[0].model_copy(update={"name": nest}),), "note": note},
        name=this, note=note, work_offsets={nest: "G55"},
        pins=EdgePins(edge=("D2", "G2"), stop=hole.upper()),
    )  # fmt: skip
    text = block_of(found)
    assert check_block(text, line_length) == text
    lines = text.split("\n")
    words = [line for line in lines if line and not COMMENT.fullmatch(line)]
    assert all(WORDS.fullmatch(line) for line in words)
    expected = A0.splitlines()[5:10]
    assert [" ".join(line.split()) for line in words] == expected
    assert text.isascii() and max(map(len, lines)) <= line_length
    assert not re.search(r"\(\s*MSG|%|^\s*[;(]\s*MSG", text, re.IGNORECASE)
    read = text if comment == "parens" else "\n".join(words)
    assert not read_block(read).messages


@pytest.mark.parametrize(
    "line",
    ["G0 X1", "G1 X1 F100", "G28", "G28 Z0", "G30", "G53 G0 Z0", "G10 L2 P1", "G10 L2 P1 X1",
     "G10 L2 P1 X1.0 Y2.0 F1.0", "G92 X0", "X1.0", "M3", "M6 T1", "T1", "S1000", "M30", "%", "O1",
     "G55 X0.0", "G90 G0", "G52 X1 Y0 Z0", "G2 X1 Y1 R1", "#5221=0", "(a) G0", "(a", "()", "(a(b))",
     "G54.1", "G68 X1 Y0 R1.0", "; a; b", ";a", "/G55", "N1 G55", "g55", "G55 ", "", "(é)"],
)  # fmt: skip
def test_words_that_do_more_are_stopped(line: str) -> None:
    """The last look lets nothing through that moves an axis or is not on its list."""
    good = A0.replace("{0}", "7F3A-91C2")
    assert check_block(good, 256) == good
    with pytest.raises(BlockFaultError):
        check_block(good.replace("G55\n", f"G55\n{line}\n"), 256)
    with pytest.raises(BlockFaultError):
        check_block(good, 60)  # a line is longer than the controller takes


OFF = {"pose": PoseEntry(x=60.002, y=55, angle=0.12)}
OFF_Y = {"pose": PoseEntry(x=60, y=55.002, angle=0.12)}
SMALLER = (TWO[0].model_copy(update={"stock": Stock(size=(410.0, 239.0, 20.0))}),)
ONE = TWO[0].model_copy(update={"stock": Stock(size=(410.0, 240.0, 20.0))})
CHANGES: list[tuple[str, dict[str, Any], bool]] = [  # what, keys, whether the fingerprint changes
    ("station", {"name": "right"}, True),
    ("nest", {"jig": {"nests": (ONE.model_copy(update={"name": "b"}),)}}, True),
    ("bed", {"bed": TURNED | {"name": "short-bench"}}, True),
    ("jig", {"jig": {"name": "lid-tray", "nests": (ONE,)}}, True),
    ("hole", {"pins": EdgePins(edge=("E2", "G2"), stop="C4")}, True),
    ("role", {"pins": EdgePins(edge=("G2", "D2"), stop="C4")}, False),  # the order only
    ("turn", {"turn": 180}, True),
    ("code", {"work_offsets": {"a": "G56"}}, True),
    ("unit", {"machine": {"units": "in"}}, True),
    ("x", {"bed": OFF}, True),
    ("y", {"bed": OFF_Y}, True),
    ("x within the last digit", {"bed": {"pose": PoseEntry(x=60.0001, y=55, angle=0.12)}}, False),
    ("z", {"z": Z_MACHINE, "machine": {"tool_lengths": "gauge"}}, True),
    ("z word", {"z": Z_REFERENCE}, True),
    ("x word", {"machine": {"homes": False}}, True),
    ("r", {"dialect": "ngc-r"}, True),
    ("h", {"under": 1.0}, True),
    ("stock", {"jig": {"nests": SMALLER}}, True),
    ("program", {"program": "hand-hold"}, True),
    ("program angle", {"program_angle": 0.12}, True),
    ("notes", {"note": "new", "bed": TURNED | {"note": "new"}, "jig": {"note": "new"}}, False),
    ("clamps", {"clamps": (Solid(name="c", to=(9, 9), top=35, **{"from": (0, 0)}),)}, False),
    ("uncertainties", {"machine": {"repeatability": 0.2, "homing": 0.3}}, False),
]  # fmt: skip


@pytest.mark.parametrize(("what", "keys", "changes"), CHANGES, ids=[each[0] for each in CHANGES])
def test_what_a_fingerprint_stands_for(what: str, keys: dict[str, Any], changes: bool) -> None:
    """A fingerprint changes with each printed ingredient and with nothing else (geometry 7)."""
    before = setup_of(station(bed=TURNED)).fingerprint
    after = setup_of(station(**({"bed": TURNED} | keys))).fingerprint
    assert re.fullmatch(r"[0-9A-F]{4}-[0-9A-F]{4}", after)
    assert (after != before) == changes, what


def test_a_half_turn_prints_without_a_sign() -> None:
    """An offset's angle never prints as -180: it lies in (-180, 180] (geometry 3)."""
    bed = {"pose": PoseEntry(x=600, y=155, angle=4.49)}
    jig = {"nests": (TWO[0].model_copy(update={"angle": 45.0}),)}
    found = station("ngc-r", bed=bed, jig=jig, turn=180, program_angle=49.49)
    assert setup_of(found).printed.angle == "180.0000"


def test_spelled_zeros_take_a_shift_back() -> None:
    """A dialect may spell the shift it takes back with decimals, as its document allows."""
    assert "G52 X0.0 Y0.0" in block_of(station({"cancel": ["G52 X0.0 Y0.0"]}))


def test_short_lines_hold_any_write_or_refuse() -> None:
    """Where a write does not fit a controller's line, it is split or refused, never a fault."""
    found = station({"line_length": 40, "expressions": True}, machine={"homes": False})
    try:
        text = block_of(found)
    except Refused:
        return
    assert max(map(len, text.splitlines())) <= 40


@pytest.mark.parametrize(
    ("dialect", "rule"),
    [({"expressions": False}, Z_REFERENCE), ({"write": "none"}, Z_REFERENCE),
     ({"write": "none"}, Z_MACHINE)],
)  # fmt: skip
def test_z_that_is_not_written_is_not_claimed(dialect: dict[str, Any], rule: ZRule) -> None:
    """A block without a Z word leaves the sum open or gives it to be keyed in (geometry 4)."""
    text = block_of(station(dialect, z=rule, machine={"tool_lengths": "gauge"}))
    assert not re.search(r"^G10.* Z", text, re.MULTILINE)
    assert "Z SET BY THIS BLOCK" not in text
    assert re.search(r"\bZ\b.*(\+ 38\.000|-82\.000)", text)


def test_an_angle_to_key_in_is_told() -> None:
    """Where the angle is keyed in by hand, the line to key in holds it."""
    text = block_of(station({"write": "none", "rotation": "r-word"}, bed=TURNED))
    assert "KEY IN" in text and "0.1200" in text


def test_a_rotation_is_taken_off_before_it_is_put_on() -> None:
    """A dialect that rotates by G68 takes an old rotation off first (geometry 7, order)."""
    words = block_of(station({"rotation": "g68"})).splitlines()
    assert words.index("G69") < words.index("G68 X0 Y0 R0.0000")


def test_one_nest_a_block_is_refused_for_itself_alone() -> None:
    """Where a block holds one nest, another nest's travel does not speak against it."""
    far = TWO[1].model_copy(update={"zero": (9000.0, 20.0)})
    both = {"nests": (TWO[0], far)}
    found = station("extended", jig=both, work_offsets={"a": "G55", "b": "G56"})
    assert "G56" not in render_block(make_setups(found), "a")
