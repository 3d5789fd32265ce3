"""The worked block and stations to make blocks of: documents with keys changed."""

from __future__ import annotations

from functools import cache
from typing import Any

from worlds import BASE, World, facts, world

from pincorner.documents.beds import Bed, PoseEntry
from pincorner.documents.jigs import Nest, Stock
from pincorner.documents.machines import Dialect
from pincorner.documents.stations import ZRule
from pincorner.render.blocks.block import render_block
from pincorner.render.text.explain import render_explain
from pincorner.setups.advice import remedies
from pincorner.setups.facts import Facts
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups

A0 = """\
(setup left a {0} from here)
(bed long-bench, jig panel-tray, edge D2 G2, stop C4, C2 stays empty)
(Z NOT SET BY THIS BLOCK, SET IT IN G55, NOT BY G92)
(G55 Z0 IS 38.000 MM ABOVE THE BED SURFACE)
(TOOL TIP ON THE BED SURFACE MUST READ Z-38.000)
G40
G21 G90
G17 G49 G80 G94 G98
G92.1
G10 L2 P2 X295.000 Y185.000
G55
(MM STAYS ACTIVE, setup {0} to here)
"""
MODES = ["G40", "G21 G90", "G17 G49 G80 G94 G98"]
"""How a block begins where the controller is in mm and its dialect states no others."""

EXTENSIONS = {
    "rs274": frozenset[str](),
    "rs274-turned": frozenset({"r-word"}),
    "six": frozenset({"six", "converts", "no-expressions"}),
    "extended": frozenset({"six", "converts", "no-expressions", "g68", "g54.1", "g52"}),
}


@cache
def plain_world() -> World:
    """The world of the worked examples and a program, read once; documents are frozen."""
    return world(BASE + "programs:\n  - {name: hand-hold, file: hand-hold.nc}\n")


def station(
    dialect: str | dict[str, Any] = "rs274",
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


def explain_of(setup: Setup) -> str:
    """The explanation of one nest."""
    return render_explain(setup, remedies(setup))


TURNED = {"pose": PoseEntry(x=60, y=55, angle=0.12)}
TWO = tuple(
    Nest(name=name, zero=(x, 20.0), stock=Stock(size=(180.0, 240.0, 20.0)))
    for name, x in (("a", 25.0), ("b", 245.0))
)
Z_REFERENCE, Z_MACHINE = ZRule(set="reference"), ZRule(set="machine")
