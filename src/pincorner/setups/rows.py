"""A row of the offset table: a nest's setup, or why there is none."""

from __future__ import annotations

from typing import NamedTuple

from pincorner.errors import Refused
from pincorner.setups.facts import Facts
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups


class OffsetRow(NamedTuple):
    """One nest of one station; `setup` is None where `refused` says why."""

    facts: Facts
    nest: str
    setup: Setup | None
    refused: str | None


def offset_rows(facts: Facts) -> list[OffsetRow]:
    """A row for each nest of a station."""
    try:
        setups = make_setups(facts)
    except Refused as refusal:
        return [OffsetRow(facts, nest.name, None, refusal.text) for nest in facts.holder.nests]
    return [OffsetRow(facts, setup.nest.name, setup, None) for setup in setups]
