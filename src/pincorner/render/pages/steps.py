"""The steps of a setup sheet: to set a station up, and to check it before it cuts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from markupsafe import Markup, escape

from pincorner.characters import visible
from pincorner.setups.findings import Finding
from pincorner.setups.refusals import shared_reasons
from pincorner.setups.setup import Setup
from pincorner.units import fixed, in_unit

CROWDED = 2
"""More nests than these are not told one by one: their lines in the table hold the figures."""

_TURNS = {
    0: "",
    90: ", turned a quarter counter-clockwise",
    180: ", turned half round",
    270: ", turned a quarter clockwise",
}
_ZEROS = {
    "surface": "the bed surface",
    "seat": "the seat under the stock",
    "stock-top": "the top of the stock",
}


class Reason(NamedTuple):
    """Why there is no block, as it is printed: what is wrong, and the ways out of it.

    `alone`: the finding where the sentence is all of it, and no other nest has its kind.
    """

    text: str
    ways_out: list[str]
    alone: Finding | None


def reasons_for_no_block(setups: Sequence[Setup]) -> list[Reason]:
    """What keeps the block back; a reason that several nests have is told once."""
    reasons = []
    for first, more in shared_reasons(setups):
        text = visible(first.text)
        if more:
            text += f" (and so for {more} more nest{'s' * (more > 1)})"
        reasons.append(
            Reason(text, [visible(way) for way in first.ways_out], None if more else first)
        )
    return reasons


def setup_steps(setup: Setup, take_out: Sequence[str]) -> list[Markup]:
    """What to do, in order, before anything is set in the controller."""
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
    return [escape(visible(step)) for step in steps]


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


def z_step(setups: Sequence[Setup]) -> Markup:
    """How Z comes into the code, and what the tip must read then."""
    first, crowded = setups[0], len(setups) > CROWDED
    changes = any(each.program and len(each.program.tools) > 1 for each in setups)
    how = _z_how(first)
    if how == "touch":
        codes = [visible(setup.work_offset or "the code") for setup in setups]
        text = Markup("Z is zero on {}. Set it with {} selected, not by G92{}.").format(
            _ZEROS[first.facts.station.z.zero],
            "each code" if crowded else ", then ".join(dict.fromkeys(codes)),
            ", for each tool" if changes else "",
        )
    elif how == "keyed":
        text = Markup("Z is keyed in: see the table above.")
    elif how == "reference":
        text = Markup(
            "Set Z in G54 with the tip on the bed surface; the block takes Z of this station from "
            "it."
        )
    else:
        text = Markup("Z is written by the block; tool lengths must be applied.")
    if crowded:
        return text + (
            " Then the tip must read, with each code selected, what stands in its line above; if "
            "bed and stock disagree, the stock is not the thickness on file."
        )
    groups = [_z_readings(group) for group in _same_z(setups)]
    return Markup("{} Then {}.").format(text, Markup(", and ").join(groups))


def _z_how(setup: Setup) -> str:
    """How Z comes into the code: touch, reference, machine, or keyed where the block cannot."""
    word = next((word for word in setup.printed.words if word.axis == "Z"), None)
    return "keyed" if word is not None and word.by_hand else setup.facts.station.z.set


def _same_z(setups: Sequence[Setup]) -> list[list[Setup]]:
    """Nests whose Z reads the same everywhere, together."""
    groups: dict[tuple[str, ...], list[Setup]] = {}
    for setup in setups:
        own = setup.printed.own
        same = (own.tip_on_surface, own.tip_on_stock, own.tip_on_plate, own.stock[2])
        groups.setdefault(same, []).append(setup)
    return list(groups.values())


def _z_readings(group: Sequence[Setup]) -> Markup:
    """What the tip must read with these nests' codes."""
    own = group[0].printed.own
    codes = [visible(each.work_offset or f"nest {each.nest.name}") for each in group]
    plate = Markup("")
    if own.tip_on_plate:
        plate = Markup(", <b>Z{}</b> on the {} {} plate lying on it").format(
            own.tip_on_plate, own.plate, own.unit
        )
    return Markup(
        "with {} the tip must read <b>Z{}</b> on the bed surface{} and <b>Z{}</b> on the stock; if "
        "bed and stock disagree, the stock is not {} {} thick"
    ).format(
        _and(codes), own.tip_on_surface, plate, own.tip_on_stock, own.stock[2], own.unit
    )  # fmt: skip


