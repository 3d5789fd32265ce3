"""Commands about stations: registering them, their offsets, blocks, sheets and maps."""

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from pincorner.cli.options import (
    AsOf,
    By,
    Force,
    Json,
    NestName,
    Note,
    Output,
    StationName,
    StationNames,
    StockZero,
    Yes,
    display_unit,
    length_or_none,
    pins_from,
    size_from,
    stock_from,
    stock_zero_from,
    work_offsets_from,
)
from pincorner.cli.printing import (
    Progress,
    columns,
    person,
    print_made,
    print_prose,
    print_report,
    print_text,
    tell_older_pdfs,
)
from pincorner.errors import BadInput, NotPrinted, together

# The modules that do the work are imported inside each command: --help needs none of them.


def commands() -> dict[str, Callable[..., Any]]:
    """These commands by name."""
    return {
        "register": register,
        "offsets": offsets,
        "explain": explain,
        "block": block,
        "sheet": sheet,
        "map": draw_map,
        "refresh": refresh,
    }


def register(
    ctx: typer.Context,
    station: Annotated[str, typer.Argument(metavar="STATION", help="A name for the station.")],
    bed: Annotated[str | None, typer.Option("--bed", metavar="B", help="The bed.")] = None,
    pin: Annotated[str | None, typer.Option("--pin", metavar="P", help="The pins to use.")] = None,
    jig: Annotated[
        str | None,
        typer.Option("--jig", metavar="J", help="The jig."),
    ] = None,
    stock: Annotated[
        str | None,
        typer.Option("--stock", metavar="L,W,T", help="Bare stock: length, width, thickness."),
    ] = None,
    stock_zero: StockZero = None,
    corner: Annotated[
        str | None,
        typer.Option("--corner", metavar="C2", help="The hole at the inside corner."),
    ] = None,
    toward: Annotated[
        str | None,
        typer.Option("--toward", metavar="+x+y", help="The quadrant that the jig lies in."),
    ] = None,
    pins: Annotated[
        str | None,
        typer.Option("--pins", metavar="D2,G2,C4", help="Two edge pins, then the stop."),
    ] = None,
    like: Annotated[
        str | None,
        typer.Option(
            "--like", metavar="S", help="A station to be like, but for place, work offset, note."
        ),
    ] = None,
    turn: Annotated[
        int | None,
        typer.Option("--turn", metavar="DEG", help="0 (if left out), 90, 180 or 270 degrees."),
    ] = None,
    work_offset: Annotated[
        list[str] | None,
        typer.Option(
            "--work-offset", metavar="a=G55", help="A nest's work offset; of the only one G55."
        ),
    ] = None,
    under: Annotated[
        str | None,
        typer.Option("--under", metavar="T", help="Thickness of a waste sheet underneath."),
    ] = None,
    program: Annotated[
        str | None,
        typer.Option("--program", metavar="NAME", help="The program that runs here."),
    ] = None,
    program_angle: Annotated[
        float | None,
        typer.Option(
            "--program-angle", metavar="DEG", help="Degrees the program was posted turned by."
        ),
    ] = None,
    max_skew: Annotated[
        str | None,
        typer.Option("--max-skew", metavar="D", help="Skew over the stock that is accepted here."),
    ] = None,
    z_zero: Annotated[
        str | None,
        typer.Option("--z-zero", metavar="Z", help="stock-top (if left out), surface or seat."),
    ] = None,
    z_set: Annotated[
        str | None,
        typer.Option("--z-set", metavar="HOW", help="touch (if left out), reference or machine."),
    ] = None,
    replace: Annotated[
        bool,
        typer.Option("--replace", help="Another bed, jig or stock for a station that is there."),
    ] = False,
    note: Note = None,
    by: By = None,
    yes: Yes = False,
    json: Json = False,
) -> None:
    """Register a jig or bare stock at pins, or change a station.

    Give the pins, or the corner and the quadrant: then those pins are chosen with which the
    part's place is known best. Of a station that is there, state only what changes; the rest
    stays. What would be lost is named and asked for first. With --like a station is as another
    one, clamps too, in another place.

    Example:  pincorner register bench --bed long-bench --jig panel-tray --pin peg-20
    --pins B2,E2,A4 --work-offset a=G54
    """
    from pincorner.render.text.offsets import registered_text
    from pincorner.setups.setup import OffsetRow
    from pincorner.work.registering import register as work
    from pincorner.work.session import open_session

    session = open_session(ctx.obj, "register", by, note, person(yes))
    unit = display_unit(session)
    size, zero, holes, sheet_mm, (codes, code), skew_mm = together(
        lambda: stock_from(stock, unit) if stock else None,
        lambda: stock_zero_from(stock_zero, unit) if stock_zero else None,
        lambda: pins_from(pins) if pins else None,
        lambda: length_or_none("--under", under or None, unit),
        lambda: work_offsets_from(work_offset or []),
        lambda: length_or_none("--max-skew", max_skew or None, unit),
    )
    values: dict[str, Any] = {
        "name": station,
        "like": like,
        "bed": bed,
        "pin": pin,
        "jig": jig,
        "stock": size,
        "stock_zero": zero,
        "corner": corner,
        "toward": toward,
        "pins": holes,
        "turn": turn,
        "program_angle": program_angle,
        "under": sheet_mm,
        "work_offsets": codes,
        "code": code,
        "max_skew": skew_mm,
        "program": program,
        "z": {key: value for key, value in (("zero", z_zero), ("set", z_set)) if value},
    }
    registered = work(session, values, replace)
    rows = [OffsetRow(each.facts, each.nest.name, each) for each in registered.setups]
    print_report(json, "register", registered_text, rows, *registered[1:])


