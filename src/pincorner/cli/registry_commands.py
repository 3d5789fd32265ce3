"""Commands about the registry as a whole."""

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from pincorner.cli.keeping_commands import backup, restore, upgrade
from pincorner.cli.options import AsOf, By, Force, Json, Note, Output, Yes, display_unit
from pincorner.cli.printing import (
    person,
    print_json,
    print_made,
    print_report,
    print_text,
    while_told,
)
from pincorner.errors import BadInput

# The modules that do the work are imported inside each command: --help needs none of them.


def commands() -> dict[str, Callable[..., Any]]:
    """These commands by name."""
    return {
        "demo": demo,
        "init": init,
        "load": load,
        "dump": dump,
        "list": list_names,
        "show": show,
        "retire": retire,
        "history": history,
        "backup": backup,
        "restore": restore,
        "schema": schema,
        "guide": guide,
        "upgrade": upgrade,
    }


def demo(
    folder: Annotated[
        Path, typer.Argument(help="The shop folder to make; it must hold no registry yet.")
    ] = Path("beehive-shop"),
) -> None:
    """Make a shop folder with an invented workshop, worked through.

    Example:  pincorner demo
    """
    from pincorner.render.text.offsets import offsets_table
    from pincorner.work.shops import demo as work

    made = while_told(lambda tell: work(folder, tell))
    program = _own_name()
    print_text(f"A shop folder with its registry is in {made.folder}.\n\n")
    print_text(f"Registered station spare: {made.registered.chosen}.\n\n")
    print_text(offsets_table(made.rows))
    print_text(f"\nThe setup block of station left:\n\n{made.block}")
    print_text(
        f"\n{len(made.sheets)} setup sheets are in {made.sheets[0].parent}; open one in a browser "
        f"and print it: {made.sheets[0]}\n"
        f"The bed map is {made.map}, the block {made.folder / 'left-block.nc'}.\n\n"
        "Try next:\n"
        f"  cd {made.folder}\n"
        f"  {program} explain left\n"
        f"  {program} block right\n"
        f"  {program} check hand-hold --station left\n"
        f"  {program} run three-sides\n"
        f"  {program} status\n"
        f"  {program} register shelf --bed long-bench --stock 150,250,18 --pin peg-20 "
        "--corner A2 --toward +x+y --work-offset a=G54\n"
        f"  {program} history spare\n"
    )


def _own_name() -> str:
    """How to call this program from another folder: by its name where that is found."""
    import shutil
    import sys

    if shutil.which("pincorner"):
        return "pincorner"
    program = Path(sys.argv[0])
    if program.name == "__main__.py":
        return f"{_quoted(sys.executable)} -m pincorner"
    return _quoted(str(program.absolute()))


def _quoted(path: str) -> str:
    return f'"{path}"' if " " in path else path


def init(
    ctx: typer.Context,
    folder: Annotated[Path, typer.Argument(help="The shop folder.")] = Path(),
    units: Annotated[
        str, typer.Option("--units", metavar="mm|in", help="Unit of bare numbers you type.")
    ] = "mm",
    by: By = None,
    yes: Yes = False,
) -> None:
    """Make an empty registry in a shop folder.

    It holds the shipped dialects.

    Example:  pincorner init shop --units mm
    """
    from pincorner.work.shops import init_shop

    if units not in ("mm", "in"):
        raise BadInput(f"--units: expected mm or in, got {units}")
    location = init_shop(folder, ctx.obj, "in" if units == "in" else "mm", by, person(yes))
    print_text(f"made {location}; load documents with pincorner load FILE\n")


def load(
    ctx: typer.Context,
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="Documents (YAML).")],
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Check all, write nothing.")] = False,
    note: Note = None,
    by: By = None,
    yes: Yes = False,
    json: Json = False,
) -> None:
    """Read documents in, all or nothing.

    Example:  pincorner load bed.yaml jigs.yaml --note "new bed"
    """
    from pincorner.render.text.reports import load_text
    from pincorner.work.loading import load as work
    from pincorner.work.session import open_session

    loaded = work(open_session(ctx.obj, "load", by, note, person(yes)), files, dry_run)
    summary, chosen, warnings = loaded.summary, loaded.chosen, loaded.warnings
    kinds = (summary.added, summary.changed, summary.same)
    print_report(json, "load", load_text, *kinds, chosen, warnings, dry_run)


def dump(
    ctx: typer.Context,
    output: Output = None,
    as_of: AsOf = None,
    units: Annotated[
        str, typer.Option("--units", metavar="mm|in", help="Unit of its lengths.")
    ] = "mm",
    force: Force = False,
) -> None:
    """Print the whole registry as one document, in mm or in inches.

    Loading it gives the same registry, to the last bit.

    Example:  pincorner dump -o shop.yaml
    """
    from pincorner.work.never_replaced import outputs_of
    from pincorner.work.reports import dump as work
    from pincorner.work.session import open_session

    if units not in ("mm", "in"):
        raise BadInput(f"--units: expected mm or in, got {units}")
    session = open_session(ctx.obj, "dump")
    text = work(session, as_of, "in" if units == "in" else "mm")
    if output is None:
        print_text(text)
    else:
        outputs_of(session, force).write(output, text.encode("utf-8"))


def list_names(
    ctx: typer.Context,
    kind: Annotated[
        str | None,
        typer.Argument(metavar="[KIND]", help="machine, bed, pin, jig, station, program, ..."),
    ] = None,
    as_of: AsOf = None,
    json: Json = False,
) -> None:
    """List what the registry holds.

    Example:  pincorner list stations
    """
    from pincorner.documents.kinds import kind_named
    from pincorner.render.text.reports import names_text
    from pincorner.work.reports import names
    from pincorner.work.session import open_session

    word = kind_named(kind) if kind else None
    found = names(open_session(ctx.obj, "list"), word, as_of)
    print_report(json, "list", names_text, found)


