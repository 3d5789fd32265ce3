"""resurface, and the names that a bed's dated records get."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from pincorner.bed.covers import Cover, check_cut, covers
from pincorner.documents.beds import Bed
from pincorner.documents.fields import key_of
from pincorner.documents.machines import Machine
from pincorner.documents.records import Surfacing, Survey
from pincorner.errors import BadInput, UnknownName
from pincorner.registry.reader import Reader
from pincorner.registry.times import today
from pincorner.units import Unit, told_size
from pincorner.work.session import Library, Session


class Resurfaced(NamedTuple):
    """A surfacing that was recorded, what is left over metal, and which of that is thin now.

    `unit`: the machine's.
    """

    surfacing: Surfacing
    covers: tuple[Cover, ...]
    thin: tuple[Cover, ...]
    unit: Unit


def resurface(
    session: Session,
    bed_name: str,
    slats: Sequence[str],
    *,
    depth_mm: float | None = None,
    surface_mm: float | None = None,
) -> Resurfaced:
    """Record that the surface was cut down by a depth, or that slats are new at a height.

    Raises BadInput, UnknownName, and Refused where the cut would reach metal.
    """
    _check_sizes(depth_mm, surface_mm, slats)
    with session.registry.writing(session.who, session.command, session.why) as writer:
        library = Library(writer.reader)
        bed = library.get(Bed, bed_name)
        unit = unit_of(library, bed)
        if depth_mm is not None and depth_mm <= 0:
            got = told_size(depth_mm, unit)
            raise BadInput(f"--depth: expected more than nothing, got {got}")
        cut = Surfacing(
            name=next_record_name(writer.reader, bed, today()),
            bed=bed.name,
            depth=depth_mm,
            surface=surface_mm,
            slats=tuple(_slat_named(bed, each) for each in dict.fromkeys(slats)),
        )
        before = library.surfacings(bed)
        thin = check_cut(bed, before, cut, unit)
        writer.put([cut])
        return Resurfaced(cut, tuple(covers(bed, [*before, cut])), tuple(thin), unit)


def _check_sizes(depth_mm: float | None, surface_mm: float | None, slats: Sequence[str]) -> None:
    if (depth_mm is None) == (surface_mm is None):
        raise BadInput(
            "expected --depth, how much was cut off, or --surface, the machine Z of new slats: "
            "one of the two"
        )
    if surface_mm is not None and not slats:
        raise BadInput("--surface: say with --slat which slats are new at this height")


def _slat_named(bed: Bed, name: str) -> str:
    by_key = {key_of(slat.name): slat.name for slat in bed.slats}
    if key_of(name) not in by_key:
        raise UnknownName(f"slat of bed {bed.name}", name, list(by_key.values()))
    return by_key[key_of(name)]


def unit_of(library: Library, bed: Bed) -> Unit:
    """The unit of a bed's machine."""
    return library.get(Machine, bed.machine).units


def next_record_name(reader: Reader, bed: Bed, day: date) -> str:
    """A name for a survey or surfacing of today: the date, with a number for the second and more.

    Records of a bed count in order of name, so that a dump cannot reorder them; the new one comes
    last. Raises BadInput where an older record has a name that sorts behind today.
    """
    records: list[Survey | Surfacing] = [*reader.all(Survey), *reader.all(Surfacing)]
    taken = {key_of(record.name) for record in records}
    last = max((r.name for r in records if key_of(r.bed) == key_of(bed.name)), default="")
    names = [day.isoformat(), *(f"{day.isoformat()}.{at:02}" for at in range(2, 100))]
    for name in names:
        if name not in taken and name > last:
            return name
    raise BadInput(
        f"bed {bed.name} has a record named {last}, which counts as newer than today; retire it, "
        "or give it an earlier name"
    )
