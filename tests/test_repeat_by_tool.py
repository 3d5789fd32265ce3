"""repeat --order tool: a part runs behind a joint as it runs in its program, or is refused."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest
from checking import WORLD, demo_setup
from thinning import thinned

from pincorner.errors import Refused
from pincorner.program.edit.lines import Section, repeated
from pincorner.program.edit.refusals import refuse_leaning, spans_by_tool
from pincorner.program.edit.stretches import Copy, Ends, Stretches
from pincorner.program.path.frames import read_summary
from pincorner.program.source.text import read_program
from pincorner.render.blocks.joints import Stop, joint_lines
from pincorner.setups.setup import Setup
from pincorner.work.programs.checking import Job
from pincorner.work.programs.repeating import Repeat, _copy, _restated, body_of

HEAD = "G21 G17 G90 G40 G80 G98\nG54\n"
ONE = "T1 M6\nG43 H1\nS18000 M3\nG0 X50 Y50 Z30\nG1 Z-3 F400\nG1 X60 F1500\nG0 Z30\n"
TWO = "T2 M6\nG43 H2\nS12000 M3\nG0 X150 Y150 Z30\nG1 Z-2 F300\nG1 X200\nG0 Z30\n"
END = "M5\nM30\n"
FIRST = ("G40", "G17", "G49", "G80", "G94", "G98")


@pytest.fixture(scope="module", params=[("G17", "G40", "G80"), FIRST], ids=["short", "long"])
def setup(request: pytest.FixtureRequest) -> Setup:
    """The tray on a machine whose tool lengths are measured, under two lists of `first` words."""
    found = demo_setup("left", machine={"tool_lengths": "gauge"})
    dialect = found.facts.dialect.model_copy(update={"first": request.param})
    return found._replace(facts=found.facts._replace(dialect=dialect))


class Prepared(NamedTuple):
    """A program that is about to be repeated."""

    copy: Copy
    spans: list[tuple[int, int]]
    restated: tuple[str, ...]


Prepare = Callable[..., Prepared]


@pytest.fixture
def prepare(tmp_path: Path, setup: Setup) -> Prepare:
    """What `repeat` makes of a program before it reads it at its stations, or Refused."""

    def prepare(text: str, *, by_tool: bool = True) -> Prepared:
        path = tmp_path / "p.nc"
        path.write_text(text, encoding="utf-8", newline="\n")
        program = read_program(path)
        summary = read_summary(program, setup, [setup])
        body = body_of(program, summary)
        restated = _restated(program, setup.facts.dialect.first)
        job = Job(program, None, setup, [setup], [])
        copy = _copy(job, body, summary, restated, Repeat(-5.0, by_tool))
        spans = spans_by_tool(summary, copy) if by_tool else [(body.first, body.last)]
        refuse_leaning(copy, spans)
        return Prepared(copy, spans, restated)

    return prepare


def test_parts_that_say_all(prepare: Prepare) -> None:
    """Two parts that state what they need are two spans."""
    assert prepare(HEAD + ONE + TWO + END).spans == [(1, 9), (10, 18)]


TWO_ARCS = TWO.replace("G1 Z-2 F300\nG1 X200\n", "G1 Z-2 F300\nG2 X170 R30\n")
CYCLE_AGAIN = "T2 M6\nG49\nS900 M3\nG82 X150 Y150 Z-5 R2 F300\nG80\nG0 Z30\n"
DRILLED = "T2 M6\nG43 H2\nS900 M3\nG0 X150 Y150 Z30\nG81 X150 Y150 Z-5 R2 F300\nX170\nG80\nG0 Z30\n"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        # an arc that keeps Z and ends at the same place in either plane (H3)
        (HEAD + ONE + "G18\n" + TWO_ARCS + END, "leans on G18 stated before it, line 10"),
        (HEAD + "G19\n" + ONE + "G18\n" + TWO_ARCS + END, "leans on G18 stated before it, line 11"),
        (HEAD.replace("G98", "G99") + ONE + DRILLED + END, "leans on G99 stated before it, line 1"),
        (HEAD + ONE + "G91\n" + TWO + END, "leans on G91 stated before it, line 10"),
        (HEAD.replace("G21", "G20") + ONE + TWO + END, "leans on G20 stated before it, line 1"),
        (HEAD + ONE + TWO.replace(" F300", "") + END, "leans on F1500 stated before it, line 8"),
        (HEAD + "G93\n" + ONE.replace("X60 F", "X60 F") + TWO + END, "leans on G93"),
        (HEAD + ONE + TWO.replace("S12000 ", "") + END, "leans on S18000 stated before it, line 5"),
        (HEAD + ONE + TWO.replace("S12000 M3\n", "") + END, "does not start the spindle"),
        (HEAD + ONE + "M8\n" + TWO + END, "leans on M8 stated before it, line 10"),
        (HEAD + "M7\n" + ONE + TWO.replace("M3", "M3 M8") + END, "leans on M7 stated before it"),
        (HEAD + ONE + "M49\n" + TWO + END, "leans on M49 stated before it, line 10"),
        (HEAD + "G61\n" + ONE + TWO + "G64\n" + END, "leans on G61 stated before it, line 3"),
        (HEAD + ONE + "G41 D1\n" + TWO + END, "leans on G41 D1 stated before it, line 10"),
        (HEAD + ONE + TWO.replace("G43 H2\n", "") + END, "leans on G43 H1 stated before it"),
        (HEAD + ONE + "G10 L2 P1 X3\n" + TWO + END, "leans on G10 stated before it, line 10"),
        (HEAD + ONE + "T2\n" + TWO.replace("T2 ", "") + END, "leans on T2 stated before it"),
        (HEAD + ONE + "G1\n" + TWO.replace("G0 X150 Y150 Z30\nG1 Z-2", "X150 Y150 Z30\nG1 Z-2")
         + END, "leans on G1 stated before it, line 10"),
        (HEAD + ONE + "G82 X60 Y50 Z-5 R2 P1\n" + CYCLE_AGAIN + END,
         "leans on the P of G82 stated before it, line 10"),
        (HEAD + ONE + "M8\n/M9\n" + TWO + END, "leans on M8 stated before it, line 10"),
        (HEAD + ONE + TWO.replace(" M3", "").replace("X200", "X200\nM3") + END, "leans on M3"),
        (HEAD + ONE + TWO.replace("X150 Y150 Z30", "X150 Z30") + END, "leans on places"),
        (HEAD + ONE + "/G18\n" + TWO_ARCS + END, "leans on"),
        (HEAD + ONE + "G18\n" + TWO_ARCS.replace("G43", "/G17\nG43") + END, "leans on G18"),
        (HEAD + ONE + "/M8\n" + TWO + END, "leans on M8 stated before it, line 10"),
        (HEAD + ONE + TWO.replace("G0 X150 Y150 Z30", "/G0 X150\nG0 Y150 Z30") + END, "leans on"),
        (HEAD + ONE + "M8 (by hand!)\n" + TWO.replace("M3", "M3 (M9?)") + END, "leans on M8"),
    ],
)  # fmt: skip
def test_what_a_part_leans_on_is_named(prepare: Prepare, text: str, told: str) -> None:
    """A part that takes a mode, feed, place or length from before is refused, with its line."""
    with pytest.raises(Refused, match=re.escape(told)):
        prepare(text)


@pytest.mark.parametrize(
    "text",
    [
        HEAD + ONE + "G18\n" + TWO_ARCS.replace("G43", "G17 G43") + END,
        HEAD + ONE + "G18\n" + TWO + END,  # it has no arcs
        HEAD + "G64\n" + ONE + TWO + END,  # every section runs under the one G64
        HEAD + "G61\n" + ONE + TWO.replace("G43", "G61\nG43") + "G64\n" + END,
        HEAD + ONE + "M9\n" + TWO + END,
        HEAD + ONE + TWO.replace("M3", "M3 M8") + END,
        HEAD + ONE + "S100\n" + TWO + END,
        HEAD + ONE + DRILLED + END,
        HEAD + "G99\n" + ONE + DRILLED.replace("G81", "G98 G81") + END,
        HEAD + "M48\n" + ONE + TWO + END,
        HEAD + ONE + "G28 Z0\nG49\n" + TWO.replace("G43", "G91 G28 Z0\nG90 G43") + END,
        HEAD + ONE + TWO.replace("G0 X150 Y150", "X150 Y150") + END,  # the way over leaves G0 on
        HEAD + ONE + TWO + "G91 G28 Z0\nG90\n" + END,
        HEAD + ONE + "(M8)\n; G18\n" + TWO_ARCS + END,
    ],
)
def test_what_a_joint_states_may_be_leant_on(prepare: Prepare, text: str) -> None:
    """What the joint restates to the same value, and what nothing changes, needs no stating."""
    prepare(text)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (HEAD + ONE.replace("S18000 M3", "M3") + "S9000\n" + END, "S9000 in line 10"),
        (HEAD + ONE + "G61\n" + END, "G61 in line 10"),
        (
            HEAD.replace(" G80", "") + ONE.replace("G0 X50", "X50") + END,
            "a motion word that is not stated before line 6",
        ),
    ],
)
def test_a_body_that_gets_what_it_left_on(prepare: Prepare, text: str, told: str) -> None:
    """Station by station too a body must not begin under a mode that it leaves on itself."""
    with pytest.raises(Refused, match=re.escape(told)):
        prepare(text, by_tool=False)


def test_a_body_that_begins_with_home(prepare: Prepare) -> None:
    """G28 needs no motion word: a body that begins with it is taken."""
    prepare(HEAD + "G91 G28 Z0\nG90\n" + ONE + END, by_tool=False)


def ends_of(copy: Copy, span: tuple[int, int]) -> Ends:
    """Where a stretch begins and ends."""
    return Stretches(copy).ends(span)


def section_texts(prepared: Prepared) -> list[tuple[tuple[int, int], list[str]]]:
    """The sections of two stations tool by tool, as lines with the joints in front of them."""
    copy = prepared.copy
    found = []
    for span in prepared.spans:
        for number in (1, 2):
            stop = Stop(number, 4, True, prepared.restated)
            joint = joint_lines([copy.setup], None, stop, -5.0, ends_of(copy, span).first)
            found.append((span, [*joint, *(line.strip() for _, line in copy.lines(span))]))
    return found


GROUPS = {
    "motion": "G0 G1 G2 G3 G81 G82 G80", "plane": "G17 G18 G19", "distance": "G90 G91",
    "feed mode": "G93 G94", "units": "G20 G21", "comp": "G40 G41 G42", "length": "G43 G49",
    "retract": "G98 G99", "path": "G61 G64", "spindle": "M3 M4 M5", "overrides": "M48 M49",
}  # fmt: skip
GROUP_OF = {word: group for group, words in GROUPS.items() for word in words.split()}
"""RS274/NGC, Table 4 (NISTIR 6556): written down again, apart from the program's own."""


