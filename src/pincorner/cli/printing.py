"""What commands put on the terminal: text, JSON as UTF-8 with LF, progress on standard error."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from typing import Any


def print_text(text: str) -> None:
    """Text as it is, whatever the terminal's encoding can show."""
    encoding = sys.stdout.encoding or "utf-8"
    sys.stdout.write(text.encode(encoding, "replace").decode(encoding))


def print_json(report: dict[str, Any]) -> None:
    """A report alone on standard output."""
    text = json.dumps(report, ensure_ascii=False, indent=2, allow_nan=False) + "\n"
    binary = getattr(sys.stdout, "buffer", None)
    if binary is None:
        sys.stdout.write(text)
        return
    sys.stdout.flush()
    binary.write(text.encode("utf-8"))
    binary.flush()


def print_report(
    as_json: bool,
    to_json: Callable[..., dict[str, Any]],
    to_text: Callable[..., str],
    *values: Any,
) -> None:
    """The same values as JSON or as text."""
    if as_json:
        print_json(to_json(*values))
    else:
        print_text(to_text(*values))


class Progress:
    """One line on a terminal that is written over; nothing where standard error is no terminal."""

    def __init__(self) -> None:
        self._shown = 0
        self._live = sys.stderr.isatty()

    def tell(self, text: str) -> None:
        """Show what is being done now."""
        if self._live:
            sys.stderr.write("\r" + text.ljust(self._shown))
            sys.stderr.flush()
            self._shown = len(text)

    def done(self) -> None:
        """Take the line away."""
        if self._live and self._shown:
            sys.stderr.write("\r" + " " * self._shown + "\r")
            sys.stderr.flush()
            self._shown = 0
