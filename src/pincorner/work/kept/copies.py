"""Copies of programs: whether they and their sources are still what they were when one was made.

Size and time are compared first, and the bytes only where those differ, unless all is asked for.
"""

from __future__ import annotations

from hashlib import file_digest
from pathlib import Path
from typing import NamedTuple

from pincorner.documents.alone import View
from pincorner.documents.fields import key_of
from pincorner.errors import BadInput
from pincorner.program.source.stamped import (
    LONGEST_BLOCK,
    MadeOf,
    StampedBlock,
    block_in_file,
    block_of,
)
from pincorner.program.source.text import ProgramText
from pincorner.registry.reader import Reader, Row
from pincorner.render.blocks.guards import letters
from pincorner.setups.setup import Setup

COPIES = ("stamp", "repeat")
"""Papers that are made of a program."""


class CopyState(NamedTuple):
    """What is no longer so about a copy: a code for scripts, and a sentence."""

    code: str
    text: str


class SourceFile(NamedTuple):
    """A program as it was when a copy was made of it: its path as it is recorded, and its bytes."""

    path: str
    size: int
    mtime_ns: int
    digest: str


def source_file(text: ProgramText, path: str) -> SourceFile:
    """A program that was read."""
    return SourceFile(path, len(text.data), text.mtime_ns, text.digest)


def digest_of(path: Path) -> str:
    """SHA-256 of a file, in hex digits. Raises OSError."""
    with path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()


def same_file(path: Path, size: int, mtime_ns: int, digest: str, *, deep: bool = False) -> bool:
    """Whether a file is what it was. Raises OSError where it cannot be read."""
    found = path.stat()
    if not deep and (found.st_size, found.st_mtime_ns) == (size, mtime_ns):
        return True
    return found.st_size == size and digest_of(path) == digest


def state_of_source(shop: Path, entry: Row, *, deep: bool) -> CopyState | None:
    """What became of the program that a copy was made of; None where it is as it was."""
    source = entry["source"]
    if source is None:
        return None
    kept = entry["source_size"], entry["source_mtime_ns"], entry["source_digest"]
    try:
        same = same_file(shop / source, *kept, deep=deep)
    except FileNotFoundError:
        return CopyState("source-missing", f"its program {source} is not there any more")
    except OSError as error:
        return CopyState("source-missing", f"its program {source} cannot be read: {error.strerror}")
    return None if same else _changed(source)


def _changed(source: str) -> CopyState:
    text = f"its program {source} was changed or posted anew since"
    return CopyState("source-changed", text)


def block_of_paper(shop: Path, entry: Row) -> StampedBlock | None:
    """The block in the file of a paper; of a joint file the first, behind its opening words.

    Raises OSError, BadInput.
    """
    behind = LONGEST_BLOCK if entry["event"] == "repeat" else 0
    return block_in_file(shop / entry["path"], behind)


def state_of_file(shop: Path, entry: Row, *, deep: bool) -> CopyState | None:
    """What became of a file that was written; None where it holds what was written."""
    path = shop / entry["path"]
    try:
        if same_file(path, entry["size"], entry["mtime_ns"], entry["digest"], deep=deep):
            return None
        block = block_of_paper(shop, entry)
    except FileNotFoundError:
        return CopyState("copy-missing", "it is not there any more")
    except OSError as error:
        return CopyState("copy-missing", f"it cannot be read: {error.strerror}")
    except BadInput as error:
        return CopyState("copy-edited", str(error))
    if block is None:
        return CopyState("copy-edited", "its setup block is gone")
    if block.fingerprint != entry["fingerprint"]:
        was = f"it holds the block of {block.called} now"
        return CopyState("copy-restamped", f"{was}, which this registry did not put there")
    return CopyState("copy-edited", "it was edited by hand since it was written")


def states_of_copy(
    view: View, shop: Path, text: ProgramText, setup: Setup
) -> tuple[CopyState, ...]:
    """What is no longer so about a program that was read, where it is a stamped copy."""
    block = block_of(text)
    if block is None:
        return ()
    entry = _recorded(view, text, setup, block)
    if entry is not None:
        found = [state_of_source(shop, entry, deep=False)]
        if entry["digest"] != text.digest:
            found.append(CopyState("copy-edited", "this copy was edited by hand since it was made"))
    else:
        found = [_by_its_comment(shop, block, setup)]
    return tuple(state for state in found if state is not None)


def _recorded(view: View, text: ProgramText, setup: Setup, block: StampedBlock) -> Row | None:
    """The entry of a copy wherever its file is now: these bytes, else the newest that has its block
    and was made of the program that it names."""
    if not isinstance(view, Reader):
        return None
    station = key_of(setup.facts.station.name)
    mine = [
        entry
        for entry in view.papers(fingerprint=block.fingerprint, key=station)
        if entry["event"] in COPIES
        and entry["digest"] is not None
        and entry["source_digest"] is not None
    ]
    found = [entry for entry in mine if entry["digest"] == text.digest]
    if not found and mine:
        found = mine if block.made_of is None else _made_of(view, mine, block.made_of)
    return found[-1] if found else None


def _made_of(view: Reader, entries: list[Row], source: MadeOf) -> list[Row]:
    """Those of the entries that are of copies of a program, else of copies of its copies."""
    found = [each for each in entries if each["source_digest"].startswith(source.digest)]
    if found:
        return found
    made = {each["digest"]: each["source_digest"] for each in reversed(view.papers())}

    def goes_back_to_it(entry: Row) -> bool:
        digest, passed = entry["source_digest"], set[str]()
        while digest is not None and digest not in passed and not digest.startswith(source.digest):
            passed.add(digest)
            digest = made.get(digest)
        return digest is not None and digest not in passed

    return [each for each in entries if goes_back_to_it(each)]


def _by_its_comment(shop: Path, block: StampedBlock, setup: Setup) -> CopyState | None:
    """What a copy's own comment says of its source, held against the program on file."""
    program = setup.program
    if block.made_of is None or program is None:
        return None
    if letters(Path(program.file).name) != letters(block.made_of.name):
        return None  # it is a copy of another program
    try:
        now = digest_of(shop / program.file)
    except OSError:
        return CopyState("source-missing", f"its program {program.file} is not there any more")
    return None if now.startswith(block.made_of.digest) else _changed(program.file)
