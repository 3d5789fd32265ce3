"""The jig's place on the bed, by whichever way its station is located."""

from __future__ import annotations

from pincorner.documents.jigs import OnDowels
from pincorner.documents.stations import DowelPins, EdgePins
from pincorner.errors import Refused
from pincorner.setups.corners import locate_by_edges
from pincorner.setups.facts import Facts
from pincorner.setups.located import Located
from pincorner.setups.on_dowels import locate_on_dowels


def locate(facts: Facts) -> Located:
    """The jig's place from its pins. Raises Refused with the reason and its figure."""
    pins, way = facts.station.pins, facts.holder.locate
    if isinstance(pins, EdgePins) and not isinstance(way, OnDowels):
        return locate_by_edges(facts, pins)
    if isinstance(pins, DowelPins) and isinstance(way, OnDowels):
        return locate_on_dowels(facts, pins, way)
    if pins is None:
        raise Refused(
            "no-pins", f"station {facts.station.name} has no pins; register it again with --pins"
        )
    wanted = "round and slot" if isinstance(way, OnDowels) else "edge and stop"
    raise Refused(
        "located-otherwise",
        f"station {facts.station.name}: {facts.holder.name} is located by {wanted} pins, "
        "not by those that the station names",
    )
