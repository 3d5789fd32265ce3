"""Options that several commands share."""

from pathlib import Path
from typing import Annotated

import typer


def _station_names(ctx: typer.Context, incomplete: str) -> list[str]:
    """Names of stations for shell completion; none where there is no registry to ask."""
    from pincorner.documents.fields import key_of
    from pincorner.errors import PincornerError
    from pincorner.work.reports import names
    from pincorner.work.session import open_session

    try:
        found = names(open_session(ctx.find_root().params.get("db"), "complete"), "station", None)
    except PincornerError:
        return []
    return [name for _, name, _ in found if key_of(name).startswith(key_of(incomplete))]


StationName = Annotated[
    str, typer.Argument(metavar="STATION", help="A station.", autocompletion=_station_names)
]
StationNames = Annotated[
    list[str] | None,
    typer.Argument(metavar="[STATION]...", help="Stations.", autocompletion=_station_names),
]
NestName = Annotated[
    str | None,
    typer.Option("--nest", metavar="N", help="The nest of the jig; the first if left out."),
]
AsOf = Annotated[
    str | None,
    typer.Option(
        "--as-of",
        metavar="T",
        help="As recorded up to a date (the end of that day) or time, such as 2026-11-20.",
    ),
]
Json = Annotated[bool, typer.Option("--json", help="JSON on standard output.")]
Force = Annotated[bool, typer.Option("--force", help="Replace files that exist.")]
Note = Annotated[
    str | None,
    typer.Option("--note", metavar="TEXT", help="Why; kept in the history."),
]
By = Annotated[
    str | None,
    typer.Option("--by", metavar="NAME", help="Who; the login name if left out."),
]
Yes = Annotated[
    bool,
    typer.Option("--yes", help="Yes to what would be asked, such as about a clock that is odd."),
]
Output = Annotated[
    Path | None,
    typer.Option("-o", "--output", metavar="FILE", help="Write to a file."),
]
