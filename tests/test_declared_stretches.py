"""Stretches that a program's document declares as known: what stands in them never passes in
silence (NISTIR 6556, 3.5: modes stay until they are stated again)."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import Run
from plans import change, planned, report_of
from test_program_reading import STATION
from thinning import thinned

from pincorner.program.reader.motions import joined
from pincorner.program.reader.reading import reading_of
from pincorner.program.source.text import ProgramText

HEAD = ["G21 G90 G17 G94 G98 G55", "T1 M6", "G0 Z30", "G0 X10 Y10"]
AGAIN = ["G0 Z30", "G0 X10 Y10", "G1 Z-3 F900", "X50", "G0 Z30", "M30"]


def told(stretch: list[str], behind: list[str], *, skips: bool = False) -> dict[int, str]:
    """What the reader says of a program with a stretch, from line 5 on, by line."""
    lines = [*HEAD, *stretch, *behind]
    text = ProgramText(Path("x.nc"), "\n".join([*lines, ""]).encode("ascii"))
    frame = STATION._replace(expressions=False)
    reading = reading_of(text, frame, ((5, 4 + len(stretch)),), skips=skips)
    for _ in reading.motions(text):
        pass
    return {each.line: f"{each.code}: {each.what}" for each in reading.summary.remarks}


@pytest.mark.parametrize(
    "stretch",
    [
        ["G38.2 Z-5 F100"],
        ["G91", "G38.2 Z-5 F100", "G0 Z5", "G90"],
        ["(touch off)", "M100", "G65 P9810 Z-5 F200"],
        ["M0 (put the probe in)", "G38.2 Z-5 F50", "M0"],
        ["O100 IF [#5070 EQ 0]", "M0", "G90", "O100 ENDIF"],
        ["O<touch> CALL [1]", "#1=[#5063+2]", "G0 Z[#1]"],
        ["G4 P1", "M9", "G53 G0 Z0", "G28 Z0", "S12000 M3"],
        ["G38.2 Z-5 F100", "G17 G21 G98 G94 G49 G55"],
        ["T1"],
        ["O100 WHILE [#5 LT 3]", "G91", "G0 Z1", "G90", "O100 ENDWHILE", "G90"],
    ],
)
def test_everyday_stretches_are_quiet(stretch: list[str]) -> None:
    """Where all that matters is stated again before anything moves, nothing is told."""
    behind = ["G90", *AGAIN] if "WHILE" in stretch[0] else AGAIN
    assert told(stretch, behind) == {}


@pytest.mark.parametrize(
    ("stretch", "behind", "line", "want"),
    [
        (["G38.2 Z-5 F100", "G91"], AGAIN, 9, "not-read: it cuts behind a stretch"),
        (["G38.2 Z-5 F100"], ["G1 X20 F300", *AGAIN], 6, "not-read: it cuts behind"),
        (["G38.2 Z-5 F100"], ["G1 X20 Y30 Z-3 F300", *AGAIN], 6, "not-read: it cuts behind"),
        (["G38.2 Z-5 F100"], ["X20", *AGAIN], 6, "not-read: it rests on what a stretch leaves"),
        (["G0 Z30", "G38.2 Z-5"], ["X20 Y20", *AGAIN], 7, "G38.2 may be in force"),
        (["G56"], AGAIN, 5, "offset-differs: it selects G56"),
        (["G10 L2 P2 X900"], AGAIN, 5, "offset-written: G10 writes"),
        (["G10 L20 P2 Z[#5063]"], AGAIN, 5, "not-read: "),
        (["G92 Z0"], AGAIN, 5, "g92-used: G92 shifts"),
        (["G52 X5"], AGAIN, 5, "g92-used: G52 shifts"),
        (["G68 X0 Y0 R30"], AGAIN, 5, "not-read: G68 turns"),
        (["G43 H2"], AGAIN, 5, "length-differs: G43 H2 takes"),
        (["G41 D1"], AGAIN, 5, "not-read: cutter compensation"),
        (["T#5 M6"], AGAIN, 5, "not-read: T with an expression in a stretch"),
        (["G[#5]"], AGAIN, 5, "not-read: G with an expression in a stretch"),
        (["F#5"], ["G0 Z30", "G0 X1 Y1", "G1 Z-3", "M30"], 8, "not-read: it rests on what"),
        (["O1 IF [#5 EQ 1]", "G91", "O1 ENDIF"], AGAIN, 8, "G91 may be in force"),
        (["O1 IF [#5 EQ 1]", "G20", "O1 ENDIF"], AGAIN, 8, "G20 may be in force"),
        (["O1 IF [#5 EQ 1]", "G56", "O1 ENDIF"], AGAIN, 8, "G56 may be in force"),
        (["O1 IF [#5 EQ 1]", "G18", "O1 ENDIF"],
         [*AGAIN[:3], "G2 I5", "M30"], 11, "G18 may be in force"),
        (["O1 IF [#5 EQ 1]", "G99", "O1 ENDIF"],
         [*AGAIN[:2], "G81 Z-3 R2 F100", "M30"], 10, "G99 may be in force"),
        (["O1 IF [#5 EQ 1]", "G92 Z0", "O1 ENDIF"], AGAIN, 6, "G92 in a stretch that is taken"),
        (["O1 IF [#5 EQ 1]", "T2 M6", "O1 ENDIF"], AGAIN, 6, "may be carried out or not"),
        (["IF [#5 EQ 1] GOTO 10", "M30"], AGAIN, 6, "M30 in a stretch that is taken"),
    ],
)  # fmt: skip
def test_what_stands_there_is_followed_or_told(
    stretch: list[str], behind: list[str], line: int, want: str
) -> None:
    """A word that states something there counts behind it; one that may or may not is told."""
    found = told(stretch, behind)
    assert line in found, found
    assert want in found[line]


def test_another_length_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a length is in force, a G43 that may be carried out may have put another one on."""
    monkeypatch.setattr(f"{__name__}.HEAD", [*HEAD[:2], "G43 H1", "G0 X10 Y10 Z30"])
    assert "G43 H2 may be in force" in told(["O1 IF [#5 EQ 1]", "G43 H2", "O1 ENDIF"], AGAIN)[10]


