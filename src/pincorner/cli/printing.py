"""The one door for text to a terminal: reports, JSON as UTF-8 with LF, errors, progress, questions.

Whatever a name, a note, a file or the system put into a text, no character of it acts on the
terminal: in text they are left out, in JSON escaped.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import shutil
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO, TypeVar

import typer

Done = TypeVar("Done")


def print_text(text: str) -> None:
    """Lines of text on standard output, as they are: blocks and documents are copied."""
    _write(sys.stdout, text)


def print_prose(text: str) -> None:
    """The same; on a terminal sentences are broken to its width."""
    if sys.stdout is not None and sys.stdout.isatty():
        from pincorner.render.text.tables import in_width

        text = in_width(text, columns())
        if _print_coloured(text):
            return
    print_text(text)


_COLOURED = {
    r"^(?![ !$-]|warning:)[^\n]+(?=\n {2}\S)|^verdict: .*$": "bold",
    r"^! |\bNO BLOCK\b|^verdict: (?!nothing found).*$": "bold red",
    r"^warning:": "bold yellow",
}
"""What stands out on a terminal: headings and verdicts, then what is wrong, then what may be.

Nothing is green: that nothing was found permits nothing.
"""


def _print_coloured(text: str) -> bool:
    """Text with what stands out in colour, by rich; whether it was printed.

    Not where NO_COLOR is set (https://no-color.org, an informal standard), nor where the terminal
    has no colours or takes no escape sequences (dumb ones, older consoles of Windows).
    """
    found = [each for each in _COLOURED if re.search(each, text, re.MULTILINE)]
    if not found or os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return False
    from rich.console import Console
    from rich.text import Text

    from pincorner.characters import visible_lines

    console = Console(file=sys.stdout, highlight=False, emoji=False, markup=False)
    if console.color_system is None or console.legacy_windows:
        return False
    encoding = sys.stdout.encoding or "utf-8"
    shown = Text(visible_lines(text).encode(encoding, "replace").decode(encoding))
    for each in found:
        shown.highlight_regex(re.compile(each, re.MULTILINE), _COLOURED[each])
    console.print(shown, soft_wrap=True, end="")
    return True


def columns() -> int:
    """How wide tables may be: as the terminal is, but 80 at least, which is also a file's."""
    live = sys.stdout is not None and sys.stdout.isatty()
    return max(80, shutil.get_terminal_size().columns) if live else 80


def print_error(text: str) -> None:
    """A line on standard error, behind all that went to standard output."""
    if sys.stdout is not None:
        sys.stdout.flush()
    _write(sys.stderr, f"{text}\n")


def tell_older_pdfs(*pages: Path) -> None:
    """A line on standard error where a PDF beside a page that was written is older than that."""
    from pincorner.work.files.browser import older_pdfs, older_told

    if told := older_told([str(each) for each in older_pdfs(pages)]):
        print_error(f"warning: {told}")


def _write(stream: TextIO | None, text: str) -> None:
    """Text as far as the stream's encoding can show it; nothing where there is no stream."""
    if stream is None:
        return
    if not (text.isascii() and text.replace("\n", "").isprintable()):
        from pincorner.characters import visible_lines

        text = visible_lines(text)
    encoding = stream.encoding or "utf-8"
    stream.write(text.encode(encoding, "replace").decode(encoding))


def print_json(report: Mapping[str, Any]) -> None:
    """A report alone on standard output."""
    from pincorner.characters import escaped_json

    text = escaped_json(json.dumps(report, ensure_ascii=False, indent=2, allow_nan=False)) + "\n"
    binary = getattr(sys.stdout, "buffer", None)
    if binary is None:
        sys.stdout.write(text)
        return
    sys.stdout.flush()
    binary.write(text.encode("utf-8"))
    binary.flush()


def print_report(
    as_json: bool,
    command: str,
    to_text: Callable[..., str],
    *values: Any,
) -> None:
    """What a command found, as its report in JSON or as text."""
    if as_json:
        print_made(command, *values)
    elif command == "show":  # documents are copied
        print_text(to_text(*values))
    else:
        print_prose(to_text(*values))


def print_made(command: str, *values: Any) -> None:
    """What a command found, as its report in JSON."""
    from pincorner.render.outputs.catalogue import maker

    print_json(maker(command)(*values))


class Progress:
    """One line on a terminal that is written over; nothing where standard error is no terminal."""

    def __init__(self) -> None:
        self._shown = 0
        self._live = sys.stderr.isatty()

    def tell(self, text: str) -> None:
        """Show what is being done now."""
        if self._live:
            self._over(text.ljust(self._shown))
            self._shown = len(text)

    def done(self) -> None:
        """Take the line away."""
        if self._live and self._shown:
            self._over(" " * self._shown)
            self._over("")
            self._shown = 0

    def _over(self, text: str) -> None:
        sys.stderr.write("\r")
        _write(sys.stderr, text)
        sys.stderr.flush()


def while_told(work: Callable[[Callable[[str], None]], Done]) -> Done:
    """What `work` returns, given a function that shows what is being done now; the line is gone
    behind it, however it ends."""
    progress = Progress()
    try:
        return work(progress.tell)
    finally:
        progress.done()


def ask_line(prompt: str) -> str | None:
    """A line that somebody types behind a prompt; None where there is no more input."""
    print_text(prompt)
    flush_output()
    if sys.stdin is None:
        return None
    try:
        line = sys.stdin.readline()
    except UnicodeDecodeError:
        return "\N{REPLACEMENT CHARACTER}"  # no answer: it is asked once more
    except OSError:
        return None
    return line.rstrip("\r\n") if line else None


def is_dialogue() -> bool:
    """Whether somebody sits at a terminal, and sees what is printed."""
    return sys.stdin is not None and sys.stdin.isatty() and sys.stdout.isatty()


def flush_output() -> None:
    """Have all that was printed go out. Raises OSError, BrokenPipeError."""
    sys.stdout.flush()


def forget_output() -> None:
    """Python must not try once more at exit to write what could not be written."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


if TYPE_CHECKING:
    from pincorner.registry.store import Person


def person(yes: bool) -> Person:
    """Whoever is at the terminal; with `yes` (`--yes`) every question is answered already.

    In a script nobody can be asked, and nothing odd is done.
    """
    from pincorner.registry.store import Person

    def sure(doubt: str) -> bool:
        if yes:
            return True
        if sys.stdin is None or not (sys.stdin.isatty() and sys.stderr.isatty()):
            return False
        from pincorner.characters import visible

        return typer.confirm(f"{visible(doubt)}. Is that right?", err=True)

    def waiting(holder: str) -> None:
        print_error(f"waiting for {holder} ..")

    return Person(sure, waiting)
