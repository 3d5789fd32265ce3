"""Papers and setup blocks in files that show numbers which are no longer those of the registry."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from pincorner.documents.dialect_words import MODE_WORDS
from pincorner.documents.fields import key_of
from pincorner.documents.stations import Station
from pincorner.errors import BadInput
from pincorner.program.source.lexer import acting_text, words_of
from pincorner.program.source.stamped import LONGEST_BLOCK, StampedBlock, block_in_file
from pincorner.registry.reader import Reader, Row
from pincorner.render.blocks.block import word_lines
from pincorner.setups.setup import Setup
from pincorner.setups.transform import OffsetRow, offset_rows
from pincorner.units import Unit
from pincorner.work.session import Library, Session

FILES = ("block", "stamp", "repeat")
"""Papers that a controller reads: each file counts for itself, as long as it is there. Of sheets
and maps the newest counts: it is the one that hangs at the machine."""

_MODES = re.compile(rf"(?:{MODE_WORDS})+")


class StalePaper(NamedTuple):
    """A paper and the fingerprints it shows and should show.

    `reason`: why it is stale where they are the same; else empty.
    """

    event: str
    path: str
    station: str
    bed: str
    nest: str
    shows: str
    now: str
    reason: str = ""


def stale_papers(session: Session, reader: Reader, rows: list[OffsetRow]) -> Iterator[StalePaper]:
    """Every paper in use that was written from numbers which have changed since."""
    now = {(key_of(row.facts.station.name), row.nest): row for row in rows if row.setup is not None}
    nests: dict[str, list[Setup]] = {}
    for each in rows:
        if each.setup is not None:
            nests.setdefault(each.facts.station.name, []).append(each.setup)
    past = _Past(reader)
    for paper in papers_in_use(session, reader):
        row = now.get((paper["station_key"], paper["nest"]))
        if row is None or row.setup is None:
            continue
        stale = StalePaper(
            paper["event"],
            paper["path"],
            row.facts.station.name,
            row.facts.bed.name,
            row.nest,
            paper["fingerprint"],
            row.setup.fingerprint,
        )
        if stale.shows == stale.now:
            reason = None
            if stale.event in FILES:
                reason = _why_block_is_old(session, stale, nests[stale.station])
            if reason is not None:
                yield stale._replace(reason=reason)
            continue
        # A paper for today's stock never shows the fingerprint on file: what was on file then?
        if (
            past.fingerprint(paper["after_change"], paper["station_key"], paper["nest"])
            != stale.now
        ):
            yield stale


def _why_block_is_old(session: Session, paper: StalePaper, nests: list[Setup]) -> str | None:
    """Why the block in a file with the right fingerprint is not the one of now.

    `nests`: the setups of its station. Of a file with several blocks the first is looked at: all
    were written together.
    """
    path = session.shop / paper.path
    try:
        block = block_in_file(path, LONGEST_BLOCK if paper.event == "repeat" else 0)
    except BadInput as error:
        return str(error)
    if block is None or block.fingerprint != paper.now:
        return None
    return why_not_as_now(block, nests, paper.nest)


def carried_blocks(session: Session, reader: Reader) -> set[tuple[str, str, str]]:
    """(station's key, nest, fingerprint) of every block that a program brings itself."""
    return {
        (paper["station_key"], paper["nest"], paper["fingerprint"])
        for paper in papers_in_use(session, reader)
        if paper["event"] in ("stamp", "repeat")
    }


def papers_in_use(session: Session, reader: Reader) -> list[Row]:
    """What was written last to each file, and last of each nest's sheets and maps."""
    papers = reader.papers()
    written = {paper["path"]: paper["at"] for paper in papers if paper["event"] in FILES}
    files = [
        paper
        for paper in papers
        if paper["event"] in FILES
        and paper["at"] == written[paper["path"]]
        and (session.shop / paper["path"]).exists()
    ]
    hung = {
        (paper["event"], paper["station_key"], paper["nest"]): paper
        for paper in papers
        if paper["event"] not in FILES
    }
    return [*files, *hung.values()]


@dataclass
class _Past:
    """Fingerprints of past states, each computed once."""

    reader: Reader
    _found: dict[tuple[int, str], dict[str, str]] = field(default_factory=dict)

    def fingerprint(self, after_change: int, station: str, nest: str) -> str | None:
        """What a nest's fingerprint was after a change; None where it had none."""
        place = (after_change, station)
        if place not in self._found:
            library = Library(Reader(self.reader.connection, after_change))
            found = library.find(Station, station)
            rows = [] if found is None else offset_rows(library.facts(found))
            self._found[place] = {
                row.nest: row.setup.fingerprint for row in rows if row.setup is not None
            }
        return self._found[place].get(nest)


class _Words(NamedTuple):
    """A block's lines of words without blanks: the modes it begins with, and all behind them."""

    modes: list[str]
    rest: list[str]


def why_not_as_now(block: StampedBlock, nests: Sequence[Setup], nest: str) -> str | None:
    """Why the block in a file, which shows the fingerprint of now, is not the one of now.

    `nests`: setups of all nests of the station, `nest` the one that the block selects. None where
    every word is as it would be written, for a program in either unit.
    """
    there = _parted([acting_text(line) for line in block.lines])
    units: tuple[Unit | None, ...] = (None, "mm", "in")  # most are as the first one says
    if not any(there == _parted(_words_now(nests, nest, unit)) for unit in units):
        now = [_parted(_words_now(nests, nest, unit)) for unit in units]
        if any(there.rest == each.rest for each in now):
            return (
                f"the setup block was written with {_shown(there.modes)}, where one of now has "
                f"{_shown(now[0].modes)}: what an earlier program left on could stay on"
            )
        return "the setup block is not as it was stamped, and what was changed in it is not read"
    chosen = next(each for each in nests if each.nest.name == nest)
    if not chosen.no_block:
        return None
    return f"no block may be written for it now: {chosen.no_block[0].told}"


def _words_now(nests: Sequence[Setup], nest: str, unit: Unit | None) -> list[str]:
    return [acting_text(line) for line in word_lines(nests, nest, unit)]


def _parted(lines: Sequence[str]) -> _Words:
    lines = [line for line in lines if line]
    behind = next((at for at, line in enumerate(lines) if not _MODES.fullmatch(line)), len(lines))
    return _Words(lines[:behind], lines[behind:])


def _shown(modes: Sequence[str]) -> str:
    """Lines of words as people write them: `G21 G90, G17 G40 G80`."""
    words = ([line[word.start : word.end] for word in words_of(line)] for line in modes)
    return ", ".join(map(" ".join, words)) or "no mode words"
