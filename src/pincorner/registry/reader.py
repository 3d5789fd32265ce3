"""What the registry holds, now or at any past change."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import (
    BindParameter,
    ColumnElement,
    Connection,
    Select,
    bindparam,
    exists,
    func,
    select,
)
from sqlalchemy.engine import RowMapping

from pincorner.documents.alone import HoleInUse
from pincorner.documents.fields import WholeDocument, key_of
from pincorner.documents.kinds import KINDS, D, identity, word_of
from pincorner.documents.writing import from_json
from pincorner.errors import RegistryDamaged, UnknownName
from pincorner.registry.meanings import damaged
from pincorner.registry.tables import (
    change,
    log,
    paper,
    reference,
    registry,
    revision,
    station_code,
    station_hole,
    strike,
    verification,
    withdrawal,
)
from pincorner.units import Unit


def is_text(key: str) -> bool:
    """Whether a word from a command line can be text at all: no database takes lone surrogates."""
    return not any("\ud800" <= character <= "\udfff" for character in key)


NOW = 2**31 - 1
"""Later than any change."""


_MANY = 20
"""So many documents of a kind are read with all others of the kind, in one query."""


_UP_TO: BindParameter[int] = bindparam("up_to")
_KIND: BindParameter[str] = bindparam("kind")
_NEWEST_BODY = (
    select(revision.c.body)
    .where(revision.c.kind == _KIND, revision.c.key == bindparam("key"))
    .where(revision.c.change_id <= _UP_TO)
    .order_by(revision.c.change_id.desc())
    .limit(1)
)
_OTHER = revision.alias()
_NEWEST_OF_KIND = (
    select(revision.c.name, revision.c.body, revision.c.key)
    .where(
        revision.c.kind == _KIND,
        revision.c.change_id
        == select(func.max(_OTHER.c.change_id))
        .where(_OTHER.c.kind == revision.c.kind, _OTHER.c.key == revision.c.key)
        .where(_OTHER.c.change_id <= _UP_TO)
        .scalar_subquery(),
    )
    .where(revision.c.body.is_not(None))
)
"""What every command asks many times: put together once."""


Row = RowMapping
"""A row of a table, by the names of its columns."""


def document_of(model: type[D], name: str, body: str) -> D:
    """The document that a revision holds under a name. Raises RegistryDamaged."""
    try:
        document = from_json(model, body)
    except (ValueError, TypeError) as error:  # no JSON, or JSON of something else
        raise _unreadable(word_of(model), name, error) from None
    if key_of(document.name) != key_of(name):
        raise _unreadable(word_of(model), name, f"it is that of {document.name}")
    return document


def values_of(kind: str, name: str, body: str) -> dict[str, Any]:
    """The plain values that a revision holds. Raises RegistryDamaged."""
    try:
        return dict(json.loads(body))
    except (ValueError, TypeError) as error:
        raise _unreadable(kind, name, error) from None


def _unreadable(kind: str, name: str, error: object) -> RegistryDamaged:
    line = str(error).splitlines()[0]
    return damaged(f"{kind} {name} cannot be read: {line}", "the registry")


@dataclass(frozen=True)
class Reader:
    """Documents as they were after change number `limit`."""

    connection: Connection
    limit: int

    @property
    def is_now(self) -> bool:
        """Whether this is the present; the tables beside the documents are of the present alone."""
        return self.limit == NOW

    @property
    def display_units(self) -> Unit:
        """The unit that bare numbers on the command line and tables are in."""
        units: Unit = self.connection.execute(select(registry.c.display_units)).scalar_one()
        return units

    @property
    def last_change(self) -> int:
        """The number of the newest change that this view holds; 0 before the first."""
        newest = select(func.max(change.c.id)).where(change.c.id <= self.limit)
        return self.connection.execute(newest).scalar() or 0

    @property
    def last_changed(self) -> str | None:
        """When that was, in UTC; None before the first."""
        at = select(change.c.at).where(change.c.id == self.last_change)
        return self.connection.execute(at).scalar()

    def find(self, model: type[D], name: str) -> D | None:
        """The document of that class and name, without regard to case; None where there is none."""
        body = self.body(word_of(model), key_of(name))
        return None if body is None else document_of(model, name, body)

    def get(self, model: type[D], name: str) -> D:
        """The same, but raises UnknownName, with what was probably meant."""
        found = self.find(model, name)
        if found is None:
            raise UnknownName(word_of(model), name, self.names(model))
        return found

    def body(self, kind: str, key: str) -> str | None:
        """The canonical JSON of a document by its key; None where there is none or it retired."""
        if not is_text(key):
            return None
        given = {"kind": kind, "key": key, "up_to": self.limit}
        return self.connection.execute(_NEWEST_BODY, given).scalar()

    def bodies(self, places: Iterable[tuple[str, str]]) -> dict[tuple[str, str], str]:
        """The canonical JSON of many documents, each by kind and key; of those that there are."""
        keys: dict[str, list[str]] = {}
        for kind, key in places:
            keys.setdefault(kind, []).append(key)
        found: dict[tuple[str, str], str] = {}
        for kind, wanted in keys.items():
            if len(wanted) < _MANY:
                one_by_one = {(kind, key): self.body(kind, key) for key in wanted}
                found |= {place: body for place, body in one_by_one.items() if body is not None}
            else:
                found |= {(kind, key_of(name)): body for name, body in self._current(kind)}
        return found

    def all(self, model: type[D]) -> list[D]:
        """Every document of a class, by name."""
        return [document_of(model, name, body) for name, body in self._current(word_of(model))]

    def names(self, model: type[WholeDocument]) -> list[str]:
        """The names of a class's documents, in order."""
        return [name for name, _ in self._current(word_of(model))]

    def everything(self) -> list[WholeDocument]:
        """Every document of every kind."""
        return [document for kind in KINDS.values() for document in self.all(kind.model)]

    def _current(self, kind: str) -> list[tuple[str, str]]:
        given = {"kind": kind, "up_to": self.limit}
        rows = sorted(
            self.connection.execute(_NEWEST_OF_KIND, given).all(), key=lambda row: row.key
        )
        for row in rows:
            if key_of(row.name) != row.key:
                raise _unreadable(kind, row.name, f"it is kept as {row.key}")
        return [(row.name, row.body) for row in rows]

    def holes_in_use(self, bed: str) -> list[HoleInUse]:
        """Every hole in use on a bed with each kind of pin, now."""
        key: ColumnElement[Any] = station_hole.c.station_key
        if self.connection.dialect.name == "postgresql":
            key = key.collate("C")  # SQLite has no other order than that of bytes
        query = (
            select(
                station_hole.c.label,
                station_hole.c.pin_key,
                func.min(key).label("first"),
                func.max(key).label("last"),
            )
            .where(station_hole.c.bed_key == key_of(bed))
            .group_by(station_hole.c.label, station_hole.c.pin_key)
        )
        return [HoleInUse(*row) for row in self.connection.execute(query)]

    def codes_in_use(self, machine: str) -> list[RowMapping]:
        """station_key, nest_key and code of every nest on a machine that has a work offset, now."""
        to_bed, to_machine = reference.alias(), reference.alias()
        query = (
            select(station_code.c.station_key, station_code.c.nest_key, station_code.c.code)
            .join(
                to_bed,
                (to_bed.c.kind == "station")
                & (to_bed.c.key == station_code.c.station_key)
                & (to_bed.c.to_kind == "bed"),
            )
            .join(
                to_machine,
                (to_machine.c.kind == "bed")
                & (to_machine.c.key == to_bed.c.to_key)
                & (to_machine.c.to_kind == "machine"),
            )
            .where(to_machine.c.to_key == key_of(machine))
        )
        return self._rows(query, "station_key", "nest_key")

    def needed_by(self, kind: str, key: str) -> list[RowMapping]:
        """kind, key and path of everything in use that refers to a document, now."""
        query = select(reference.c.kind, reference.c.key, reference.c.path).where(
            reference.c.to_kind == kind, reference.c.to_key == key
        )
        return self._rows(query, "kind", "key")

    def users_of(self, places: Collection[tuple[str, str]]) -> set[tuple[str, str]]:
        """Kind and key of everything in use that refers to any of these documents, now."""
        if len(places) < _MANY:
            found = (self.needed_by(*place) for place in places)
            return {(row["kind"], row["key"]) for rows in found for row in rows}
        columns = (reference.c.kind, reference.c.key, reference.c.to_kind, reference.c.to_key)
        every = self.connection.execute(select(*columns))
        return {(kind, key) for kind, key, *to in every if tuple(to) in places}

    def changes(self, key: str | None = None, kind: str | None = None) -> list[RowMapping]:
        """Every revision with its change, oldest first; of documents with that key or kind only."""
        query = (
            select(
                change.c.id,
                change.c.at,
                change.c.who,
                change.c.command,
                change.c.why,
                revision.c.kind,
                revision.c.key,
                revision.c.name,
                revision.c.body,
            )
            .join(revision, revision.c.change_id == change.c.id)
            .where(change.c.id <= self.limit)
        )
        if key is not None:
            query = query.where(revision.c.key == (key if is_text(key) else ""))
        if kind is not None:
            query = query.where(revision.c.kind == kind)
        return self._rows(query, "id", "kind", "key")

    def newest_change(self, kind: str, name: str) -> RowMapping:
        """The revision that a document's present state is from, with its change.

        Raises RegistryDamaged where the history has none.
        """
        found = self.changes(key_of(name), kind)
        if not found:
            raise _unreadable(kind, name, "no change of the history wrote it")
        return found[-1]

    def changes_alone(self) -> list[RowMapping]:
        """Changes that wrote no document, such as putting a backup back, oldest first."""
        alone = ~exists().where(revision.c.change_id == change.c.id)
        query = select(change).where(change.c.id <= self.limit, alone)
        return self._rows(query, "id")

    def _rows(self, query: Select[Any], *order: str) -> list[RowMapping]:
        """A query's rows, in order of bytes: databases sort text by the rules of many languages."""
        rows = list(self.connection.execute(query).mappings())
        return sorted(rows, key=lambda row: [row[name] for name in order])

    def last_papers(self, station: str | None) -> list[RowMapping]:
        """station_key, nest, fingerprint, x_mm and y_mm of each nest's newest paper.

        Of one station (by name), or of all with None.
        """
        newest = select(func.max(log.c.id)).group_by(log.c.station_key, log.c.nest)
        if station is not None:
            newest = newest.where(log.c.station_key == key_of(station))
        columns = (log.c.station_key, log.c.nest, log.c.fingerprint, log.c.x_mm, log.c.y_mm)
        query = select(*columns).where(log.c.id.in_(newest))
        return list(self.connection.execute(query).mappings())

    def papers(self, *, fingerprint: str | None = None, key: str | None = None) -> list[RowMapping]:
        """The log's entries with what is kept of their files, oldest first, of a fingerprint or a
        station's key. Nothing is kept of files of before there was anything."""
        kept = [column for column in paper.c if column.name != "id"]
        query = select(log, *kept).join(paper, paper.c.id == log.c.paper_id, isouter=True)
        query = query.where(log.c.after_change <= self.limit).order_by(log.c.id)
        if fingerprint is not None:
            query = query.where(log.c.fingerprint == fingerprint)
        if key is not None:
            query = query.where(log.c.station_key == (key if is_text(key) else ""))
        return list(self.connection.execute(query).mappings())

    def newest_sheet_options(self) -> str | None:
        """What the newest sheet was asked for with, as JSON; None where there is none."""
        query = select(paper.c.options).join(log, paper.c.id == log.c.paper_id)
        query = query.where(log.c.event == "sheet", log.c.after_change <= self.limit)
        found: str | None = self.connection.execute(
            query.order_by(log.c.id.desc()).limit(1)
        ).scalar_one_or_none()
        return found

    def verified_since(self, document: WholeDocument) -> list[RowMapping]:
        """Verifications since a document became what it is, oldest first; none of one to come."""
        kind, key = identity(document)
        since = max((row["id"] for row in self.changes(key, kind)), default=NOW)
        return [row for row in self.verifications() if row["after_change"] >= since]

    def verifications(
        self, station: str | None = None, *, struck: bool = False
    ) -> list[RowMapping]:
        """Where zeros were found, oldest first; of one station (by name), or of all with None.

        With `struck` those that count no more are among them.
        """
        out = exists().where(
            strike.c.verification_id == verification.c.id, strike.c.after_change <= self.limit
        )
        query = (
            select(verification)
            .where(verification.c.after_change <= self.limit)
            .order_by(verification.c.id)
        )
        if not struck:
            query = query.where(~out)
        if station is not None:
            key = key_of(station)
            query = query.where(verification.c.station_key == (key if is_text(key) else ""))
        return list(self.connection.execute(query).mappings())

    def strikes(self) -> list[RowMapping]:
        """Verifications that count no more: number, time, author and reason, oldest first."""
        query = select(strike).where(strike.c.after_change <= self.limit)
        return self._rows(query, "at", "verification_id")

    def withdrawals(self) -> list[RowMapping]:
        """Entries of the log whose papers are gone on purpose: log_id with time, author and reason,
        and station_key, nest, event and path of the entry."""
        entry = (log.c.station_key, log.c.nest, log.c.event, log.c.path)
        query = select(withdrawal, *entry).join(log, log.c.id == withdrawal.c.log_id)
        return self._rows(query.where(withdrawal.c.after_change <= self.limit), "log_id")
