"""The child process that renders a shop's own templates: `shop_templates.py` starts and stops it.

It reads requests, one line of JSON each, on standard input, and writes for each a line with `page`
or `fault` and a number of bytes, and those bytes, to standard output. Its memory is limited where
the system can (POSIX), its output everywhere; its time is the parent's to limit.
"""

from __future__ import annotations

import contextlib
import json
import sys
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any

from jinja2 import BaseLoader, ChoiceLoader, Environment, FileSystemLoader
from jinja2.exceptions import SecurityError, TemplateNotFound, TemplateSyntaxError
from markupsafe import Markup

from pincorner.render.templating.sandbox import Sandbox
from pincorner.shipped import shipped_folder

MB = 1_000_000
_LONGEST_FAULT = 400


def packed(value: Any) -> Any:
    """Plain data as JSON can carry it: Markup, which is not escaped again, as `{"": text}`."""
    if isinstance(value, Markup):
        return {"": str(value)}
    if isinstance(value, dict):
        return {key: packed(each) for key, each in value.items()}
    return [packed(each) for each in value] if isinstance(value, list) else value


def _unpacked(found: dict[str, Any]) -> Any:
    """What an object of JSON stands for."""
    return Markup(found[""]) if found.keys() == {""} else found


class OwnTemplates(BaseLoader):
    """Templates of a shop's own folder: files that lie in it, and no links out of it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder.parent.resolve() / folder.name

    def get_source(
        self, environment: Environment, template: str
    ) -> tuple[str, str, Callable[[], bool]]:
        """Text, path and whether it is still that. Raises TemplateNotFound, SecurityError."""
        pieces = template.split("/")
        if {"", ".", ".."} & {*pieces} or any(letter in "\\:\0" for letter in template):
            raise SecurityError(
                f"{template!r} leads out of the templates folder; name a file that lies in it"
            )
        path = self.folder.joinpath(*pieces)
        if not path.is_symlink() and not path.exists():
            raise TemplateNotFound(template)
        file = path.resolve()
        if not file.is_relative_to(self.folder):
            raise SecurityError(
                f"{template} leads out of the shop's templates folder as a link; put a copy there"
            )
        if not file.is_file():
            raise SecurityError(f"{template} is not a file")
        changed = file.stat().st_mtime_ns
        text = file.read_text(encoding="utf-8")
        return text, str(path), lambda: file.is_file() and file.stat().st_mtime_ns == changed


class Pages:
    """Pages from a shop's own templates first, then the shipped ones."""

    def __init__(self, folder: Path, output_mb: int) -> None:
        own = OwnTemplates(folder)
        shipped = FileSystemLoader(shipped_folder("templates"), encoding="utf-8")
        self.sandbox = Sandbox(ChoiceLoader([own, shipped]), autoescape=True)
        self.folders = (str(own.folder), str(shipped_folder("templates")))
        self.output_mb = output_mb

    def answer(self, name: str, values: dict[str, Any]) -> tuple[str, bytes]:
        """`page` and its bytes, or `fault` and one line: template, line, what is wrong."""
        try:
            pieces, size = [], 0
            for text in self.sandbox.get_template(name).generate(values):
                pieces.append(text.encode("utf-8"))
                size += len(pieces[-1])
                if size > self.output_mb * MB:
                    raise SecurityError(f"it makes a page of more than {self.output_mb} MB")
            return "page", b"".join(pieces)
        except MemoryError:
            said = f"{name}: it needs more memory than it may have"
        except RecursionError:
            said = f"{name}: it calls itself without an end"
        except Exception as error:
            # a shop's own template may hold any fault: it is told as the shop's, with its place
            said = f"{self._place_of(error, name)}: {_first_line(error)}"
        return "fault", said[:_LONGEST_FAULT].encode("utf-8", "replace")

    def _place_of(self, error: Exception, name: str) -> str:
        """File and line of a template's fault, as far as the error knows."""
        if isinstance(error, TemplateSyntaxError):
            return f"{error.name or name}:{error.lineno}"
        frames = traceback.extract_tb(error.__traceback__)
        own = [frame for frame in frames if frame.filename.startswith(self.folders)]
        return f"{Path(own[-1].filename).name}:{own[-1].lineno}" if own else name


def _first_line(error: Exception) -> str:
    return (str(error).splitlines() or [""])[0] or type(error).__name__


def limit_memory(memory_mb: int) -> None:
    """Let this process have so much memory and no more, where the system can."""
    if sys.platform != "win32":
        import resource

        with contextlib.suppress(OSError, ValueError):  # some systems know the limit and refuse it
            resource.setrlimit(resource.RLIMIT_AS, (memory_mb * MB, memory_mb * MB))


def main(folder: str, memory_mb: str, output_mb: str) -> None:
    """Answer requests until there are no more."""
    pages = Pages(Path(folder), int(output_mb))
    limit_memory(int(memory_mb))
    for line in sys.stdin.buffer:
        name, values = json.loads(line, object_hook=_unpacked)
        kind, data = pages.answer(name, values)
        sys.stdout.buffer.write(b"%s %d\n" % (kind.encode("ascii"), len(data)) + data)
        sys.stdout.buffer.flush()
