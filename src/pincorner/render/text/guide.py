"""The guide that travels with the program: a page for each topic, the keys' made of the models."""

from __future__ import annotations

import inspect
import re
import textwrap
from collections.abc import Iterator
from pathlib import Path

from pincorner.documents.described import Key, keys_of
from pincorner.documents.fields import Document
from pincorner.documents.kinds import KINDS
from pincorner.errors import UnknownName

TOPICS = (
    "start", "first", "documents", "stations", "blocks", "papers", "programs", "runs", "bed",
    "changes", "cautions", "controllers", "numbers", "keys", "templates", "scripts", "postgresql",
)  # fmt: skip

_PAGES = Path(__file__).resolve().parents[2] / "guide"
_WIDTH = 80
_KEPT = "\0"
"""A blank that is not broken at."""


def topics() -> list[tuple[str, str]]:
    """Each topic with what its page is about, in order of use."""
    return [(topic, _page(topic).partition("\n")[0].removeprefix("# ")) for topic in TOPICS]


def page(topic: str) -> str:
    """The page of a topic, in Markdown. Raises UnknownName."""
    name = topic.strip().lower()
    if name not in TOPICS:
        raise UnknownName("topic", topic, TOPICS)
    sections = KINDS if name == "keys" else ()
    return "".join([_page(name), *(f"\n{keys_text(word)}" for word in sections)])


def _page(topic: str) -> str:
    return (_PAGES / topic).with_suffix(".md").read_text(encoding="utf-8")


def keys_text(word: str) -> str:
    """A section in Markdown: what a kind of document is, and a line on each of its keys."""
    kind = KINDS[word]
    lines = [f"## {kind.list_key}", "", inspect.cleandoc(kind.model.__doc__ or ""), ""]
    return "\n".join([*lines, *_lines(kind.model, 0, set())]) + "\n"


def _lines(model: type[Document], depth: int, told: set[type[Document]]) -> Iterator[str]:
    """The keys of a model; those of a part that was told already are not told again."""
    for key in keys_of(model):
        yield from _item(_sentence(key), depth)
        for part in key.parts:
            if part in told:
                continue
            told.add(part)
            below = depth + 1
            if len(key.parts) > 1:
                yield from _item(f"{_lower(inspect.cleandoc(part.__doc__ or ''))}:", below)
                below += 1
            yield from _lines(part, below, told)


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:].rstrip(".")


def _sentence(key: Key) -> str:
    name = f"**`{key.name}`**" if key.required else f"`{key.name}`"
    default = f"; left out: `{key.default}`" if key.default else ""
    return f"{name}{' (list)' if key.listed else ''}: {key.states}{default}"


def _item(text: str, depth: int) -> list[str]:
    """A line of a list, wrapped; a span of code is not broken."""
    indent = "  " * depth
    whole = re.sub(r"`[^`]*`", lambda span: span[0].replace(" ", _KEPT), text)
    lines = textwrap.wrap(
        whole, _WIDTH, initial_indent=f"{indent}* ", subsequent_indent=f"{indent}  ",
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip
    return [line.replace(_KEPT, " ") for line in lines]