def carried_out(lines: list[str], modes: dict[str, str]) -> list[dict[str, str]]:
    """The modes at each motion of some lines, which change `modes`. By the report's own rules."""
    at_motions = []
    for line in lines:
        words = re.sub(r"\(.*?\)", "", line).split()
        numbers = {word[0]: word for word in words}
        if "T" in numbers:
            modes["chosen"] = numbers["T"]
        if "M6" in words:
            modes |= {"tool": modes.get("chosen", ""), "spindle": "M5"}  # 3.6.3
        for word in words:
            if word in GROUP_OF:
                beside = {"G41": "D", "G42": "D", "G43": "H"}.get(word, "")
                modes[GROUP_OF[word]] = word + numbers.get(beside, "")
        for word in ("M7", "M8"):
            if word in words:
                modes[word] = "on"
        if "M9" in words:
            modes |= {"M7": "off", "M8": "off"}
        for letter in "FS":
            if letter in numbers:
                modes[letter] = numbers[letter]
        if {"X", "Y", "Z"} & set(numbers) and not {"G10", "G53"} & set(words):
            at_motions.append({**modes, "words": " ".join(w for w in words if w[0] in "XYZIJKR")})
    return at_motions


def that_count(modes: dict[str, str]) -> dict[str, str]:
    """Of the modes at a motion those that change what it does."""
    motion = modes.get("motion", "")
    counts = {"motion", "distance", "units", "length", "comp", "path", "tool", "words"}
    if motion != "G0":
        counts |= {"F", "feed mode", "spindle", "overrides", "M7", "M8"}
        counts |= {"S"} if modes.get("spindle") in ("M3", "M4") else set()
    if motion in ("G2", "G3", "G81", "G82"):
        counts.add("plane")
    if motion in ("G81", "G82"):
        counts.add("retract")
    return {key: value for key, value in modes.items() if key in counts}


