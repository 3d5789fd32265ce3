"""Programs checked against stations of the demo, without a registry."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import worlds

from pincorner.documents.fields import key_of
from pincorner.documents.kinds import identity
from pincorner.documents.reading import read_files
from pincorner.program.check.checks import check_program, tools_of
from pincorner.program.check.reaches import ToolSize
from pincorner.program.check.result import CheckFinding, Report
from pincorner.program.path.points import PathPoints
from pincorner.program.source.text import read_program
from pincorner.setups.facts import Facts
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups
from pincorner.shipped import shipped_folder

PROGRAMS = shipped_folder("fixtures_db") / "programs"


def demo_world() -> worlds.World:
    """The demo's documents and the shipped dialects."""
    files = [shipped_folder("fixtures_db") / name for name in ("beehive.yaml", "dialects.yaml")]
    return {identity(each.document): each.document for each in read_files(files)}


WORLD = demo_world()


def demo_facts(name: str, /, **changes: Mapping[str, Any]) -> Facts:
    """Facts of a station of the demo; `changes` update keys of its machine, bed, station, jig.

    Its jig is laid against its pins, so that places are those of the drawing.
    """
    found = worlds.facts(WORLD, name, **{"pins_pressed": False, **changes.get("station", {})})
    if "dialect" in changes:
        found = found._replace(dialect=WORLD["dialect", key_of(changes["dialect"]["name"])])
    for part, field in (("machine", "machine"), ("bed", "bed"), ("jig", "holder")):
        if part in changes:
            changed = getattr(found, field).model_copy(update=dict(changes[part]))
            found = found._replace(**{field: changed})
    return found


def demo_setup(name: str, nest: str = "a", /, **changes: Mapping[str, Any]) -> Setup:
    """The setup of a nest of the demo."""
    setups = make_setups(demo_facts(name, **changes))
    return next(each for each in setups if each.nest.name == nest)


def other_setups(station: str) -> list[Setup]:
    """Setups of all other stations of the demo."""
    names = [document.name for (kind, _), document in WORLD.items() if kind == "station"]
    return [setup for name in names if name != station for setup in make_setups(demo_facts(name))]


def check_text(
    folder: Path,
    text: str,
    setup: Setup,
    tools: Mapping[int, ToolSize] | None = None,
    margin_mm: float | None = None,
    drawn: PathPoints | None = None,
) -> Report:
    """A program's text checked at a station among the demo's others."""
    path = folder / "program.nc"
    path.write_text(text, encoding="utf-8", newline="\n")
    tools = tools_of(setup.facts.program, {}) if tools is None else tools
    others = other_setups(setup.facts.station.name)
    return check_program(read_program(path), setup, others, tools, margin_mm, drawn=drawn)


def edited(program: str, line: str, instead: Sequence[str]) -> tuple[str, int]:
    """A demo program with the first line of that text replaced, and the number of that line."""
    lines = (PROGRAMS / program).read_text(encoding="utf-8").splitlines()
    at = lines.index(line)
    lines[at : at + 1] = instead
    return "".join(f"{each}\n" for each in lines), at + 1


def with_code(report: Report, code: str) -> list[CheckFinding]:
    """A report's findings of a code."""
    return [finding for finding in report.findings if finding.code == code]
