"""The second place of a sheet's check, which shows whether the controller has turned its axes.

Held against a controller that reads the block, written by itself (tests/oracles/block_reader.py).
"""

from __future__ import annotations

import math
import re

import pytest
from blocks import EXTENSIONS, block_of, setup_of, station
from oracles.block_reader import program_angle_deg, program_origin, read_block
from oracles.worked import assert_close
from test_sheet import BASE, TWO_NESTS, Page, sheet_of
from worlds import setups

from pincorner.documents.beds import PoseEntry
from pincorner.render.pages.second_point import SecondPoint, second_point
from pincorner.setups.setup import Setup

WORDS = re.compile(r"X(-?[0-9.]+) Y(-?[0-9.]+)")
EXTENDED = BASE.replace("dialect: rs274", "dialect: extended")
TURNED_BASE = EXTENDED.replace("angle: 0}", "angle: 0.12}")


def point_of(setup: Setup) -> SecondPoint:
    """The second place of a setup that has one."""
    found = second_point(setup)
    assert found is not None
    return found


@pytest.mark.parametrize("dialect", ["rs274-turned", "extended"])
@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("bed_deg", [0.2002, -3.7, 0.0003, 90.12, 179.99, -88.5])
def test_it_reads_as_the_controller_reckons_it(dialect: str, unit: str, bed_deg: float) -> None:
    """A controller that has read the block stands, at the words told, where the sheet says, to half
    the last digit; and elsewhere if it did not turn."""
    machine = {"units": unit, "max_skew": 9999.0, "travel": None}
    bed = {"pose": PoseEntry(x=600, y=655, angle=bed_deg)}
    found = station(dialect, bed=bed, machine=machine, work_offsets={"a": "G55"})
    setup = setup_of(found)
    point = point_of(setup)
    match = WORDS.fullmatch(point.words)
    assert match is not None
    go = complex(float(match[1]), float(match[2]))
    after = read_block(block_of(found), None, EXTENSIONS[dialect])
    x, y, _ = program_origin(after, unit)
    angle = math.radians(program_angle_deg(after))
    at = complex(x, y) + go * complex(math.cos(angle), math.sin(angle))
    half = 0.5001e-3 if unit == "mm" else 0.5001e-4
    assert_close(float(point.x), at.real, half, "half the last digit printed")
    assert_close(float(point.y), at.imag, half, "half the last digit printed")
    unturned = complex(x, y) + go
    assert abs(complex(float(point.x), float(point.y)) - unturned) > half


@pytest.mark.parametrize(
    ("size", "start", "words"),
    [
        ((410, 240, 20), (0, 0), "X400 Y0"), ((101.5, 60, 25), (0, 0), "X100 Y0"),
        ((101.5, 60, 25), (-101.5, 0), "X-100 Y0"), ((60, 199, 25), (0, -199), "X0 Y-150"),
        ((60, 60, 25), (0, 0), "X60 Y0"), ((80, 80, 25), (-40, -40), "X40 Y0"),
    ],
)  # fmt: skip
def test_it_lies_far_over_the_stock(
    size: tuple[float, float, float], start: tuple[float, float], words: str
) -> None:
    """A round length along the axis on which the stock reaches farthest from the zero."""
    stock = f"stock: {{from: [{start[0]}, {start[1]}], size: [{size[0]}, {size[1]}, {size[2]}]}}"
    text = TURNED_BASE.replace("stock: {size: [410, 240, 20]}", stock)
    (setup,) = setups(text.replace("zero: [25, 20]", f"zero: [{25 - start[0]}, {20 - start[1]}]"))
    assert point_of(setup).words == words


def test_it_lies_within_the_travel() -> None:
    """Where the farther end of the stock is out of reach, the next round length is told."""
    short = TURNED_BASE.replace("x: [0, 1540]", "x: [0, 610]")
    (setup,) = setups(short)
    assert point_of(setup).words == "X300 Y0"


@pytest.mark.parametrize(
    "text",
    [
        BASE,
        EXTENDED,
        TURNED_BASE.replace("angle: 0.12}", "angle: 0.0001}").replace("410, 240", "4, 3"),
    ],
    ids=["not written", "not turned", "not seen"],
)
def test_there_is_none_where_it_shows_nothing(text: str) -> None:
    """Axes that are not turned, or not by what a read-out shows, have no second place."""
    (setup,) = setups(text)
    assert second_point(setup) is None
    assert "axes are not turned" not in Page(sheet_of([setup])).words


def test_the_sheet_tells_it() -> None:
    """In the box of what the machine must read, and in the step that looks there; the angle, which
    no machine position shows, is in the step about turned axes."""
    (setup,) = setups(TURNED_BASE)
    words = Page(sheet_of([setup])).words
    assert "X 294.727 Y 185.492 then G0 X400 Y0 : X 694.726 Y 186.330 If not, stop: it is " in words
    assert "Then G0 X400 Y0 : it reads as above, or the axes are not turned." in words
    assert "by 0.1200 degrees" in words and "No program may begin with G69" in words
    both = setups(TWO_NESTS.replace("dialect: rs274", "dialect: rs274-turned").replace(
        "angle: 0}", "angle: 0.12}"))  # fmt: skip
    words = Page(sheet_of(both)).words
    assert words.count("then G0 X0 Y200 :") == 2 and "the second place" in words
    assert "G69" not in words


def test_keyed_figures_have_it_in_the_step() -> None:
    """Where the box is to be keyed in, nothing stands there that is not."""
    own = "dialects: [{name: ours, work_offsets: [G55], write: none, rotation: r-word}]\n"
    text = TURNED_BASE.replace("dialect: extended", "dialect: ours") + own
    words = Page(sheet_of(setups(text))).words
    assert "R 0.1200°" in words and "then G0" not in words
    assert "Then G0 X400 Y0 : it reads X 694.726 Y 186.330 , or the axes are not turned" in words


def test_under_g68_the_reference_is_read_behind_g69() -> None:
    """No code may be selected while the axes are turned: G69 first, then G54, then the block."""
    text = TURNED_BASE.replace("dialect: extended", "dialect: extended\n    homes: false")
    text = text.replace("x: 60", "x: -560")
    own = "dialects: [{name: ours, work_offsets: [G55], rotation: g68, expressions: true}]\n"
    words = Page(sheet_of(setups(text.replace("dialect: extended", "dialect: ours") + own))).words
    assert "after G69 and with G54 selected it must read" in words
    assert "Then run the block alone again" in words and "Then select G55" not in words