def test_modes_are_followed() -> None:
    """Inches, another plane and tool, feeds and the end count as they stand there."""
    lines = [*HEAD, "G38.2 Z-5 F100", "G20", "T2 M6", "F20", "G0 Z1", "G0 X1 Y2", "G1 Z-0.1", "M30"]
    text = ProgramText(Path("x.nc"), "\n".join(lines).encode("ascii"))
    reading = reading_of(text, STATION, ((5, 8),))
    motions = [row for piece in reading.motions(text) for row in zip(
        piece.line.tolist(), piece.end[:, 2].tolist(), piece.tool.tolist(), piece.feed.tolist(),
        strict=True)]  # fmt: skip
    assert motions[-1] == (11, pytest.approx(-2.54), 2, pytest.approx(508))
    assert [unit for unit, _ in reading.summary.units] == ["mm", "in"]
    assert reading.summary.tool_changes[-1] == (2, 7)
    ended = reading_of(text, STATION, ((5, 12),))
    assert list(ended.motions(text)) and ended.summary.ended == 12


def test_numbers_between_codes_are_no_words() -> None:
    """G20.04 is not G20, in a stretch as anywhere else: the unit stays as it was."""
    text = ProgramText(Path("x.nc"), "\n".join([*HEAD, "G20.04", *AGAIN]).encode("ascii"))
    reading = reading_of(text, STATION, ((5, 5),))
    assert list(reading.motions(text))
    assert [unit for unit, _ in reading.summary.units] == ["mm"]


def test_lines_that_may_be_skipped() -> None:
    """What a line behind `/` states counts where it runs, and not where it is skipped."""
    assert 9 in told(["G38.2 Z-5", "/G91"], AGAIN)
    assert told(["G38.2 Z-5", "/G91"], AGAIN, skips=True) == {}
    assert "may-be-skipped" in told(["G38.2 Z-5", "/G90"], AGAIN)[6]
    assert 9 in told(["G91", "/G90"], AGAIN, skips=True)


@pytest.fixture
def probed(shop: Path) -> Any:
    """Writes a shop's program with a stretch behind its first retract, declared as known."""
    lines = (shop / "hand-hold.nc").read_text(encoding="utf-8").splitlines()

    def put(*stretch: str) -> None:
        behind = lines.index("G0 Z30") + 1
        text = [*lines[:behind], *stretch, *lines[behind:]]
        (shop / "hand-hold.nc").write_text("\n".join([*text, ""]), encoding="utf-8")
        known = {"what": "probing", "lines": [behind + 1, behind + len(stretch)]}
        change(shop, "program", "hand-hold", known=[known])

    return put


