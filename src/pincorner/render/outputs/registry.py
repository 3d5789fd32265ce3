"""JSON of `load`, `list`, `show`, `history` and `refresh`."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Annotated, Literal, TypedDict

from pincorner.documents.writing import plain_values
from pincorner.render.outputs.shapes import PlainDocument, Report
from pincorner.render.text.reports import EventEntry, Named, RefreshedEntry, ShownEntry


class Name(TypedDict):
    """A document."""

    kind: Annotated[str, "machine, bed, pin, jig, station, .."]
    name: Annotated[str, "its name"]


class ChosenPins(TypedDict):
    """A station whose pins were chosen."""

    station: Annotated[str, "the station"]
    reason: Annotated[str, "which pins, why, and what the runner-up gives"]


class Load(Report):
    """What was read in, all or nothing."""

    kind: Literal["load"]
    dry_run: Annotated[bool, "nothing was written"]
    new: Annotated[list[Name], "not there before"]
    changed: Annotated[list[Name], "there before, and otherwise now"]
    as_before: Annotated[list[Name], "left alone"]
    chosen: Annotated[list[ChosenPins], "stations whose pins were chosen"]
    warnings: Annotated[list[str], "what does not keep it from being loaded"]


class Names(Report):
    """What the registry holds."""

    kind: Literal["list"]
    documents: Annotated[list[Name], "by kind, then by name"]


class ShownDocument(TypedDict):
    """One document in full."""

    kind: Annotated[str, "machine, bed, pin, jig, station, .."]
    name: Annotated[str, "its name"]
    changed_at: Annotated[str, "when it last changed, ISO 8601 in UTC"]
    changed_by: Annotated[str, "who changed it"]
    fingerprint: Annotated[str | None, "the fingerprint that was asked for"]
    stands_for: Annotated[str | None, "what that fingerprint stands for, in words"]
    document: Annotated[PlainDocument, "as load takes it, in mm; defaults are left out"]


class Shown(Report):
    """Everything of a name, or what a fingerprint stands for."""

    kind: Literal["show"]
    documents: Annotated[list[ShownDocument], "every kind that has the name"]


class HistoryEvent(TypedDict):
    """One thing that happened: a document changed, a paper was written, a zero was verified."""

    at: Annotated[str, "when, ISO 8601 in UTC"]
    who: Annotated[str, "who"]
    command: Annotated[str, "by which command"]
    why: Annotated[str | None, "the note given with it"]
    document_kind: Annotated[str, "machine, bed, ..; empty: the registry as a whole"]
    name: Annotated[str, "of the document; empty: the registry as a whole"]
    what: Annotated[str, "what happened, in words"]


class History(Report):
    """Who changed what, when and why."""

    kind: Literal["history"]
    events: Annotated[list[HistoryEvent], "oldest first"]


class RefreshedPaper(TypedDict):
    """A paper that was stale."""

    paper: Annotated[str, "sheet, map, run (its page), block, stamp or repeat"]
    file: Annotated[str, "from the shop folder, or in full"]
    outcome: Annotated[Literal["renewed", "would", "left"], "what became of it"]
    reasons: Annotated[list[str], "what had changed, in words"]
    why: Annotated[str | None, "why it was left, or what of it is not new, for a person to look at"]
    kept_as: Annotated[str | None, "the old file's name beside it"]


class Refresh(Report):
    """What was printed anew and stamped anew."""

    kind: Literal["refresh"]
    papers: Annotated[list[RefreshedPaper], "all that was stale"]


def refresh_json(done: Sequence[RefreshedEntry]) -> Refresh:
    """What became of stale papers."""
    papers: list[RefreshedPaper] = [
        {
            "paper": event,
            "file": path,
            "outcome": outcome,
            "reasons": list(reasons),
            "why": why or None,
            "kept_as": kept,
        }
        for event, path, outcome, reasons, why, kept in done
    ]
    return {"format": 1, "kind": "refresh", "papers": papers}


def load_json(
    added: Named, changed: Named, same: Named, chosen: Named, warnings: Sequence[str], dry: bool
) -> Load:
    """What a load did."""
    return {
        "format": 1,
        "kind": "load",
        "dry_run": dry,
        "new": _names(added),
        "changed": _names(changed),
        "as_before": _names(same),
        "chosen": [{"station": station, "reason": reason} for station, reason in chosen],
        "warnings": list(warnings),
    }


def _names(names: Named) -> list[Name]:
    return [{"kind": kind, "name": name} for kind, name in names]


def names_json(found: Sequence[tuple[str, str, str]]) -> Names:
    """Kinds and names, of (kind, name, a few words)."""
    entries = _names([(kind, name) for kind, name, _ in found])
    return {"format": 1, "kind": "list", "documents": entries}


def shown_json(entries: Iterable[ShownEntry]) -> Shown:
    """Documents in full."""
    documents: list[ShownDocument] = [
        {
            "kind": kind,
            "name": document.name,
            "changed_at": at,
            "changed_by": who,
            "fingerprint": fingerprint or None,
            "stands_for": headline or None,
            "document": PlainDocument(plain_values(document)),
        }
        for kind, document, at, who, fingerprint, headline in entries
    ]
    return {"format": 1, "kind": "show", "documents": documents}


def history_json(events: Sequence[EventEntry]) -> History:
    """What happened."""
    entries: list[HistoryEvent] = [
        {
            "at": at,
            "who": who,
            "command": command,
            "why": why,
            "document_kind": kind,
            "name": name,
            "what": what,
        }
        for at, who, command, why, kind, name, what in events
    ]
    return {"format": 1, "kind": "history", "events": entries}