def check_steps(setups: Sequence[Setup]) -> list[Markup]:
    """What to look at before the first cut, and what to do after a stop."""
    first, crowded = setups[0], len(setups) > CROWDED
    turns = first.facts.dialect.rotation == "g68"
    if crowded:
        run = "run the block alone; select each code in turn"
        run = "run each nest's block in turn" if turns else run
        steps = [
            Markup(
                "Z raised, {}, then G0 X0 Y0: the spindle stands over that nest's zero, and {} the "
                "X and Y of its line above."
            ).format(run, _reads(first))
        ]
    else:
        steps = [_nest_check(setup, alone=len(setups) == 1) for setup in setups]
    shown = "the one of the nest" if crowded else ", ".join(each.fingerprint for each in setups)
    steps.append(
        Markup(
            "Block and program show the setup printed at the top of this page: <b>{}</b>."
        ).format(shown)
    )
    turned = _turned_axes(setups)
    if turned:
        steps.append(
            Markup(
                "The axes are turned by {}: the read-out follows the part, the jog keys the "
                "machine."
            ).format(turned)
        )
    unlock = "run G69, then " if turns else ""
    steps.append(
        Markup("After any stop, {}run the block alone first, then the program from its start.")
        .format(unlock)
    )  # fmt: skip
    return steps


def _nest_check(setup: Setup, *, alone: bool) -> Markup:
    """The figures to check one nest by; `alone`: the station has no other."""
    own, nest = setup.printed.own, visible(setup.nest.name)
    block = "the block alone"
    if not alone and setup.facts.dialect.rotation == "g68":
        block = f"the block of nest {nest}"
    elif not alone:
        block += f", select {visible(setup.work_offset or 'its code')}"
    return Markup(
        "{}Z raised, run {}, then G0 X0 Y0: the spindle stands over the zero, {}; {} "
        "<b>X {} Y {}</b>."
    ).format(
        "" if alone else f"Nest {nest}: ", block, _from_corner(setup), _reads(setup), own.x, own.y
    )


def _reads(setup: Setup) -> str:
    if setup.relative_to:
        return f"with {setup.relative_to} selected the read-out shows"
    return "the machine reads"


def _turned_axes(setups: Sequence[Setup]) -> str:
    """`0.1200 degrees`, or for each angle the codes in which it holds."""
    codes: dict[str, list[str]] = {}
    for setup in setups:
        if turns_axes(setup):
            code = setup.work_offset or f"nest {setup.nest.name}"
            codes.setdefault(setup.printed.angle, []).append(visible(code))
    if len(codes) == 1 and len(next(iter(codes.values()))) == len(setups):
        return f"{next(iter(codes))} degrees"
    return (
        ""
        if not codes
        else _and([f"{angle} degrees in {_and(names)}" for angle, names in codes.items()])
    )


def turns_axes(setup: Setup) -> bool:
    """Whether the controller turns its axes by an angle that shows."""
    return setup.writes_angle and float(setup.printed.angle) != 0


def _from_corner(setup: Setup) -> str:
    """`25.0 mm right of and 20.0 mm behind the jig's corner at the pins`."""
    own = setup.printed.own
    thing = "the stock's" if setup.facts.station.stock else "the jig's"
    corner = f"{thing} corner at the pins"
    if setup.located.on_dowels:
        corner = f"the pin in {setup.located.pins[0].hole}"
    ways = (
        (own.right_of_corner, "right of", "left of"),
        (own.behind_corner, "behind", "in front of"),
    )
    parts = [
        f"{text.lstrip('-')} {own.unit} {minus if text.startswith('-') else plus}"
        for text, plus, minus in ways
        if float(text) != 0
    ]
    return visible(f"{' and '.join(parts) or 'at'} {corner}")


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


def angle_in_words(setups: Sequence[Setup]) -> list[str]:
    """The largest deviation of an angle that is not written, and how the program was posted."""
    words = []
    worst = max(setups, key=lambda setup: setup.skew_mm)
    if float(worst.printed.skew) != 0:
        words.append(
            f"Angle {worst.printed.angle} degrees is not written: up to {worst.printed.skew} "
            f"{worst.printed.own.unit} over the stock."
        )
    if setups[0].facts.station.program_angle:
        words.append(f"The program was posted turned by {setups[0].printed.program_angle} degrees.")
    return words
