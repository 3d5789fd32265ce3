"""Blocks that are not written, with the figure, and the ways out that are offered."""

from __future__ import annotations

import re

import pytest
from blocks import TURNED, Z_MACHINE, Z_REFERENCE, block_of, setup_of, station

from pincorner.documents.beds import Pin, PoseEntry
from pincorner.documents.stations import EdgePins, PinInHole
from pincorner.errors import Refused
from pincorner.render.blocks.guards import plain_ascii
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
    assert "of skew is accepted over the stock" in told.text
    lines = block_of(found).replace(")\n(and ", " ")
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
