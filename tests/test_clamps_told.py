"""Where the sheet says that clamps are: as they were told to `start`, or could be by who sets them.

A clamp can be set by a figure along its edge and how far it reaches in; both are the person's.
"""

from __future__ import annotations

import re
from itertools import product
from pathlib import Path

import pytest
from test_sheet import BASE_INCH
from test_start import GOOD, walked
from thinning import thinned
from worlds import BASE, setups

from pincorner.render.drawing.lie import clamp_told
from pincorner.setups.setup import Setup
from pincorner.standing import standing_of
from pincorner.work.first.asked.clamped import held_mm, tells_top
from pincorner.work.first.questions import WRITE

CLAMPS = {
    "clamps": "2 far, 1 right, 1 near, 1 left", "clamp_wide": "25", "clamp_out": "30",
    "clamp_over": "8", "clamp_top": "45",
}  # fmt: skip
ALONG = {"far": "60, 150", "right": "40", "near": "70", "left": "50"}
"""Along each edge as whoever stands there sees it, from its left or near end."""
PIECE = {"pitch": "25", "holes": "40 x 40", "hole": "10", "corner": "R20", "toward": "+x+y",
         "posted": "yes", "stock": "200 x 190 x 18"}  # fmt: skip
JIG = {"holder": "jig", "footprint": "220 x 210", "seat": "12", "height": "12", "lies": "10 10",
       "clamps_stay": "no"}  # fmt: skip
SIDES = ("front", "right", "back", "left")
IN_SIGHT = {
    "to your left": "left", "to your right": "right", "away from you": "far", "to you": "near",
}  # fmt: skip


def placed(setup: Setup) -> list[str]:
    """Where each clamp of a station is told to be."""
    return [clamp_told(setup, each) for each in standing_of(setup) if each.kind == "clamp"]


def started(folder: Path, **answers: str) -> Setup:
    """A station as `start` makes it, with clamps on all four edges as they are seen there."""
    walk = walked(folder, **{**GOOD, **PIECE, **CLAMPS, **answers})
    while (question := walk.next()) is not WRITE:
        assert not walk.wrong, walk.wrong
        text = walk.default(question) or question.example(walk.said)
        if question.key.startswith("clamps_"):
            edge = re.match(r"Along the (\w+) edge", question.told_words(walk.said))
            assert edge is not None
            text = ALONG[edge[1]]
        walk.given[question.key] = text
    assert walk.drafted.setup is not None
    return walk.drafted.setup


AS_SEEN = [
    "150 from left, 8 over far edge", "40 from near, 8 over right edge",
    "50 from near, 8 over left edge", "60 from left, 8 over far edge",
    "70 from left, 8 over near edge",
]  # fmt: skip


@pytest.mark.parametrize("operator", SIDES)
def test_of_bare_stock_as_start_was_told(tmp_path: Path, operator: str) -> None:
    """The sides are those of the person, wherever they stand; 60 from the left end is 60 there."""
    assert sorted(placed(started(tmp_path, holder="stock", operator=operator))) == AS_SEEN


WAYS = [*product("1234", SIDES)]
"""How a jig lies and where the person stands; in the suite each of either once."""


@pytest.mark.parametrize(("turn", "operator"), WAYS if thinned(12) == 12 else WAYS[::5])
def test_of_a_jig_as_start_was_told(tmp_path: Path, turn: str, operator: str) -> None:
    """The same of a jig, however it lies turned."""
    assert sorted(placed(started(tmp_path, **JIG, turn=turn, operator=operator))) == AS_SEEN


def clamped(base: str, *boxes: str) -> list[str]:
    """What is told of clamps with these corners."""
    clamps = ", ".join(f"{{name: c{at}, {box}, top: 35}}" for at, box in enumerate(boxes))
    return placed(setups(base.replace("    work_off", f"    clamps: [{clamps}]\n    work_off"))[0])


def test_over_no_edge_or_two() -> None:
    """Where no one edge can be named the middle is told from two; a clamp that just touches its
    edge goes up to it."""
    assert clamped(
        BASE,
        "from: [100, 90], to: [140, 120]",  # inside
        "from: [-20, -20], to: [30, 40]",  # over the front left corner
        "from: [100, -40], to: [140, 0]",  # up to the front edge
        "from: [100, -50], to: [140, -10]",  # before it
        "from: [0, 260], to: [40.25, 300]",
        "from: [100, 290], to: [140, 310]",  # behind it
    ) == [
        "120 from left, 105 from near", "5 from left, 10 from near",
        "120 from left, up to near edge",
        "120 from left, 30 beyond near", "20.125 from left, 20 over far edge",
        "120 from left, 20 beyond far",
    ]  # fmt: skip
    assert clamped(BASE_INCH, "from: [100, -20], to: [154, 25.4]") == [
        "5 from left, 1 over near edge"
    ]


@pytest.mark.parametrize(
    ("outline", "told"),
    [
        # the front left corner is cut off at 45 degrees
        ("[[60, 0], [460, 0], [460, 280], [0, 280], [0, 60]]",
         ["20 from left, 10 from near", "100 from left, 10 over near edge"]),
        # a step: its front edge begins behind the first clamp
        ("[[90, 0], [460, 0], [460, 280], [0, 280], [0, 40], [90, 40]]",
         ["20 from left, 10 from near", "100 from left, 10 beyond near"]),
    ],
)  # fmt: skip
def test_of_jigs_that_are_no_rectangle(outline: str, told: list[str]) -> None:
    """An edge is named where it is straight all along the clamp; else the middle is told."""
    base = BASE.replace("footprint: [460, 280]", f"footprint: {outline}")
    assert base != BASE
    boxes = ("from: [5, -10], to: [35, 30]", "from: [85, -30], to: [115, 10]")
    assert clamped(base, *boxes) == told


@pytest.mark.parametrize("holder", ["stock", "jig"])
def test_heights_of_clamps_count_a_waste_sheet(tmp_path: Path, holder: str) -> None:
    """What `start` says of a clamp's top, from the bed, over work on a sheet is what the station
    has."""
    how = JIG if holder == "jig" else {"holder": holder}
    walk = walked(tmp_path, **{**GOOD, **PIECE, **CLAMPS, **how, "under": "6"})
    while (question := walk.next()) is not WRITE:
        walk.given[question.key] = walk.default(question) or question.example(walk.said)
    assert walk.drafted.setup is not None
    heights, top = walk.drafted.setup.heights, walk.said["clamp_top"]
    over_mm = top.mm - heights.stock_top_mm
    assert f"45 mm above the bed, {over_mm:g} mm above the piece's top" == tells_top(top, walk.said)
    held = heights.stock_bottom_mm if holder == "jig" else heights.stock_top_mm
    assert held_mm(walk.said) == pytest.approx(held)
