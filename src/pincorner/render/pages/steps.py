"""The steps of a setup sheet, in the order in which they are done, and why there may be none."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from markupsafe import Markup, escape

from pincorner.characters import visible
from pincorner.geometry.outline import TOUCH_MM, reaches_over
from pincorner.render.drawing.lie import (
    edge_called,
    edge_told,
    lies_told,
    reference_told,
    stock_from_edges_told,
    stock_way_told,
    zero_from_corner,
)
from pincorner.render.pages.second_point import second_point, turns_axes
from pincorner.render.text.offsets import skew_matters
from pincorner.setups.findings import Finding
from pincorner.setups.locating import near_ends
from pincorner.setups.printed import lies_from_zero, posted_told, printed_length, short
from pincorner.setups.refusals import SHIMMED_DEG, shared_reasons
from pincorner.setups.setup import NO_WORK_OFFSET, TOO_SKEW, Setup
from pincorner.standing import standing_of
from pincorner.units import told

SHORT_NOTE = 240
"""Characters: a longer note stands behind the caution, where it has all the room it needs."""

CROWDED = 2
"""More nests than these are not told one by one: the table of offsets holds their figures."""

_ZEROS = {
    "surface": "the bed surface",
    "stock-top": "the top of the stock",
}
ALONE = "as a program alone, without M30"
"""How the block is run; M2 and M30 would select another work offset (RS274/NGC, 3.6.1)."""
FIRST = "Do not run it: tell whoever looks after these setups."
"""What to do first where nothing on paper helps."""


class Reason(NamedTuple):
    """Why there is no block, as it is printed: in plain words, what to do first, what else helps,
    and the sentence as all other reports have it.

    `alone`: the finding where the sentence is all of it, and no other nest has its kind.
    """

    plain: str
    first: str
    others: list[str]
    text: str
    alone: Finding | None


def reasons_for_no_block(setups: Sequence[Setup]) -> list[Reason]:
    """What keeps the block back; a reason that several nests have is told once."""
    reasons = []
    for first, more in shared_reasons(setups):
        mine = next(setup for setup in setups if first in setup.no_block)
        text = visible(first.text)
        if more:
            text += f" (and so for {more} more nest{'s' * (more > 1)})"
        ways = [visible(way) for way in first.ways_out]
        reasons.append(
            Reason(
                visible(_plain(mine, first)),
                ways[0] if ways else FIRST,
                ways[1:],
                text,
                None if more else first,
            )
        )
    return reasons


def _plain(setup: Setup, reason: Finding) -> str:
    """A reason without the words of the documents."""
    printed, unit = setup.printed, setup.printed.own.unit
    if reason.code == TOO_SKEW and abs(setup.unwritten_deg) > SHIMMED_DEG:
        return (
            f"The program would run turned by {printed.angle}° against the part: this controller "
            "cannot turn its axes."
        )
    if reason.code == TOO_SKEW and setup.writes_angle:
        return (
            f"The part would be cut askew, by up to {printed.skew} {unit} across the stock: the "
            f"controller is told {printed.angle}° of {setup.exact_angle}°. No more than "
            f"{printed.max_skew} {unit} may stay."
        )
    if reason.code == TOO_SKEW:
        return (
            f"The part would be cut askew, by up to {printed.skew} {unit} across the stock: the "
            f"bed, or the jig on it, lies turned by {printed.angle}°, and this controller cannot "
            f"turn its axes. No more than {printed.max_skew} {unit} may stay."
        )
    if reason.code == NO_WORK_OFFSET:
        return f"Nobody has said which of the controller's offsets nest {setup.nest.name} uses."
    return {
        "code-unknown": f"This controller has no {setup.work_offset}.",
        "code-is-reference": f"{setup.work_offset} is the reference of the others here: it would "
        "be lost.",
        "z-unknown": "The height of the zero cannot be worked out for this machine.",
        "outside-travel": "The machine cannot reach the program zero.",
    }.get(reason.code, reason.text)


def setup_steps(
    setups: Sequence[Setup], take_out: Sequence[str], program: str = ""
) -> list[Markup]:
    """What to do, in order: reference, pins, jig, block, Z, check, program (where it fits a line).

    The reference comes first, where the machine has no coordinates that last.
    """
    return [
        *_reference_steps(setups[0]),
        *_pin_steps(setups[0], take_out),
        *jig_steps(setups),
        *_block_steps(setups),
        *_z_steps(setups),
        *_check_steps(setups),
        *_last_steps(setups, program),
    ]


def _reference_steps(setup: Setup) -> list[Markup]:
    """The code that all offsets count from, without which none of them means anything, with the
    note of the bed: what the reference of the day is known by often stands there."""
    told = reference_told(setup)
    if not told:
        return []
    text = "First, <b>whenever the machine was switched on</b>: {}. All offsets count from there.{}"
    note = visible(setup.facts.bed.note or "").strip()
    if len(note) > SHORT_NOTE:
        note = "read it at the end of this sheet"
    of_bed = Markup(" <b>Note of bed {}:</b> {}").format(visible(setup.facts.bed.name), note)
    return [Markup(text).format(visible(told), of_bed if note else "")]


def _pin_steps(setup: Setup, take_out: Sequence[str]) -> list[Markup]:
    located = setup.located
    steps = []
    if take_out:
        which = f"in {_and(take_out)}" if len(take_out) < 8 else "listed above under out"
        steps.append(f"Take out the pins {which}: they belong to other stations.")
    if located.as_measured:
        return [escape(visible(step)) for step in steps]
    numbered = [f"{number} in {pin.hole}" for number, pin in enumerate(located.pins, 1)]
    if located.pins_differ:
        each = zip(numbered, located.pins, strict=True)
        numbered = [f"{where} ({pin.pin.name})" for where, pin in each]
    empty = f"; {located.corner_hole} stays empty" if located.corner_hole else ""
    steps.append(f"Put in the pins: {_and(numbered)}{empty}.")
    return [escape(visible(step)) for step in steps]


def jig_steps(setups: Sequence[Setup]) -> list[Markup]:
    """Laying the jig, pressing it against its pins, clamping; then the stock into it."""
    setup = setups[0]
    facts = setup.facts
    bare = facts.is_bare
    lay = f"Brush off chips; lay the {'stock on the bed' if bare else 'jig'}"
    if facts.station.under:
        lay = lay.removesuffix(" on the bed")
        thick = short(printed_length(facts, facts.station.under))
        lay += f" on a waste sheet {thick} {setup.printed.own.unit} thick"
        if not setup.located.as_measured:
            lay += ", with holes where it meets the pins,"
    lay += f" as drawn, {stock_way_told(setup) if bare else lies_told(setup)}."
    clamps = _clamps(setup)
    fasten = "Fasten it to the bed"
    told = [lay, f"{_press(setup)} {_hold(fasten, clamps.first, known=clamps.hold_first)}"]
    if not bare:
        told.append(f"{_lay_stock(setups)}. {_hold(_IN_JIG, clamps.then, known=clamps.hold_then)}")
    return [escape(visible(each)) for each in told]


_IN_JIG = "Fix it in the jig"


def _hold(fasten: str, clamps: str, *, known: bool) -> str:
    """The clamps to set, and that it is fastened unless they are known to do that."""
    told = [] if known else [fasten]
    if clamps:
        told.append(clamps if known else clamps.replace("Set", "set", 1))
    return f"{', '.join(told)}; nothing may rock."


def _press(setup: Setup) -> str:
    """How the jig, or bare stock, comes to lie where its pins say, and where one barely holds."""
    facts, located = setup.facts, setup.located
    holes = [pin.hole for pin in located.pins]
    if located.as_measured:
        return (
            "Set it where it was marked for this station: no pins hold it. If it was moved, touch "
            "X and Y off anew."
        )
    if located.on_dowels:
        return f"Put its round hole over pin 1 ({holes[0]}), its slot over pin 2 ({holes[1]})."
    if facts.is_bare:
        press = (
            f"Press {edge_told(setup, located.edge_side)} against 1 and 2, "
            "then slide it along them to 3."
        )
    else:
        press = (
            f"Press {edge_called(setup, located.edge_side)} against 1 and 2, then slide it along "
            f"them until {edge_called(setup, located.stop_side)} meets 3."
        )
    if not facts.station.pins_pressed:
        press = press.replace("Press ", "Lay ", 1)
    for pin, left_mm, _ in near_ends(facts, located):
        number = located.pins.index(pin) + 1
        left = told(left_mm, setup.printed.own.unit, 1)
        press += f" Look at {number}: it touches only {left} from the end of its edge."
    return press


class _Clamps(NamedTuple):
    """That a station's clamps are set, by their marks: those set when the jig (or bare stock) lies
    on the bed, and those set when the stock lies in its jig.

    `hold_first`, `hold_then`: whether they are known to hold what lies there; where not, what they
    hold is anybody's guess.
    """

    first: str
    then: str
    hold_first: bool
    hold_then: bool


def _clamps(setup: Setup) -> _Clamps:
    """What clamps hold by their boxes: a jig is held by one that reaches over it and off it, and
    over no stock (that one may stand on the jig); stock by one over it; bare stock by one over it
    and off it."""
    from pincorner.geometry.clearances import gap_mm

    standing, facts = standing_of(setup), setup.facts
    stocks = [each.outline for each in standing if each.kind == "stock"]
    outline = setup.jig_in_bed.points(facts.holder.outline)
    first: list[str] = []
    then: list[str] = []
    held: set[int] = set()
    holds = False
    for each in standing:
        if each.kind != "clamp":
            continue
        over = [at for at, stock in enumerate(stocks) if gap_mm(each.outline, stock) < -TOUCH_MM]
        held.update(over)
        if over and not facts.is_bare:
            then.append(each.mark)
            continue
        first.append(each.mark)
        off = reaches_over(outline, each.outline)
        holds |= off and gap_mm(each.outline, outline) < -TOUCH_MM
    every = [each.mark for each in standing if each.mark]
    return _Clamps(_set(first, every), _set(then, every), holds, len(held) == len(stocks))


def _set(names: Sequence[str], every: Sequence[str]) -> str:
    """`Set clamps A, B and C`, of all marks in their order; nothing where there are none."""
    if not names:
        return ""
    at = every.index(names[0])
    if len(names) > 3 and list(names) == list(every[at : at + len(names)]):
        return f"Set clamps {names[0]} to {names[-1]}"
    return f"Set clamp{'s' * (len(names) > 1)} {_and(names)}"


def _lies_on(setup: Setup) -> str:
    """What the stock lies on: `seat` of the jig, `sheet` or `bed`."""
    facts = setup.facts
    return "seat" if facts.holder.seat > 0 else "sheet" if facts.station.under else "bed"


def _zero_told(setup: Setup) -> str:
    """Where Z is touched off, as a shop calls it."""
    zero = setup.facts.station.z.zero
    on = {"seat": "the face that the stock lies on", "sheet": "the waste sheet", "bed": "the bed"}
    return on[_lies_on(setup)] if zero == "seat" else _ZEROS[zero]


def _lay_stock(setups: Sequence[Setup]) -> str:
    """The stock into the jig, where it is drawn: on what, which way, where from the jig's edges,
    against what of the jig's own stands there."""
    first, several = setups[0], len(setups) > 1
    seat = _lies_on(first)
    ways = {stock_way_told(each) for each in setups}
    text = f"Lay the stock on the {seat}"
    if several:
        text = f"Lay stock into each nest as drawn, on the {seat}"
        text += f", {next(iter(ways))}" if len(ways) == 1 else ""
        if len({each.printed.own.stock for each in setups}) > 1:
            text += "; sizes stand under Stock"
    else:
        text += f" as drawn, {next(iter(ways))}: {stock_from_edges_told(first)}"
    against = _against(first)
    if against:
        text += f"; against {_and(against)}"
    return text