@pytest.mark.parametrize(
    ("stretch", "code"),
    [
        (("G38.2 Z-5 F100", "G91"), "not-read"),
        (("G38.2 Z-5 F100", "G92 Z0"), "g92-used"),
        (("G56",), "offset-differs"),
        (("G10 L2 P2 X900",), "offset-written"),
        (("G20",), "units-differ"),
        (("G38.2 Z-5 F100", "T2 M6"), ""),
        (("G91", "G38.2 Z-5 F100", "G90", "G0 Z30"), ""),
    ],
)
def test_commands_agree(
    shop: Path, run: Run, probed: Any, stretch: tuple[str, ...], code: str
) -> None:
    """check, stamp and run see the same: what is found keeps the copy back, and there is no window
    of a program that check does not pass."""
    probed(*stretch)
    found = json.loads(run("check", "hand-hold", "--station", "left", "--json").out)
    codes = {each["code"] for each in found["findings"]}
    ran = run("stamp", "hand-hold", "--station", "left", "-o", "o.nc")
    if code == "":
        assert codes == set() or "T2" in stretch[-1], found["findings"]
        assert (ran.code == 0) == (codes == set()), ran.err
        return
    assert code in codes
    if code == "offset-differs":
        assert ran.code == 2 and "G56" in ran.err
        return
    assert ran.code == 2 and not Path("o.nc").exists()
    plan = report_of(planned(shop, "three-sides"))
    whys = [each["why"] for each in plan["no_window"] if each["runs"] == "left"]
    assert whys and all("check of hand-hold.nc finds" in why for why in whys)


def test_macros_are_named(shop: Path, run: Run, probed: Any) -> None:
    """What a macro does is what was declared; that it leaves modes and tool alone is told."""
    probed("M100", "G65 P9810 Z-5", "O<touch> CALL [1]", "G91.1", "G38.2 Z-5 F100", "G4 P1 M9")
    report = json.loads(run("check", "hand-hold", "--station", "left", "--json").out)
    assert report["findings"] == []
    told = [each for each in report["not_checked"] if "leave modes" in each]
    assert len(told) == 1
    assert "that M100, G65, an O word there leave modes, offsets and tool" in told[0]


_WORDS = (
    "G90", "G91", "G20", "G21", "G17", "G18", "G98", "G99", "G43 H1", "G49", "G94", "G93", "F100",
    "F300", "T1 M6", "T2 M6", "G54", "G55", "G80", "", "", "M9", "G40",
)  # fmt: skip


def test_words_count_as_anywhere_else() -> None:
    """What random stretches of mode words leave is what the same lines leave undeclared: kinds,
    feeds, tools, lengths, places once they are stated, selections, remarks."""
    rng = random.Random(3)
    for _ in range(thinned(1500)):
        stretch = [rng.choice(_WORDS) for _ in range(rng.randint(1, 4))]
        cut = rng.choice(["G1 Z-3", "G1 Z-3 F50", "G81 Z-3 R1 F10"])
        behind = ["G90 G0 Z30", "G0 X1 Y1", cut, "X5", "G0 X9", "M30", ""]
        lines = [*HEAD, *stretch, *behind]
        text = ProgramText(Path("x.nc"), "\n".join(lines).encode("ascii"))
        last = 4 + len(stretch)
        as_it_is, declared = reading_of(text, STATION), reading_of(text, STATION, ((5, last),))
        one, other = (joined(list(each.motions(text))) for each in (as_it_is, declared))
        one, other = (each.rows(each.line > last) for each in (one, other))
        for name in ("line", "kind", "feed", "tool", "lengths", "plane"):
            np.testing.assert_array_equal(getattr(one, name), getattr(other, name), str(lines))
        unknown = np.isnan(other.end)
        assert (unknown[1:] == np.isnan(one.end)[1:]).all(), lines
        assert (unknown | (one.end == other.end)).all(), lines
        assert as_it_is.summary.remarks == declared.summary.remarks, lines
        assert as_it_is.summary.selections == declared.summary.selections, lines
        assert as_it_is.summary.tool_changes == declared.summary.tool_changes, lines
