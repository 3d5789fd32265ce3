"""Commands about the bed through its life: surveys, surfacings, verifications, what is stale."""

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from pincorner.cli.options import (
    By,
    Force,
    Json,
    NestName,
    Note,
    Output,
    StationName,
    Yes,
    display_unit,
    length_or_none,
)
from pincorner.cli.printing import person, print_report, print_text
from pincorner.errors import BadInput, together

# The modules that do the work are imported inside each command: --help needs none of them.


def commands() -> dict[str, Callable[..., Any]]:
    """These commands by name."""
    return {
        "survey": survey,
        "resurface": resurface,
        "disturbed": disturbed,
        "verify": verify,
        "status": status,
    }


BedName = Annotated[str, typer.Argument(metavar="BED", help="A bed.")]


def survey(
    ctx: typer.Context,
    bed: BedName,
    file: Annotated[
        Path, typer.Argument(metavar="FILE.csv", help="Measured holes: hole,x_mm,y_mm[,z_mm].")
    ],
    accept: Annotated[
        bool, typer.Option("--accept", help="Make it the bed's pose from now on.")
    ] = False,
    output: Output = None,
    force: Force = False,
    note: Note = None,
    by: By = None,
    yes: Yes = False,
    json: Json = False,
) -> int:
    """Fit the bed's pose to measured hole centres.

    Exit code 1 where readings are in doubt.

    With -o what each reading lies off is drawn as .svg or .html.

    Example:  pincorner survey long-bench long-bench-survey.csv
    """
    from pincorner.render.text.surveys import survey_text
    from pincorner.work.files.outputs import KeptPath
    from pincorner.work.files.whereabouts import drawing_suffix
    from pincorner.work.never_replaced import outputs_of
    from pincorner.work.session import open_session
    from pincorner.work.surveying import draw_survey
    from pincorner.work.surveying import survey as work

    session = open_session(ctx.obj, "survey", by, note, person(yes))
    outputs = outputs_of(session, force, [KeptPath(file, "the survey that is read")])
    if output is not None:
        drawing_suffix(output)
        outputs.refuse(output)
    found = work(session, bed, file, accept=accept)
    if output is not None:
        draw_survey(session, found, output, outputs)
    print_report(json, "survey", survey_text, *found)
    return int(bool(found.result.suspects))


def resurface(
    ctx: typer.Context,
    bed: BedName,
    depth: Annotated[
        str | None, typer.Option("--depth", metavar="D", help="How much was cut off.")
    ] = None,
    surface: Annotated[
        str | None, typer.Option("--surface", metavar="Z", help="Machine Z of new slats.")
    ] = None,
    slat: Annotated[
        list[str] | None,
        typer.Option("--slat", metavar="L1", help="Only this slat; repeatable."),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Tell what would be left; write nothing.")
    ] = False,
    note: Note = None,
    by: By = None,
    yes: Yes = False,
    json: Json = False,
) -> None:
    """Record that the surface was cut down or slats replaced.

    Heights, the depth of the holes and the wood over screws and tracks follow. The last one of a
    bed is taken back by: pincorner retire surfacing BED --note TEXT

    Example:  pincorner resurface long-bench --depth 0.4
    """
    from pincorner.render.text.bed import resurface_text
    from pincorner.work.session import open_session
    from pincorner.work.surveying import resurface as work

    session = open_session(ctx.obj, "resurface", by, note, person(yes))
    unit = display_unit(session)
    depth_mm, surface_mm = together(
        lambda: length_or_none("--depth", depth, unit),
        lambda: length_or_none("--surface", surface, unit),
    )
    done = work(session, bed, slat or (), depth_mm=depth_mm, surface_mm=surface_mm, dry_run=dry_run)
    print_report(json, "resurface", resurface_text, *done, dry_run)


