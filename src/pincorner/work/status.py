"""status: what needs attention, worst first."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from typing import NamedTuple

from pincorner.bed import covers
from pincorner.characters import quoted
from pincorner.documents.beds import Bed
from pincorner.documents.fields import key_of
from pincorner.registry.clock import newest_in_the_future
from pincorner.registry.reader import Reader
from pincorner.registry.times import today
from pincorner.render.text.bed import thin_text
from pincorner.setups.facts import wanted_jigs
from pincorner.setups.setup import OffsetRow, Setup, setups_in
from pincorner.work.kept.copies import COPIES
from pincorner.work.session import Library, Session
from pincorner.work.stale import (
    CarriedBlocks,
    StalePaper,
    accepted_copies,
    run_of_page,
    stale_papers,
)
from pincorner.work.verifying import drift_items

GROUPS: dict[str, tuple[str, ...]] = {
    "First of all": ("clock", "bed-disturbed"),
    "Stations that cannot be used": ("refused", "stopped"),
    "Before the next cut": (
        "stale-program", "stale-run", "source-changed", "copy-edited", "copy-restamped",
        "stale-block", "source-missing", "outside-limits", "code-twice", "hole-twice",
    ),
    "To look at": ("noted", "jig-twice", "thin-cover"),
    "To print anew": ("stale-sheet", "stale-map"),
    "When there is time": ("survey-old", "lies-wider", "copy-missing", "not-verified"),
    "Accepted as it is": ("accepted",),
}  # fmt: skip
"""What to do next, worst first, and the codes of the items that ask for it."""

WORST_FIRST = [code for codes in GROUPS.values() for code in codes]


TOLD_ELSEWHERE = ("survey-old", "own-max-skew", "bed-disturbed")
"""Findings that have an item of their own, or ask for nothing."""


class Item(NamedTuple):
    """Something that needs attention: a code for scripts, what it is about, a sentence.

    `command`: what helps, as it can be typed; empty where that takes a person's thought.
    """

    code: str
    about: str
    text: str
    command: str = ""

    @property
    def group(self) -> str:
        """What to do next about it."""
        return next(name for name, codes in GROUPS.items() if self.code in codes)


def status(session: Session, survey_age_days: int, deep: bool = False) -> list[Item]:
    """Everything that needs attention, worst first.

    With `deep` the registry is checked first; raises RegistryDamaged.
    """
    if deep:
        session.registry.check()
    with session.registry.reading_aside() as reader:
        library = Library(reader)
        rows = library.rows(library.stations(()))
        items = [
            *_of_clock(reader),
            *_of_rows(rows),
            *map(_of_paper, stale_papers(session, reader, rows, deep=deep)),
            *_accepted(session, reader, rows),
            *(Item(*each) for each in drift_items(reader, rows)),
            *_codes_twice(CarriedBlocks(session, reader), rows),
            *_holes_twice(reader, library),
            *_jigs_twice(rows),
            *_of_beds(library, rows, survey_age_days, today()),
        ]
    return sorted(dict.fromkeys(items), key=lambda item: WORST_FIRST.index(item.code))


def _of_clock(reader: Reader) -> Iterator[Item]:
    """A newest change that is later than now: every change to come would get its time."""
    newest = newest_in_the_future(reader.connection)
    if newest is not None:
        yield Item(
            "clock",
            "registry",
            f"the newest change of the registry has a time that is to come ({newest[:10]}): set "
            "the clock right, then put times right",
            "pincorner upgrade --repair-times",
        )


def _of_rows(rows: list[OffsetRow]) -> Iterator[Item]:
    """Stations that cannot be located, and offsets for which no block may be written."""
    for row in rows:
        name = row.facts.station.name
        if row.setup is None:
            yield Item("refused", name, row.refused or "", f"pincorner show {quoted(name)}")
            continue
        for reason in row.setup.stopped:
            text = f"NO BLOCK for {row.setup.name}: {reason.told}"
            yield Item("stopped", name, text, f"pincorner explain {quoted(name)}")
        for finding in row.setup.findings:
            if finding not in row.setup.no_block and finding.code not in TOLD_ELSEWHERE:
                text = f"{row.setup.name}: {finding.text}"
                yield Item("noted", name, text, f"pincorner explain {quoted(name)}")


def _of_paper(paper: StalePaper) -> Item:
    station, bed, path = quoted(paper.changed[0]), quoted(paper.bed), quoted(paper.path)
    about = paper.bed if paper.event == "map" else ", ".join(paper.stations)
    run = run_of_page(paper.row)
    about = run or about
    if paper.is_void:
        command = ""
    elif paper.refused:
        command = f"pincorner show {quoted(paper.stations[0])}"
    elif paper.event == "map":
        command = f"pincorner map {bed} --force -o {path}"
    elif run is not None:
        command = _page_again(paper, run)
    elif paper.by_hand:
        command = f"pincorner check {path} --station {station}"
    else:
        command = f"pincorner refresh {station}"
    text = f"{paper.told}: take it away" if paper.is_void else paper.told
    if paper.gone:
        gone = "" if paper.event in COPIES else "; it is not there any more"
        text += f"{gone}; where that is meant: pincorner retire paper {path} --note WHY"
    return Item(paper.code, about, text, command)


def _page_again(paper: StalePaper, run: str) -> str:
    """The command that writes the page of a run once more, as it was asked for."""
    options = json.loads(paper.row["options"] or "{}")
    command = f"pincorner sheet --run {quoted(run)} --force -o {quoted(paper.path)}"
    command += f" --paper {options['paper']}" if "paper" in options else ""
    return command + (" --pdf" if options.get("pdf") else "")


def _accepted(session: Session, reader: Reader, rows: list[OffsetRow]) -> Iterator[Item]:
    """What check found in a copy and somebody took as it is: it stands here while the copy does."""
    names = {key_of(row.facts.station.name): row.facts.station.name for row in rows}
    for each in accepted_copies(session, reader, names):
        yield Item("accepted", each.station, each.text)


def _codes_twice(stamped: CarriedBlocks, rows: list[OffsetRow]) -> Iterator[Item]:
    """Offset codes that several nests of one machine have, unless each one's program brings it."""
    users: dict[tuple[str, str], list[OffsetRow]] = {}
    for row in rows:
        code = row.facts.station.code_of(row.nest)
        if code is not None:
            users.setdefault((row.facts.machine.name, code), []).append(row)
    for (machine, code), sharing in users.items():
        carried = [row.setup is not None and stamped.has(row.setup) for row in sharing]
        if len(sharing) > 1 and not all(carried):
            names = ", ".join(f"{row.facts.station.name} {row.nest}" for row in sharing)
            text = (
                f"{code} on {machine} belongs to {names}: each must write it anew before it runs "
                "(stamp every program), or give them codes of their own"
            )
            yield Item("code-twice", machine, text)


