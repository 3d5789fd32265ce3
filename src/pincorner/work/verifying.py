"""verify: where a zero was found, compared, put on its chart, and what to do."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from pincorner.documents.beds import Bed
from pincorner.documents.fields import key_of
from pincorner.documents.kinds import word_of
from pincorner.documents.records import Disturbance, Survey
from pincorner.documents.stations import Station
from pincorner.errors import BadInput
from pincorner.registry.reader import Reader, document_of
from pincorner.setups.facts import Facts
from pincorner.setups.setup import OffsetRow, Setup
from pincorner.setups.transform import make_setup
from pincorner.surveys.drift import (
    Comparison,
    Restart,
    StationChart,
    chart,
    compare,
    doubt,
    logged_of,
    verification,
)
from pincorner.surveys.drift_advice import Advice, Neighbour, advice, advice_as_measured
from pincorner.units import Unit
from pincorner.work.files.whereabouts import TEMPLATES_FOLDER, drawing_suffix
from pincorner.work.never_replaced import outputs_of
from pincorner.work.session import Library, Session, state_of


class Verified(NamedTuple):
    """A verification that was logged, its chart, and what to do.

    `settled`: the disturbance of the bed after which this one shows that it lies as on file.
    `number`: by which it can be struck out.
    """

    setup: Setup
    comparison: Comparison
    chart: StationChart
    advice: Advice
    settled: Disturbance | None
    number: int


def verify(
    session: Session,
    station: str,
    nest: str | None,
    found: tuple[float, float, float | None],
    u_mm: float | None,
) -> Verified:
    """Log where the zero of a nest was found, in machine coordinates, mm.

    What is odd (`doubt`) is asked about first. Raises UnknownName, Refused, BadInput.
    """
    with session.registry.reading() as reader:
        library = Library(reader)
        asked = make_setup(library.facts(library.get(Station, station)), nest)
    session.registry.person_is_sure(doubt(asked, verification(asked, "", found, u_mm)))
    with session.writing() as writer:
        library = Library(writer.reader)
        facts = library.facts(library.get(Station, station))
        setup = make_setup(facts, nest)
        logged = verification(setup, "", found, u_mm)
        number = writer.record_verification(
            {
                "station_key": key_of(facts.station.name),
                "nest": setup.nest.name,
                "fingerprint": setup.fingerprint,
                "x_mm": logged.x_mm,
                "y_mm": logged.y_mm,
                "z_mm": logged.z_mm,
                "computed_x_mm": logged.computed_x_mm,
                "computed_y_mm": logged.computed_y_mm,
                "computed_z_mm": logged.computed_z_mm,
                "u_mm": logged.u_mm,
            }
        )
        newest = _newest(writer.reader, _on_this_bed(writer.reader, library, facts))
        settled = facts.disturbed if _settled(writer.reader, facts) else None
    mine = next(
        each
        for each in newest
        if each.row.facts.station.name == facts.station.name and each.row.nest == setup.nest.name
    )
    return Verified(setup, mine.comparison, mine.chart, _advice(mine, newest), settled, number)


class Struck(NamedTuple):
    """A verification that counts no more."""

    station: str
    number: int
    nest: str
    off_mm: float
    unit: Unit
    note: str


def strike(session: Session, station: str, number: int) -> Struck:
    """Have a verification of a station count no more; it stays in the history, with the reason.

    Raises UnknownName, BadInput.
    """
    why = (session.why or "").strip()
    if not why:
        raise BadInput('--note: say why it is struck out, such as "X and Y exchanged"')
    with session.writing() as writer:
        name = writer.reader.get(Station, station).name
        rows = {row["id"]: row for row in writer.reader.verifications(name)}
        if number not in rows:
            known = ", ".join(map(str, rows)) or "none"
            raise BadInput(
                f"--strike: there is no verification {number} of station {name} that counts; there "
                f"are {known} (pincorner history {name} tells them)"
            )
        writer.strike(number)
        logged = logged_of(rows[number])
        return Struck(name, number, logged.nest, logged.off_mm, writer.reader.display_units, why)


def _settled(reader: Reader, facts: Facts) -> bool:
    """Whether it is shown now where the bed lies."""
    return Library(reader).disturbed(facts.bed) is None


def chart_of(reader: Reader, facts: Facts, nest: str) -> StationChart:
    """The control charts of one nest."""
    rows = [row for row in reader.verifications(facts.station.name) if row["nest"] == nest]
    return chart(nest, [logged_of(row) for row in rows], restarts(reader, facts))


def charts_of(session: Session, station: str) -> list[tuple[StationChart, Advice | None]]:
    """The chart of every nest of a station, and what its newest verification asks for.

    Raises UnknownName.
    """
    with session.registry.reading() as reader:
        library = Library(reader)
        facts = library.facts(library.get(Station, station))
        newest = _newest(reader, _on_this_bed(reader, library, facts))
        said = {
            each.row.nest: _advice(each, newest)
            for each in newest
            if each.row.facts.station.name == facts.station.name
        }
        nests = [nest.name for nest in facts.holder.nests]
        return [(chart_of(reader, facts, nest), said.get(nest)) for nest in nests]


def draw_charts(session: Session, station: str, path: Path, force: bool) -> None:
    """A station's charts as .svg or .html. Raises UnknownName, FileExists, BadInput."""
    from pincorner.render.pages.histories import render_history_page, render_history_svg

    suffix = drawing_suffix(path)
    with session.reading() as reader:
        outputs = outputs_of(session, force)
        outputs.refuse(path)
        charts = charts_of(session, station)
        unit, state = reader.display_units, state_of(reader)
    if suffix == ".svg":
        text = render_history_svg(station, [charted for charted, _ in charts], unit)
    else:
        overrides = session.shop / TEMPLATES_FOLDER
        text = render_history_page(station, charts, unit, overrides, state)
    outputs.write(path, text.encode("utf-8"))


