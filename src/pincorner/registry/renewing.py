"""What `upgrade` changes of the documents in use, once the tables are up to date.

The migrations keep the past as it was. What a new version would have otherwise from now on is one
change of its own, and each document in it is told.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection

from pincorner.documents.dialect_words import FIRST
from pincorner.documents.fields import key_of
from pincorner.documents.machines import Carriage, Dialect, Machine
from pincorner.documents.records import Run
from pincorner.documents.stations import Station
from pincorner.errors import RENAMED, RegistryOlder
from pincorner.registry.reader import NOW, Reader
from pincorner.registry.writer import Writer

_FIRST_BEFORE = ("G17", "G40", "G80")
"""The mode words of a dialect that named none, before schema 0003."""


def renew(connection: Connection, who: str, before: str) -> tuple[str, ...]:
    """Bring documents in use from schema `before` on; a line for each that changed.

    Raises RegistryOlder where a new name is taken.
    """
    reader = Reader(connection, NOW)
    machines, dialects, names = reader.all(Machine), list[Dialect](), dict[str, str]()
    told, why = list[str](), list[str]()
    changed = {key_of(each.name): each for each in machines}
    if before < "0003":
        names = _new_names(reader.all(Dialect))
        why.append(_why(names))
        for dialect in reader.all(Dialect):
            renewed, lines = _renewed(dialect, names)
            if lines:
                dialects.append(renewed)
                told.append(f"dialect {dialect.name}: {'; '.join(lines)}")
        for each in machines:
            if key_of(each.dialect) in names:
                new = names[key_of(each.dialect)]
                changed[key_of(each.name)] = each.model_copy(update={"dialect": new})
                told.append(f"machine {each.name}: dialect is {new}, no longer {each.dialect}")
    if before < "0004":
        why.append("what was left out of what moves counts as not known now")
        for key, each in changed.items():
            changed[key], lines = _as_far_as_stated(each)
            told += [f"machine {each.name}: {line}" for line in lines]
    if told:
        writer = Writer(connection, who, "upgrade", "; ".join(why))
        writer.put(dialects)
        writer.put(changed[key_of(each.name)] for each in machines)
        for old in names:
            writer.retire("dialect", old)
    return tuple(told)


def as_before(connection: Connection, before: str) -> tuple[str, ...]:
    """A line for each document in use for which a default of before schema `before` was written,
    and for papers of before of which not all can be told."""
    reader = Reader(connection, NOW)
    lines = []
    if before < "0010":
        lines += [
            f"station {each.name}: pins_pressed is false, as it was computed so far: the jig is "
            "laid against its pins; say true if it is pushed"
            for each in reader.all(Station)
            if not each.pins_pressed
        ]
    if before < "0014":
        lines += _papers_as_before(reader)
    return tuple(lines)


def _papers_as_before(reader: Reader) -> list[str]:
    """What of papers that were made before schema 0014 nothing tells."""
    lines, runs = [], reader.names(Run)
    if runs:
        lines.append(
            f"pages printed of runs ({', '.join(runs)}) are not on record, so nothing tells when "
            "they are void: print them anew with pincorner sheet --run NAME"
        )
    old = (each for each in reader.papers() if each["event"] in ("block", "stamp", "repeat"))
    if any(each["event"] == "repeat" or each["definition"] < 2 for each in old):
        lines.append(
            "notes in blocks of version 0.1.0 and in files of repeat were not kept, so nothing "
            "tells when they are otherwise: write those anew"
        )
    return lines


def _as_far_as_stated(machine: Machine) -> tuple[Machine, list[str]]:
    """`beam: none` and sides of 0 may never have been stated: they count as not known."""
    keys: dict[str, Any] = {}
    if machine.beam == "none":
        keys["beam"] = None
    sides = {} if machine.carriage is None else machine.carriage.model_dump()
    gone = [side for side, mm in sides.items() if mm == 0]
    if gone:
        left = {side: mm for side, mm in sides.items() if mm}
        keys["carriage"] = Carriage(**left) if left else None
    return machine.model_copy(update=keys), [_not_known(keys, gone)] if keys else []


def _not_known(keys: dict[str, Any], gone: list[str]) -> str:
    """What of a machine counts as not known, and what to do where that is wrong."""
    named = ["beam"] if "beam" in keys else []
    if gone:
        named.append("carriage" if keys["carriage"] is None else f"carriage ({', '.join(gone)})")
    before = " and ".join((["none"] if "beam" in keys else []) + (["0"] if gone else []))
    return (
        f"not known any more: {' and '.join(named)}, which counted as {before}; load the machine "
        "with what is meant"
    )


def _renewed(dialect: Dialect, names: dict[str, str]) -> tuple[Dialect, list[str]]:
    """A dialect as it is from now on, and what is told of that; nothing where it stays."""
    told = []
    if (name := names.get(key_of(dialect.name))) is not None:
        told.append(f"it is called {name} now, and {dialect.name} is retired")
        dialect = dialect.model_copy(update={"name": name})
    if dialect.first == _FIRST_BEFORE:
        told.append(f"first is {' '.join(FIRST)}, no longer {' '.join(_FIRST_BEFORE)}")
        dialect = dialect.model_copy(update={"first": FIRST})
    return dialect, told


def _why(names: dict[str, str]) -> str:
    parts = [f"mode words left out are {' '.join(FIRST)} now"]
    return "; ".join([*parts, *(f"dialect {old} is called {new}" for old, new in names.items())])


def _new_names(dialects: list[Dialect]) -> dict[str, str]:
    """What the dialects in use are called now, by the old name's key.

    A retired dialect of the new name is no obstacle: its past stays, and the name is in use again.
    Raises RegistryOlder where one in use has it.
    """
    in_use = {key_of(dialect.name) for dialect in dialects}
    names = {
        old: new for (kind, old), new in RENAMED.items() if kind == "dialect" and old in in_use
    }
    for old, new in names.items():
        if new in in_use:
            raise RegistryOlder(
                f"dialect {old} is to be called {new}, but the registry has a dialect {new} of its "
                "own, so nothing was changed; with the pincorner that made the registry, load "
                f"that one under another name, point its machines there, retire {new}, then "
                "upgrade again"
            )
    return names