def offsets(
    ctx: typer.Context, stations: StationNames = None, as_of: AsOf = None, json: Json = False
) -> None:
    """Print the offset table: where each program zero is.

    Example:  pincorner offsets left right
    """
    from pincorner.render.text.offsets import offsets_table
    from pincorner.work.reports import offsets as work
    from pincorner.work.session import open_session

    rows = work(open_session(ctx.obj, "offsets"), stations or (), as_of)
    if json:
        print_made("offsets", rows)
    else:
        print_prose(offsets_table(rows, columns()))


def explain(
    ctx: typer.Context, station: StationName, nest: NestName = None, as_of: AsOf = None
) -> None:
    """Print an offset as arithmetic to follow, and its error budget.

    Example:  pincorner explain left
    """
    from pincorner.render.text.explain import render_explain
    from pincorner.work.reports import explained
    from pincorner.work.session import open_session

    print_text(render_explain(*explained(open_session(ctx.obj, "explain"), station, nest, as_of)))


def block(
    ctx: typer.Context,
    station: StationName,
    nest: NestName = None,
    output: Output = None,
    stock_thickness: Annotated[
        str | None,
        typer.Option("--stock-thickness", metavar="T", help="Thickness of today's piece."),
    ] = None,
    as_of: AsOf = None,
    force: Force = False,
    by: By = None,
    yes: Yes = False,
    json: Json = False,
) -> None:
    """Print the setup block. Run it alone, or paste it behind the program's % and number.

    Example:  pincorner block left -o left-block.nc
    """
    from pincorner.work.reports import block_text
    from pincorner.work.session import open_session

    session = open_session(ctx.obj, "block", by, person=person(yes))
    thickness = None
    if stock_thickness is not None:
        thickness = size_from("--stock-thickness", stock_thickness, display_unit(session))
    if output is None:
        text, setups = block_text(session, station, nest, as_of, thickness)
    else:
        from pincorner.work.papers import write_block

        text, setups = write_block(
            session, station, nest, output, force, as_of=as_of, stock_thickness_mm=thickness
        )
    if json:
        print_made("block", setups, text)
    else:
        print_text(text if output is None else f"{output}\n")


