"""Documents as files for people: every key that there is, with what it states beside it."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping
from typing import Any

from pincorner.characters import without_hidden
from pincorner.documents.described import Key, keys_of
from pincorner.documents.fields import Document
from pincorner.documents.kinds import FORMAT, KINDS
from pincorner.documents.writing import flow
from pincorner.units import Unit

_WIDTH = 96
_STEP = "  "

_HOW_TO_READ = (
    "A line with # right in front of a word is left out; take the # away to say it. "
    "`pincorner guide keys` has every key."
)


def commented(
    word: str,
    values: Mapping[str, Any],
    units: Unit,
    examples: Mapping[str, Any] | None = None,
    about: str = "",
) -> str:
    """A file that holds one document of a kind: its keys in their order, each with what it states.

    values: as they are to stand there (texts, numbers, lists, keys of parts); a key that is in
    `examples` alone stands in a comment. about: lines in front, which tell what the file is.
    """
    kind = KINDS[word]
    lines = [f"format: {FORMAT}", f"units: {units}", ""]
    for text in (about, _HOW_TO_READ):
        lines += textwrap.wrap(text, _WIDTH, initial_indent="# ", subsequent_indent="# ")
    lines += [f"{kind.list_key}:", *_item(kind.model, values, examples or {}, _STEP)]
    return without_hidden("\n".join(lines) + "\n", _escaped, "\n")


def _escaped(character: str) -> str:
    return rf"\U{ord(character):08X}"


def _item(
    model: type[Document], values: Mapping[str, Any], examples: Mapping[str, Any], indent: str
) -> Iterator[str]:
    """An item of a list, its first line after a dash."""
    keys = keys_of(model)
    first = next(key for key in keys if key.name in values)
    lines = list(_key(first, values[first.name], examples.get(first.name), indent + _STEP, True))
    yield f"{indent}- {lines[0].lstrip()}"
    yield from lines[1:]
    rest = [key for key in keys if key is not first]
    yield from _keys(rest, values, examples, indent + _STEP)


def _keys(
    keys: list[Key], values: Mapping[str, Any], examples: Mapping[str, Any], indent: str
) -> Iterator[str]:
    for key in keys:
        if key.name in values:
            yield from _key(key, values[key.name], examples.get(key.name), indent)
        else:
            example = examples.get(key.name)
            line = f"{indent}#{key.name}:" + ("" if example is None else f" {flow(example)}")
            yield from _told(line, _states(key), indent)


def _key(key: Key, value: Any, example: Any, indent: str, beside: bool = False) -> Iterator[str]:
    """The lines of a key that is said."""
    part = _part_of(key, value)
    line = f"{indent}{key.name}:"
    if part is None:
        yield from _told(f"{line} {flow(value)}", _states(key), indent, beside)
        return
    yield from _told(line, _states(key), indent, beside)
    if not isinstance(value, Mapping):
        shown = example[0] if isinstance(example, list) and example else {}
        yield from _item(part, value[0], shown if isinstance(shown, Mapping) else {}, indent)
        yield from (f"{indent}- {flow(each)}" for each in value[1:])
    else:
        shown = example if isinstance(example, Mapping) else {}
        yield from _keys(keys_of(part), value, shown, indent + _STEP)


def _part_of(key: Key, value: Any) -> type[Document] | None:
    """The model whose keys stand below a key; None where a value stands beside it."""
    first = value[0] if isinstance(value, list | tuple) and value else value
    if not isinstance(first, Mapping):
        return None
    fitting = (part for part in key.parts if first.keys() <= {each.name for each in keys_of(part)})
    return next(fitting, None)


def _states(key: Key) -> str:
    return f"{key.states}; left out: {key.default}" if key.default else key.states


def _told(line: str, states: str, indent: str, beside: bool = False) -> Iterator[str]:
    """A line with its comment: behind it where there is room, else above."""
    if not states:
        yield line
    elif beside or len(line) + 3 + len(states) <= _WIDTH:
        yield f"{line}   # {states}"
    else:
        lead = f"{indent}# "
        yield from textwrap.wrap(states, _WIDTH, initial_indent=lead, subsequent_indent=lead)
        yield line
