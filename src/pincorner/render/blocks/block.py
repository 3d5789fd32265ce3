"""The setup block: the few lines that write and select a station's work offset."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from pincorner.documents.fields import key_of
from pincorner.errors import Refused
from pincorner.render.blocks.guards import check_block, comment_lines, is_spelt, mode_lines
from pincorner.setups.printed import AxisWord, Figures, posted_told
from pincorner.setups.setup import Setup
from pincorner.units import Unit

UNIT_WORDS = {"mm": "MM", "in": "INCH"}
UNIT_CODES = {"mm": "G21", "in": "G20"}
_WORDS_HERE = "words of the block"


class NestLines(NamedTuple):
    """What a block says of one nest, finished."""

    name: str
    code: str
    fingerprint: str
    figures: Figures
    unwritten: str
    skew: str
    z: AxisWord | None
    keyed: list[AxisWord]


def render_block(
    setups: Sequence[Setup], selected: str | None = None, unit: Unit | None = None
) -> str:
    """The block that writes the offsets of all nests and selects one (the first with None).

    Nests without a work offset are left out, unless selected. `unit`: the one that the program
    itself states; with None its document's counts. Ends with a newline. Raises Refused with
    everything that speaks against it.

    >>> from pincorner import Shop
    >>> setups = Shop.demo().station("end-bars").setups
    >>> for line in render_block(setups, "b").splitlines()[-4:]:
    ...     print(line)
    G10 L2 P4 X885.000 Y675.000
    G10 L2 P5 X1075.000 Y675.000
    G58
    (MM STAYS ACTIVE, setup 049F-B757 to here)
    """
    from pincorner.render.templating.templates import render_text

    chosen = _chosen(setups, selected)
    written = nests_written(setups, selected)
    reasons = dict.fromkeys(reason for each in written for reason in each.no_block)
    if reasons:
        text = "; ".join(reason.told for reason in reasons)
        raise Refused(next(iter(reasons)).code, f"no block for {chosen.name}: {text}")
    dialect = chosen.facts.dialect
    active = _active_unit(chosen, unit)
    text = render_text("block.nc.j2", **_comments(chosen, written, active))
    lines: list[str] = []
    for line in text.splitlines():
        if line == _WORDS_HERE:
            lines += _word_lines(chosen, written, active)
        else:
            lines += comment_lines(
                line.removeprefix("# "), dialect.comment, dialect.upper_case, dialect.line_length
            )
    longest = max(lines, key=len)
    if len(longest) > dialect.line_length:
        raise Refused(
            "line-too-long",
            f"no block for {chosen.name}: {longest} has {len(longest)} characters, dialect "
            f"{dialect.name} takes {dialect.line_length} a line",
        )
    return check_block("".join(f"{line}\n" for line in lines), dialect.line_length)


def _chosen(setups: Sequence[Setup], selected: str | None) -> Setup:
    if selected is None:
        return next((each for each in setups if each.work_offset), setups[0])
    wanted = key_of(selected)
    return next(each for each in setups if key_of(each.nest.name) == wanted)


def nests_written(setups: Sequence[Setup], selected: str | None = None) -> list[Setup]:
    """Of a station's nests those whose offsets the block writes that selects one (the first with
    None): all that have one, or that one alone where its rotation stays on."""
    chosen = _chosen(setups, selected)
    if chosen.rotates:
        return [chosen]  # one rotation is on at a time
    return [each for each in setups if each.work_offset or each is chosen]


def _active_unit(chosen: Setup, unit: Unit | None) -> Unit:
    """The unit that stays active: the program's own, where the controller converts origins."""
    program = chosen.program
    if unit is None and program is not None:
        unit = program.units
    if chosen.facts.dialect.converts and unit is not None:
        return unit
    return chosen.printed.own.unit


def _sets_unit(chosen: Setup) -> bool:
    return chosen.facts.dialect.write != "none"


def word_lines(
    setups: Sequence[Setup], selected: str | None = None, unit: Unit | None = None
) -> list[str]:
    """The lines of words that `render_block` has for these, without its comments and refusals."""
    chosen = _chosen(setups, selected)
    return _word_lines(chosen, nests_written(setups, selected), _active_unit(chosen, unit))


