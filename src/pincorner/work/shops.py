"""init, demo, upgrade: a shop folder and its registry."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from pincorner.errors import BadInput
from pincorner.registry.making import there_is
from pincorner.registry.store import Person, Registry, Upgraded
from pincorner.setups.setup import OffsetRow
from pincorner.shipped import shipped_folder
from pincorner.units import Unit
from pincorner.work.files.outputs import Outputs
from pincorner.work.files.whereabouts import (
    REGISTRY_FILE,
    TEMPLATES_FOLDER,
)
from pincorner.work.loading import load, shipped_dialects
from pincorner.work.papers import write_block, write_map, write_sheets
from pincorner.work.registering import Registered, register
from pincorner.work.reports import offsets
from pincorner.work.session import Session, who_works

DEMO_WORLD = "beehive.yaml"
DEMO_RUN = "beehive-run.yaml"
DEMO_SURVEY = "long-bench-survey.csv"
DEMO_STATION = {
    "name": "spare",
    "bed": "long-bench",
    "jig": "panel-tray",
    "pin": "peg-20",
    "corner": "A6",
    "toward": "+x+y",
    "program": "hand-hold",
}

_TEMPLATES_NOTE = """Templates in this folder come before the shipped ones, under the same name:
sheet.html.j2 with sheet.css.j2, map.html.j2, run.html.j2, check.html.j2, place.html.j2,
history.html.j2, survey.html.j2 and their colours in screen.css.j2. They are Jinja templates; every
value they get is a finished text. Copy one from the program's own folder and change it here:
{folder}

They run in a process of their own and reach nothing outside: files of this folder, no links out
of it, no attributes beginning with _, 20 seconds, 512 MB and 20 MB of output for a page. Take none
from strangers all the same: a template decides what a page says.
"""


def init_shop(
    folder: Path, db: str | None, units: Unit, by: str | None, person: Person | None = None
) -> str:
    """An empty registry (with the shipped dialects) in a folder; its location.

    Raises BadInput where a registry is there already.
    """
    who, location = who_works(by), db or str(folder / REGISTRY_FILE)
    outputs = Outputs(force=False)
    try:
        if db is None:
            outputs.folder(folder / REGISTRY_FILE.parent)
        Registry.create(location, units, shipped_dialects(), who, person)
        if db is None:
            outputs.folder(folder / TEMPLATES_FOLDER)
            note = folder / TEMPLATES_FOLDER / "README.txt"
            if not note.exists():
                text = _TEMPLATES_NOTE.format(folder=shipped_folder("templates"))
                outputs.write(note, text.encode("utf-8"))
    except OSError as error:
        raise BadInput(f"{folder} cannot be used: {error.strerror or error}") from None
    return location


class Demo(NamedTuple):
    """What the demo made."""

    folder: Path
    registered: Registered
    rows: list[OffsetRow]
    block: str
    sheets: list[Path]
    map: Path


def demo(folder: Path, told: Callable[[str], None]) -> Demo:
    """A shop folder with the beehive workshop, worked through. `told` hears each step.

    Raises BadInput where the folder holds a registry already, FileExists where it holds one of the
    files that the demo writes.
    """
    if there_is(folder / REGISTRY_FILE) and (folder / REGISTRY_FILE).stat().st_size:
        raise BadInput(f"{folder / REGISTRY_FILE} exists already; it was left as it is")
    block_file, map_file = folder / "left-block.nc", folder / "long-bench.html"
    shipped = shipped_folder("fixtures_db")
    given = [*sorted((shipped / "programs").glob("*.nc")), shipped / DEMO_SURVEY]
    outputs = Outputs(force=False)
    for path in (block_file, map_file, *(folder / each.name for each in given)):
        outputs.refuse(path)
    told("making the shop folder and its registry")
    location = init_shop(folder, None, "mm", None)
    session = Session(Registry(location), who_works(None), "demo")
    told("loading the beehive workshop")
    load(session, [shipped / DEMO_WORLD], dry_run=False)
    for each in given:
        outputs.write(folder / each.name, each.read_bytes())
    told("registering one more jig at pin corner A6")
    registered = register(session, {**DEMO_STATION, "work_offsets": {"a": "G59.1"}}, replace=False)
    load(session, [shipped / DEMO_RUN], dry_run=False)
    told("computing offsets")
    rows = offsets(session, (), None)
    block, _ = write_block(session, "left", None, block_file, force=False)
    sheets = write_sheets(
        session, (), folder / "sheets", "a4", False, False,
        lambda done, all_: told(f"writing setup sheet {done} of {all_}"),
    )  # fmt: skip
    told("drawing the bed map")
    write_map(session, "long-bench", map_file, force=False)
    return Demo(folder, registered, rows, block, sheets, map_file)


def upgrade(session: Session, repair_times: bool = False) -> Upgraded:
    """Bring a registry up to date; put times that are to come at now. Raises RegistryError."""
    return session.registry.upgrade(session.who, repair_times)
