"""Commands about programs: reading one against a station, stamping, repeating."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pincorner.cli.options import (
    By,
    Force,
    Json,
    NestName,
    Note,
    Output,
    Yes,
    codes_from,
    display_unit,
    length_from,
    split,
    tools_from,
)
from pincorner.cli.printing import Done, person, print_report, print_text, while_told
from pincorner.errors import BadInput, together

if TYPE_CHECKING:
    from pincorner.program.source.text import ProgramText

# The modules that do the work are imported inside each command: --help needs none of them.


def commands() -> dict[str, Callable[..., Any]]:
    """These commands by name."""
    return {
        "check": check,
        "stamp": stamp,
        "repeat": repeat,
    }


ProgramName = Annotated[
    str, typer.Argument(metavar="PROGRAM", help="A program file, else the name of a program.")
]
AtStation = Annotated[
    str, typer.Option("--station", metavar="S", help="The station where it will run.")
]
ToolSizes = Annotated[
    list[str] | None,
    typer.Option("--tool", metavar="1=6mm", help="A tool's diameter; repeatable."),
]
Accepted = Annotated[
    list[str] | None,
    typer.Option("--accept", metavar="CODE", help="A finding that does not matter; repeatable."),
]
Margin = Annotated[
    str | None,
    typer.Option(
        "--margin",
        metavar="M",
        help="How near anything may come; as well as the zero is known if left out.",
    ),
]


def check(
    ctx: typer.Context,
    program: ProgramName,
    station: AtStation,
    nest: NestName = None,
    tool: ToolSizes = None,
    margin: Margin = None,
    output: Output = None,
    force: Force = False,
    json: Json = False,
) -> int:
    """Read a program against the station where it will run.

    Exit code 1 where something is found.

    With -o the path is drawn over the bed as .svg or .html, findings marked.

    Example:  pincorner check hand-hold --station left
    """
    from pincorner.render.text.programs import check_text
    from pincorner.work.files.whereabouts import drawing_suffix
    from pincorner.work.never_replaced import outputs_of
    from pincorner.work.programs.checking import check as work
    from pincorner.work.programs.checking import draw_check, find_job, program_read
    from pincorner.work.session import open_session

    session = open_session(ctx.obj, "check")
    with session.reading():
        unit = display_unit(session)
        job = find_job(session, program, station, nest)
        outputs = outputs_of(session, force, program_read(job))
    if output is not None:
        drawing_suffix(output)
        outputs.refuse(output)
    margin_mm, sizes = together(
        lambda: None if margin is None else _margin_from(margin, unit),
        lambda: tools_from(tool, unit),
    )
    checked = with_progress(
        job.text,
        lambda told: work(job, sizes, margin_mm, told, draws=output is not None),
    )
    print_report(json, "check", check_text, checked.report)
    if output is not None:
        draw_check(session, checked, output, outputs)
        if not json:
            print_text(f"{output}\n")
    return int(checked.report.verdict != "nothing-found")


def _margin_from(text: str, unit: Any) -> float:
    margin_mm = length_from("--margin", text, unit)
    if margin_mm < 0:
        raise BadInput(f"--margin: expected nothing or more, got {text}")
    return margin_mm


def stamp(
    ctx: typer.Context,
    program: ProgramName,
    station: AtStation,
    output: Annotated[
        Path, typer.Option("-o", "--output", metavar="OUT", help="The copy to write.")
    ],
    nest: NestName = None,
    code: Annotated[
        list[str] | None,
        typer.Option(
            "--code",
            metavar="G54=G55",
            help="What a work offset of the program becomes; repeatable.",
        ),
    ] = None,
    wait_before: Annotated[
        int | None,
        typer.Option(
            "--wait-before",
            metavar="LINE",
            help="Put an M0 before this line, between a retract and a way sideways.",
        ),
    ] = None,
    accept: Accepted = None,
    tool: ToolSizes = None,
    force: Force = False,
    note: Note = None,
    by: By = None,
    yes: Yes = False,
    json: Json = False,
) -> None:
    """Write a copy of a program with the station's setup block in it.

    Every selection of a work offset becomes the station's. What check finds keeps it back.

    Example:  pincorner stamp hand-hold --station left -o hand-hold-left.nc
    """
    from pincorner.render.text.programs import stamp_text
    from pincorner.work.programs.checking import find_job
    from pincorner.work.programs.stamping import stamp as work
    from pincorner.work.session import open_session

    session = open_session(ctx.obj, "stamp", by, note, person(yes))
    with session.reading():
        job = find_job(session, program, station, nest)
        unit = display_unit(session)
    sizes, codes = together(lambda: tools_from(tool, unit), lambda: codes_from(code))
    done = with_progress(
        job.text,
        lambda told: work(
            session, job, output, codes=codes, accept=accept or (), diameters_mm=sizes,
            force=force, told=told, wait_before=wait_before,
        ),
    )  # fmt: skip
    print_report(json, "stamp", stamp_text, *done)


def repeat(
    ctx: typer.Context,
    program: ProgramName,
    stations: Annotated[
        str, typer.Option("--stations", metavar="A,B,C", help="The stations, in order of work.")
    ],
    retract: Annotated[
        str,
        typer.Option("--retract", metavar="Z", help="Machine Z to go over at, between stations."),
    ],
    output: Annotated[
        Path, typer.Option("-o", "--output", metavar="OUT", help="The program to write.")
    ],
    order: Annotated[
        str,
        typer.Option(
            "--order",
            metavar="station|tool",
            help="Every tool at a station, or the stations tool by tool.",
        ),
    ] = "station",
    nest: Annotated[
        str | None,
        typer.Option("--nest", metavar="N", help="This nest of each jig; every nest if left out."),
    ] = None,
    begin: Annotated[
        str | None,
        typer.Option("--from", metavar="STATION", help="Begin here; those before it are done."),
    ] = None,
    no_stop: Annotated[
        bool,
        typer.Option(
            "--start-next-without-asking",
            help="Leave out the stop before each station: the machine starts where hands may be.",
        ),
    ] = False,
    accept: Accepted = None,
    tool: ToolSizes = None,
    force: Force = False,
    note: Note = None,
    by: By = None,
    yes: Yes = False,
    json: Json = False,
) -> None:
    """Write one program that makes the part at each station in turn.

    Between stations the spindle stops, the axes retract, the next setup block is carried out, and
    the machine waits for the operator (M0); then it goes over at the retract's height. Several
    tools want Z by reference or by machine: with Z by touch only one work offset would get it.

    Example:  pincorner repeat roof-groove --stations roof,shelf --retract -5 -o both.nc
    """
    from pincorner.render.text.programs import repeat_text
    from pincorner.work.programs.checking import find_jobs
    from pincorner.work.programs.repeating import Repeat, refuse_names
    from pincorner.work.programs.repeating import repeat as work
    from pincorner.work.session import open_session

    session = open_session(ctx.obj, "repeat", by, note, person(yes))
    with session.reading():
        unit = display_unit(session)
        by_tool, retract_mm, sizes = together(
            lambda: _is_by_tool(order),
            lambda: length_from("--retract", retract, unit),
            lambda: tools_from(tool, unit),
        )
        how = Repeat(
            retract_mm=retract_mm,
            by_tool=by_tool,
            begin=begin,
            asks=not no_stop,
            accept=accept or (),
            diameters_mm=sizes,
        )
        names = split(stations)
        refuse_names(names)
        jobs = find_jobs(session, program, names, nest)
    done = with_progress(jobs[0].text, lambda told: work(session, jobs, output, how, force, told))
    print_report(json, "repeat", repeat_text, *done)


def _is_by_tool(order: str) -> bool:
    if order not in ("station", "tool"):
        raise BadInput(f"--order: expected station or tool, got {order}")
    return order == "tool"


def with_progress(text: "ProgramText", work: Callable[[Callable[[int], None]], Done]) -> Done:
    """What `work` returns, given a function that shows how far the program is read."""
    size, name = max(len(text.data), 1), text.path.name
    return while_told(
        lambda tell: work(lambda done: tell(f"reading {name}: {100 * done // size} %"))
    )