def _word_lines(chosen: Setup, written: Sequence[Setup], active: Unit) -> list[str]:
    """The lines of words in their order: modes that would not let the next line pass, unit, modes,
    cancels, writes, selection."""
    dialect, printed = chosen.facts.dialect, chosen.printed
    unit = printed.own.unit
    lines = []
    if _sets_unit(chosen):
        lines = mode_lines(dialect.first, UNIT_CODES[unit])
    if chosen.rotates and "G69" not in dialect.cancel:
        lines.append("G69")
    if _sets_unit(chosen):
        lines += dialect.cancel
    lines += [line for each in written for line in write_lines(each)]
    lines.append(chosen.work_offset or "")
    if chosen.rotates:
        lines.append(f"G68 X0 Y0 R{printed.angle}")
    if active != unit and _sets_unit(chosen):
        lines.append(UNIT_CODES[active])
    return [line for line in lines if line]


def _comments(chosen: Setup, written: Sequence[Setup], active: Unit) -> dict[str, object]:
    """What the template needs for the comments."""
    facts, turn_deg = chosen.facts, chosen.facts.station.program_angle
    return {
        "name": chosen.name,
        "fingerprint": chosen.fingerprint,
        "bed": facts.bed.name,
        "holder": holder_in_words(chosen),
        "pins": pins_in_words(chosen, in_comment=True),
        "corner": corner_in_words(chosen),
        "nests": [_nest_lines(each) for each in written],
        "others": [_nest_lines(each) for each in written if each is not chosen],
        "posted": posted_told(turn_deg).upper() if turn_deg else "",
        "relative": chosen.relative_to is not None,
        "findings": list(dict.fromkeys(f.text for each in written for f in each.findings)),
        "words": _WORDS_HERE,
        "rotates": chosen.rotates,
        "unit_word": UNIT_WORDS[chosen.printed.own.unit],
        "active_word": UNIT_WORDS[active] if _sets_unit(chosen) else "",
    }


def pins_in_words(setup: Setup, *, in_comment: bool = False) -> str:
    """`edge D2 G2, stop C4`; of a zero that no pins hold, when it was measured.

    `in_comment`: where holes are counted of which one has a name that no comment holds: `edge 2`
    would pass for a hole, so `2 edge pins, 1 stop pin`.
    """
    measured = setup.facts.station.measured
    if measured is not None:
        return f"no pins, as measured {measured.when}"
    by_role: dict[str, list[str]] = {}
    for pin in setup.located.pins:
        by_role.setdefault(pin.role, []).append(pin.hole)
    if in_comment and not all(is_spelt(hole) for holes in by_role.values() for hole in holes):
        counts = ((len(holes), role) for role, holes in by_role.items())
        return ", ".join(f"{n} {role} {'pin' if n == 1 else 'pins'}" for n, role in counts)
    return ", ".join(f"{role} {' '.join(holes)}" for role, holes in by_role.items())


def holder_in_words(setup: Setup) -> str:
    """`jig panel-tray`, or `bare stock`."""
    facts = setup.facts
    return "bare stock" if facts.is_bare else f"jig {facts.holder.name}"


def corner_in_words(setup: Setup) -> str:
    """`, C2 stays empty`, or nothing where there is no hole at the corner."""
    hole = setup.located.corner_hole
    named = hole if hole is None or is_spelt(hole) else "the corner hole"
    return f", {named} stays empty" if named else ""


def _nest_lines(setup: Setup) -> NestLines:
    how = f"WRITTEN AS {setup.printed.angle}" if setup.writes_angle else "NOT WRITTEN"
    return NestLines(
        name=setup.nest.name,
        code=setup.work_offset or "",
        fingerprint=setup.fingerprint,
        figures=setup.printed.own,
        z=next((word for word in setup.printed.words if word.axis == "Z"), None),
        unwritten=f"ANGLE {setup.exact_angle} DEGREES {how}" if setup.unwritten else "",
        skew=setup.printed.skew,
        keyed=[word for word in setup.printed.words if word.by_hand],
    )


def write_lines(setup: Setup) -> list[str]:
    """The lines that write one nest's offset; none where it is keyed in by hand."""
    words = [word for word in setup.printed.words if not word.by_hand]
    if not any(word.axis == "X" for word in words):
        return []
    code, text = setup.work_offset or "", " ".join(f"{w.axis}{w.word}" for w in words)
    if code.startswith("G54.1"):
        return [code, f"G10 L20 {code.split()[1]} {text}"]
    return [f"G10 L2 P{system_number(code)} {text}"]


def system_number(code: str) -> int:
    """1 for G54 to 9 for G59.3 (RS274/NGC, 3.5.13)."""
    return 1 + ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3").index(code)
