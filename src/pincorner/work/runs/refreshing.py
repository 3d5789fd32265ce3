"""refresh: papers that are stale are printed anew and stamped anew, the old files kept beside.

It stands with runs, whose pages rest on all other papers and are printed after them.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, NamedTuple

from pincorner import staging
from pincorner.characters import quoted
from pincorner.documents.fields import key_of
from pincorner.documents.records import Program
from pincorner.documents.stations import Station
from pincorner.errors import BadInput, FileExists, NotPrinted, PincornerError
from pincorner.registry.reader import Reader, Row
from pincorner.render.text.reports import Outcome, RefreshedEntry
from pincorner.work.files.browser import older_pdfs, older_told
from pincorner.work.files.outputs import Outputs
from pincorner.work.kept.copies import COPIES
from pincorner.work.papers import write_block, write_map, write_sheets
from pincorner.work.programs.checking import Neighbours, find_job, find_jobs
from pincorner.work.programs.repeating import Repeat, repeat
from pincorner.work.programs.stamping import stamp
from pincorner.work.session import Library, Session
from pincorner.work.stale import StalePaper, stale_papers


class Refreshed(NamedTuple):
    """What became of a stale paper.

    `outcome`: `renewed`, `would` (nothing was done) or `left`. `why`: what a person has to look at,
    if anything. `kept`: the old file's new name.
    """

    paper: StalePaper
    outcome: Outcome
    why: str = ""
    kept: Path | None = None

    @property
    def told(self) -> RefreshedEntry:
        """As text and JSON tell it."""
        reasons, kept = self.paper.reasons, None if self.kept is None else self.kept.name
        return self.paper.event, self.paper.path, self.outcome, reasons, self.why, kept


def refresh(
    session: Session, names: Sequence[str], *, dry_run: bool, told: Callable[[str], None]
) -> list[Refreshed]:
    """Print and stamp anew what is stale, of the stations named or all with none, in place.

    `told` is called with each file's path before it is worked on. What `check` finds something in,
    and what somebody edited, is left and named. Raises UnknownName, RegistryError.
    """
    done: dict[tuple[str, str], Refreshed] = {}
    neighbours = Neighbours()
    while found := [
        each for each in _stale(session, names) if (each[0].event, each[0].path) not in done
    ]:
        for paper, program in found if dry_run else _due(session.shop, found):
            told(paper.path)
            now = _refreshed(session, paper, program, neighbours, dry_run=dry_run)
            done[paper.event, paper.path] = now
        if dry_run:
            break
    return list(done.values())


_AFTER_OTHERS = ("run", "map")
"""Pages that tell of other papers: they are written once those are."""

_PAGES = ("sheet", *_AFTER_OTHERS)

_Found = tuple[StalePaper, str | None]
"""A stale paper, and the program that it is made of."""


def _due(shop: Path, found: list[_Found]) -> list[_Found]:
    """Those of some stale papers that rest on none of the others; copies of copies come behind
    what they are made of. All where each rests on another."""
    papers = {str(shop / paper.path) for paper, _ in found if paper.event not in _AFTER_OTHERS}
    first = [
        each
        for each in found
        if each[1] not in papers and not (papers and each[0].event in _AFTER_OTHERS)
    ]
    return first or found


def _stale(session: Session, names: Sequence[str]) -> list[_Found]:
    """What is stale."""
    with session.registry.reading_aside() as reader:
        library = Library(reader)
        wanted = {key_of(library.get(Station, name).name) for name in names} if names else None
        rows = library.rows(library.stations(()))
        return [
            (paper, _program_of(session.shop, library, reader, paper.row))
            for paper in stale_papers(session, reader, rows, wanted)
        ]


def _refreshed(
    session: Session,
    paper: StalePaper,
    program: str | None,
    neighbours: Neighbours,
    *,
    dry_run: bool,
) -> Refreshed:
    if paper.is_void:
        return Refreshed(paper, "left", "what it was written for is out of use; take it away")
    if paper.refused:
        name = quoted(paper.stations[0])
        return Refreshed(paper, "left", f"mend the station first: pincorner show {name}")
    if paper.by_hand:
        return Refreshed(paper, "left", "what somebody wrote would be lost; see for yourself")
    if paper.row["paper_id"] is None and paper.event in COPIES:
        return Refreshed(paper, "left", "it is of a version that kept no source; stamp it again")
    if dry_run:
        return Refreshed(paper, "would")
    why, path = "", session.shop / paper.path
    try:
        with kept_beside(path) as kept:
            try:
                _again(session, paper, program, neighbours)
            except NotPrinted as error:  # the page itself is there by then
                why = _without_pdf(path.with_suffix(".pdf"), error)
            else:
                pages = [path] if paper.event in _PAGES else []
                why = older_told([each.name for each in older_pdfs(pages)])
    except PincornerError as error:
        return Refreshed(paper, "left", str(error))
    return Refreshed(paper, "renewed", why, kept)


def _without_pdf(printed: Path, error: NotPrinted) -> str:
    """Take a PDF of before aside, which shows what is no more; what is told of it."""
    old = _keep_old(printed)
    if old is None:
        return str(error)
    staging.discard(printed)
    return f"its PDF of before is {old.name} now: {error}"


@contextmanager
def kept_beside(path: Path) -> Iterator[Path | None]:
    """Keep a file as NAME.old-N beside it, unless what follows fails; the place of it, None where
    there was nothing to keep.

    Raises BadInput.
    """
    old = _keep_old(path)
    try:
        yield old
    except BaseException:
        if old is not None:
            staging.discard(old)
        raise


def _keep_old(path: Path) -> Path | None:
    """Under the first number that is free, also where another command takes numbers meanwhile."""
    number = 0
    while True:
        number += 1
        old = path.with_name(f"{path.name}.old-{number}")
        with suppress(FileExists):
            return old if Outputs(force=True).keep(path, old) else None


def _again(
    session: Session, paper: StalePaper, program: str | None, neighbours: Neighbours
) -> None:
    """Write a paper once more, as it was asked for. Raises PincornerError."""
    path, row = session.shop / paper.path, paper.row
    options: dict[str, Any] = json.loads(row["options"] or "{}")
    session = session._replace(why=session.why or "; ".join(paper.reasons[:3]) or None)
    if paper.event == "sheet":
        size, pdf = options.get("paper", "a4"), bool(options.get("pdf"))
        write_sheets(session, paper.stations, path.parent, size, pdf, True, lambda *_: None)
    elif paper.event == "map":
        write_map(session, paper.bed, path, force=True)
    elif paper.event == "run":
        from pincorner.work.runs.planning import write_run_sheet  # not where none is stale

        size, pdf = options.get("paper", "a4"), bool(options.get("pdf"))
        write_run_sheet(session, options["run"], path, size, pdf, force=True)
    elif paper.event == "block":
        nest = options.get("nest")
        thickness_mm = row["stock_mm"]
        write_block(session, paper.stations[0], nest, path, True, stock_thickness_mm=thickness_mm)
    elif program is None:
        raise BadInput("the program that it was made of is not known; stamp it again")
    elif paper.event == "stamp":
        job = find_job(session, program, paper.stations[0], options["nest"], neighbours)
        stamp(
            session, job, path, codes=options["codes"], accept=(), diameters_mm=_tools(options),
            force=True, told=_nothing, wait_before=options["wait_before"],
        )  # fmt: skip
    else:
        _repeat_again(session, program, path, options, neighbours)


def _repeat_again(
    session: Session, program: str, path: Path, options: dict[str, Any], neighbours: Neighbours
) -> None:
    stations, nests = options["stations"], [tuple(each) for each in options["nests"]]
    jobs = find_jobs(session, program, stations, None, neighbours)
    if [(job.setup.facts.station.name, job.setup.nest.name) for job in jobs] != nests:
        jobs = find_jobs(session, program, stations, nests[0][1], neighbours)
    how = Repeat(
        retract_mm=options["retract_mm"],
        by_tool=options["by_tool"],
        begin=options["begin"],
        asks=options["asks"],
        diameters_mm=_tools(options),
    )
    repeat(session, jobs, path, how, force=True, told=_nothing)


def _tools(options: dict[str, Any]) -> dict[int, float]:
    return {int(number): float(mm) for number, mm in options["tools"].items()}


def _nothing(_bytes: int) -> None:
    """How far a program is read is not shown."""


def _program_of(shop: Path, library: Library, reader: Reader, row: Row) -> str | None:
    """The file that a copy is stamped from: that of the program which it was made of, as it is on
    file now; else the file that was named. None for papers that are made of no program."""
    if row["source"] is None:
        return None
    past = Library(Reader(reader.connection, row["after_change"]))
    station = past.find(Station, row["station_key"])
    facts = None if station is None else past.facts(station)
    if facts is not None:
        for nest in facts.holder.nests:
            program = facts.program_of(nest)
            if program is not None and program.file == row["source"]:
                now = library.find(Program, program.name)
                return str(shop / (program if now is None else now).file)
    return str(shop / row["source"])