def restarts(reader: Reader, facts: Facts) -> list[Restart]:
    """Changes after which older verifications of a station say nothing.

    Surveys of its bed accepted or retired, the bed disturbed, the station registered anew, a pin's
    document changed.
    """
    station = facts.station
    registered = reader.changes(key_of(station.name), "station")
    found = [Restart(row["at"], ("registered",)) for row in registered]
    for key, pin in facts.pins.items():  # those of this station
        found += [Restart(row["at"], (f"pin {pin.name}",)) for row in reader.changes(key, "pin")]
    found += _of_records(reader, facts.bed, Survey)
    return sorted([*found, *_of_records(reader, facts.bed, Disturbance)])


def _of_records(
    reader: Reader, bed: Bed, model: type[Survey] | type[Disturbance]
) -> Iterator[Restart]:
    """Surveys of a bed that were accepted, or disturbances, and those that were retired again."""
    known: dict[str, Survey | Disturbance] = {}
    for row in reader.changes(kind=word_of(model)):
        body, record = row["body"], known.get(row["key"])
        if body:
            record = document_of(model, row["name"], body)
        if record is None or key_of(record.bed) != key_of(bed.name):
            continue
        known[row["key"]] = record
        retired = "" if body else " retired"
        yield Restart(row["at"], (f"{word_of(model)} {record.name}{retired}",))


def _on_this_bed(reader: Reader, library: Library, facts: Facts) -> list[OffsetRow]:
    """The nests of every station on the bed that was ever verified."""
    keys = {row["station_key"] for row in reader.verifications()}
    keys &= set(map(key_of, reader.names(Station)))
    stations = library.stations(sorted(keys)) if keys else []
    bed = key_of(facts.bed.name)
    return library.rows(station for station in stations if key_of(station.bed) == bed)


class _Newest(NamedTuple):
    """The newest verification of a nest since its last restart, and its chart."""

    row: OffsetRow
    comparison: Comparison
    chart: StationChart


def _newest(reader: Reader, rows: Iterable[OffsetRow]) -> list[_Newest]:
    found = []
    for row in rows:
        charted = chart_of(reader, row.facts, row.nest)
        if row.setup is not None and charted.current.verifications:
            *before, last = charted.current.verifications
            compared = compare(row.setup, last, before)
            found.append(_Newest(row, compared, charted))
    return found


def _advice(newest: _Newest, others: Iterable[_Newest]) -> Advice:
    """What to do at a nest, other stations of its bed in view."""
    facts = newest.row.facts
    if facts.station.measured is not None:
        return advice_as_measured(newest.comparison)
    neighbours = [
        Neighbour(each.row.facts.station.name, each.comparison)
        for each in others
        if each.row.facts.station.name != facts.station.name
        and each.row.facts.bed.name == facts.bed.name
        and each.row.facts.station.measured is None
    ]
    return advice(newest.comparison, newest.chart.current, neighbours)


def drift_items(reader: Reader, rows: Sequence[OffsetRow]) -> Iterator[tuple[str, str, str]]:
    """(code, station, sentence) of stations beyond their limits or were never verified."""
    verified = {row["station_key"] for row in reader.verifications()}
    known = [row for row in rows if key_of(row.facts.station.name) in verified]
    newest = _newest(reader, known)
    for each in newest:
        station, said = each.row.facts.station.name, _advice(each, newest)
        if said.action != "nothing":
            text = f"station {station}, nest {each.row.nest}: {said.action}: {said.text}"
            yield "outside-limits", station, text
    for station in dict.fromkeys(row.facts.station.name for row in rows):
        if key_of(station) not in verified:
            yield "not-verified", station, f"station {station} was never verified"
