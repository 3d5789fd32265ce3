"""What `upgrade` changes of the documents in use, once the tables are up to date.

The migrations keep the past as it was. What a new version would have otherwise from now on is one
change of its own, and each document in it is told.
"""

from __future__ import annotations

from sqlalchemy import Connection

from pincorner.documents.dialect_words import FIRST
from pincorner.documents.fields import key_of
from pincorner.documents.machines import Dialect, Machine
from pincorner.errors import RENAMED, RegistryOlder
from pincorner.registry.reader import NOW, Reader
from pincorner.registry.writer import Writer

_FIRST_BEFORE = ("G17", "G40", "G80")
"""The mode words of a dialect that named none, before schema 0003."""


def renew(connection: Connection, who: str, before: str) -> tuple[str, ...]:
    """Bring documents in use from schema `before` on; a line for each that changed.

    Raises RegistryOlder where a new name is taken.
    """
    return _to_0003(connection, who) if before < "0003" else ()


def _to_0003(connection: Connection, who: str) -> tuple[str, ...]:
    """New mode words, and new names of dialects: documents and machines follow, edits stay."""
    reader = Reader(connection, NOW)
    dialects, machines = reader.all(Dialect), reader.all(Machine)
    names = _new_names(dialects)
    renewed = [(each, *_renewed(each, names)) for each in dialects]
    moved = [each for each in machines if key_of(each.dialect) in names]
    writer = Writer(connection, who, "upgrade", _why(names))
    writer.put(dialect for _, dialect, told in renewed if told)
    writer.put(each.model_copy(update={"dialect": names[key_of(each.dialect)]}) for each in moved)
    for old in names:
        writer.retire("dialect", old)
    return (
        *(f"dialect {before.name}: {'; '.join(told)}" for before, _, told in renewed if told),
        *(
            f"machine {each.name}: dialect is {names[key_of(each.dialect)]}, no longer "
            f"{each.dialect}"
            for each in moved
        ),
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
