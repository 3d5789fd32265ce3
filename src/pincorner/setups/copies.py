"""Jigs that more stations name than there are pieces of."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from pincorner.setups.facts import Facts


class WantedJig(NamedTuple):
    """A jig, the stations that name it, and how many there are of it; None where not given."""

    jig: str
    stations: tuple[str, ...]
    copies: int | None


def wanted_jigs(facts: Iterable[Facts]) -> list[WantedJig]:
    """Jigs of which there are, or may be, fewer than stations that name them."""
    stations: dict[str, dict[str, int | None]] = {}
    for each in facts:
        if each.station.jig is not None:
            named = stations.setdefault(each.holder.name, {})
            named[each.station.name] = each.holder.copies
    wanted = []
    for jig, named in stations.items():
        copies = next(iter(named.values()))
        if len(named) > (copies or 1):
            wanted.append(WantedJig(jig, tuple(named), copies))
    return wanted
