"""Whole commented documents of every kind, to begin with."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from copy import deepcopy
from typing import Any

from pincorner.documents.described import example_values
from pincorner.documents.fields import WholeDocument, key_of
from pincorner.documents.kinds import KINDS, references
from pincorner.documents.reading import read_text
from pincorner.render.text.commented import commented
from pincorner.units import Unit
from pincorner.work.session import Session

Names = Mapping[type[WholeDocument], list[str]]
"""The names on file, by the class of their documents."""

APART = {
    "station": ("stock", "stock_zero", "pins", "measured", "clamps"),
    "surfacing": ("surface",),
}
"""Keys that stand in a comment: they are said instead of others, or seldom."""


def example_text(word: str, units: Unit, on_file: Names) -> str:
    """A whole commented document of a kind; what it needs of others has names that are on file."""
    every = example_values(word, units)
    values = deepcopy({k: v for k, v in every.items() if k not in APART.get(word, ())})
    others: dict[type[WholeDocument], list[str]] = {}
    (entry,) = read_text(commented(word, values, units), word)[1]
    for needed in references(entry.document):
        known = on_file.get(needed.model, [])
        if known and key_of(needed.name) not in map(key_of, known):
            _put(values, needed.path, known[0])
        others[needed.model] = known
    about = "An example: change it to what you have, and load it with `pincorner load FILE`. "
    return commented(word, values, units, every, about + " ".join(_on_file(others)))


def _put(values: Any, path: str, name: str) -> None:
    """Put a name at a key path, such as `nests[0].program`."""
    *around, last = (int(p) if p.isdecimal() else p for p in re.findall(r"\w+", path))
    for part in around:
        values = values[part]
    values[last] = name


def _on_file(others: Mapping[type[WholeDocument], list[str]]) -> Iterator[str]:
    """What there is of each kind that the document needs."""
    words = {kind.model: kind for kind in KINDS.values()}
    for model, known in others.items():
        shown = ", ".join(known[:12]) + (", .." if len(known) > 12 else "")
        yield f"{words[model].list_key.capitalize()} on file: {shown or 'none yet'}."


def example(session: Session | None, word: str, units: Unit | None) -> str:
    """The example of a kind, in the shop's unit, with the names of its registry if there is one."""
    if session is None:
        return example_text(word, units or "mm", {})
    with session.reading() as reader:
        on_file = {kind.model: reader.names(kind.model) for kind in KINDS.values()}
        return example_text(word, units or reader.display_units, on_file)
