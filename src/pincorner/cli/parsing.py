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
    found: dict[str, str] = {}
    for text in texts:
        nest, sign, code = text.partition("=")
        if not sign or not nest or not code:
            raise BadInput(f"--work-offset: expected NEST=CODE, such as a=G55; got {text!r}")
        if nest.casefold() in map(str.casefold, found):
            raise BadInput(f"--work-offset: nest {nest} was given a code already")
        found[nest] = code
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
