"""The steps of a setup sheet: to set a station up, and to check it before it cuts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pincorner.render.visible import visible
from pincorner.setups.setup import Setup
from pincorner.units import fixed, in_unit

_TURNS = {
    0: "",
    90: ", turned a quarter counter-clockwise",
    180: ", turned half round",
    270: ", turned a quarter clockwise",
}


def setup_steps(setup: Setup, take_out: Sequence[str]) -> list[str]:
    """What to do, in order, before anything is checked."""
    facts, located = setup.facts, setup.located
    holes = [pin.hole for pin in located.pins]
    steps = []
    if take_out:
        which = f"in {_and(take_out)}" if len(take_out) < 8 else "listed above under out"
        steps.append(f"Take out the pins {which}: they belong to other stations.")
    names = {pin.pin.name for pin in located.pins}
    if len(names) == 1:
        steps.append(f"Put pins {names.pop()} into {_and(holes)}.{_empty(setup)}")
    else:
        each = ", ".join(f"{pin.pin.name} into {pin.hole}" for pin in located.pins)
        steps.append(f"Put pin {each}.{_empty(setup)}")
    lay = f"Brush off chips. Lay {'the stock' if facts.station.stock else facts.holder.name}"
    if facts.station.under:
        unit = setup.printed.own.unit
        under = fixed(in_unit(facts.station.under, unit), 1 if unit == "mm" else 3)
        lay += f" on a sheet {under} {unit} thick"
    steps.append(f"{lay}{_against(setup, holes)} Clamp; nothing may rock.")
    return [visible(step) for step in steps]


def _against(setup: Setup, holes: Sequence[str]) -> str:
    """How the jig goes to its pins."""
    located = setup.located
    if located.on_dowels:
        return f", its round hole over the pin in {holes[0]}, its slot over the pin in {holes[1]}."
    return (
        f"{_TURNS[setup.facts.station.turn]}, its {located.edge_side} edge against "
        f"{_and(holes[:2])}; slide it along them until its {located.stop_side} edge meets "
        f"{holes[2]}."
    )


def _empty(setup: Setup) -> str:
    hole = setup.located.corner_hole
    return f" {hole}, at the inside corner, stays empty." if hole else ""


def _and(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def nest_check(setup: Setup) -> dict[str, str]:
    """The figures to check one nest by."""
    own = setup.printed.own
    thing = "the stock's" if setup.facts.station.stock else "the jig's"
    corner = f"{thing} corner at the pins"
    if setup.located.on_dowels:
        corner = f"the pin in {setup.located.pins[0].hole}"
    return {
        "nest": visible(setup.nest.name),
        "code": setup.work_offset or "the code",
        "stands": _from_corner(own.right_of_corner, own.behind_corner, own.unit, corner),
        "reads": (
            f"with {setup.relative_to} selected the read-out shows"
            if setup.relative_to
            else "the machine reads"
        ),
        "x": own.x,
        "y": own.y,
    }


def turns_axes(setup: Setup) -> bool:
    """Whether the controller turns its axes by an angle that shows."""
    return setup.writes_angle and float(setup.printed.angle) != 0


def z_how(setup: Setup) -> str:
    """How Z comes into the code: touch, reference, machine, or keyed where the block cannot."""
    word = next((word for word in setup.printed.words if word.axis == "Z"), None)
    return "keyed" if word is not None and word.by_hand else setup.facts.station.z.set


def z_groups(setups: Sequence[Setup]) -> list[dict[str, Any]]:
    """Nests whose Z reads the same everywhere, told together."""
    groups: dict[tuple[str, ...], list[Setup]] = {}
    for setup in setups:
        own = setup.printed.own
        same = (own.tip_on_surface, own.tip_on_stock, own.tip_on_plate, own.stock[2])
        groups.setdefault(same, []).append(setup)
    return [
        {
            "codes": _and([each.work_offset or f"nest {each.nest.name}" for each in group]),
            "own": group[0].printed.own,
        }
        for group in groups.values()
    ]


def stocks(setups: Sequence[Setup]) -> list[str]:
    """Sizes of the stock, with the nest's name where nests differ; the first few."""
    sizes = {
        f"{' × '.join(setup.printed.own.stock)} {setup.printed.own.unit}": setup.nest.name
        for setup in reversed(setups)
    }
    texts = [
        size if len(sizes) == 1 else f"{visible(nest)}: {size}" for size, nest in sizes.items()
    ]
    return texts[::-1][:4]


def skew_in_words(setups: Sequence[Setup]) -> str:
    """The largest deviation of an angle that is not written; empty where there is none."""
    worst = max(setups, key=lambda setup: setup.skew_mm)
    if float(worst.printed.skew) == 0:
        return ""
    return (
        f" Angle {worst.printed.angle} degrees is not written: up to {worst.printed.skew} mm over "
        "the stock."
    )


def _from_corner(right: str, behind: str, unit: str, corner: str) -> str:
    """`25.0 mm right of and 20.0 mm behind the jig's corner at the pins`."""
    parts = [
        f"{text.lstrip('-')} {unit} {words[0] if not text.startswith('-') else words[1]}"
        for text, words in ((right, ("right of", "left of")), (behind, ("behind", "in front of")))
        if float(text) != 0
    ]
    return f"over the zero, {' and '.join(parts) or 'at'} {corner}"
