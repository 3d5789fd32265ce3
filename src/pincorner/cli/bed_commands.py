"""Commands about the bed through its life: surveys, surfacings, verifications, what is stale."""

from typing import Annotated

import typer

from pincorner.cli.options import By, Json, Note
from pincorner.cli.parsing import display_unit, length_from
from pincorner.cli.printing import print_report

# The modules that do the work are imported inside each command: --help needs none of them.


def add_to(app: typer.Typer) -> None:
    """Add these commands, in the order that help lists them."""
    for command in (resurface,):
        app.command()(command)


BedName = Annotated[str, typer.Argument(metavar="BED", help="A bed.")]


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
    note: Note = None,
    by: By = None,
    json: Json = False,
) -> None:
    """Record that the surface was cut down, or that slats were replaced.

    Heights, the depth of the holes and the wood over screws and tracks follow.

    Example:  pincorner resurface long-bench --depth 0.4
    """
    from pincorner.render.care import resurface_json, resurface_text
    from pincorner.work.bed_care import resurface as work
    from pincorner.work.session import open_session

    session = open_session(ctx.obj, "resurface", by, note)
    unit = display_unit(session)
    done = work(
        session,
        bed,
        slat or (),
        depth_mm=None if depth is None else length_from("--depth", depth, unit),
        surface_mm=None if surface is None else length_from("--surface", surface, unit),
    )
    print_report(json, resurface_json, resurface_text, *done)
