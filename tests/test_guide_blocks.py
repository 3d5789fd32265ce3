"""The example blocks on the guide's page about controllers are those that the program writes."""

from __future__ import annotations

from typing import Any

import pytest
from worlds import facts, world

from pincorner.documents.beds import PoseEntry
from pincorner.documents.stations import ZRule
from pincorner.render.blocks.block import render_block
from pincorner.render.text.guide import page
from pincorner.setups.transform import make_setups

TURNED = {"pose": PoseEntry(x=60, y=55, angle=0.12)}
REFERENCE = {"z": ZRule(zero="stock-top", set="reference")}

EXAMPLES: dict[str, tuple[dict[str, Any], dict[str, Any], dict[str, Any]]] = {
    "rs274-turned": ({"dialect": "rs274-turned"}, TURNED, {}),
    "six": ({"dialect": "six"}, {}, {}),
    "extended": ({"dialect": "extended"}, TURNED, {"work_offsets": {"a": "G54.1 P7"}}),
    "keyed": ({"dialect": "keyed"}, {}, {}),
    "a machine that does not home": ({"homes": False}, {}, REFERENCE),
    "the same without expressions": ({"homes": False, "dialect": "six"}, {}, {}),
}
"""What each example is of: changes of the machine, the bed and the station of case A0."""


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_guide_shows_the_block(name: str) -> None:
    """The page holds the block of this example, letter by letter."""
    machine, bed, station = EXAMPLES[name]
    block = render_block(make_setups(facts(world(machine=machine, bed=bed), **station)))
    assert block in page("controllers"), f"{name}:\n{block}"
