"""Option values that are more than a word: lengths, pins, stock, work offsets."""

from typing import Any

from pincorner.errors import BadInput


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


def work_offsets_from(texts: list[str]) -> dict[str, str]:
    from pincorner.documents.fields import key_of

    found: dict[str, str] = {}
    for text in texts:
        nest, sign, code = text.partition("=")
        if not sign or not nest or not code:
            raise BadInput(f"--work-offset: expected NEST=CODE, such as a=G55; got {text!r}")
        if key_of(nest) in map(key_of, found):
            raise BadInput(f"--work-offset: nest {nest} was given a code already")
        found[nest] = code
    return found


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


def length_from(option: str, text: str, unit: Any) -> float:
    from pincorner.units import parse_length

    try:
        return parse_length(text, unit)
    except ValueError as error:
        raise BadInput(f"{option}: {error}") from None
