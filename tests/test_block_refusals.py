"""Blocks that are not written, with the figure, and the ways out that are offered."""

from __future__ import annotations

import math
import re
from typing import Any

import pytest
from blocks import TURNED, Z_MACHINE, Z_REFERENCE, block_of, explain_of, setup_of, station
from oracles.worked import assert_close

from pincorner.documents.beds import Pin, PoseEntry
from pincorner.documents.jigs import Nest, Stock
from pincorner.documents.stations import EdgePins, PinInHole
from pincorner.errors import Refused
from pincorner.render.blocks.guards import plain_ascii
from pincorner.render.pages.steps import angle_in_words
from pincorner.setups.facts import Facts
from pincorner.units import parse_length

REFUSED: list[tuple[Facts, str, str]] = [
    (station(bed=TURNED, machine={"max_skew": 0.1}), "skew", "0.995 mm over the stock, more than"),
    (station("six", work_offsets={"a": "G59.1"}), "code-unknown", "no G59.1; it has G54 to G59"),
    (station("rs274", work_offsets={"a": "G54.1 P1"}), "code-unknown", "has no G54.1 P1"),
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


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("bed_deg", [0.12, -0.031, 0.9])
def test_the_skew_that_is_offered_is_enough(unit: str, bed_deg: float) -> None:
    """With the max_skew of the command that is offered the block is written, and says so."""
    bed, machine = {"pose": PoseEntry(x=60, y=155, angle=bed_deg)}, {"units": unit}
    refused = setup_of(station(bed=bed, machine={**machine, "max_skew": 0.01}))
    assert refused.too_skew is not None
    kinds = ["shim", "accept", "post", "use"]
    assert [way.split()[0] for way in refused.too_skew.ways_out] == kinds  # what is least work
    said = re.search(r"register left --max-skew ([\d.]+)(mm|in)$", refused.too_skew.ways_out[1])
    assert said is not None and said[2] == unit
    own = parse_length(f"{said[1]}{said[2]}", None)
    assert refused.skew_mm <= own < refused.skew_mm + (0.01 if unit == "mm" else 0.00255)
    found = station(bed=bed, machine={**machine, "max_skew": 0.01}, max_skew=own)
    told = next(f for f in setup_of(found).findings if f.code == "own-max-skew")
    assert "askew, and nothing turns that" in told.text
    lines = block_of(found).replace(")\n(cont ", " ")
    assert f"(NOTE {plain_ascii(told.text)})" in lines


def test_a_stricter_station() -> None:
    """A station may bear less than its machine's others, and is refused where they are not."""
    bed = {"pose": PoseEntry(x=60, y=155, angle=0.01)}
    assert not setup_of(station(bed=bed, machine={"max_skew": 0.1})).no_block
    strict = setup_of(station(bed=bed, machine={"max_skew": 0.1}, max_skew=0.02))
    assert strict.too_skew is not None
    assert "more than max_skew 0.020 mm" in strict.too_skew.text
    same = setup_of(station(bed=bed, machine={"max_skew": 0.1}, max_skew=0.1))
    assert not same.findings


@pytest.mark.parametrize(
    ("turn", "posted", "to_post", "told"),
    [(0, 180, "0", "0 degrees"), (180, 0, "180", "180 degrees"),
     (270, 90, "-90", "90 degrees clockwise")],
)  # fmt: skip
def test_the_angle_to_post_at_is_less_than_a_whole_turn(
    turn: int, posted: float, to_post: str, told: str
) -> None:
    """A program posted turned by 90 and a jig turned by 270 want it posted by -90, not by 270."""
    pins = EdgePins(
        edge=("F4", "F6") if turn % 180 else ("F4", "I4"), stop="G3" if turn % 180 else "E6"
    )
    found = station(pins=pins, turn=turn, program_angle=float(posted))
    setup = setup_of(found)
    assert setup.too_skew is not None
    words = f"post the program turned by {told} and say program_angle: {to_post}"
    assert words in setup.too_skew.ways_out
    assert setup_of(station(pins=pins, turn=turn, program_angle=float(to_post))).too_skew is None


def rounded(places: int, limit_mm: float, **changes: Any) -> Facts:
    """A board of 1250 x 160 on a bed that is turned by 0.149 degrees, so many decimals written."""
    board = Nest(name="a", zero=(25.0, 20.0), stock=Stock(size=(1250.0, 160.0, 20.0)))
    dialect = {"write": "g10-l2", "rotation": "r-word", "decimals": {"deg": places}}
    return station(
        changes.pop("dialect", dialect),
        bed={"pose": PoseEntry(x=60, y=55, angle=0.149)},
        jig={"nests": (board,), "footprint": (1300.0, 200.0)},
        machine={"max_skew": limit_mm, "travel": None},
        work_offsets={"a": "G55"},
        **changes,
    )


def test_what_a_rounded_angle_leaves_is_skew() -> None:
    """0.149 written as 0.1 leaves 1.08 mm at the far corner of 1250 x 160: no block (by hand)."""
    setup = setup_of(rounded(1, 0.1))
    assert setup.too_skew is not None and setup.printed.words[-1].word == "0.1"
    by_hand = 2 * math.sin(math.radians(0.049) / 2) * math.hypot(1250, 160)
    assert_close(setup.skew_mm, by_hand, 1e-9, "a chord of the remainder")
    assert f"{setup.skew_mm:.2f}" == "1.08"
    said = setup.too_skew.text
    assert "turned by 0.1490 degrees and dialect d writes it as 0.1: 1.078 mm over" in said
    kinds = ["have", "shim", "accept", "post"]
    assert [way.split()[0] for way in setup.too_skew.ways_out] == kinds
    assert "told 0.1 of 0.1490 degrees" in explain_of(setup)


def test_a_rounded_angle_that_is_borne_is_told_everywhere() -> None:
    """Below max_skew block, table and sheet say what is written of the angle, and the figure."""
    setup = setup_of(rounded(1, 5.0))
    words = "angle 0.1490 degrees is written as 0.1"
    assert "(ANGLE 0.1490 DEGREES WRITTEN AS 0.1, UP TO 1.078 MM OVER THE STOCK)" in block_of(
        setup.facts
    ).replace(")\n(cont ", " ")
    assert setup.unwritten == words
    assert angle_in_words([setup]) == [
        "The part is cut askew by up to 1.078 mm across the stock: the controller is told 0.1° of "
        "0.1490°."
    ]


def test_each_way_out_of_a_rounded_angle_helps() -> None:
    """The decimals, the posting and the limit that are offered leave a block each."""
    setup = setup_of(rounded(1, 0.1))
    assert setup.too_skew is not None
    more, _, accept, post = setup.too_skew.ways_out
    places, limit, turned = (
        re.search(pattern, way)[1]  # type: ignore[index]
        for pattern, way in (
            (r"deg: (\d)", more),
            (r"--max-skew ([\d.]+)mm", accept),
            (r"program_angle: ([\d.]+)", post),
        )
    )
    assert not setup_of(rounded(int(places), 0.1)).no_block
    assert not setup_of(rounded(1, 0.1, max_skew=float(limit))).no_block
    assert not setup_of(rounded(1, 0.1, program_angle=float(turned))).no_block


def test_decimals_that_nobody_sees_are_no_skew() -> None:
    """Four decimals leave 0.001 mm at most there: no skew, even where max_skew is 0."""
    setup = setup_of(rounded(4, 0.0))
    assert setup.skew_mm == 0.0 and not setup.no_block and setup.unwritten == ""
