"""The setup block: the few lines that write and select a station's work offset."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from pincorner.documents.fields import key_of
from pincorner.documents.machines import Dialect
from pincorner.errors import Refused
from pincorner.render.blocks.guards import check_block, comment_lines, is_spelt, mode_lines
from pincorner.setups.printed import AxisWord, posted_told
from pincorner.setups.setup import Setup
from pincorner.units import Unit

UNIT_WORDS = {"mm": "MM", "in": "INCH"}
UNIT_CODES = {"mm": "G21", "in": "G20"}


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
    chosen = _chosen(setups, selected)
    written = nests_written(setups, selected)
    reasons = dict.fromkeys(reason for each in written for reason in each.no_block)
    if reasons:
        text = "; ".join(reason.told for reason in reasons)
        raise Refused(next(iter(reasons)).code, f"no block for {chosen.name}: {text}")
    dialect = chosen.facts.dialect
    active = _active_unit(chosen, unit)
    lines = [
        *_comments(dialect, _before_words(chosen, written)),
        *_word_lines(chosen, written, active),
        *_comments(dialect, _behind_words(chosen, active)),
    ]
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


def _comments(dialect: Dialect, texts: Iterable[str]) -> Iterator[str]:
    for text in texts:
        yield from comment_lines(text, dialect.comment, dialect.upper_case, dialect.line_length)


def _before_words(chosen: Setup, written: Sequence[Setup]) -> Iterator[str]:
    """The comments in front of the words: what this is a block of, and what it leaves to do."""
    facts = chosen.facts
    yield f"setup {chosen.name} {chosen.fingerprint} from here"
    pins = pins_in_words(chosen, in_comment=True)
    yield f"bed {facts.bed.name}, {holder_in_words(chosen)}, {pins}{corner_in_words(chosen)}"
    for each in written:
        if each is not chosen:
            yield f"nest {each.nest.name} in {each.work_offset}, setup {each.fingerprint}"
    for each in written:
        yield from _of_nest(each)
    if turn_deg := facts.station.program_angle:
        yield f"THE PROGRAM MUST BE POSTED TURNED BY {posted_told(turn_deg).upper()}"
    for finding in dict.fromkeys(found.text for each in written for found in each.findings):
        yield f"NOTE {finding}"
    if chosen.relative_to is not None:
        yield "OFFSETS COUNT FROM G54, SET AT THE REFERENCE, NOT BY G92"


def _of_nest(setup: Setup) -> Iterator[str]:
    """Where a nest's Z zero is and who sets it, and what the block's words leave to be keyed."""
    printed, code = setup.printed, setup.work_offset or ""
    figures, unit = printed.own, UNIT_WORDS[printed.own.unit]
    yield _who_sets_z(code, next((word for word in printed.words if word.axis == "Z"), None))
    yield f"{code} Z0 IS {figures.zero_above_surface} {unit} ABOVE THE BED SURFACE"
    yield f"TOOL TIP ON THE BED SURFACE MUST READ Z{figures.tip_on_surface}"
    if setup.unwritten:
        how = f"WRITTEN AS {printed.angle}" if setup.writes_angle else "NOT WRITTEN"
        yield (
            f"ANGLE {setup.exact_angle} DEGREES {how}, UP TO {printed.skew} {unit} OVER THE STOCK"
        )
    for word in printed.words:
        if word.by_hand:
            unit_told = "DEGREES" if word.axis == "R" else unit
            yield f"KEY IN {code} {word.axis} = {word.word} {unit_told}"


def _who_sets_z(code: str, z: AxisWord | None) -> str:
    if z is None:
        return f"Z NOT SET BY THIS BLOCK, SET IT IN {code}, NOT BY G92"
    if z.by_hand:
        counted = f", Z ZERO OF {z.counts_from} IS THE BED SURFACE" if z.counts_from else ""
        return f"Z NOT SET BY THIS BLOCK, KEY IT IN{counted}"
    if z.counts_from:
        return f"Z COUNTS FROM {z.counts_from}, WHOSE Z ZERO IS THE BED SURFACE, NOT BY G92"
    return "Z SET BY THIS BLOCK, TOOL LENGTHS MUST BE APPLIED"


def _behind_words(chosen: Setup, active: Unit) -> Iterator[str]:
    """The comments behind the words: what stays on when the block has run."""
    if chosen.rotates:
        yield "THE PROGRAM MUST END WITH G69 IN FRONT OF M2 OR M30, RUN G69 AFTER ANY STOP"
    stays = f"{UNIT_WORDS[active]} STAYS ACTIVE"
    told = stays if _sets_unit(chosen) else "UNIT NOT SET BY THIS BLOCK"
    yield f"{told}, setup {chosen.fingerprint} to here"


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
