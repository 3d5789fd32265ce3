"""What keeps a program from being repeated over stations."""

from __future__ import annotations

from collections.abc import Sequence

from pincorner.errors import BadInput, Refused
from pincorner.program.edit.leaning import leaned_on, named, parts_of_body, starts_spindle
from pincorner.program.edit.lines import Body, may_select
from pincorner.program.edit.stretches import Copy, Stretches
from pincorner.program.reader.summary import Summary
from pincorner.program.source.lexer import (
    end_word,
    is_header,
    may_be_skipped,
    may_be_words,
    may_call,
)
from pincorner.program.source.stamped import in_block
from pincorner.program.source.text import ProgramText
from pincorner.setups.printed import posted_told
from pincorner.setups.setup import Setup
from pincorner.units import told_size


def refuse_line_ends(text: ProgramText) -> None:
    """Raise BadInput for a program whose first line ends in CR alone, and others in LF.

    What is put in ends as that line does. Some controllers end lines at either, others at LF alone:
    to those a block whose lines end in CR is one line, which begins with a comment.
    """
    if text.line_end != "\r" or b"\n" not in text.data:
        return
    what = "CR alone in some lines and LF in others"
    if text.ends_twice:
        what = "CR CR LF, as of a file that was written twice in text mode"
    raise BadInput(
        f"{text.path}: {what}: controllers do not agree where such lines end; save it anew with "
        "one kind of end, LF or CR LF"
    )


def refuse_stations(setups: Sequence[Setup], retract_mm: float) -> None:
    """Raise for stations that cannot be worked by one program. Refused, BadInput."""
    first = setups[0].facts
    for setup in setups:
        facts, name = setup.facts, setup.facts.station.name
        if facts.machine.name != first.machine.name:
            raise BadInput(
                f"--stations: {name} is on {facts.machine.name}, "
                f"{first.station.name} on {first.machine.name}"
            )
        if facts.bed.name != first.bed.name:
            raise Refused(
                "beds-differ",
                f"station {name} is on {facts.bed.name}, {first.station.name} on "
                f"{first.bed.name}: what stands between two beds is not looked at, so there is no "
                "way over; repeat the program on each bed by itself",
            )
        if facts.station.program_angle != first.station.program_angle:
            raise Refused(
                "angle-differs",
                f"station {name} takes a program that was posted turned by "
                f"{posted_told(facts.station.program_angle)}, {first.station.name} one by "
                f"{posted_told(first.station.program_angle)}: one body cannot be both",
            )
    if not first.machine.homes:
        raise Refused(
            "does-not-home",
            f"machine {first.machine.name} does not home: there are no machine coordinates to "
            "retract to between stations",
        )
    unit = first.machine.units
    span = first.machine.travel.z if first.machine.travel else None
    if span is not None and not span[0] <= retract_mm <= span[1]:
        raise BadInput(
            f"--retract: machine Z {told_size(retract_mm, unit)} lies outside the travel, "
            f"{told_size(span[0], unit)} to {told_size(span[1], unit)}"
        )


def refuse_body(text: ProgramText, summary: Summary, body: Body, setups: Sequence[Setup]) -> None:
    """Raise Refused for programs whose body cannot run several times in one program."""
    name = text.path.name
    for remark in summary.remarks:
        if remark.code == "g92-used":
            raise Refused(remark.code, f"{name} cannot be repeated: {remark.text}")
    refuse_hidden(text, summary, body.skipped)
    _refuse_lines(text, summary, body)
    _refuse_end(text, summary)
    used = list(dict.fromkeys(body.selections.values()))
    if len(used) > 1:
        raise Refused(
            "codes-differ",
            f"{name} cannot be repeated: it selects {', '.join(used)}, and a section has one",
        )
    by_touch = [s.facts.station.name for s in setups if s.facts.station.z.set == "touch"]
    if len(summary.tools) > 1 and by_touch and setups[0].facts.machine.tool_lengths == "none":
        raise Refused(
            "tools-by-touch",
            f"{name} cannot be repeated: it has {len(summary.tools)} tools, and at "
            f"{', '.join(by_touch)} Z is set by touch for each, which only one work offset would "
            "get; make a program for each tool and repeat each, or set Z by machine, if its tool "
            "lengths refer to the gauge point (tool_lengths: gauge)",
        )