def part(rng: random.Random, tool: int) -> list[str]:
    """A part of a tool that mostly states what it needs, and leaves modes on at its end."""

    def some(line: str, how_often: float = 0.95) -> list[str]:
        return [line] if rng.random() < how_often else []

    cuts = rng.choice(
        [
            ["G1 Z-3 F{f}", "X{x}", "Y{y} F{g}"],
            ["G1 Z-3 F{f}", "G2 X{x} Y150 R300", "G1 Y{y}"],
            ["G81 X{x} Y{y} Z-5 R2 F{f}", "X50", "G80"],
            ["{start}X{x} Y{y} F{f}", "G1 Z-3"],
        ]
    )
    numbers = {
        "x": rng.randrange(160, 200), "y": rng.randrange(160, 200), "f": rng.choice((300, 400)),
        "g": 900, "start": rng.choice(("G0 ", "G1 ", "")),
    }  # fmt: skip
    lines = [
        f"T{tool} M6", *some(f"G43 H{tool}"), *some("G17"), *some("G90"), *some("G21", 0.5),
        *some(f"S{tool}000"), *some("M3"), *some(rng.choice(("M8", "M7", "M9")), 0.5),
        *some(rng.choice(("G98", "G99")), 0.9), *some(rng.choice(("G61", "G64")), 0.3),
        *some("M48", 0.3), *some("G94", 0.5),
        f"G0 X{rng.randrange(150)} Y150", "Z30",
        *(line.format(**numbers) for line in cuts),
        "G0 Z30",
    ]  # fmt: skip
    left_on = [
        "G18",
        "G91",
        "G99",
        "G61",
        "G64",
        "M8",
        "M9",
        "M49",
        "M48",
        "S500",
        "F77",
        "M5",
        "G1",
    ]
    return [*lines, *rng.sample(left_on, rng.choice((0, 0, 1, 2)))]


