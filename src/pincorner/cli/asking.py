"""How commands speak with the person who gave them: questions, and words while they wait."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import typer

from pincorner.cli.printing import print_error

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
        from pincorner.render.visible import visible

        return typer.confirm(f"{visible(doubt)}. Is that right?", err=True)

    def waiting(holder: str) -> None:
        print_error(f"waiting for {holder} ..")

    return Person(sure, waiting)