def refuse_hidden(text: ProgramText, summary: Summary, block: tuple[int, int] | None) -> None:
    """Raise Refused for a line that may select a work offset and is not read: it would stay.

    `block`: lines of an earlier setup block, which go.
    """
    if "not-read" not in summary.counts:
        return
    selects = {line for _, line in summary.selections}
    for number, line in text.numbered(1, summary.ended):
        if number not in selects and not in_block(number, block) and may_select(line):
            raise Refused(
                "odd-offset",
                f"{text.path.name} cannot be stamped or repeated: line {number} may select a work "
                "offset, and is not read, so that it would stay as it is; write the selection as "
                "a line of its own",
            )


def _refuse_lines(text: ProgramText, summary: Summary, body: Body) -> None:
    """M2 or M30 with more behind it than an end of file, or on a line not read; O words."""
    ended, what = summary.ended or summary.lines, f"{text.path.name} cannot be repeated: "
    for number, line in text.numbered():
        if number > ended and not is_header(line):
            raise Refused(
                "ends-in-the-middle",
                f"{what}it ends in line {ended} ({summary.end_word}) and goes on in line {number}",
            )
        looked_at = body.first <= number != summary.ended and ("M" in line or "m" in line)
        if looked_at and end_word(may_be_words(line)) is not None:
            raise Refused("odd-end", f"{what}line {number} may end it, and is not read so")
        if number >= body.first and ("O" in line or "o" in line) and may_call(line):
            raise Refused(
                "o-word",
                f"{what}line {number} has an O word, which names or calls a subprogram",
            )


def _refuse_end(text: ProgramText, summary: Summary) -> None:
    """An end that cannot be taken out of the sections."""
    what = f"{text.path.name} cannot be repeated: "
    if summary.end_word == "%":
        raise Refused("no-end", f"{what}it ends by % alone; end it with M30")
    if summary.ended is not None and may_be_skipped(text.line(summary.ended)):
        word = summary.end_word
        raise Refused("odd-end", f"{what}line {summary.ended}: write {word} as it stands here")


def spans_by_tool(summary: Summary, copy: Copy) -> list[tuple[int, int]]:
    """First and last line of the body's part for each tool. Raises Refused."""
    machine, body, name = copy.setup.facts.machine, copy.body, copy.text.path.name
    if machine.tool_lengths != "gauge":
        raise Refused(
            "lengths-not-measured",
            f"--order tool needs measured tool lengths, and machine {machine.name} has "
            "tool_lengths: none",
        )
    starts = [line for _, line in summary.tool_changes if line > body.first]
    firsts = [body.first, *starts]
    spans = [
        (first, behind - 1) for first, behind in zip(firsts, [*starts, body.last + 1], strict=True)
    ]
    if len(spans) > 1 and not _starts_spindle(copy, spans[0]):
        spans[:2] = [(spans[0][0], spans[1][1])]  # what comes before the first tool cuts nothing
    for span in spans[1:]:
        if not _starts_spindle(copy, span):
            raise Refused(
                "needs-spindle",
                f"the part of {name} from line {span[0]} on does not start the spindle "
                "itself; repeat by station",
            )
    return spans


def _starts_spindle(copy: Copy, span: tuple[int, int]) -> bool:
    return starts_spindle(line for _, line in copy.lines(span))


def refuse_leaning(copy: Copy, spans: Sequence[tuple[int, int]]) -> None:
    """Raise Refused for a part that would run otherwise behind a joint than in the program.

    The first part has nothing in front of it in the program either; in the sections it may still
    get what the one before leaves on.
    """
    start, body, name = copy.modes, copy.body, copy.text.path.name
    parts = parts_of_body(copy.lines((body.first, body.last)), start, spans)
    stretches = Stretches(copy)
    for at, part in enumerate(parts):
        text = leaned_on(part, start, stretches.first_moves(part))
        if not text and at and (found := stretches.difference(part)) is not None:
            text = named(part, start, *found)
        if text:
            what = f"the part of {name} from line {part.span[0]} on" if at else name
            instead = "" if len(spans) == 1 else ", or repeat by station"
            raise Refused(
                "leans-on-before", f"{what} leans on {text}; state it at its beginning{instead}"
            )