def test_every_motion_of_a_copy_is_under_the_modes_of_its_program(prepare: Prepare) -> None:
    """At each motion of a section all that counts is in force as in the program: Table 4, by hand.

    Programs at random: what is not refused is carried out by a reader written here.
    """
    rng = random.Random(11)
    taken = refused = 0
    for _ in range(thinned(120)):
        lines = ["G21 G17 G90 G40 G80", *part(rng, 1), *part(rng, 2), "M30"]
        try:
            prepared = prepare("".join(f"{line}\n" for line in lines))
        except Refused:
            refused += 1
            continue
        taken += 1
        begin: dict[str, str] = {}
        carried_out(list(prepared.copy.start), begin)
        own: dict[tuple[int, int], list[dict[str, str]]] = {}
        for span in prepared.spans:
            text = [line.strip() for _, line in prepared.copy.lines(span)]
            own[span] = carried_out(text, begin)
        modes: dict[str, str] = {}
        for span, text in section_texts(prepared):
            got = carried_out(text, modes)[1:]  # without the way over
            assert [that_count(each) for each in got] == [that_count(each) for each in own[span]], (
                "\n".join(lines)
            )
    assert min(taken, refused) > thinned(120) / 6, (taken, refused)


def test_the_ends_of_a_span_are_where_it_goes(prepare: Prepare) -> None:
    """A part's first and last places are those of its motions, with and without lines to skip."""
    prepared = prepare(HEAD + ONE + TWO.replace("G0 Z30\n", "G0 Z30\n/G0 X-5 Y-6\n") + END)
    first, second = (ends_of(prepared.copy, span) for span in prepared.spans)
    assert first == ((50.0, 50.0), ((60.0, 50.0), (60.0, 50.0)))
    assert second == ((150.0, 150.0), ((-5.0, -6.0), (200.0, 150.0)))