def disturbed(
    ctx: typer.Context,
    bed: BedName,
    note: Note = None,
    by: By = None,
    yes: Yes = False,
) -> None:
    """Record that the bed was off or hit, or that steps were lost.

    From then on every station of the bed says so, until a survey shows where it lies, or zeros
    verified at two stations far apart do. Say with --note what happened.

    Example:  pincorner disturbed long-bench --note "board off for planing"
    """
    from pincorner.work.session import open_session
    from pincorner.work.surveying import disturb as work

    record = work(open_session(ctx.obj, "disturbed", by, note, person(yes)), bed)
    print_text(
        f"recorded {record.name}: bed {record.bed} was disturbed; every table, sheet, block, map "
        "and run of it says so from now on\n"
        "papers and programs made before do not: take them down, or write on them\n"
        f"to settle it: pincorner survey {record.bed} FILE.csv --accept (two holes far apart are "
        "enough to go on with), or pincorner verify at two stations far apart\n"
    )


def verify(
    ctx: typer.Context,
    station: StationName,
    x: Annotated[
        str | None, typer.Option("--x", metavar="X", help="Where X zero was found.")
    ] = None,
    y: Annotated[
        str | None, typer.Option("--y", metavar="Y", help="Where Y zero was found.")
    ] = None,
    z: Annotated[
        str | None,
        typer.Option("--z", metavar="Z", help="Machine Z with the gauge point at that height."),
    ] = None,
    u: Annotated[
        str | None,
        typer.Option(
            "--u",
            metavar="U",
            help="One standard deviation of measuring; the machine's repeatability if left out.",
        ),
    ] = None,
    strike: Annotated[
        int | None,
        typer.Option("--strike", metavar="N", help="Instead: number N counts no more; say --note."),
    ] = None,
    nest: NestName = None,
    note: Note = None,
    by: By = None,
    yes: Yes = False,
    json: Json = False,
) -> int:
    """Log where a program zero was found, and hear what to do.

    In machine coordinates, after putting the jig back.

    The answer compares with the computed place and says what to do; exit code 1 where that is
    not nothing. More than half a pitch off is asked about; a script says --yes.

    Example:  pincorner verify left --x 295.02 --y 184.97
    """
    from pincorner.render.text.bed import struck_text, verify_text
    from pincorner.work.session import open_session
    from pincorner.work.verifying import strike as strike_out
    from pincorner.work.verifying import verify as work

    session = open_session(ctx.obj, "verify", by, note, person(yes))
    unit = display_unit(session)
    if strike is not None:
        if nest or any(each is not None for each in (x, y, z, u)):
            raise BadInput("--strike: takes STATION, its number and --note (and --json) alone")
        print_report(json, "strike", struck_text, *strike_out(session, station, strike))
        return 0
    if x is None or y is None:
        raise BadInput("--x and --y are needed: where the zero was found, in machine coordinates")
    x_mm, y_mm, z_mm, u_mm = together(
        lambda: length_or_none("--x", x, unit),
        lambda: length_or_none("--y", y, unit),
        lambda: length_or_none("--z", z, unit),
        lambda: length_or_none("--u", u, unit),
    )
    done = work(session, station, nest, (x_mm, y_mm, z_mm), u_mm)
    print_report(json, "verify", verify_text, *done)
    return int(done.advice.action != "nothing")


def status(
    ctx: typer.Context,
    survey_age: Annotated[
        int, typer.Option("--survey-age", metavar="DAYS", help="Surveys older than this are told.")
    ] = 180,
    deep: Annotated[
        bool, typer.Option("--deep", help="First check that the registry holds what was written.")
    ] = False,
    json: Json = False,
) -> int:
    """Say what needs attention, worst first.

    Exit code 1 where something does, 3 where the registry is damaged.

    Example:  pincorner status
    """
    from pincorner.render.text.bed import status_text
    from pincorner.work.session import open_session
    from pincorner.work.status import status as work

    session = open_session(ctx.obj, "status")
    items, unit = work(session, survey_age, deep), display_unit(session)
    told = [(*item, item.group) for item in items]
    print_report(json, "status", lambda each: status_text(each, unit), told)
    return int(any(item.code != "accepted" for item in items))
