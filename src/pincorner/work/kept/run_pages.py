"""What a run's page rests on beside the stations' own: the run, what moves, what runs, neighbours.

It is kept with the page, and compared with what it is now: people load beside a running machine by
that page.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pincorner.characters import visible
from pincorner.documents.fields import WholeDocument, key_of
from pincorner.documents.records import Run
from pincorner.documents.writing import values_in
from pincorner.geometry.outline import Box, bounds
from pincorner.registry.reader import Row
from pincorner.setups.contents import Part
from pincorner.setups.setup import Setup
from pincorner.units import Unit
from pincorner.work.kept.beside import (
    Beside,
    Things,
    around_run,
    as_text,
    front_edge,
    notes_of,
    reach_text,
)
from pincorner.work.kept.copies import COPIES, SourceFile, digest_of, same_file

if TYPE_CHECKING:  # a reader of programs stands behind it, which judging does without
    from pincorner.runs.plan import RunPlan

_MOVES = (
    "beam", "bed_moves", "carriage.left", "carriage.right", "carriage.front", "carriage.back",
    "park", "rapid", "operator",
)  # fmt: skip
"""Keys of a machine that windows and times rest on, and that no fingerprint holds."""

ThingsOn = Callable[[Setup], Things]
"""What stands on the bed of a setup."""


def beside_run(
    run: Run,
    stations: Sequence[Sequence[Setup]],
    taken: Collection[str],
    copies: Mapping[str, Sequence[str]],
    things_on: ThingsOn,
    reach: Box | None,
) -> Beside:
    """Beside a run's page: all that it rests on but the setups of its nests and files.

    `taken`: work offsets of the machine's stations. `copies`: paths of what was stamped or repeated
    for a station (by key), newest first. `reach`: where on the bed its programs come near anything.
    """
    from pincorner.runs.codes import codes_of_run

    machine = stations[0][0].facts.machine
    unit = machine.units
    words = [*_all_values(f"run {run.name}", run, unit)]
    words += _values(f"machine {machine.name}", machine, unit, _MOVES)
    for setups in stations:
        facts = setups[0].facts
        name = f"station {facts.station.name}"
        words += _values(name, facts.station, unit, ("access", "load"))
        words += _values(f"jig {facts.holder.name}", facts.holder, unit, ("copies",))
        words += front_edge(facts.holder)
        words.append(Part(name, "is stamped as", ", ".join(copies_of(setups, copies)) or "nothing"))
        words += (part for setup in setups for part in notes_of(setup))
    every = [setup for setups in stations for setup in setups]
    for code in codes_of_run(every, taken):
        text = f"{code.code or 'none left'}{' by this run' if code.given else ''}"
        words.append(Part(f"nest {code.nest} of {code.station}", "has code", text))
    return Beside(
        as_text(dict.fromkeys(words)),
        as_text(dict.fromkeys(around_run(every, things_on, reach))),
        reach_text(reach),
    )


def copies_of(setups: Sequence[Setup], copies: Mapping[str, Sequence[str]]) -> Sequence[str]:
    """What was stamped or repeated for a station, newest first."""
    return copies.get(key_of(setups[0].facts.station.name), ())


def copies_by_station(
    shop: Path, run: Run, stations: Sequence[Sequence[Setup]], papers: Iterable[Row]
) -> dict[str, list[str]]:
    """Paths of the copies that are there, of each station of a run (by key), newest first: those
    that it is worked with; the others too where its nests share codes, which both bring."""
    from pincorner.runs.codes import codes_of_run, shared_codes

    every = [setup for setups in stations for setup in setups]
    joint = "repeat" if run.by == "repeat" else "stamp"
    events = COPIES if shared_codes(codes_of_run(every, ())) else (joint,)
    wanted = {key_of(setups[0].facts.station.name) for setups in stations}
    found: dict[str, list[str]] = {}
    for paper in papers:
        if paper["event"] in events and paper["station_key"] in wanted:
            paths = found.setdefault(paper["station_key"], [])
            if paper["path"] not in paths and (shop / paper["path"]).exists():
                paths.insert(0, paper["path"])
    return found


def files_of_run(
    shop: Path, stations: Sequence[Sequence[Setup]], copies: Mapping[str, Sequence[str]]
) -> list[SourceFile]:
    """The files that a run is planned from, as they are: programs, and copies of them. One that is
    not there has no digest."""
    paths = [
        setup.program.file for setups in stations for setup in setups if setup.program is not None
    ]
    paths += [path for setups in stations for path in copies_of(setups, copies)]
    return [_file(shop, path) for path in dict.fromkeys(paths)]


def _file(shop: Path, path: str) -> SourceFile:
    try:
        found = (shop / path).stat()
        return SourceFile(path, found.st_size, found.st_mtime_ns, digest_of(shop / path))
    except OSError:
        return SourceFile(path, 0, 0, "")


def files_changed(shop: Path, kept: str | None, *, deep: bool) -> Iterator[str]:
    """What became of the files that a run was planned from, as they are kept, in words."""
    for file in (SourceFile(*each) for each in json.loads(kept or "[]")):
        path = shop / file.path
        try:
            if not file.digest and path.exists():
                yield f"{file.path} was not there, and is"
            elif file.digest and not same_file(path, *file[1:], deep=deep):
                yield f"{file.path} was changed, or written anew, since"
        except OSError:
            yield f"{file.path} is not there any more"


def reach_of_run(plan: RunPlan) -> Box | None:
    """Where on its bed the programs of a run may come near anything; None: that is not known, or it
    has several beds."""
    setups = [setup for each in plan.stations for setup in each]
    boxes = _where_it_goes(plan)
    if boxes is None or len({key_of(each.facts.bed.name) for each in setups}) > 1:
        return None
    widest_mm = max(each.facts.widest_mm for each in setups)
    margin_mm = max(each.budget.u95_worst_mm for each in setups)
    to_bed = setups[0].bed_in_machine.inverse()
    points = [point for box in boxes for point in to_bed.points(box.outline)]
    points += [point for each in setups for point in each.footprint_in_bed()]
    return bounds(tuple(points)).grown(widest_mm / 2 + margin_mm)


def _where_it_goes(plan: RunPlan) -> list[Box] | None:
    """Boxes of all spans, in the machine; None where one may be anywhere, or nothing was read."""
    sittings = [each for station in plan.situation.stations.values() for each in station.sittings]
    sittings += [each.skipped for each in sittings if each.skipped is not None]
    boxes: list[Box] = []
    for sitting in sittings:
        for box in [span.box for span in sitting.spans] or [None]:
            if box is None or not all(map(math.isfinite, box)):
                return None
            boxes.append(box)
    return boxes


def _all_values(of: str, document: WholeDocument, unit: Unit) -> Iterator[Part]:
    """The keys of a document that are given, with their values in a unit."""
    for key, value in values_in(document, unit).items():
        if key != "name":
            yield Part(of, key.replace("_", " "), _text(value))


def _values(of: str, document: WholeDocument, unit: Unit, keys: Iterable[str]) -> Iterator[Part]:
    """Some keys of a document, with a dot those of a part in it, and their values in a unit."""
    values = values_in(document, unit)
    for key in keys:
        value: Any = values
        for step in key.split("."):
            value = None if value is None else value.get(step)
        yield Part(of, key.replace("_", " ").replace(".", " "), _text(value))


def _text(value: Any) -> str:
    if value is None:
        return "not given"
    if isinstance(value, list | tuple):
        return ", ".join(map(_text, value))
    if isinstance(value, str):
        return " ".join(visible(value).split())
    return json.dumps(value)
