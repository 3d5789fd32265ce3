"""Pages and texts from templates: the shipped ones here, a shop's own in a process of their own.

A shop folder may come from a share or an archive, so its templates are read as hostile: they run in
`sandbox.py` (as the shipped ones do, to which it gives the same bytes), and in a child process with
bounds on time, memory and output (`shop_templates.py`). What templates get is plain data: texts,
numbers, lists and dictionaries of them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import FileSystemLoader
from markupsafe import Markup, escape

from pincorner.characters import visible
from pincorner.render.templating.sandbox import Sandbox
from pincorner.shipped import shipped_folder


@cache
def _text_templates() -> Sandbox:
    loader = FileSystemLoader(shipped_folder("templates"), encoding="utf-8")
    return Sandbox(loader, autoescape=False, one_line=True)


@cache
def _page_templates() -> Sandbox:
    loader = FileSystemLoader(shipped_folder("templates"), encoding="utf-8")
    return Sandbox(loader, autoescape=True)


def render_text(template: str, **values: object) -> str:
    """A text from a shipped template, unescaped; no value starts a line of its own."""
    return _text_templates().get_template(template).render(plain(values))


def render_page(name: str, overrides: Path | None, **values: object) -> str:
    """A page from a template: a shop's own first (`overrides`: its folder), then the shipped one.

    Raises BadInput where a shop's own template has a fault or goes beyond its bounds.
    """
    if overrides is not None and has_own(overrides):
        from pincorner.render.templating.shop_templates import render_own

        return render_own(name, overrides, plain(values))
    return _page_templates().get_template(name).render(plain(values))


_TOKEN = re.compile(r"(?<!\S)(?=\S*\d)\S{1,24}(?!\S)")
"""A word with a digit: a hole, a code, a figure with its sign, a time, a fingerprint."""


def kept_whole(text: str) -> Markup:
    """A text as a page prints it, its tokens in elements of class `n`, which no line breaks."""
    plain_text = visible(text)
    parts, end = [], 0
    for found in _TOKEN.finditer(plain_text):
        parts += [escape(plain_text[end : found.start()])]
        parts += [Markup('<span class="n">{}</span>').format(found[0])]
        end = found.end()
    return Markup("").join([*parts, escape(plain_text[end:])])


def has_own(overrides: Path) -> bool:
    """Whether a folder holds a template of a shipped name, be it a link that leads nowhere."""
    try:
        there = [path.name for path in overrides.iterdir()]
    except (FileNotFoundError, NotADirectoryError):
        return False
    except OSError:
        return True  # what cannot be read is told where it is read
    return any(name.casefold() in _shipped_names() for name in there)


@cache
def _shipped_names() -> frozenset[str]:
    return frozenset(path.name for path in shipped_folder("templates").glob("*.j2"))


def plain(value: object) -> object:
    """A value as texts (Markup stays so), numbers, lists and dictionaries only.

    A named tuple becomes a dictionary of its fields and properties. Raises TypeError for any other
    value: a template is handed nothing that leads on to the program.
    """
    if value is None or type(value) in (str, int, float, bool, Markup):
        return value
    if isinstance(value, Mapping):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, tuple) and hasattr(value, "_fields"):
        return {name: plain(getattr(value, name)) for name in _names_of(type(value))}
    if isinstance(value, list | tuple | range):
        return [plain(each) for each in value]
    raise TypeError(f"a template cannot be given a {type(value).__name__}")


@cache
def _names_of(kind: type[Any]) -> tuple[str, ...]:
    """The fields and properties of a kind of named tuple."""
    told = (name for name in dir(kind) if isinstance(getattr(kind, name), property))
    return (*kind._fields, *told)
