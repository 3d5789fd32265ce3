"""Options that several commands share, and values that are more than a word."""

from pathlib import Path
from typing import Annotated, Any

import typer

from pincorner.errors import BadInput


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
StockZero = Annotated[
    str | None,
    typer.Option(
        "--stock-zero", metavar="X,Y", help="Its program zero from its front left corner; 0,0."
    ),
]
Output = Annotated[
    Path | None,
    typer.Option("-o", "--output", metavar="FILE", help="Write to a file."),
]


def split(text: str) -> list[str]:
    return [part.strip() for part in text.split(",")]


def pins_from(text: str) -> dict[str, Any]:
    holes = split(text)
    if len(holes) == 3:
        return {"edge": holes[:2], "stop": holes[2]}
    if len(holes) == 2:
        return {"round": holes[0], "slot": holes[1]}
    raise BadInput(
        "--pins: expected three holes, two edge pins and the stop, such as D2,G2,C4 (on dowels "
        f"two, the round hole's and the slot's); got {text!r}"
    )


def stock_from(text: str, unit: Any) -> list[float]:
    sizes = split(text)
    if len(sizes) != 3:
        raise BadInput(
            f"--stock: expected length, width, thickness, such as 410,240,20; got {text!r}"
        )
    return [length_from("--stock", size, unit) for size in sizes]


def stock_zero_from(text: str, unit: Any) -> tuple[float, float]:
    x, y = ways_from("--stock-zero", text)
    return length_from("--stock-zero", x, unit), length_from("--stock-zero", y, unit)


def ways_from(option: str, text: str) -> tuple[str, str]:
    """X and Y as they were typed."""
    ways = split(text)
    if len(ways) != 2:
        raise BadInput(f"{option}: expected X,Y, such as 205,120; got {text!r}")
    return ways[0], ways[1]


def work_offsets_from(texts: list[str]) -> tuple[dict[str, str], str | None]:
    """Codes by nest, and the code that stands alone: of the only nest that there is."""
    from pincorner.documents.fields import key_of

    found: dict[str, str] = {}
    alone: str | None = None
    for text in texts:
        nest, sign, code = text.partition("=")
        if not sign and (code := _code_alone(text)):
            if alone is not None:
                raise BadInput(
                    f"--work-offset: {alone} was given already; say of which nest {text}"
                )
            alone = code
            continue
        if not sign or not nest or not code:
            raise BadInput(
                "--work-offset: expected NEST=CODE, such as a=G55, or the code alone where there "
                f"is one nest; got {text!r}"
            )
        if key_of(nest) in map(key_of, found):
            raise BadInput(f"--work-offset: nest {nest} was given a code already")
        found[nest] = code
    return found, alone


def _code_alone(text: str) -> str:
    from pincorner.documents.fields import check_code

    try:
        return check_code(text)
    except ValueError:
        return ""


def tools_from(texts: list[str] | None, unit: Any) -> dict[int, float]:
    """Diameters in mm by tool number, from `1=6mm`."""
    found: dict[int, float] = {}
    for text in texts or ():
        number, sign, size = text.partition("=")
        if not sign or not number.strip().isdecimal() or len(number.strip()) > 6:
            raise BadInput(f"--tool: expected NUMBER=DIAMETER, such as 1=6mm; got {text!r}")
        diameter_mm = length_from("--tool", size, unit)
        if diameter_mm <= 0:
            raise BadInput(f"--tool: expected a diameter of more than nothing, got {text!r}")
        if int(number) in found:
            raise BadInput(f"--tool: tool {int(number)} was given a diameter already")
        found[int(number)] = diameter_mm
    return found


def codes_from(texts: list[str] | None) -> dict[str, str]:
    """Work offsets by those of the program, from `G54=G55`."""
    found: dict[str, str] = {}
    for text in texts or ():
        old, sign, new = (part.strip().upper() for part in text.partition("="))
        if not sign or not old or not new:
            raise BadInput(f"--code: expected OLD=NEW, such as G54=G55; got {text!r}")
        if old in found:
            raise BadInput(f"--code: {old} was given a code already")
        found[old] = new
    return found


def display_unit(session: Any) -> Any:
    with session.registry.reading() as reader:
        return reader.display_units


def size_from(option: str, text: str, unit: Any) -> float:
    """The size that an option states, mm. Raises BadInput."""
    from pincorner.documents.fields import check_size

    value_mm = length_from(option, text, unit)
    try:
        return check_size(value_mm, text)
    except ValueError as error:
        raise BadInput(f"{option}: {error}") from None


def length_or_none(option: str, text: str | None, unit: Any) -> float | None:
    return None if text is None else length_from(option, text, unit)


def length_from(option: str, text: str, unit: Any) -> float:
    from pincorner.units import parse_length

    try:
        return parse_length(text, unit)
    except ValueError as error:
        raise BadInput(f"{option}: {error}") from None
