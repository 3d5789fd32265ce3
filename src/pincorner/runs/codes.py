"""Work offsets for the nests of a run: kept where they have one, given out where they have none."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

from pincorner.setups.printed import RELATIVE_TO
from pincorner.setups.setup import Setup


class NestCode(NamedTuple):
    """A nest of a run and its work offset; `given`: the run gave it, the station has none.

    None where there were no codes left.
    """

    station: str
    nest: str
    code: str | None
    given: bool


def codes_of_run(setups: Sequence[Setup], taken: Collection[str]) -> list[NestCode]:
    """A code for every nest, in order; those without get the first that nobody else has.

    `taken`: codes of other stations on the machine, which are used only once all others are.
    """
    facts = setups[0].facts
    own = {setup.work_offset for setup in setups}
    reference = set() if facts.machine.homes else {RELATIVE_TO}
    left = [c for c in facts.dialect.work_offsets if c not in own and c not in reference]
    left.sort(key=lambda code: code in taken)  # the order of the dialect within both halves
    found = []
    for setup in setups:
        code = setup.work_offset
        if code is None and left:
            found.append(NestCode(_name(setup), setup.nest.name, left.pop(0), True))
        else:
            found.append(NestCode(_name(setup), setup.nest.name, code, False))
    return found


def shared_codes(codes: Sequence[NestCode]) -> dict[str, list[NestCode]]:
    """Codes that more than one nest of the run has."""
    users: dict[str, list[NestCode]] = {}
    for each in codes:
        if each.code is not None:
            users.setdefault(each.code, []).append(each)
    return {code: nests for code, nests in users.items() if len(nests) > 1}


def _name(setup: Setup) -> str:
    return setup.facts.station.name