def sheet(
    ctx: typer.Context,
    stations: StationNames = None,
    every: Annotated[bool, typer.Option("--all", help="Of every station.")] = False,
    run: Annotated[
        str | None, typer.Option("--run", metavar="NAME", help="One page for a run instead.")
    ] = None,
    folder: Annotated[
        Path, typer.Option("-o", "--output", metavar="FOLDER", help="Where the pages go.")
    ] = Path("sheets"),
    paper: Annotated[
        str | None,
        typer.Option(
            "--paper", metavar="a4|letter", help="Paper size; as the newest sheet, if left out."
        ),
    ] = None,
    pdf: Annotated[
        bool, typer.Option("--pdf", help="Also as PDF, by a browser on this machine.")
    ] = False,
    force: Force = False,
    by: By = None,
    yes: Yes = False,
    json: Json = False,
) -> int:
    """Write setup sheets, one page for each station.

    With --all stations that cannot be located are named and left out: exit code 1.

    Example:  pincorner sheet left right -o sheets --paper letter
    """
    from pincorner.render.pages.sheet import PAPERS
    from pincorner.render.text.reports import sheets_text
    from pincorner.work.papers import AllSheets, write_all_sheets, write_sheets
    from pincorner.work.session import open_session

    if [bool(stations), every, run is not None].count(True) != 1:
        raise BadInput("name stations, or say --all for every station, or --run for a run's page")
    if paper is not None and paper not in PAPERS:
        raise BadInput(f"--paper: expected {' or '.join(PAPERS)}, got {paper}")
    progress = Progress()
    session = open_session(ctx.obj, "sheet", by, person=person(yes))
    done = AllSheets([], [], [])

    def told(number: int, count: int) -> None:
        progress.tell(f"sheet {number} of {count}")

    try:
        if run is not None:
            from pincorner.work.runs.planning import write_run_sheet

            done.paths.extend(write_run_sheet(session, run, folder, paper, pdf, force))
        elif every:
            done = write_all_sheets(session, folder, paper, pdf, force, told)
        else:
            done.paths.extend(
                write_sheets(session, stations or (), folder, paper, pdf, force, told)
            )
    except NotPrinted as error:
        tell_older_pdfs(*error.pages)
        raise
    finally:
        progress.done()
    if json:
        print_made("sheet", *done)
    else:
        print_prose(sheets_text(*done))
    tell_older_pdfs(*done.paths)
    return int(bool(done.refused))


def refresh(
    ctx: typer.Context,
    stations: StationNames = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what would be done, and do nothing.")
    ] = False,
    note: Note = None,
    by: By = None,
    yes: Yes = False,
    json: Json = False,
) -> int:
    """Print anew and stamp anew what is stale. The old files are kept beside.

    What check finds something in, or somebody edited by hand, is left and named, and a PDF that is
    not printed anew: exit code 1.

    Example:  pincorner refresh left --dry-run
    """
    from pincorner.render.text.reports import refresh_text
    from pincorner.work.runs.refreshing import refresh as work
    from pincorner.work.session import open_session

    progress = Progress()
    session = open_session(ctx.obj, "refresh", by, note, person(yes))
    try:
        done = work(session, stations or (), dry_run=dry_run, told=progress.tell)
    finally:
        progress.done()
    print_report(json, "refresh", refresh_text, [each.told for each in done])
    return int(any(each.outcome == "left" or each.why for each in done))


def draw_map(
    ctx: typer.Context,
    bed: Annotated[str, typer.Argument(metavar="BED", help="The bed.")],
    output: Annotated[
        Path | None,
        typer.Option(
            "-o", "--output", metavar="FILE", help="A file ending in .html, .svg or .dxf."
        ),
    ] = None,
    station: Annotated[
        str | None,
        typer.Option(
            "--station",
            metavar="S",
            help="One station alone, as .dxf with its program zero at 0, 0.",
        ),
    ] = None,
    nest: Annotated[
        str | None, typer.Option("--nest", metavar="N", help="Whose zero; the first, if left out.")
    ] = None,
    force: Force = False,
    by: By = None,
    yes: Yes = False,
    json: Json = False,
) -> None:
    """Draw the bed with its stations. With --json tell what the drawing shows.

    Example:  pincorner map long-bench -o long-bench.html
    """
    from pincorner.work.papers import look_at_map, write_map, write_station_drawing
    from pincorner.work.session import open_session

    if output is None and not json:
        raise BadInput("-o: name a file to draw the map in, ending in .html, .svg or .dxf")
    if station is None and nest is not None:
        raise BadInput("--nest: say with --station of which station")
    if station is not None and output is None:
        raise BadInput("--station: one station alone is drawn as .dxf; name it with -o")
    session = open_session(ctx.obj, "map", by, person=person(yes))
    if output is not None and station is not None:
        write_station_drawing(session, bed, station, nest, output, force)
    elif output is not None:
        write_map(session, bed, output, force)
    if json:
        found = look_at_map(session, bed)
        print_made("map", found.bed, found.rows, found.told)
    else:
        print_text(f"{output}\n")
    if output is not None:
        tell_older_pdfs(output)
