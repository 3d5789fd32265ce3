"""What is recorded about a bed: resurface and survey, and the names that its dated records get."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import NamedTuple

from pydantic import ValidationError

from pincorner.bed import Cover, check_cut, covers, surface_z
from pincorner.documents.beds import Bed, PoseEntry
from pincorner.documents.fields import key_of
from pincorner.documents.kinds import RECORDS
from pincorner.documents.machines import Machine
from pincorner.documents.reading import explain_first, oversize
from pincorner.documents.records import Disturbance, Fit, Plane, Surfacing, Survey
from pincorner.documents.survey_csv import MeasuredHole, read_survey
from pincorner.errors import BadInput, Refused, UnknownName
from pincorner.geometry.pose import Pose
from pincorner.registry.reader import Reader
from pincorner.registry.times import today
from pincorner.registry.writer import Writer
from pincorner.setups.person import person_at
from pincorner.setups.setup import OffsetRow, setups_in
from pincorner.setups.transform import offset_rows
from pincorner.surveys.fitting import make_survey
from pincorner.surveys.next_hole import FurtherHole, best_further_hole
from pincorner.surveys.result import SurveyResult
from pincorner.units import Unit, told_size
from pincorner.work.files.outputs import Outputs
from pincorner.work.files.whereabouts import TEMPLATES_FOLDER, drawing_suffix
from pincorner.work.session import Library, Session, state_of

MOST_TURNED_DEG = 45.0
"""Between a bed's stated angle and the next quarter turn."""


WILD_CUT_MM = 5.0
"""A surface is skimmed by tenths, and slats are of one stock: more is asked about (common
practice)."""


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
    dry_run: bool = False,
) -> Resurfaced:
    """Record that the surface was cut down by a depth, or that slats are new at a height.

    A wild figure is asked about first. With `dry_run` nothing is asked and nothing is kept.
    Raises BadInput, UnknownName, and Refused where the cut would reach metal.
    """
    _check_sizes(depth_mm, surface_mm, slats)
    wild = None
    if not dry_run:
        with session.registry.reading() as reader:
            wild = _wild(Library(reader), bed_name, slats, depth_mm, surface_mm)
        session.registry.person_is_sure(wild)
    with session.writing(dry_run=dry_run) as writer:
        library = Library(writer.reader)
        bed = library.get(Bed, bed_name)
        unit = library.unit_of(bed)
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


def _wild(
    library: Library,
    bed_name: str,
    slats: Sequence[str],
    depth_mm: float | None,
    surface_mm: float | None,
) -> str | None:
    """What is odd about a cut or a new surface: a slip of the unit, the sign or the finger."""
    bed = library.get(Bed, bed_name)
    machine = library.get(Machine, bed.machine)
    unit, travel = machine.units, machine.travel
    if depth_mm is not None and depth_mm > WILD_CUT_MM:
        return f"{told_size(depth_mm, unit)} is much for one cut of the surface of bed {bed.name}"
    if surface_mm is None:
        return None
    z = f"machine Z {told_size(surface_mm, unit)}"
    if travel is not None and travel.z is not None and not travel.z[0] <= surface_mm <= travel.z[1]:
        low, high = (told_size(each, unit) for each in travel.z)
        return f"{z} lies outside the travel of {machine.name} ({low} to {high})"
    survey, cuts = library.survey(bed), library.surfacings(bed)
    for name in slats:
        named = _slat_named(bed, name)
        slat = next(each for each in bed.slats if each.name == named)
        was = surface_z(bed, survey, cuts, slat.name, slat.box.middle)
        if was is not None and abs(surface_mm - was) > WILD_CUT_MM:
            return (
                f"{z} is {told_size(abs(surface_mm - was), unit)} from where slat {slat.name} was "
                f"({told_size(was, unit)})"
            )
    return None


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


def next_record_name(reader: Reader, bed: Bed, day: date) -> str:
    """A name for what is recorded about a bed today: the date, numbered from the second on.

    Records of a bed count in order of name, so that a dump cannot reorder them; the new one comes
    last. Raises BadInput where an older record has a name that sorts behind today.
    """
    records = [record for model in RECORDS.values() for record in reader.all(model)]
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


def disturb(session: Session, bed_name: str) -> Disturbance:
    """Record that a bed may not lie where it did: the reason is the session's.

    No station is changed; all that is made of one says so. Raises UnknownName, BadInput.
    """
    if not (session.why or "").strip():
        raise BadInput('--note: say what happened, such as "board taken off for planing"')
    with session.writing() as writer:
        bed = Library(writer.reader).get(Bed, bed_name)
        name = next_record_name(writer.reader, bed, today())
        record = Disturbance(name=name, bed=bed.name, note=session.why)
        writer.put([record])
    return record


class Surveyed(NamedTuple):
    """A survey as fitted, the hole to measure next, the name under which it was accepted, and each
    nest on the bed as it was before and is with the survey."""

    bed: Bed
    result: SurveyResult
    further: FurtherHole | None
    accepted: str | None
    moved: tuple[tuple[OffsetRow, OffsetRow], ...]


def survey(session: Session, bed_name: str, file: Path, *, accept: bool) -> Surveyed:
    """Fit a file of measured holes; with `accept` it is the bed's pose from now on.

    Raises UnknownName, BadInput, DocumentErrors, and Refused for a fit that cannot be accepted;
    nothing is written then.
    """
    session.registry.person_is_sure(oversize([file]))
    if not accept:
        with session.registry.reading() as reader:
            return _survey(reader, bed_name, file)
    with session.writing() as writer:
        found = _survey(writer.reader, bed_name, file)
        _refuse_turned(found.bed, found.result)
        return found._replace(accepted=_accept(writer, found))


