"""Commands that keep the registry whole: copies of it, the way back, and newer versions."""

from pathlib import Path
from typing import Annotated

import typer

from pincorner.cli.options import By, Force, Note, Yes
from pincorner.cli.printing import person, print_text

# The modules that do the work are imported inside each command: --help needs none of them.


def backup(
    ctx: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The copy to write.")],
    force: Force = False,
) -> None:
    """Copy the registry into one file while others work.

    Example:  pincorner backup monday.sqlite
    """
    from pincorner.work.backups import backup as work

    changes = work(ctx.obj, file, force)
    print_text(f"{file} holds the registry with its {changes} changes\n")


def restore(
    ctx: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A copy that backup wrote.")],
    force: Annotated[
        bool, typer.Option("--force", help="In the place of everything in the registry.")
    ] = False,
    note: Note = None,
    by: By = None,
    yes: Yes = False,
) -> None:
    """Put a backup back.

    One of an earlier version is brought up to date; the backup itself stays as it is. A damaged
    registry is kept beside.

    Example:  pincorner restore monday.sqlite --force
    """
    from pincorner.render.text.reports import upgraded_text
    from pincorner.work.backups import restore as work

    location, done, unknown = work(ctx.obj, file, force, by, note, person(yes))
    if done.kept is not None:
        print_text(f"the damaged registry is kept as {done.kept}\n")
    if done.upgraded is not None:
        print_text(upgraded_text(*done.upgraded))
    print_text(f"{location} holds {file} with its {done.changes} changes\n")
    print_text("".join(f"written since that backup, and not as on record: {p}\n" for p in unknown))
    if unknown:
        print_text("print and stamp these anew before anybody goes by them\n")


def upgrade(
    ctx: typer.Context,
    repair_times: Annotated[
        bool,
        typer.Option("--repair-times", help="Put times that are later than now at now."),
    ] = False,
    by: By = None,
    yes: Yes = False,
) -> None:
    """Bring a registry made by an earlier version up to date.

    Example:  pincorner upgrade
    """
    from pincorner.render.text.reports import upgraded_text
    from pincorner.work.session import open_session
    from pincorner.work.shops import upgrade as work

    session = open_session(ctx.obj, "upgrade", by, person=person(yes))
    print_text(upgraded_text(*work(session, repair_times)))