def test_a_copy_of_a_program_without_an_end_ends(prepare: Prepare) -> None:
    """Behind the last section stands M30, though the source only stops."""
    prepared = prepare(HEAD + ONE + TWO)
    copy = prepared.copy
    sections = [Section((), copy.code, (), span) for span in prepared.spans]
    text = "".join(repeated(copy.text, copy.body, [], sections))
    assert text.endswith("G0 Z30\nM30\n") and text.count("M30") == 1


def test_what_a_joint_begins_with(prepare: Prepare, setup: Setup) -> None:
    """Compensation ends before the unit is stated (Appendix B.5); no word stands there twice."""
    body = ONE.replace("G1 X60", "G41 D1 G1 X60") + "G18\nG93\nG99\nG42 D1\nM49\n"
    prepared = prepare(HEAD + body + END, by_tool=False)
    ((_, lines), *_) = section_texts(prepared)
    words = [line for line in lines if not line.startswith("(")]
    assert words[:4] == ["M5 M9", "M48", "G40", "G21 G90"]
    assert sorted(words[4].split()) == sorted(
        {*setup.facts.dialect.first, "G49", "G94", "G98"} - {"G40"}
    )
    assert words[5].startswith("G53 G0 Z")


def test_a_plane_that_first_states_is_kept(tmp_path: Path) -> None:
    """Where a dialect begins in G18, no G17 stands beside it; G40 is added where it has none."""
    path = tmp_path / "p.nc"
    path.write_text("G18\nG041 D1\nG43.1 Z0\nG099\n(G93)\n", encoding="utf-8")
    assert _restated(read_program(path), ("G18",)) == ("G40", "G49", "G98")
    assert _restated(read_program(path), ()) == ("G17", "G40", "G49", "G98")


def test_the_unit_that_a_block_leaves_on_stays_on(setup: Setup) -> None:
    """At a controller that converts, the program's unit is in force again behind the way over."""
    program = WORLD["program", "hand-hold"].model_copy(update={"units": "in"})
    dialect = setup.facts.dialect.model_copy(update={"converts": True})
    theirs = setup._replace(facts=setup.facts._replace(program=program, dialect=dialect))
    lines = joint_lines([theirs], None, Stop(1, 2, False), -5.0, (1.0, 2.0))
    assert lines[-3:] == ["G21", "G0 X1.000 Y2.000", "G20"]
    assert joint_lines([setup], None, Stop(1, 2, False), -5.0, (1.0, 2.0))[-1].startswith("G0 X")


def test_words_too_many_for_a_line(setup: Setup) -> None:
    """More words than the dialect's line takes are refused in one clear line."""
    first = ("G17", "G49", "G80", "G94", "G98", "G64", "G97", "G91.1", "G69", "G92.2")
    dialect = setup.facts.dialect.model_copy(update={"first": first, "line_length": 40})
    short = setup._replace(facts=setup.facts._replace(dialect=dialect))
    with pytest.raises(Refused, match="takes 40 a line"):
        joint_lines([short], None, Stop(1, 2, False), -5.0, None)
