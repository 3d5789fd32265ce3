"""What the registry holds, now or at any past change."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, func, select
from sqlalchemy.engine import RowMapping

from pincorner.documents.fields import key_of
from pincorner.documents.kinds import KINDS, AnyDocument
from pincorner.documents.writing import from_json
from pincorner.errors import UnknownName
from pincorner.registry.tables import (
    change,
    log,
    reference,
    registry,
    revision,
    station_code,
    station_hole,
    verification,
)
from pincorner.units import Unit


def is_text(key: str) -> bool:
    """Whether a word from a command line can be text at all: no database takes lone surrogates."""
    return not any("\ud800" <= character <= "\udfff" for character in key)


NOW = 2**31 - 1
"""Later than any change."""


Row = RowMapping
"""A row of a table, by the names of its columns."""


@dataclass(frozen=True)
class Reader:
    """Documents as they were after change number `limit`."""

    connection: Connection
    limit: int

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

    def find(self, kind: str, name: str) -> AnyDocument | None:
        """The document of that kind and name, without regard to case; None where there is none."""
        body = self.body(kind, key_of(name))
        return None if body is None else from_json(kind, body)

    def get(self, kind: str, name: str) -> AnyDocument:
        """The same, but raises UnknownName, with what was probably meant."""
        found = self.find(kind, name)
        if found is None:
            raise UnknownName(kind, name, self.names(kind))
        return found

    def body(self, kind: str, key: str) -> str | None:
        """The canonical JSON of a document by its key; None where there is none or it retired."""
        if not is_text(key):
            return None
        newest = (
            select(revision.c.body)
            .where(revision.c.kind == kind, revision.c.key == key)
            .where(revision.c.change_id <= self.limit)
            .order_by(revision.c.change_id.desc())
            .limit(1)
        )
        return self.connection.execute(newest).scalar()

    def all(self, kind: str) -> list[AnyDocument]:
        """Every document of a kind, by name."""
        return [from_json(kind, body) for _, body in self._current(kind)]

    def names(self, kind: str) -> list[str]:
        """The names of a kind, in order."""
        return [name for name, _ in self._current(kind)]

    def everything(self) -> list[AnyDocument]:
        """Every document of every kind."""
        return [document for kind in KINDS for document in self.all(kind)]

    def _current(self, kind: str) -> list[tuple[str, str]]:
        other = revision.alias()
        newest = (
            select(func.max(other.c.change_id))
            .where(other.c.kind == revision.c.kind, other.c.key == revision.c.key)
            .where(other.c.change_id <= self.limit)
            .scalar_subquery()
        )
        query = (
            select(revision.c.name, revision.c.body, revision.c.key)
            .where(revision.c.kind == kind, revision.c.change_id == newest)
            .where(revision.c.body.is_not(None))
        )
        rows = sorted(self.connection.execute(query), key=lambda row: row.key)
        return [(row.name, row.body) for row in rows]

    def holes_in_use(self, bed: str) -> list[RowMapping]:
        """label and pin_key of every hole in use on a bed with each kind of pin, now.

        `first` and `last`: keys of the first and the last station that have it there.
        """
        key = station_hole.c.station_key
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
        return list(self.connection.execute(query).mappings())

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
            .order_by(station_code.c.station_key, station_code.c.nest_key)
        )
        return list(self.connection.execute(query).mappings())

    def needed_by(self, kind: str, key: str) -> list[RowMapping]:
        """kind, key and path of everything in use that refers to a document, now."""
        query = (
            select(reference.c.kind, reference.c.key, reference.c.path)
            .where(reference.c.to_kind == kind, reference.c.to_key == key)
            .order_by(reference.c.kind, reference.c.key)
        )
        return list(self.connection.execute(query).mappings())

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
            .order_by(change.c.id, revision.c.kind, revision.c.key)
        )
        if key is not None:
            query = query.where(revision.c.key == (key if is_text(key) else ""))
        if kind is not None:
            query = query.where(revision.c.kind == kind)
        return list(self.connection.execute(query).mappings())

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
        """The log's entries, oldest first, of a fingerprint or a station's key."""
        query = select(log).where(log.c.after_change <= self.limit).order_by(log.c.id)
        if fingerprint is not None:
            query = query.where(log.c.fingerprint == fingerprint)
        if key is not None:
            query = query.where(log.c.station_key == (key if is_text(key) else ""))
        return list(self.connection.execute(query).mappings())

    def verifications(self, station: str | None = None) -> list[RowMapping]:
        """Where zeros were found, oldest first; of one station (by name), or of all with None."""
        query = (
            select(verification)
            .where(verification.c.after_change <= self.limit)
            .order_by(verification.c.id)
        )
        if station is not None:
            key = key_of(station)
            query = query.where(verification.c.station_key == (key if is_text(key) else ""))
        return list(self.connection.execute(query).mappings())