def show(
    ctx: typer.Context,
    name: Annotated[
        str,
        typer.Argument(help="A name, its kind in front if you like; or a fingerprint, 7F3A-91C2."),
    ],
    of_kind: Annotated[
        str | None, typer.Argument(metavar="NAME", help="The name, where its kind came first.")
    ] = None,
    kind: Annotated[
        str | None,
        typer.Option("--kind", metavar="K", help="Of this kind only."),
    ] = None,
    as_of: AsOf = None,
    json: Json = False,
) -> None:
    """Show one thing in full, or what a fingerprint stands for.

    Its kind may stand in front, as pincorner show bed long-bench.

    Example:  pincorner show left --kind station
    """
    from pincorner.documents.kinds import kind_named
    from pincorner.render.text.reports import shown_text
    from pincorner.work.reports import picture_of
    from pincorner.work.reports import show as work
    from pincorner.work.session import open_session

    if of_kind is not None:
        kind, name = _kind_and_name(name, of_kind, kind)
    word = kind_named(kind) if kind else None
    session = open_session(ctx.obj, "show")
    with session.reading():
        found, unit = work(session, name, word, as_of), display_unit(session)
        shown = [] if json else [each.document for each in found if not each.fingerprint]
        drawn = [picture_of(session, document, as_of) for document in shown]
    if json:
        print_made("show", found)
        return
    print_text(shown_text(found, unit))
    for lines in map(str.splitlines, drawn):
        print_text("".join(f"# {line}".rstrip() + "\n" for line in lines))


def _kind_and_name(first: str, second: str, stated: str | None) -> tuple[str, str]:
    """`show bed bench`: the kind and the name. Raises BadInput for a name of two words."""
    from pincorner.documents.kinds import KINDS

    if stated is None and first.lower() in {
        w for k in KINDS.values() for w in (k.word, k.list_key)
    }:
        return first, second
    raise BadInput(
        f"there is no kind {first}; a name with a blank in it stands in quotes: pincorner show "
        f'"{first} {second}"'
    )


def retire(
    ctx: typer.Context,
    kind: Annotated[
        str, typer.Argument(metavar="KIND", help="Its kind, such as station; or paper.")
    ],
    name: Annotated[
        str,
        typer.Argument(
            metavar="NAME", help="Its name; of records, a bed's for its last one; a paper's file."
        ),
    ],
    note: Note = None,
    by: By = None,
    yes: Yes = False,
) -> None:
    """Take something out of use; its history stays.

    With survey, surfacing or disturbance and a bed's name the last such record of the bed is
    taken back; say why with --note. A paper whose file is gone on purpose is missed no more.

    Example:  pincorner retire run monday-sides --note "no more orders"
    """
    from pincorner.documents.kinds import kind_named
    from pincorner.work.loading import retire as work
    from pincorner.work.session import open_session

    session = open_session(ctx.obj, "retire", by, note, person(yes))
    if kind.strip().lower() in ("paper", "papers"):
        from pincorner.work.papers import retire_paper

        print_text(
            f"retired paper {retire_paper(session, name)}; writing it again brings it back\n"
        )
        return
    word = kind_named(kind)
    retired = work(session, word, name)
    print_text(f"retired {word} {retired}; loading it again brings it back\n")


def history(
    ctx: typer.Context,
    name: Annotated[
        str | None,
        typer.Argument(metavar="[NAME]", help="Of documents of this name only."),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--output",
            metavar="FILE",
            help="Draw a station's verifications on their charts, as .svg or .html.",
        ),
    ] = None,
    force: Force = False,
    json: Json = False,
) -> None:
    """Print who changed what, when and why, oldest first.

    Example:  pincorner history left
    """
    from pincorner.render.text.reports import history_text
    from pincorner.work.reports import history as work
    from pincorner.work.session import open_session

    session = open_session(ctx.obj, "history")
    if output is not None:
        from pincorner.work.verifying import draw_charts

        if name is None:
            raise BadInput("-o: name the station whose verifications are to be drawn")
        draw_charts(session, name, output, force)
        if not json:
            print_text(f"{output}\n")
            return
    events = [(e.at, e.who, e.command, e.why, e.kind, e.name, e.what) for e in work(session, name)]
    print_report(json, "history", history_text, events)


def schema(
    of: Annotated[
        str | None,
        typer.Option(
            "--of", metavar="COMMAND", help="Of what a command prints with --json, such as offsets."
        ),
    ] = None,
) -> None:
    """Print the JSON Schema of the documents, or of a report.

    Example:  pincorner schema --of offsets
    """
    if of is None:
        from pincorner.documents.schema import documents_schema

        print_json(documents_schema())
    else:
        from pincorner.render.outputs.schema import report_schema

        print_json(report_schema(of))


def guide(
    topic: Annotated[
        str | None,
        typer.Argument(metavar="[TOPIC]", help="A page of it; the list of them if left out."),
    ] = None,
) -> None:
    """Print a page of the guide, or what pages there are.

    Example:  pincorner guide stations
    """
    from pincorner.render.text.guide import page, topics

    if topic is not None:
        print_text(page(topic))
        return
    listed = topics()
    width = max(len(name) for name, _ in listed)
    for name, about in listed:
        print_text(f"pincorner guide {name:{width}}  {about}\n")
