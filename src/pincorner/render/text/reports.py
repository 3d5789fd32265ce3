"""load, list, show, history, upgrade and refresh as text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Literal

from pincorner.characters import visible
from pincorner.documents.fields import WholeDocument
from pincorner.documents.writing import to_yaml
from pincorner.render.text.tables import first_of, table, wrapped
from pincorner.units import Unit

Named = Sequence[tuple[str, str]]
"""(kind, name) of documents."""

ShownEntry = tuple[str, WholeDocument, str, str, str, str]
"""kind, document, time and author of its last change; fingerprint and what it stands for."""

EventEntry = tuple[str, str, str, str | None, str, str, str]
"""at, who, command, why, kind, name, what."""


Outcome = Literal["renewed", "would", "left"]
RefreshedEntry = tuple[str, str, Outcome, tuple[str, ...], str, str | None]
"""Event, path, outcome (renewed, would, left), reasons, why it was left, the old file's name."""


def load_text(
    added: Named, changed: Named, same: Named, chosen: Named, warnings: Sequence[str], dry: bool
) -> str:
    """A summary of what a load did."""
    lines = [
        f"{word} {kind} {name}" for word, names in (("new", added), ("changed", changed))
        for kind, name in names
    ]  # fmt: skip
    lines += [f"station {station}: chose {reason}" for station, reason in chosen]
    lines += [f"warning: {text}" for text in warnings]
    counts = f"{len(added)} new, {len(changed)} changed, {len(same)} as before"
    lines.append(f"{counts}; nothing written (--dry-run)" if dry else counts)
    return "".join(f"{line}\n" for line in lines)


def upgraded_text(
    before: str, after: str, changed: Sequence[str], repaired: int, kept: Sequence[str]
) -> str:
    """What an upgrade did: the schema's versions, and a line for each document it changed.

    `repaired`: how many times were put right. `kept`: lines on what is as it was.
    """
    same = before == after
    lines = ["up to date already" if same else f"upgraded from {before} to {after}", *changed]
    if repaired:
        lines.append(f"{repaired} times that were to come are now's")
    if changed:
        lines.append("copies and blocks made before are stale: see pincorner status")
    lines += kept
    return "".join(f"{line}\n" for line in lines)


def names_text(found: Sequence[tuple[str, str, str]]) -> str:
    """A table of kinds, names and a few words about each."""
    rows = [(kind, name, visible(short)) for kind, name, short in found]
    return table(("kind", "name", ""), rows) if rows else "nothing\n"


def shown_text(entries: Iterable[ShownEntry], unit: Unit = "mm") -> str:
    """Each document as YAML of that unit, under a line that says what it is and when it changed."""
    parts = []
    for kind, document, at, who, _, headline in entries:
        head = f"# {kind} {document.name}, last changed {local_time(at)} by {visible(who)}\n"
        if headline:
            head = f"# {visible(headline)}\n{head}"
        parts.append(head + to_yaml([document], unit))
    return "\n".join(parts)


def history_text(events: Sequence[EventEntry]) -> str:
    """One line for each event, in local time."""
    lines = []
    for at, who, command, why, kind, name, what in events:
        reason = f" ({' '.join(visible(why).split())})" if why else ""
        about = f"{kind} {name}".strip()  # the registry as a whole has no name
        lines.append(
            f"{local_time(at)}  {visible(who)}  {command}  {about}: {visible(what)}{reason}"
        )
    return "".join(f"{line}\n" for line in lines) or "nothing\n"


def local_time(at: str) -> str:
    """A registry time as people read it, to the second, in local time."""
    return datetime.fromisoformat(at).astimezone().strftime("%Y-%m-%d %H:%M:%S")


def sheets_text(
    paths: Sequence[Path], kept: Sequence[Path], refused: Sequence[tuple[str, str]]
) -> str:
    """The pages that were written, that some were there already, and stations without one."""
    lines = [f"{path}" for path in paths]
    if kept:
        lines.append(
            "pages that were there are as they were: pincorner refresh prints anew what is stale, "
            "--force prints all"
        )
    lines += [f"! no sheet: {text}" for _, text in refused]
    return "".join(f"{line}\n" for line in lines)


REASONS_TOLD = 3
"""So many reasons are told of a paper that is stale."""

_OUTCOMES = {"renewed": "renewed", "would": "would be renewed", "left": "LEFT AS IT IS"}


def refresh_text(done: Sequence[RefreshedEntry]) -> str:
    """A line for each paper: what became of it, what had changed, and where the old one is."""
    if not done:
        return "nothing is stale\n"
    lines: list[str] = []
    for _, path, outcome, reasons, why, kept in done:
        said = first_of(reasons, REASONS_TOLD)
        text = f"{path} {_OUTCOMES[outcome]}"
        text += f": {'; '.join(said)}" if said else ""
        text += f" (the old one is {kept})" if kept else ""
        lines += wrapped(visible(text), "    ", breaks_names=False)
        first, *more = why.splitlines() or [""]
        for line in (first, *more):
            lines += wrapped(visible(line), "    ", "    ", breaks_names=False) if line else []
    return "".join(f"{line}\n" for line in lines)
