"""Work offsets that are given out: to the nests of a run that have none, to a new station."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

from pincorner.documents.machines import Dialect
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
    facts, used = setups[0].facts, {s.work_offset for s in setups if s.work_offset}
    left = codes_left(facts.dialect, facts.machine.homes, used)
    left.sort(key=lambda code: code in taken)  # the order of the dialect within both halves
    found = []
    for setup in setups:
        code = setup.work_offset
        if code is None and left:
            found.append(NestCode(_name(setup), setup.nest.name, left.pop(0), True))
        else:
            found.append(NestCode(_name(setup), setup.nest.name, code, False))
    return found


def codes_left(
    dialect: Dialect, homes: bool, used: Collection[str], behind: Collection[str] = ()
) -> list[str]:
    """The dialect's codes but those that are used, and the one that the others count from on a
    machine that does not home: in its order, those behind the last of `behind` first."""
    codes = dialect.work_offsets
    start = max((codes.index(code) + 1 for code in behind if code in codes), default=0)
    reference = () if homes else (RELATIVE_TO,)
    return [c for c in (*codes[start:], *codes[:start]) if c not in used and c not in reference]


def shared_codes(codes: Sequence[NestCode]) -> dict[str, list[NestCode]]:
    """Codes that more than one nest of the run has."""
    users: dict[str, list[NestCode]] = {}
    for each in codes:
        if each.code is not None:
            users.setdefault(each.code, []).append(each)
    return {code: nests for code, nests in users.items() if len(nests) > 1}


def _name(setup: Setup) -> str:
    return setup.facts.station.name