def _holes_twice(reader: Reader, library: Library) -> Iterator[Item]:
    """Holes that several stations use with pins of different kinds."""
    for bed in library.all(Bed):
        used: dict[str, list[tuple[str, str]]] = {}
        for row in reader.holes_in_use(bed.name):
            used.setdefault(row.label, []).append((row.pin_key, row.first))
        for label, pins in sorted(used.items()):
            if len(pins) > 1:
                who = ", ".join(f"{pin} for station {station}" for pin, station in sorted(pins))
                text = f"hole {label} of bed {bed.name} holds different pins: {who}"
                yield Item("hole-twice", bed.name, text)


def _jigs_twice(rows: list[OffsetRow]) -> Iterator[Item]:
    """Jigs that more stations name than there are pieces of."""
    for jig, stations, copies in wanted_jigs(row.facts for row in rows):
        names = f"jig {jig} belongs to stations {', '.join(stations)}"
        if copies is None:
            text = f"{names}; how many there are of it is not given: say copies in its document"
        else:
            text = f"{names}, and there {'is' if copies == 1 else 'are'} only {copies} of it"
        yield Item("jig-twice", jig, text)


def _setups_on(bed: Bed, rows: list[OffsetRow]) -> list[Setup]:
    """Setups of the nests on a bed."""
    return setups_in(row for row in rows if row.facts.bed.name == bed.name)


def _of_beds(library: Library, rows: list[OffsetRow], age_days: int, day: date) -> Iterator[Item]:
    """Thin cover, and surveys that have aged."""
    for bed in library.all(Bed):
        cuts, unit = library.surfacings(bed), library.unit_of(bed)
        for cover in covers(bed, cuts):
            if cover.thin and cuts:
                yield Item("thin-cover", bed.name, f"bed {bed.name}: {thin_text(cover, unit)}")
        survey, disturbed = library.survey(bed), library.disturbed(bed)
        if disturbed is not None:
            text = (
                f"bed {bed.name} was disturbed, {disturbed.name}: pincorner survey "
                f"{quoted(bed.name)} FILE.csv --accept, or pincorner verify at two stations far "
                "apart"
            )
            yield Item("bed-disturbed", bed.name, text)
        if survey is None:
            continue
        for text in dict.fromkeys(
            f.text for s in _setups_on(bed, rows) for f in s.findings if f.code == "survey-old"
        ):
            yield Item("survey-old", bed.name, f"bed {bed.name}: {text}")
        age = _age(survey.name, day)
        if age is not None and age > age_days:
            text = f"survey {survey.name} of bed {bed.name} is {age} days old: wood moves"
            yield Item("survey-old", bed.name, text)


def _age(name: str, day: date) -> int | None:
    """Days since the date that a record's name begins with; None where it begins with none."""
    try:
        return (day - date.fromisoformat(name[:10])).days
    except ValueError:
        return None
