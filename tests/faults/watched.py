"""Command lines for child processes alone: what watches them, or ends them, does so for good."""

from __future__ import annotations

import os
import sys
from typing import Any

from sqlalchemy.engine import RootTransaction

from pincorner import staging
from pincorner.cli.main import main
from pincorner.registry.writer import Writer


def opened(arguments: list[str]) -> tuple[int, list[str]]:
    """A command line's exit code and every file that it opened."""
    found: list[str] = []

    def listen(event: str, told: tuple[object, ...]) -> None:
        if event == "open" and isinstance(told[0], str | bytes | os.PathLike):
            found.append(os.path.realpath(os.fsdecode(told[0])))

    sys.addaudithook(listen)
    return main(arguments), found


def killed(arguments: list[str], left: int) -> None:
    """Run a command line and die at the n-th of the points in front of what changes files.

    It ends with 9 there, else with the command's exit code.
    """

    def killing(owner: Any, name: str) -> None:
        work = getattr(owner, name)

        def work_or_die(*arguments: Any, **options: Any) -> Any:
            nonlocal left
            if left == 0:
                os._exit(9)
            left -= 1
            return work(*arguments, **options)

        setattr(owner, name, work_or_die)

    for name in ("stage", "put", "keep", "append", "discard", "flush_folder"):
        killing(staging, name)
    killing(RootTransaction, "commit")
    killing(Writer, "record")
    os._exit(main(arguments))