_AGAINST_MM = 0.5
"""What of the jig stands so near to its stock is what that is laid against."""


def _against(setup: Setup) -> list[str]:
    """Solids of the jig that stand beside the stock in any of its nests and touch it, by marks."""
    from pincorner.geometry.clearances import gap_mm

    standing = standing_of(setup)
    stocks = [each for each in standing if each.kind == "stock"]
    return [
        f"{each.mark} ({each.name})"
        for each in standing
        if each.kind == "solid"
        and any(
            each.top_mm > stock.bottom_mm
            and -_AGAINST_MM <= gap_mm(each.outline, stock.outline) <= _AGAINST_MM
            for stock in stocks
        )
    ]


def _and(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def minus(text: str) -> str:
    """A figure with a true minus sign: as wide as the digits, and no line breaks behind it."""
    return text.replace("-", "−")


def signed(text: str) -> str:
    """A figure with its sign, plus as well; nought has none."""
    return minus(text) if text.startswith("-") or float(text) == 0 else f"+{text}"


def z_how(setup: Setup) -> str:
    """How Z comes into the code: touch, reference, machine, or keyed where the block cannot."""
    word = next((word for word in setup.printed.words if word.axis == "Z"), None)
    return "keyed" if word is not None and word.by_hand else setup.facts.station.z.set


def keys_in(setup: Setup) -> bool:
    """Whether the operator keys the offset in, since the block cannot write it."""
    return any(word.by_hand for word in setup.printed.words if word.axis in "XY")


def _codes(setups: Sequence[Setup]) -> list[str]:
    return list(dict.fromkeys(visible(each.work_offset or "the code") for each in setups))


def _block_steps(setups: Sequence[Setup]) -> list[Markup]:
    """The offset into the controller, and that it is the one selected."""
    first, codes = setups[0], _codes(setups)
    steps = []
    if first.facts.station.z.set == "reference":
        steps.append(
            Markup("Select <b>G54</b> and set its Z to 0 with the tip on the bed surface: Z of "
                   "this station counts from it.")
        )  # fmt: skip
    if keys_in(first):
        shown = _tokens(codes)
        steps.append(
            Markup("Spindle up. Key in what the box says, then select {}: the screen shows it.")
            .format(shown)
        )  # fmt: skip
        return steps
    if first.rotates and len(setups) > 1:
        steps.append(
            Markup("Spindle up. Each nest has a block of its own: run the block of the nest that "
                   "is cut {}. The screen shows its code: {}.").format(ALONE, _tokens(codes))
        )  # fmt: skip
        return steps
    if len(setups) > CROWDED:
        steps.append(
            Markup("Spindle up. Run the block {}, then select each code in turn: the screen "
                   "shows it.").format(ALONE)
        )  # fmt: skip
        return steps
    steps.append(
        Markup("Spindle up. Run the block {}: the screen shows {}.").format(
            ALONE,
            Markup(", then with the other nest's code selected ").join(
                Markup("<b>{}</b>").format(code) for code in codes
            ),
        )
    )
    return steps


def in_turn(setups: Sequence[Setup]) -> str:
    """How several codes come to be selected: a block that turns axes writes that of its nest."""
    alone = setups[0].rotates
    return "each after its own block" if alone else "each code in turn"


def _tokens(words: Sequence[str]) -> Markup:
    return Markup(", ").join(Markup('<b class="t">{}</b>').format(word) for word in words)


def _z_steps(setups: Sequence[Setup]) -> list[Markup]:
    """How Z gets into the code after the block has run."""
    first = setups[0]
    how, codes = z_how(first), _codes(setups)
    thick = list(dict.fromkeys(f"{each.printed.own.stock[2]}" for each in setups))
    own = first.printed.own
    thicker = "as thick as on file" if len(thick) > 1 else f"{thick[0]} {own.unit} thick"
    read = "It must read as in the Z box; if bed and stock disagree, the stock is not "
    read += f"{thicker}."
    if first.facts.station.z.zero == "seat":
        covered = (
            "Where stock covers it, touch what else the Z box names, and set what stands there."
        )
        read = f"{covered} {read}"
    if how == "touch":
        changes = any(each.program and len(each.program.tools) > 1 for each in setups)
        return [
            Markup("With {} selected <b>touch Z off</b> on {}{}. {}")
            .format(
                _tokens(codes) if len(codes) <= CROWDED else in_turn(setups),
                _zero_told(first),
                ", for each tool anew" if changes else "",
                read,
            )
        ]  # fmt: skip
    told = {
        "keyed": "Z is keyed in with the rest." if keys_in(first) else "Key in the sum of Z.",
        "reference": "Z of this station counts from G54.",
        "machine": "The block writes Z; tool lengths must be applied (G43).",
    }[how]
    return [Markup("{} {}").format(told, read)]


def _check_steps(setups: Sequence[Setup]) -> list[Markup]:
    """Where the spindle must stand, and what the machine must read there."""
    if len(setups) > CROWDED:
        return [
            Markup("Spindle up, {}, G0 X0 Y0: the spindle stands over that nest's zero, and {} "
                   "the X and Y of its line above.{}")
            .format(in_turn(setups), _reads(setups[0]), _then(setups))
        ]  # fmt: skip
    if len(setups) == 1:
        where = visible(zero_from_corner(setups[0]))
        text = "Spindle up, G0 X0 Y0: it stands over the zero, {}; {} X and Y as above.{}"
        return [Markup(text).format(where, _reads(setups[0]), _then(setups))]
    each = Markup("; ").join(
        Markup('with <b class="t">{}</b> selected {}').format(
            _codes([setup])[0], visible(zero_from_corner(setup))
        )
        for setup in setups
    )
    text = "Spindle up, G0 X0 Y0: it stands over the nest's zero, {}; {} X and Y as above.{}"
    return [Markup(text).format(each, _reads(setups[0]), _then(setups))]


def _then(setups: Sequence[Setup]) -> Markup:
    """What is looked at besides, and what it does not show."""
    return Markup("{}{}").format(_second_told(setups), _no_check_of(setups))


def _second_told(setups: Sequence[Setup]) -> Markup:
    """The second place, which alone shows whether the axes are turned; with its figures where the
    box has none, since its own are keyed in."""
    points = [point for point in map(second_point, setups) if point is not None]
    if not points or (keys_in(setups[0]) and len(setups) > 1):
        return Markup("")
    if len(setups) > 1:
        return Markup(
            " Then <b>the second place</b> that the box has for each: if that alone reads "
            "otherwise, the axes are not turned."
        )
    [point] = points
    figures = Markup('<b class="t">X {}</b> <b class="t">Y {}</b>')
    reads = figures.format(minus(point.x), minus(point.y)) if keys_in(setups[0]) else "as above"
    return Markup(' Then <b class="t">G0 {}</b>: it reads {}, or the axes are not turned.').format(
        point.words, reads
    )


def _no_check_of(setups: Sequence[Setup]) -> str:
    """What comes behind reading under the reference: the code is selected again, and what the
    figures cannot show, since they are the same wherever the reference was set."""
    reference, codes = setups[0].relative_to, _codes(setups)
    if reference is None:
        return ""
    code = codes[0] if len(setups) == 1 and codes else "the nest's code"
    again = "run the block alone" if setups[0].rotates else f"select {code}"
    return (
        f" Then {again} again. The figures are no check of {reference}: they read the same "
        "wherever it was set; only where the spindle stands tells."
    )


def _reads(setup: Setup) -> str:
    if setup.relative_to:
        return f"{after_g69(setup)}with {setup.relative_to} selected the read-out shows"
    return "the machine reads"


def after_g69(setup: Setup) -> str:
    """What comes before a code is selected to read it: none may be under a rotation."""
    return "after G69 and " if setup.rotates else ""


def _last_steps(setups: Sequence[Setup], program: str) -> list[Markup]:
    """The program, and what follows a stop."""
    first = setups[0]
    shown = (
        Markup("setup of its nest")
        if len(setups) > CROWDED
        else Markup("setup {}").format(_tokens([each.fingerprint for each in setups]))
    )
    posted, turn_deg = posted_in_words(first), first.facts.station.program_angle
    where = lies_from_zero(first.nest.stock.outline, turn_deg, first.printed.own.unit)
    lies = where if len(setups) == 1 else f"nest {first.nest.name}: {where}"
    unlock = "run G69, then " if first.rotates else ""
    again = "select the code and compare it" if keys_in(first) else "the block alone"
    told = Markup("{}{}: run only a file that shows {}. ").format(
        Markup("Program {}").format(program) if program else "The program",
        Markup(", <b>which must be {}</b> ({})").format(posted, lies) if posted else "",
        shown,
    )
    if not any(each.program for each in setups):  # nothing on file that could show it
        told = (
            Markup("The program must be <b>{}</b>: {}. ").format(posted, lies)
            if posted
            else Markup("")
        )
    steps = [
        told
        + Markup("After any stop: {}{} first, then the program from its start.").format(
            unlock, again
        )
    ]
    turned = _turned_axes(setups)
    if turned:
        text = f"The axes are turned by {turned}: the read-out follows the part, the jog keys the "
        text += "machine."
        if first.rotates:
            text += " No program may begin with G69, which takes that off."
        steps.append(Markup("{}").format(text))
    return steps


def _turned_axes(setups: Sequence[Setup]) -> str:
    """`0.1200 degrees`, or for each angle the codes in which it holds."""
    codes: dict[str, list[str]] = {}
    for setup in setups:
        if turns_axes(setup):
            codes.setdefault(setup.printed.angle, []).append(visible(setup.code_or_nest))
    if len(codes) == 1 and len(next(iter(codes.values()))) == len(setups):
        return f"{next(iter(codes))} degrees"
    return (
        ""
        if not codes
        else _and([f"{angle} degrees in {_and(names)}" for angle, names in codes.items()])
    )


def angle_in_words(setups: Sequence[Setup]) -> list[str]:
    """That the part is cut askew, since an angle is not written, or not all of it, where that
    matters, or where this station bears more than others."""
    worst = max(setups, key=lambda setup: setup.skew_mm)
    own_mm, machine = worst.facts.station.max_skew, worst.facts.machine
    borne = own_mm is not None and machine.max_skew < worst.skew_mm <= own_mm
    if not borne and not any(map(skew_matters, setups)):
        return []
    printed, unit = worst.printed, worst.printed.own.unit
    why = f"it lies turned by {printed.angle}°, and this controller cannot turn its axes"
    if worst.writes_angle:
        why = f"the controller is told {printed.angle}° of {worst.exact_angle}°"
    text = f"The part is cut askew by up to {printed.skew} {unit} across the stock: {why}."
    if borne:
        elsewhere = printed_length(worst.facts, machine.max_skew)
        text += f" Here up to {printed.max_skew} {unit} is accepted, elsewhere {elsewhere}."
    return [text]


def posted_in_words(setup: Setup) -> str:
    """How the program was posted, if it was turned."""
    turn_deg = setup.facts.station.program_angle
    return f"posted turned by {posted_told(turn_deg)}" if turn_deg else ""
