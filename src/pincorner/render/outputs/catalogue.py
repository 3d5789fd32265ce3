"""The one table of reports: each command that takes `--json`, and what makes its JSON."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any, NamedTuple

from pincorner.errors import BadInput


class Home(NamedTuple):
    """The module here, and the function in it that makes the report of what a command found.

    What the function returns is the report's type. `line`: what prints it, where that is more than
    the name.
    """

    module: str
    maker: str
    line: str = ""


REPORTS = {
    "adopt": Home("stations", "adopt_json"),
    "load": Home("registry", "load_json"),
    "list": Home("registry", "names_json"),
    "show": Home("registry", "shown_json"),
    "history": Home("registry", "history_json"),
    "register": Home("stations", "registered_json"),
    "offsets": Home("stations", "offsets_json"),
    "block": Home("stations", "block_json"),
    "sheet": Home("stations", "sheets_json"),
    "map": Home("maps", "map_json"),
    "refresh": Home("registry", "refresh_json"),
    "check": Home("programs", "check_json"),
    "stamp": Home("programs", "stamp_json"),
    "repeat": Home("programs", "repeat_json"),
    "survey": Home("surveys", "survey_json"),
    "resurface": Home("beds", "resurface_json"),
    "verify": Home("beds", "verify_json"),
    "strike": Home("beds", "strike_json", "verify --strike"),
    "status": Home("beds", "status_json"),
    "run": Home("runs", "run_json"),
    "place": Home("runs", "places_json"),
}
"""By the name of the command (of its option, for `strike`), in the order that help lists them."""


def maker(command: str) -> Callable[..., Mapping[str, Any]]:
    """What makes a command's report, of the values that its text is made of."""
    home = REPORTS[command]
    module = import_module(f"pincorner.render.outputs.{home.module}")
    made: Callable[..., Mapping[str, Any]] = getattr(module, home.maker)
    return made


def report_named(text: str) -> str:
    """The command of a report. Raises BadInput."""
    if text not in REPORTS:
        raise BadInput(f"there is no report {text}; reports are {', '.join(REPORTS)}")
    return text
