"""One change of the registry, written whole or not at all."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, NamedTuple

from sqlalchemy import Connection, Table, func, insert, select, union_all

from pincorner.documents.fields import WholeDocument, key_of
from pincorner.documents.kinds import KINDS, identity
from pincorner.documents.writing import to_json
from pincorner.errors import Refused
from pincorner.registry import derived, times
from pincorner.registry.reader import NOW, Reader
from pincorner.registry.tables import (
    TIMED,
    change,
    log,
    paper,
    revision,
    strike,
    verification,
    withdrawal,
)


@dataclass
class Summary:
    """What a change did: (kind, name) of documents that are new in use, changed or as before."""

    added: list[tuple[str, str]]
    changed: list[tuple[str, str]]
    same: list[tuple[str, str]]


class Plan(NamedTuple):
    """What writing documents comes to, worked out before the registry is held.

    It is right as long as the registry's newest change is `after_change`.
    """

    after_change: int
    summary: Summary
    revisions: list[dict[str, Any]]
    forgotten: list[tuple[str, str]]
    derived: dict[Table, derived.Rows]


def plan(reader: Reader, documents: Iterable[WholeDocument]) -> Plan:
    """What writing documents comes to. Of documents that are as they were nothing is written."""
    summary = Summary([], [], [])
    revisions: list[dict[str, Any]] = []
    written: list[WholeDocument] = []
    forgotten: list[tuple[str, str]] = []
    documents = list(documents)
    before_by_place = reader.bodies(map(identity, documents))
    for document in documents:
        kind, key = identity(document)
        before, body = before_by_place.get((kind, key)), to_json(document)
        entry = (kind, document.name)
        if before == body:
            summary.same.append(entry)
            continue
        (summary.added if before is None else summary.changed).append(entry)
        revisions.append({"kind": kind, "key": key, "name": document.name, "body": body})
        written.append(document)
        if before is not None:
            forgotten.append((kind, key))
    return Plan(reader.last_change, summary, revisions, forgotten, derived.gathered(written))


class Writer:
    """One change. Nothing is written of documents that are as they were."""

    def __init__(self, connection: Connection, who: str, command: str, why: str | None) -> None:
        self.reader = Reader(connection, NOW)
        self._connection = connection
        self._made_by = {"who": who, "command": command, "why": why}
        self._change_id: int | None = None

    def put(self, documents: Iterable[WholeDocument]) -> Summary:
        """Write documents, all in one change."""
        return self.carry_out(plan(self.reader, documents))

    def carry_out(self, planned: Plan) -> Summary:
        """Write what was planned; nobody may have changed anything since."""
        self._revise(planned.revisions)
        derived.forget(self._connection, planned.forgotten)
        derived.remember(self._connection, planned.derived)
        return planned.summary

    def retire(self, kind: str, name: str) -> str:
        """Take a document out of use; its name as it was written.

        Raises UnknownName, and Refused while something in use needs it.
        """
        document = self.reader.get(KINDS[kind].model, name)
        key = key_of(document.name)
        needed = self.reader.needed_by(kind, key)
        if needed:
            users = ", ".join(sorted({f"{row['kind']} {row['key']}" for row in needed}))
            raise Refused(
                "in-use", f"{kind} {document.name} is needed by {users}; retire that first"
            )
        self._revise([{"kind": kind, "key": key, "name": document.name, "body": None}])
        derived.forget(self._connection, [(kind, key)])
        return document.name

    def mark(self) -> None:
        """Make this a change of the history even where it writes no document."""
        if self._change_id is None:
            row = {"at": self._next_time(), **self._made_by}
            made = insert(change).values(**row).returning(change.c.id)
            self._change_id = self._connection.execute(made).scalar_one()

    def record(self, paper_file: dict[str, Any], entries: Iterable[dict[str, Any]]) -> None:
        """Add a paper: a row of its table, less the number, and one of the log for each nest.

        Those less time, author, change and paper. Nothing is recorded of a paper without nests.
        """
        after, at = self.reader.last_change, self._next_time()
        rows = [
            {**entry, "at": at, "who": self._made_by["who"], "after_change": after}
            for entry in entries
        ]
        if rows:
            made = insert(paper).values(**paper_file).returning(paper.c.id)
            number = self._connection.execute(made).scalar_one()
            self._connection.execute(insert(log), [{**row, "paper_id": number} for row in rows])

    def record_verification(self, entry: dict[str, Any]) -> int:
        """Add where a zero was found: a row of the table, less time, author, reason and change.

        Its number, by which it can be struck out.
        """
        row = {
            **entry,
            "at": self._next_time(),
            "who": self._made_by["who"],
            "why": self._made_by["why"],
            "after_change": self.reader.last_change,
        }
        made = insert(verification).values(**row).returning(verification.c.id)
        return int(self._connection.execute(made).scalar_one())

    def strike(self, verification_id: int) -> None:
        """Have a verification count no more, with the reason of this change."""
        row = {
            "verification_id": verification_id,
            "at": self._next_time(),
            "who": self._made_by["who"],
            "why": self._made_by["why"] or "",
            "after_change": self.reader.last_change,
        }
        self._connection.execute(insert(strike), [row])

    def withdraw(self, log_ids: Iterable[int]) -> None:
        """Have papers be missed no more, by their entries of the log, with this change's reason."""
        made = {
            "at": self._next_time(),
            "who": self._made_by["who"],
            "why": self._made_by["why"] or "",
            "after_change": self.reader.last_change,
        }
        self._connection.execute(insert(withdrawal), [{"log_id": each, **made} for each in log_ids])

    def _revise(self, rows: list[dict[str, Any]]) -> None:
        if not rows:
            return
        self.mark()
        numbered = [{**row, "change_id": self._change_id} for row in rows]
        self._connection.execute(insert(revision), numbered)

    def _next_time(self) -> str:
        """Now, but never before the last change: a clock set back does not reorder history."""
        return max(times.now_text(), newest_time(self._connection))


_NEWEST_TIMES = union_all(*(select(func.max(table.c.at)) for table in TIMED))


def newest_time(connection: Connection) -> str:
    """The time of the newest entry of a registry; empty where there is none."""
    return max(at or "" for (at,) in connection.execute(_NEWEST_TIMES))