def _accept(writer: Writer, found: Surveyed) -> str:
    """The name under which the fit counts: a new one, or its own where it counts already."""
    library = Library(writer.reader)
    last, cuts = library.survey(found.bed), library.surfacings(found.bed)
    stands = library.disturbed(found.bed) is None and not any(
        last is not None and cut.name > last.name for cut in cuts
    )
    if last is not None and stands:
        same = survey_document(found.result, last.name)
        if last.model_copy(update={"note": None}) == same:
            return last.name
    name = next_record_name(writer.reader, found.bed, today())
    writer.put([survey_document(found.result, name)])
    return name


def _refuse_turned(bed: Bed, result: SurveyResult) -> None:
    """A bed does not turn round on its machine: its labels were mixed up."""
    turned_deg = (result.pose.angle_deg - bed.pose.angle + 180) % 360 - 180
    if abs(turned_deg) > MOST_TURNED_DEG:
        raise Refused(
            "bed-turned",
            f"not accepted: row 1 of bed {bed.name} comes out turned by {turned_deg:.1f} degrees "
            "against the angle on file, as where labels are swapped; if the bed really lies so, "
            "load it with that angle first",
        )


def _survey(reader: Reader, bed_name: str, file: Path) -> Surveyed:
    library = Library(reader)
    bed = library.get(Bed, bed_name)
    machine = library.get(Machine, bed.machine)
    result = make_survey(bed, read_survey(file, bed), machine.repeatability, machine.units)
    further, moved = _further(library, bed, result), tuple(_moved(library, bed, result))
    return Surveyed(bed, result, further, None, moved)


def _moved(
    library: Library, bed: Bed, result: SurveyResult
) -> Iterator[tuple[OffsetRow, OffsetRow]]:
    """Each nest of the bed's stations as it is, and as it would be with the survey."""
    accepted = survey_document(result, today().isoformat())
    for station in library.stations_on(bed.name):
        facts = library.facts(station)
        after = offset_rows(facts._replace(survey=accepted))
        yield from zip(offset_rows(facts), after, strict=True)


def _further(library: Library, bed: Bed, result: SurveyResult) -> FurtherHole | None:
    """The hole that would lower the worst u95 at the stations' stock most."""
    if result.s_mm is None:
        return None
    there = setups_in(library.rows(library.stations_on(bed.name)))
    targets = [point for each in there for point in each.stock_in_bed()]
    used = [hole.label for hole in result.holes if hole.used]
    others = [hole.label for hole in result.holes if not hole.used]
    return best_further_hole(
        bed, used, result.s_mm, targets, affine=result.significant, measured=others
    )


def survey_document(result: SurveyResult, name: str) -> Survey:
    """What is kept of a survey: its readings, and of the fit all that is needed later.

    Raises BadInput for readings that put the bed where no document can have it.
    """
    try:
        return _survey_document(result, name)
    except ValidationError as error:
        raise BadInput(
            f"the readings put bed {result.bed} where none can be ({explain_first(error)}): look "
            "at their unit and at the labels"
        ) from None


def _survey_document(result: SurveyResult, name: str) -> Survey:
    scatter, surface = result.scatter, result.surface
    plane = None
    if surface is not None:
        plane = Plane(
            height=surface.height_mm,
            slope=(surface.slope_x, surface.slope_y),
            rms=surface.rms_mm,
            points=surface.points,
        )
    fit = Fit(
        pose=PoseEntry(x=result.pose.x_mm, y=result.pose.y_mm, angle=result.pose.angle_deg),
        points=result.points,
        s=result.s_mm or 0.0,
        dof=result.dof,
        centroid=(scatter.x_mm, scatter.y_mm),
        spread=scatter.spread_mm2,
        scatter=(scatter.xx, scatter.yy, scatter.xy),
        left_out=tuple(hole.label for hole in result.holes if not hole.used),
        linear=result.linear,
        plane=plane,
    )
    return Survey(
        name=name, bed=result.bed, readings=tuple(map(_reading, result.readings)), fit=fit
    )


def _reading(
    hole: MeasuredHole,
) -> tuple[str, float, float] | tuple[str, float, float, float]:
    if hole.z_mm is None:
        return hole.label, hole.x_mm, hole.y_mm
    return hole.label, hole.x_mm, hole.y_mm, hole.z_mm


def draw_survey(session: Session, surveyed: Surveyed, path: Path, outputs: Outputs) -> None:
    """The residuals as arrows over the bed, as .svg or .html. Raises FileExists, BadInput."""
    from pincorner.render.pages.survey_map import render_survey_page, render_survey_svg

    bed, result = surveyed.bed, surveyed.result
    with session.registry.reading() as reader:
        machine, state = Library(reader).get(Machine, bed.machine), state_of(reader)
    person = person_at(machine, Pose.of_degrees("machine", "bed", 0, 0, result.pose.angle_deg))
    if drawing_suffix(path) == ".svg":
        text = render_survey_svg(bed, result, person)
    else:
        overrides = session.shop / TEMPLATES_FOLDER
        text = render_survey_page(bed, result, person, overrides, state)
    outputs.write(path, text.encode("utf-8"))
