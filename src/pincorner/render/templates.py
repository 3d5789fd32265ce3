"""Jinja environments: text for blocks, HTML (escaped) for sheets and maps."""

from __future__ import annotations

import traceback
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, TemplateSyntaxError

from pincorner.errors import BadInput
from pincorner.shipped import shipped_folder


@cache
def text_templates() -> Environment:
    """The shipped templates for text. A block is not overridden: its dialect says what it holds."""
    return Environment(
        loader=FileSystemLoader(shipped_folder("templates"), encoding="utf-8"),
        autoescape=False,  # text for a controller; render/comments.py guards it
        undefined=StrictUndefined,
        finalize=_one_line,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def _one_line(value: object) -> object:
    """No value starts a line of its own."""
    return " ".join(value.splitlines()) if isinstance(value, str) else value


@cache
def html_templates(overrides: Path | None) -> Environment:
    """The templates for pages: a shop's own first, then the shipped ones."""
    folders = [shipped_folder("templates")]
    if overrides is not None and overrides.is_dir():
        folders.insert(0, overrides)
    return Environment(
        loader=FileSystemLoader(folders, encoding="utf-8"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def render_page(name: str, overrides: Path | None, **values: object) -> str:
    """A page from a template. Raises BadInput where a shop's own template has a fault."""
    try:
        return html_templates(overrides).get_template(name).render(values)
    except Exception as error:
        if overrides is None or not overrides.is_dir():
            raise
        # a shop's own template may hold any fault: it is told as the shop's, with its place
        raise BadInput(f"template {_place_of(error, name)}: {_first_line(error)}") from None


def _place_of(error: Exception, name: str) -> str:
    """File and line of a template's fault, as far as the error knows."""
    if isinstance(error, TemplateSyntaxError):
        return f"{error.name or name}:{error.lineno}"
    lines = traceback.extract_tb(error.__traceback__)
    own = [frame for frame in lines if frame.filename.endswith(".j2")]
    return f"{Path(own[-1].filename).name}:{own[-1].lineno}" if own else name


def _first_line(error: Exception) -> str:
    return (str(error).splitlines() or [""])[0] or type(error).__name__
