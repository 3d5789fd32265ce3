"""How commands speak with the person who gave them: questions, and words while they wait."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import typer

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
        return typer.confirm(f"{doubt}. Is that right?", err=True)

    def waiting(holder: str) -> None:
        sys.stderr.write(f"waiting for {holder} ..\n")
        sys.stderr.flush()

    return Person(sure, waiting)
