"""Commands about running several stations in turn, and about where jigs can go."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pincorner.cli.options import (
    By,
    Force,
    Json,
    Output,
    StockZero,
    Yes,
    display_unit,
    stock_from,
    stock_zero_from,
)
from pincorner.cli.printing import (
    person,
    print_made,
    print_report,
    print_text,
    tell_older_pdfs,
    while_told,
)
from pincorner.errors import BadInput, together

if TYPE_CHECKING:
    from pincorner.work.placing import Wanted
    from pincorner.work.session import Session

# The modules that do the work are imported inside each command: --help needs none of them.


def commands() -> dict[str, Callable[..., Any]]:
    """These commands by name."""
    return {
        "run": plan_run,
        "place": place,
    }


RunName = Annotated[str, typer.Argument(metavar="NAME", help="A run: stations worked in turn.")]


def plan_run(
    ctx: typer.Context,
    name: RunName,
    output: Output = None,
    force: Force = False,
    by: By = None,
    yes: Yes = False,
    json: Json = False,
) -> int:
    """Plan a run: work offsets, distances, a timeline.

    With -o its page is written as .html, and recorded, as by `sheet --run`. Exit code 1 where
    something was found. Nothing here says that reaching in is permitted.

    Example:  pincorner run monday-sides
    """
    from pincorner.render.text.runs import findings_lines, run_text
    from pincorner.work.never_replaced import outputs_of
    from pincorner.work.runs.planning import plan, write_run_page
    from pincorner.work.session import open_session

    session = open_session(ctx.obj, "run", by, person=person(yes))
    found = plan(session, name)
    if output is not None:
        write_run_page(session, found, output, "a4", outputs_of(session, force))
        tell_older_pdfs(output)
    if output is None or json:
        print_report(json, "run", run_text, found)
    else:
        print_text("".join(f"{line}\n" for line in (output, *findings_lines(found))))
    return int(bool(found.findings))


def place(
    ctx: typer.Context,
    bed: Annotated[
        str | None,
        typer.Option("--bed", metavar="B", help="The bed; the only one there is, if left out."),
    ] = None,
    jig: Annotated[
        str | None, typer.Argument(metavar="[JIG]", help="The jig; or give --stock.")
    ] = None,
    stock: Annotated[
        str | None,
        typer.Option("--stock", metavar="L,W,T", help="Bare stock: length, width, thickness."),
    ] = None,
    stock_zero: StockZero = None,
    pin: Annotated[
        str | None,
        typer.Option("--pin", metavar="P", help="The pins; those that the jig has elsewhere."),
    ] = None,
    count: Annotated[
        int | None,
        typer.Option("--count", metavar="N", help="As many at once, as far apart as can be."),
    ] = None,
    beside: Annotated[
        str | None,
        typer.Option("--beside", metavar="RUN", help="Away from the stations of a run."),
    ] = None,
    others: Annotated[
        bool, typer.Option("--others", help="Away from every station of the bed.")
    ] = False,
    program: Annotated[
        str | None,
        typer.Option(
            "--program", metavar="P", help="With --count: by its loading windows, then gaps."
        ),
    ] = None,
    terms: Annotated[
        str | None,
        typer.Option("--terms", metavar="RUN", help="Loads, times and reach as this run has them."),
    ] = None,
    output: Output = None,
    force: Force = False,
    json: Json = False,
) -> int:
    """Say where on a bed a jig can go, best first.

    With each place comes the command that registers it there. With --program several at once are
    ranked by how long each can be loaded while another one runs, in the drawing.

    With -o the places are drawn as .svg. Exit code 1 where there is no place.

    Example:  pincorner place panel-tray --bed long-bench --count 2
    """
    from pincorner.render.text.places import places_text, selection_text
    from pincorner.work.placing import Wanted, draw_places, only_bed
    from pincorner.work.placing import place as work
    from pincorner.work.session import open_session

    if (jig is None) == (stock is None):
        raise BadInput("name a jig, or give --stock for bare stock: one of the two")
    if stock_zero is not None and stock is None:
        raise BadInput("--stock-zero: it goes with --stock; a jig's document says its zeros")
    session = open_session(ctx.obj, "place")
    unit = display_unit(session)
    sizes, zero = together(
        lambda: None if stock is None else stock_from(stock, unit),
        lambda: None if stock_zero is None else stock_zero_from(stock_zero, unit),
    )
    size = None if sizes is None else (sizes[0], sizes[1], sizes[2])
    wanted = Wanted(bed or only_bed(session), jig, size, pin, count, beside, others, program, terms)
    if zero is not None:
        wanted = wanted._replace(zero=zero)
    if program is not None:
        return _placed_in_turn(session, wanted, output, force, json)
    if terms is not None:
        raise BadInput("--terms: only with --program are times counted")
    found = while_told(lambda told: work(session, wanted, told))
    if output is not None:
        drawn = (session, found.places, found.shown, found.around, output, force)
        draw_places(*drawn, together=found.selection is not None)
        if not json:
            print_text(f"{output}\n")
    if json:
        print_made("place", found.places, found.shown, found.names, found.selection)
    elif found.selection is None:
        print_text(places_text(found.places, found.shown, found.names))
    else:
        print_text(selection_text(found.places, found.selection, found.names))
    return int(not found.shown)


def _placed_in_turn(
    session: "Session", wanted: "Wanted", output: Path | None, force: bool, json: bool
) -> int:
    """Sets of places, by loading windows."""
    from pincorner.render.text.place_sets import sets_text
    from pincorner.work.placing import draw_places
    from pincorner.work.runs.sets import place_sets

    found = while_told(lambda told: place_sets(session, wanted, told))
    if output is not None:
        drawn = (session, found.places, found.shown, found.around, output, force)
        draw_places(*drawn, together=True)
        if not json:
            print_text(f"{output}\n")
    if json:
        print_made("place", found.places, found.shown, found.names, None, found)
    else:
        print_text(sets_text(found))
    return int(not found.shown)
