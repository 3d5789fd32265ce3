"""`start`: shops set up by questions, with slips on the way, stopped anywhere, and by scripts."""

from __future__ import annotations

import io
import os
import re
import shutil
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import redirect_stdout
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

import pytest
import yaml
from conftest import Ran, Run

from pincorner.cli.first_commands import lines_of
from pincorner.cli.main import main
from pincorner.geometry.outline import bounds
from pincorner.render.drawing.lie import bed_moves_told
from pincorner.render.text.offsets import offsets_told
from pincorner.standing import standing_up
from pincorner.units import MM_PER_INCH
from pincorner.work.first.asked.clamped import against_pins
from pincorner.work.first.asked.machine import DIALECTS
from pincorner.work.first.asked.nests import more_examples
from pincorner.work.first.asked.typed import Asks, Said
from pincorner.work.first.drafting import texts_of
from pincorner.work.first.questions import QUESTIONS, WRITE
from pincorner.work.first.walk import ANSWERS_FILE, Walk, answers_in, open_walk

Start = Callable[..., Ran]


@pytest.fixture
def start(tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> Start:
    """Run `start` in an empty folder with lines typed in: `start("in", "", "back")`."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("PINCORNER_DB", raising=False)

    def typed(*lines: str, folder: str = "shop") -> Ran:
        monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        return run("start", folder)

    return typed


class Shop(NamedTuple):
    """What somebody types, slips and Enters among it, and where the first zero is by hand.

    x, y: of program zero, in the shop's unit. told: words that must have been printed.
    """

    lines: tuple[str, ...]
    x: float
    y: float
    told: tuple[str, ...]


INCH = Shop(
    lines=(
        "all", "inn", "in", "",                        # unit: a slip of the finger
        "yes", "0 to 50", "0 to 98", "-6 to 0",
        "beam along x", "?", "front", "1",
        "5 5 6 6 6", "5 5 6 6", "", "",
        "48 x 96 x 3/4", "100", "4",
        "12 x 240", "12 x 24", "0.755", "", "", "2 x 2", "", "1/64", "",
        "2.5 3.25", "95.25 2.5", "2.5 95.25",   # X and Y changed over
        "3/4\"", "", "1",
        "stock", "", "30 x 20 x 3/4", "", "front left",  # pins higher than it

        "B3", "right and back", "", "G54", "", "saw, bench, dog", "panel", "",
        "yes",
    ),
    # hole B3 lies at X 2.5 + 4, Y 3.25 + 8; a dog of 3/4 in: half of that farther on both ways,
    # less half of its play in a hole of 0.755, by which it gives way when it is pushed against
    x=2.5 + 4 + 0.375 - 0.0025, y=3.25 + 8 + 0.375 - 0.0025,
    told=("expected mm or in", "expected one length or three lengths or four lengths",
          "a pitch of 100 in: usual is", "if that was mm, say 100 mm. Enter takes 100",
          "X and Y of it look changed over", "reach over 956 in; the bed is 96 in"),
)  # fmt: skip
METRIC = Shop(
    lines=(
        "2", "", "", "",
        "400", "-250 to 0", "-120 to 0",
        "bed", "the table, along x and y", "", "3", "43", "0.01",
        "not known", "25", "12 x 8", "8", "0.03", "", "", "",
        "fence: x -20 to 300 y -30 to -20, 25 high",
        "30 -220", "305 -220.01",
        "9", "8", "", "25",             # no pin of 9 goes into a hole of 8
        "jig", "none", "150 x 100", "", "12", "30", "100 x 60 x 20", "5 5", "", "4 mm", "",
        "C2", "", "no", "none", "G54.9", "G54", "seat",
        "", "vice plate", "slot", "",
        "",
    ),
    # the jig's corner is 4 from the middles of C2's row and column; zero 5 and 5 from there; the
    # grid leans by -0.01 on 275, which turns the 59 and 34 from A1 to there
    x=30 + 59 + 34 * 0.01 / 275, y=-220 + 34 - 59 * 0.01 / 275,
    told=("does not go into a hole of 8 mm", "expected a work offset such as G54"),
)  # fmt: skip
NO_HOME = Shop(
    lines=(
        "everything", "mm", "", "no", "", "left", "1", "", "",
        "900 x 600", "96", "9 x 6", "20", "", "", "", "", "", "none",
        "", "768.0 0.5",                # A1 is where G54 is set; I1 lies 0.5 higher
        "19.9", "", "20",
        "", "0", "300 x 200 x 12", "yes", "",
        "i1", "-x+y", "", "G54", "G55", "surface", "yes", "", "door", "letter",
        "yes",
    ),
    # hole I1 as it leans, then 9.95 (half a pin) to the left and up, along the leaning grid:
    # angle a = atan(0.5 / 768); the zero is the stock's front left corner, 300 to the left; the
    # pins of 19.9 give way by 0.05 in holes of 20
    x=768.0 - 309.9 - 9.9 * 0.5 / 768, y=0.5 + 9.9 - 309.9 * 0.5 / 768,
    # 0.5 in 768 over the root of 300^2 + 200^2
    told=("G54 is the reference that the others count from",
          "the piece is 0.23 mm off over the 361 mm from its zero to its farthest corner",
          "sheets tell it only while it matters, as above 0.1 mm"),
)  # fmt: skip
SHOPS = {"inch": INCH, "metric": METRIC, "no home": NO_HOME}


class Made(NamedTuple):
    """A shop's folder, set up once, and what was printed; do not change it."""

    folder: Path
    out: str


@pytest.fixture(scope="module")
def mill_once(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """The metric shop."""
    folder, out = tmp_path_factory.mktemp("mill"), io.StringIO()
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(out):
        patch.chdir(folder)
        patch.delenv("PINCORNER_DB", raising=False)
        patch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in METRIC.lines)))
        assert main(["start", "shop"]) == 0
    return Made(folder / "shop", out.getvalue())


def drawn_in(out: str) -> list[tuple[str, str]]:
    """The pictures of a dialogue: what is drawn, and the line below that tells how it is seen."""
    lines = out.splitlines()
    ends = [at for at, line in enumerate(lines) if re.match("    X .*, Y ", line)]
    frames = [at for at, line in enumerate(lines) if line.startswith("    +")]
    begins = [max(at for at in frames[::2] if at < end) for end in ends]
    return [
        ("\n".join(lines[begin : end - 1]), lines[end].strip())
        for begin, end in zip(begins, ends, strict=True)
    ]


@pytest.mark.parametrize("name", SHOPS)
def test_shops(
    start: Start, run: Run, monkeypatch: pytest.MonkeyPatch, mill_once: Made, name: str
) -> None:
    """Three shops, typed with slips: the offset by hand, the documents load and dump, a sheet."""
    shop = SHOPS[name]
    if name == "metric":
        out = mill_once.out
        shutil.copytree(mill_once.folder, "shop")
    else:
        ran = start(*shop.lines)
        assert ran.code == 0, ran.out + ran.err
        out = ran.out
    for words in shop.told:
        assert words in " ".join(out.split()), words
    assert "  = " in out and out.isascii() and out.replace("\n", "").isprintable()
    bed, corner, *lying = drawn_in(out)
    assert lying and "#" not in bed[0] + corner[0], "bed, then the same with its label to be said"
    assert all(now != before for now, before in pairwise([corner, *lying])), "never twice the same"
    assert all("O" in drawn and "#" in drawn for drawn, _ in lying)
    monkeypatch.chdir("shop")
    (row,) = run("offsets", "--json").json["offsets"]
    factor = MM_PER_INCH if "in" in shop.lines[:3] else 1.0
    assert (row["x_mm"], row["y_mm"]) == pytest.approx((shop.x * factor, shop.y * factor), abs=1e-3)
    assert list(Path("sheets").glob("*.html"))
    assert run("block", row["station"]).code == 0
    files = sorted(Path("documents").glob("*.yaml"))
    assert run("load", *files).out == f"0 new, 0 changed, {len(files)} as before\n"
    dumped = run("dump").out
    Path("all.yaml").write_text(dumped, encoding="utf-8")
    assert run("load", "all.yaml").out.startswith("0 new, 0 changed")


def test_what_a_shop_says_stands_in_its_documents(mill_once: Made) -> None:
    """Figures as they were typed; what nobody knew, or was not asked, stands in a comment."""
    machine = (mill_once.folder / "documents" / "machine.yaml").read_text(encoding="utf-8")
    bed = (mill_once.folder / "documents" / "bed.yaml").read_text(encoding="utf-8")
    assert "      y: [-250, 0]" in machine and "    bed_moves: true" in machine
    jig = (mill_once.folder / "documents" / "jig.yaml").read_text(encoding="utf-8")
    assert "      run_off: 4\n" in jig and "beyond, the jig is 30 mm high" in mill_once.out
    assert "    #carriage: {left: 120" in machine, "not asked where the bed moves"
    assert "      pitch: [25, 25]" in bed and "    #outline:" in bed
    assert re.search(r"    - name: fence.*\n +from: \[-20, -30\].*\n +to: \[300, -20\]", bed)


def test_stopped_at_every_line(start: Start, mill_once: Made) -> None:
    """The input may end after any line: the next start goes on there, and ends the same."""
    for at, line in enumerate(METRIC.lines[:-1]):
        ran = start(line)
        assert ran.code == 2 and "what was answered is kept" in ran.err, (at, line, ran.out)
    ran = start(METRIC.lines[-1])
    assert ran.code == 0, ran.out
    assert "not known, and left out of the documents: the size of the bed\n" in ran.out
    for word in ("machine", "bed", "pin", "jig", "station"):
        name = Path("documents") / f"{word}.yaml"
        assert (Path("shop") / name).read_bytes() == (mill_once.folder / name).read_bytes()


def test_quit_keeps_and_back_goes_back(start: Start) -> None:
    """`quit` leaves with 0 and tells how to go on; `back` offers what was said before."""
    ran = start("all", "in", "", "no", "back", "quit")
    assert ran.code == 0 and ran.out.endswith("go on with: pincorner start shop\n")
    assert "  [no] > " in ran.out
    answers = answers_in(Path("shop") / ANSWERS_FILE)[0]
    said = {"extent": "all", "units": "in", "controller_units": "in", "homes": "no"}
    assert answers == said
    assert "this is the first question" in start(*["back"] * 6, "quit").out


def test_stopped_at_the_end(
    start: Start, monkeypatch: pytest.MonkeyPatch, mill_once: Made, tmp_path: Path
) -> None:
    """Put off, or stopped while documents are loaded or drawn: the next start does the rest."""
    from pincorner.work.first import walk

    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    answers = (mill_once.folder / ANSWERS_FILE).read_text(encoding="utf-8").partition("written:")[0]
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / ANSWERS_FILE).write_text(answers, encoding="utf-8")
    assert start("no").code == 0 and not (folder / "documents").exists()
    for step in ("init_shop", "load", "write_sheets", "write_map"):
        with monkeypatch.context() as patch:
            patch.setattr(walk, step, stop)
            assert start("").code == 130
    ran = start("")
    assert ran.code == 0 and (folder / "sheets" / "slot.html").is_file(), ran.err


def walked(tmp_path: Path, **answers: str) -> Walk:
    """A walk with these answers, its state read."""
    walk = open_walk(tmp_path, None, answers)
    walk.next()
    return walk


def test_two_answers_of_a_file_that_cannot_be(tmp_path: Path) -> None:
    """Pins that do not reach, and a work offset that is none: one is asked again, then the other,
    though nothing can be drafted up to the second."""
    wrong = {"extent": "short", "corner": "A1", "toward": "-x-y", "work_offset": "G99"}
    walk, asked = walked(tmp_path, **{**GOOD, **wrong}), list[str]()
    while (question := walk.next()) is not WRITE:
        if walk.wrong:
            asked.append(walk.wrong)
        default = None if walk.wrong else walk.default(question)
        good = {"toward": "+x+y", "work_offset": "G56"}.get(question.key)
        walk.given[question.key] = good or default or question.example(walk.said)
    assert [each.partition(":")[0] for each in asked] == ["toward", "work_offset"]
    assert "0 usable holes" in asked[0] and "expected a work offset" in asked[1]


SLIPS: dict[str, tuple[dict[str, str], str, str, str]] = {
    "tenths for inches": ({"units": "in", "pitch": "4"}, "holes", "12 by", "two whole numbers"),
    "a word": ({}, "hole", "wide open", "expected one length, such as 20.02; got 'wide open'"),
    "an inch word": ({"units": "in"}, "hole", "open", "such as 0.755; got 'open'"),
    "not known where it must be": ({}, "hole", "not known", "has to be known"),
    "beyond reason": ({}, "hole", "40000", "expected 0.01 mm to 20000 mm"),
    "no hole": ({}, "missing", "12 A", "expected labels of holes, or none, such as A1 H5"),
    "a hole that is not there": ({}, "missing", "Z99", "there is no hole Z99 on this grid"),
    "no such corner": ({}, "corner", "G55", "there is no hole G55 on this grid: it has 10 along"),
    "no quadrant": ({}, "toward", "left", "expected a number from 1 to 4"),
    "no corner": ({}, "corner", "front", "the label of one hole"),
    "a name that is none": ({}, "station", "a/b", "a name is made of"),
    "pins that do not reach": ({"corner": "A1"}, "toward", "-x-y", "0 usable holes"),
    "another hole": ({"a1": "80 90"}, "far", "1080 90", "another hole (its label first)"),
    "a hole that is not that": ({"a1": "80 90"}, "far", "B6 980 90", "that is where J1 lies"),
    "another way": ({"a1": "80 90"}, "far", "716 726", "lie along another way"),
    "a pin too thick": ({"hole": "12"}, "shank", "12.5", "does not go into a hole of 12 mm"),
    "beyond the travel": ({"travel_x": "0..900"}, "a1", "-38.2 5", "beyond the travel, 0 mm"),
    "holes off the bed": ({"size": "500 x 500"}, "holes", "10 x 6", "the bed is 500 mm"),
    "holes into each other": ({"pitch": "20"}, "hole", "25", "run into each other"),
    "lower than its seat": ({"holder": "jig", "seat": "18"}, "height", "12", "not below the seat"),
}  # fmt: skip
GOOD = {
    "extent": "all", "units": "mm", "machine": "r", "homes": "yes", "controller": "rs274",
    "bed": "b", "pitch": "100", "holes": "10 x 6", "a1": "80 90",
}  # fmt: skip


@pytest.mark.parametrize("slip", SLIPS)
def test_slips(tmp_path: Path, slip: str) -> None:
    """An answer that cannot be is told why, in a line, and is not taken."""
    before, key, text, told = SLIPS[slip]
    walk = walked(tmp_path, **{**GOOD, **before})
    while (question := walk.next()).key != key:
        if question is WRITE:
            walk.earlier[key] = walk.given.pop(key)
            continue
        walk.given[question.key] = walk.default(question) or question.example(walk.said)
    for _ in range(2):  # what cannot be does not pass when it is said again
        with pytest.raises(Exception, match=r".") as caught:
            walk.give(question, text)
        assert told in str(caught.value), caught.value
        assert key not in walk.given


def test_every_default_is_an_answer(tmp_path: Path) -> None:
    """Every question's default is taken by its own reader, in both units; what has to be measured,
    A1 and the pin, has none."""
    for unit in ("mm", "in"):
        walk = open_walk(tmp_path / unit, None, {"units": unit, "holder": "jig"})
        seen = []
        while (question := walk.next()) is not WRITE:
            seen.append(question.key)
            default = walk.default(question)
            assert (default is None) == (question.key in ("a1", "shank", "seat")), question.key
            walk.give(question, default or question.example(walk.said))
            assert not walk.wrong
        assert set(seen) > {"a1", "stock", "station"} and question.default(walk.said) == "yes"


def test_every_question_has_its_words() -> None:
    """Keys differ, every question has help, and none of them says that anything is safe."""
    assert len({question.key for question in QUESTIONS}) == len(QUESTIONS)
    assert len({question.about for question in QUESTIONS}) == len(QUESTIONS)
    for question in QUESTIONS:
        text = f"{question.words} {question.help}".lower()
        assert question.about and "_" not in question.about, question.key
        assert question.help and "safe" not in text and "you may" not in text, question.key


def test_answers_by_options_and_a_file(tmp_path: Path, run: Run, monkeypatch: Any) -> None:
    """Scripts answer by --answers FILE, by --answer, and by --yes for all the rest."""
    monkeypatch.chdir(tmp_path)
    answers = "units: in\na1: [2.5, 3.25]\nholes: 12 x 24\nshank: 3/4\nfar: A24 2.5 95.5\n"
    Path("a.yaml").write_text(answers, encoding="utf-8")
    ran = run("start", "shop", "--answers", "a.yaml", "--answer", "station=lid", "--yes")
    assert ran.code == 0, ran.err
    assert "taken as it was read: of the bed, its pitch along Y, 4.0109 in, is as A1 and" in ran.out
    (row,) = run("--db", "shop", "offsets", "--json").json["offsets"]
    assert row["station"] == "lid" and row["x_mm"] == pytest.approx((2.5 + 0.375) * MM_PER_INCH)


def test_wrong_answers_of_a_file_are_named_before_they_are_asked_for(start: Start) -> None:
    """Whoever sits at a terminal is asked one by one, and knows before which."""
    Path("shop").mkdir()
    text = "pitch: wide\nhole: 5\nspoil: deep\nholes: 9 x 9\n"
    Path("shop", ANSWERS_FILE).write_text(text, encoding="utf-8")
    named = "! these answers cannot be taken, and are asked for: the pitch of its holes, how deep"
    assert named in " ".join(start("quit").out.split())


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--answer", "pich=4"), "there is no such question; did you mean pitch?"),
        (("--answer", "pitch"), "expected KEY=TEXT"),
        (
            ("--yes",),
            "a1 has no default: Jog over the middle of hole A1 (lowest X and Y). Which "
            "machine position does it read? Give it with --answer a1=VALUE\nshank has no default: ",
        ),
        (("--answer", "pich=4", "--answer", "houses=no"), "did you mean pitch?\n--answer houses: "),
        (("--yes", "--answer", "pitch=wide"), "pitch: expected"),
        (
            ("--yes", "--answer", "a1=0 0", "--answer", "hole=12", "--answer", "shank=12.5"),
            "shank: a pin of 12.5 mm does not go into a hole of 12 mm",
        ),
        (
            ("--yes", "--answer", "a1=-38.2 5", "--answer", "travel_x=0 1250"),
            "A1 at X -38.2 mm is beyond the travel, 0 mm to 1250 mm",
        ),
        (
            (
                "--yes",
                "--answer",
                "a1=0 0",
                "--answer",
                "size=900 x 600",
                "--answer",
                "holes=20 x 6",
            ),
            "20 holes along X",
        ),
        (
            (
                "--yes",
                *("--answer", "holes=wide"),
                *("--answer", "spoil=deep"),
                *("--answer", "far=x"),
            ),
            "holes: expected two whole numbers, along X and along Y, such as 12 x 7; got 'wide'\n"
            "--answer spoil: expected one length",
        ),
        (("--yes", "--answer", "nose=60 at the elbow"), 'nothing is read of "elbow"'),
        (("--yes", "--answer", "travel_x=wide"), "travel_x: expected one length or two lengths"),
        (("--answers", "b.yaml"), "b.yaml:1: pich: there is no such question; did you mean pitch?"),
    ],
)
def test_bad_answers(tmp_path: Path, run: Run, monkeypatch: Any, words: Any, told: str) -> None:
    """An answer to no question, no answer, and one that cannot be: a line, and exit code 2."""
    monkeypatch.chdir(tmp_path)
    Path("b.yaml").write_text("pich: 4\n", encoding="utf-8")
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    ran = run("start", "shop", *words)
    assert ran.code == 2 and told in ran.err, ran.err
    assert "--yes" not in words or not Path("shop").exists(), "nothing is written"


def test_a_document_that_was_edited_is_left_alone(
    start: Start, mill_once: Made, tmp_path: Path
) -> None:
    """What somebody changed by hand is not written over; what they did not change is made anew."""
    shutil.copytree(mill_once.folder, tmp_path / "shop")
    file = tmp_path / "shop" / "documents" / "jig.yaml"
    text = file.read_text(encoding="utf-8")
    assert start("back", "letter", "").code == 0
    file.write_text(text.replace("seat: 12", "seat: 13"), encoding="utf-8")
    ran = start("")
    assert ran.code == 2 and "jig.yaml was changed since start wrote it" in ran.err
    assert "seat: 13" in file.read_text(encoding="utf-8")


def test_a_shop_with_documents_is_left_alone(shop: Path, run: Run) -> None:
    """Where a registry holds documents that no walk made, start asks nothing."""
    ran = run("start", ".", "--yes", "--answer", "a1=0 0")
    assert ran.code == 2 and "start is for a new shop" in ran.err
    assert not (shop / ANSWERS_FILE).exists()


# ---- at a terminal -------------------------------------------------------------------------------


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Callable[[], Any]]:
    """Start in a pseudo-terminal of its own, as often as one likes: `terminal()`."""
    if os.name == "nt":
        pytest.skip("Windows has no pseudo-terminals of this kind")
    import pexpect

    source = str(Path(__file__).resolve().parent.parent / "src")
    environment = {**os.environ, "PYTHONPATH": source, "TERM": "xterm", "PINCORNER_DB": ""}
    children = []

    def spawn() -> Any:
        child = pexpect.spawn(
            sys.executable, ["-m", "pincorner", "start", "shop", "--no-page"], cwd=str(tmp_path),
            env=environment, encoding="utf-8", timeout=60, dimensions=(50, 80),
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # as at a terminal
        )  # fmt: skip
        children.append(child)
        return child

    yield spawn
    for child in children:
        child.close(force=True)


def test_killed_at_a_terminal(terminal: Callable[[], Any], tmp_path: Path) -> None:
    """Killed outright, then stopped by Ctrl-C: each goes on there, and in plain text."""
    child = terminal()
    for line in ("all", "in", "", "yes"):
        child.expect("> ")
        child.sendline(line)
    child.expect("Travel in X")
    child.kill(signal.SIGKILL)
    child.wait()
    child = terminal()
    child.expect("4 answers of before are taken")
    child.expect("Travel in X")
    for line in ("0 to 49", "0 to 97"):
        child.expect("> ")
        child.sendline(line)
    child.expect("Travel in Z")
    child.expect("> ")
    child.sendintr()
    child.expect("stopped; what was answered is kept")
    child.wait()
    assert child.exitstatus == 130 and "\x1b" not in child.before
    assert list(answers_in(tmp_path / "shop" / ANSWERS_FILE)[0]) == [
        "extent", "units", "controller_units", "homes", "travel_x", "travel_y",
    ]  # fmt: skip


# ---- what was changed since ----------------------------------------------------------------------


def test_a_turn_of_later_is_not_lost(
    start: Start, run: Run, monkeypatch: pytest.MonkeyPatch, mill_once: Made, tmp_path: Path
) -> None:
    """A station turned by `register` stays so: `load` of the old file asks, `start` leaves it."""
    folder = tmp_path / "shop"
    shutil.copytree(mill_once.folder, folder)
    monkeypatch.chdir(folder)
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    assert run("register", "slot", "--turn", "180").code == 0

    def zero() -> tuple[float, ...]:
        (row,) = run("offsets", "--json").json["offsets"]
        return row["x_mm"], row["y_mm"], row["angle_deg"]

    turned = zero()
    ran = run("load", "documents/station.yaml")
    assert ran.code == 2 and "turn 180 becomes 0" in ran.err and "--yes" in ran.err, ran.err
    # the zero, 5 and 5 from the corner of a jig of 150 x 100, lies 140 and 90 away when turned
    assert "away" in ran.err and "166.43" in ran.err  # the root of 140^2 + 90^2
    ran = run("start", ".", "--yes")
    assert ran.code == 0 and "changed in the registry since" in ran.out, ran.err
    assert zero() == turned
    ran = run("start", ".", "--yes", "--answer", "z_zero=surface")
    assert ran.code == 2 and "edit station slot" in ran.err, ran.err
    assert zero() == turned
    assert "turn 180 becomes 0" in run("load", "documents/station.yaml", "--yes").out


def test_a_jig_names_the_stations_that_it_moves(
    run: Run, monkeypatch: pytest.MonkeyPatch, mill_once: Made, tmp_path: Path
) -> None:
    """`load` of a jig with another zero says which station moves, how far, and what is void."""
    folder = tmp_path / "shop"
    shutil.copytree(mill_once.folder, folder)
    monkeypatch.chdir(folder)
    jig = folder / "documents" / "jig.yaml"
    text = jig.read_text(encoding="utf-8")
    assert "zero: [5, 5]" in text
    jig.write_text(text.replace("zero: [5, 5]", "zero: [8, 9]"), encoding="utf-8")
    ran = run("load", jig)
    assert ran.code == 0 and "station slot: program zero of nest a from X" in ran.out
    out = " ".join(ran.out.split())
    assert "5.000 mm away" in out
    void = "void now: sheets/slot.html, bed-1-map.html; print and stamp anew with pincorner refresh"
    assert void in out
    # a clamp on the right edge of a jig that grows by 10, and what start says of the file then
    clamped = text.replace("stations:", "stations:")
    station = folder / "documents" / "station.yaml"
    said = station.read_text(encoding="utf-8")
    at = said.index("    #clamps:") if "    #clamps:" in said else len(said)
    clamps = "    clamps: [{name: c, from: [145, 40], to: [180, 60], top: 40}]\n"
    station.write_text(said[:at] + clamps + said[at:], encoding="utf-8")
    assert run("load", station).code == 0
    jig.write_text(clamped.replace("[150, 100]", "[160, 100]"), encoding="utf-8")
    out = " ".join(run("load", jig).out.split())
    assert "clamp c stays where it was; the edge there moved by 10.0 mm" in out, out
    assert "jig vice plate 150.0 x 100.0 to 160.0 x 100.0 mm" in " ".join(run("status").out.split())
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    again = run("start", ".", "--yes")
    assert again.code == 0 and "was changed" not in again.out, again.err


# ---- what could hurt -----------------------------------------------------------------------------

HIGH_JIG = {**GOOD, "holder": "jig", "seat": "18", "hole": "10", "pitch": "25"}


def until(walk: Walk, key: str, **answers: str) -> Any:
    """The question of that key, what stands before it answered by defaults."""
    while (question := walk.next()).key != key:
        assert not walk.wrong and question is not WRITE
        walk.given[question.key] = (
            answers.get(question.key) or walk.default(question) or question.example(walk.said)
        )
    return question


LATER = (
    "travel_x", "travel_y", "travel_z", "moves", "carriage", "nose", "repeatability", "missing",
    "fixed", "clamps", "names", "paper",
)  # fmt: skip
"""What the first sheet does not need."""


def test_the_short_way_leaves_the_rest_for_later(start: Start) -> None:
    """What the first sheet does not need is asked for when start is called again; what was loaded
    is as before where it is not said."""
    ran = start(
        *[""] * 13, "80 90", "", "19.9", "", "", "", "", "", "", "C2", "",
        "", "", "", "", "",  # pins, code, Z, station, and yes
    )  # fmt: skip
    assert ran.code == 0, ran.out + ran.err
    kept = answers_in(Path("shop") / ANSWERS_FILE)[0]
    assert kept["extent"] == "short" and not set(LATER) & set(kept)
    assert "  pincorner start                    what is left: travel, reach, nose" in ran.out
    assert "void now" not in ran.out
    machine = Path("shop/documents/machine.yaml").read_bytes()
    again = start("short", "")
    assert again.code == 0 and Path("shop/documents/machine.yaml").read_bytes() == machine
    assert "1 short: no question more" in again.out
    # all: travel, a beam along X, its reach, nose; then by Enter repeatability, holes that are
    # missing, what stands on the bed, clamps, names and paper
    rest = start("", "0 to 1300", "0 to 900", "", "1", "120", "64", *[""] * 7)
    assert rest.code == 0, rest.out + rest.err
    asked = rest.out.count("] > ") - 2  # but for the way and the end
    (counted,) = re.findall(r"2 all: (\d+) to (\d+) questions", rest.out)
    assert int(counted[0]) <= asked == len(LATER) <= int(counted[1])
    void = "Most answers now change the setup: sheets/first.html and 1 more will be void then"
    assert rest.out.count(void) == 1 and "be void then" not in ran.out
    assert set(LATER) <= set(answers_in(Path("shop") / ANSWERS_FILE)[0])
    ((drawn, _),) = drawn_in(rest.out)
    assert "O" in drawn, "what is answered now changes nothing that is seen"
    text = Path("shop/documents/machine.yaml").read_text(encoding="utf-8")
    assert "nose: 64" in text and "x: [0, 1300]" in text and "what is left" not in rest.out


@pytest.mark.parametrize("holder", ["stock", "jig"])
def test_heights_count_from_the_top_of_a_waste_sheet(tmp_path: Path, holder: str) -> None:
    """A sheet under the work lifts Z zero and the piece by its thickness; pins and clamps stand on
    the bed, and where the work lies is as before."""
    thick_mm, found = MM_PER_INCH / 4, {}
    for sheet in ("0", "1/4 in"):
        given = {**GOOD, "holder": holder, "under": sheet, "z_zero": "seat"}
        given |= {"seat": "12", "height": "12"} if holder == "jig" else {}
        walk = walked(tmp_path / sheet[0], **given)
        while (question := walk.next()) is not WRITE:
            walk.given[question.key] = walk.default(question) or question.example(walk.said)
        assert walk.drafted.setup is not None
        found[sheet] = walk.drafted.setup
    bare, lifted = found.values()
    assert lifted.facts.station.under == pytest.approx(thick_mm)
    for name in ("zero_mm", "stock_bottom_mm", "stock_top_mm"):
        both = (getattr(each.heights, name) for each in (lifted, bare))
        assert pytest.approx(thick_mm) == next(both) - next(both), name
    assert lifted.located.corner == bare.located.corner


@pytest.mark.parametrize(
    ("before", "key", "text", "told"),
    [
        ({"under": "6"}, "z_zero", "top of the waste sheet", "seat: the underside of the piece"),
        ({}, "z_zero", "top of the waste sheet", "no sheet lies under it, as it was said"),
        ({"under": "6", "holder": "jig", "seat": "12"}, "z_zero", "the waste sheet",
         "higher in its jig than the sheet's top"),
        ({"pin_height": "9"}, "under", "12", "the pins, 9 mm above the bed, would end in that"),
        ({"stays": "12"}, "z_zero", "top of the sheet", "surface"),
        ({"stays": "12", "size": "900 x 600"}, "spoil", "12", "goes through the sheet, which is"),
        ({"under": "6", "pin_height": "22"}, "stock", "300 x 200 x 5", "11 mm above that piece"),
    ],
)  # fmt: skip
def test_a_sheet_s_top_is_no_other_height(
    tmp_path: Path, before: dict[str, str], key: str, text: str, told: str
) -> None:
    """What somebody says of a waste sheet is read as that, or refused with what is wrong."""
    walk = walked(tmp_path, **GOOD, **before)
    while (question := walk.next()).key != key:
        walk.given[question.key] = walk.default(question) or question.example(walk.said)
    try:
        walk.give(question, text)
        heard = walk.heard
    except (Asks, ValueError) as error:
        heard = str(error)
    assert told in heard


@pytest.mark.parametrize(
    ("far", "answer", "pitch"),
    [
        ("J1 980.27 90", None, [100, 100]),  # within 2 times the root of 2 times 0.1, 0.283
        ("J1 980.45 90", "yes", [100.05, 100]),  # nine pitches of 100 from 80: 900.45 / 9
        ("J1 980.45 90", "no", [100, 100]),
        ("A6 80 589.7", "yes", [100, 99.94]),
    ],
)
def test_the_pitch_as_two_holes_were_read(
    tmp_path: Path, far: str, answer: str | None, pitch: list[float]
) -> None:
    """Where a second hole lies farther off than the spread of two holes explains, it is asked
    whether the holes are as they were read, with both figures; a yes stands in the bed's grid."""
    walk = walked(tmp_path, **{**GOOD, "hole_position": "0.1", "shank": "19.9"})
    walk.give(until(walk, "far"), far)
    assert "pitch times count" in walk.heard
    question = walk.next()
    assert (question.key == "as_read") == (answer is not None)
    if answer is not None:
        words = question.told_words(walk.said)
        assert walk.default(question) == "yes" and "by your pitch of 100 mm" in words
        read, apart = ("900.45 mm", "100.050") if "J1" in far else ("499.70 mm", "99.940")
        assert read in words and f"as they were read, {apart} mm apart along" in words
        assert len(lines_of(question, walk.said)) <= 4
        walk.give(question, answer)
    walk.default_all()
    bed = yaml.safe_load(texts_of(walk.said)["bed"])["beds"][0]
    assert bed["grid"]["pitch"] == pitch
    assert ("were read; 100 was said" in bed.get("note", "")) == (answer == "yes")


def test_both_holes_come_out_where_they_were_read(tmp_path: Path) -> None:
    """With G54 over J1, nine pitches of 100 from A1, which reads 900.45 to its left: as it was read
    A1 lies there."""
    set_over = {"homes": "no", "reference": "J1", "far": "A1 -900.45 0", "hole_position": "0.1"}
    given = {key: text for key, text in GOOD.items() if key != "a1"}
    walk = walked(tmp_path, **{**given, **set_over, "shank": "19.9"})
    walk.default_all()
    bed = yaml.safe_load(texts_of(walk.said)["bed"])["beds"][0]
    assert (bed["pose"]["x"], bed["grid"]["pitch"]) == (-900.45, [100.05, 100])


def test_heights_count_from_a_sheet_that_stays(tmp_path: Path) -> None:
    """A waste sheet that stays is the bed's surface: questions behind it name it, the board is as
    thick as both, and no sheet lies under the work; the bed's note says so."""
    walk = walked(tmp_path, **{**GOOD, "size": "900 x 600 x 18", "stays": "6.5", "shank": "20"})
    walk.default_all()
    asked = ("spoil", "pin_height", "under")
    words = {each.key: each.told_words(walk.said) for each in QUESTIONS if each.key in asked}
    assert words["spoil"].startswith("How deep may cutters go into that sheet?")
    assert words["pin_height"] == "How high does a pin stand above that sheet?"
    assert words["under"].startswith("Does anything else lie between that sheet and")
    texts = texts_of(walk.said)
    assert "thickness: 24.5 " in texts["bed"] and "under: 0 " in texts["station"]
    assert "the top of a waste sheet, 6.5 mm thick" in " ".join(texts["bed"].split())


def test_back_goes_to_what_was_said_last(start: Start) -> None:
    """Called again, `back` goes to the answer given just before, not to one of last time that
    stands between; a word of one axis is not taken for the other."""
    first = [*[""] * 13, "80 90", "", "19.9", "", "", "", "", "", "", "C2", *[""] * 6]
    assert start(*first).code == 0
    said = ("", "0 to 1300", "0 to 900", "", "moves along x", "back", "the beam, along X", "quit")
    ran = start(*said)
    assert ran.code == 0, ran.out + ran.err
    assert ran.out.count("What moves over the bed, or is it the table?") == 2
    assert "stand at?" not in ran.out
    kept = answers_in(Path("shop") / ANSWERS_FILE)[0]
    assert kept["moves"] == "beam-x" and kept["operator"] == "front"


def test_another_side_asks_again_what_was_seen_from_there(start: Start) -> None:
    """Called again, whoever stands elsewhere now is asked anew where the work lies: `right and
    back` of before is not read as if it were said from there."""
    first = [*[""] * 13, "80 90", "", "19.9", "", "", "", "", "", "", "C2", "1", *[""] * 5]
    assert start(*first).code == 0
    kept = answers_in(Path("shop") / ANSWERS_FILE)[0]
    assert (kept["operator"], kept["toward"]) == ("front", "+x+y")
    ran = start("short", "back operator", "rear", "quit")
    assert ran.code == 0, ran.out + ran.err
    again = start("short", *[""] * 19)  # what was answered behind it is asked again
    told = " ".join(again.out.split())
    assert "Where does the work lie, seen from hole C2?" in told
    first_drawn, *_, last_drawn = drawn_in(again.out)
    assert (
        first_drawn[1] == last_drawn[1] == "X to the left, Y down; you stand here, at the "
        "machine's back"
    ), "as they see it who stand there now"
    assert "O" in last_drawn[0] and "O" not in first_drawn[0]
    walk = open_walk(Path("shop"), None, {"machine": "mill"})
    walk.next()
    walk.give(next(each for each in QUESTIONS if each.key == "operator"), "left")
    assert "toward" not in walk.given and walk.earlier["toward"] == "+x+y"
    assert walk.given["machine"] == "mill", "it is not asked for"


def test_what_is_left_for_later_is_taken_from_a_file(tmp_path: Path) -> None:
    """On the short way too an answer of those that are not asked counts."""
    walk = walked(tmp_path, **{**GOOD, "extent": "short", "nose": "64", "shank": "20"})
    walk.default_all()
    assert walk.said["nose"].mm == 64 and not walk.unused
    assert walk.said["travel_x"] is None and "travel_x" not in walk.said.texts


NEAR_AN_END = {**GOOD, "stock": "405 x 350 x 18", "corner": "B2", "shank": "20"}
"""Pins of 20 at 100 touch the long edge at 90, 190, 290, 390: the last one 15 from its end."""


@pytest.mark.parametrize(
    ("answer", "edge"), [("yes", "[C2, E2]"), ("no", None), ("C2 F2 B3", "[C2, F2]")]
)
def test_pins_near_an_end_are_asked_about(tmp_path: Path, answer: str, edge: str | None) -> None:
    """A yes takes pins that touch farther in, a no those that were chosen, three holes themselves;
    and the station's document says so."""
    walk = walked(tmp_path, **NEAR_AN_END)
    question = until(walk, "pins", toward="+x+y")
    words = question.told_words(walk.said)
    assert "pin F2 touches 15.0 mm from an end of its edge" in words
    assert [each.means[:13] for each in question.listed(walk.said)] == [
        "edge C2 E2 an",
        "edge C2 F2 an",
    ]
    walk.give(question, answer)
    walk.next()
    station = texts_of(walk.said)["station"]
    assert (f"edge: {edge}" in station) == (edge is not None), station
    if answer == "yes":  # taken at another corner, it is that corner's pins
        walk.back("corner")
        question = until(walk, "pins", corner="C3", toward="+x+y")
        assert walk.default(question) == "yes"
        walk.give(question, "yes")
        walk.next()
        assert "edge: [D3, F3]" in texts_of(walk.said)["station"]


def test_pins_that_touch_far_in_are_not_asked_about(tmp_path: Path) -> None:
    """430 long, the last pin touches 40 from the end: nobody is asked; a yes changes nothing."""
    walk = walked(tmp_path, **{**NEAR_AN_END, "stock": "430 x 350 x 18", "pins": "yes"})
    until(walk, "clamps", toward="+x+y")
    assert walk.said["pins"] is None
    assert "#pins" in texts_of(walk.said)["station"]


@pytest.mark.parametrize(
    ("zero", "x_mm", "y_mm"),
    [
        ("front left", 0, 0),
        ("middle", 100, 60),
        ("back right", 200, 120),
        ("10 5", 10, 5),
        ("front middle", 100, 0),
        ("middle of the left edge", 0, 60),
    ],
)
def test_bare_stock_has_its_zero_where_it_was_said(
    tmp_path: Path, zero: str, x_mm: float, y_mm: float
) -> None:
    """Program zero of a piece of 200 x 120 lies so far from where its corner does."""
    setups = []
    for at, where in enumerate(("front left", zero)):
        walk = walked(tmp_path / str(at), **GOOD, stock="200 x 120 x 18", zero=where)
        until(walk, "clamps")
        assert walk.drafted.setup is not None
        setups.append(walk.drafted.setup)
        texts = texts_of(walk.said)
        assert "jig" not in texts and walk.drafted.setup.facts.station.jig is None
        said = yaml.safe_load(texts["station"])["stations"][0]
        assert said.get("stock_zero", [0, 0]) == [x_mm * at, y_mm * at]
        assert ("stock_zero" in said) == bool((x_mm or y_mm) and at)
    before, after = (setup.zero_in_machine for setup in setups)
    assert (after.x_mm - before.x_mm, after.y_mm - before.y_mm) == pytest.approx((x_mm, y_mm))


def test_more_pieces_in_a_jig(tmp_path: Path) -> None:
    """Two pieces of 100 x 60 beside the first at 5 5: nests of the jig like it, with the zero in
    their middles, and the next work offsets that the controller has: behind G59 comes none but G54.
    """
    more = "5 x 75; x 115, y 5"
    jig = {"footprint": "220 x 140", "stock": "100 x 60 x 20", "lies": "5 5", "zero": "middle"}
    given = {**HIGH_JIG, **jig, "more": more, "work_offset": "G58", "shank": "9.9", "corner": "B2"}
    walk = walked(tmp_path, **{**given, "controller": "six"})
    walk.default_all()
    texts = texts_of(walk.said)
    nests = yaml.safe_load(texts["jig"])["jigs"][0]["nests"]
    assert [(each.pop("name"), each.pop("zero")) for each in nests] == [
        ("a", [55, 35]),
        ("b", [55, 105]),
        ("c", [165, 35]),
    ]
    assert nests[0] == nests[1] == nests[2] and nests[0]["stock"]["from"] == [-50, -30]
    codes = yaml.safe_load(texts["station"])["stations"][0]["work_offsets"]
    assert codes == {"a": "G58", "b": "G59", "c": "G54"}
    question = next(each for each in QUESTIONS if each.key == "work_offset")
    assert question.told_words(walk.said).endswith("The next ones are for the other pieces.")
    assert question.tells("G58", walk.said).endswith("; G59 for piece b; G54 for piece c")
    first, *others = (each.zero_in_machine for each in walk.drafted.setups)
    away = [(each.x_mm - first.x_mm, each.y_mm - first.y_mm) for each in others]
    turned = walk.said.with_answer("stock", "", [*map(walk.said["stock"].__getitem__, (1, 0, 2))])
    assert more_examples(turned)[0] == "75 x 5", "beside it, where 100 are too deep"
    assert away == [pytest.approx((0, 70)), pytest.approx((110, 0))]
    told = offsets_told(walk.drafted.setups).splitlines()
    assert [line.split(":")[0] for line in told[:3]] == ["first a", "first b", "first c"]
    assert len(set(told)) == len(told), "what holds for all of them stands there once"


@pytest.mark.parametrize(
    ("more", "asks", "told"),
    [
        ("5 x 60", False, "pieces a and b would lie over each other by 5 mm"),
        ("5 x 75; 50 x 75", False, "pieces b and c would lie over each other by 55 mm"),
        ("5 x 85", True, "piece b hangs over the jig, which is 220 x 140 mm"),
        ("yes", False, "for each piece how far it lies from the left and the front edge, or none"),
        ("5 x 75; 4 x 1 in", False, "a unit with each of them, or with none"),
    ],
)
def test_more_pieces_that_cannot_be(tmp_path: Path, more: str, asks: bool, told: str) -> None:
    """Over each other they are refused, over the jig's edge they are asked about."""
    jig = {"footprint": "220 x 140", "stock": "100 x 60 x 20", "lies": "5 5"}
    walk = walked(tmp_path, **HIGH_JIG, **jig)
    question = until(walk, "more")
    assert question.example(walk.said) == "5 x 75", "behind the first, where there is room"
    with pytest.raises(ValueError, match=re.escape(told)) as caught:
        walk.give(question, more)
    assert isinstance(caught.value, Asks) == asks


@pytest.mark.parametrize(("stays", "kind"), [("", "solid"), ("yes", "solid"), ("no", "clamp")])
def test_clamps_that_stay_on_the_jig(tmp_path: Path, stays: str, kind: str) -> None:
    """Clamps of a jig are part of it, if nobody says otherwise, called by its own edges and as high
    as above what it lies on: 60 above the bed is 54 above a sheet of 6. They stand at the same
    place and as high, whoever has them."""
    clamps = {"clamps": "2 left", "clamp_wide": "20", "clamp_out": "30", "clamp_over": "4"}
    jig = {"footprint": "200 x 140", "turn": "right", "posted": "yes", "under": "6", "more": "none"}
    given = {**HIGH_JIG, **jig, **clamps, "clamp_top": "60", "shank": "9.9", "corner": "D2"}
    walk = walked(tmp_path, **given, **({"clamps_stay": stays} if stays else {}))
    walk.default_all()
    texts = {word: yaml.safe_load(text) for word, text in texts_of(walk.said).items()}
    solids = texts["jig"]["jigs"][0].get("solids", [])
    clamps_of = texts["station"]["stations"][0].get("clamps", [])
    assert [(each["name"], each["top"]) for each in solids + clamps_of] == (
        [("left 1", 60), ("left 2", 60)]
        if kind == "clamp"
        else [("clamp back 1", 54), ("clamp back 2", 54)]
    )
    assert bool(clamps_of) == (kind == "clamp")
    assert walk.drafted.setup is not None
    standing = standing_up(walk.drafted.setup)
    assert [(each.kind, each.top_mm) for each in standing] == [(kind, 60)] * 2
    (x, y), _ = (bounds(each.outline).middle for each in standing)
    # D2 is at 75, 25; pins 4.9 thick to one side; 30 out and 4 in; a quarter of 200 along the edge
    assert (x, y) == pytest.approx((75 + 4.9 - 13, 25 + 4.9 + 50))


def test_a_jig_is_not_lower_than_its_seat(tmp_path: Path) -> None:
    """The tallest point is offered as the seat, and a lower one is refused."""
    walk = walked(tmp_path, **HIGH_JIG)
    question = until(walk, "height", seat="18")
    assert walk.default(question) == "18"
    with pytest.raises(ValueError, match="not below the seat, 18 mm"):
        walk.give(question, "12")


def test_an_answer_that_was_asked_about_is_no_default_later(tmp_path: Path) -> None:
    """Enter and `yes` take it at once; behind an answer in vain, or the way back, the default is as
    before, and it is not on file."""
    walk = walked(tmp_path, **GOOD)
    question = until(walk, "spoil", size="900 x 600 x 12")
    for agreed in ("20 mm", "yes"):
        walk.back("spoil")
        with pytest.raises(Asks, match="a cut into the board of 7 mm") as asks:
            walk.give(question, "7")
        assert asks.value.offers == walk.default(question) == "7"
        walk.give(question, walk.default(question) if agreed == "20 mm" else agreed)  # type: ignore[arg-type]
        assert walk.given["spoil"] == "7"
    walk.back("spoil")
    with pytest.raises(ValueError, match="goes through the board, which is 12 mm thick"):
        walk.give(question, "20")
    with pytest.raises(ValueError, match="expected"):
        walk.give(question, "hm, well, banana")
    assert walk.default(question) == "7", "what was answered before"
    with pytest.raises(Asks):
        walk.give(question, "8")
    walk.back("edge")
    walk.keep()
    assert "spoil: 8" not in walk.file.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("turn", "toward"),
    [("to you", "+x+y"), ("right", "+x+y"), ("away", "-x+y"), ("left", "+x-y")],
)
def test_edges_against_pins_are_those_that_are_located(
    tmp_path: Path, turn: str, toward: str
) -> None:
    """A clamp is told to press nothing on just those edges that the station's pins touch."""
    at = {**HIGH_JIG, "turn": turn, "posted": "yes", "corner": "E3", "toward": toward}
    walk = walked(tmp_path, **at)
    until(walk, "clamps", footprint="50 x 40", stock="20 x 20 x 18")
    assert walk.drafted.setup is not None
    located = walk.drafted.setup.located
    assert against_pins(walk.said) == {located.edge_side, located.stop_side}


def test_a_height_is_no_thickness(tmp_path: Path) -> None:
    """A pin far thicker where the work touches it than in its hole is asked about."""
    walk = walked(tmp_path, **GOOD)
    question = until(walk, "body", shank="9.97")
    with pytest.raises(Asks, match="its thickness, and not its height"):
        walk.give(question, "14 above")


def test_g54_at_a_mark(tmp_path: Path) -> None:
    """Set elsewhere than over a hole, A1 is asked from there, and the bed's document says so; the
    samples of blocks show what is keyed in where no block can count from it."""
    answers = {**{key: text for key, text in GOOD.items() if key != "a1"}, "homes": "no"}
    walk = walked(tmp_path, **answers, reference="mark")
    question = until(walk, "a1")
    (keyed,) = (each.lines for each in walk.blocks() if each.dialect == "six")
    assert keyed[0].startswith("G55: X = G54 X + "), keyed
    walk.give(question, "12 9")
    walk.next()
    assert walk.heard == "A1 at X 12, Y 9 mm from the mark where G54 is zero"
    bed = texts_of(walk.said)["bed"]
    assert "G54 is set to zero at a mark; hole A1 is at X 12, Y 9 mm from there" in bed


def test_where_a_turned_piece_lies(tmp_path: Path) -> None:
    """A piece of 28.5 x 16 in a jig turned by a quarter: its X runs along the machine's Y, so X is
    -16 to 0 and Y 0 to 28.5; a program that is not turned has no block, and both ways out."""
    walk = walked(tmp_path, **HIGH_JIG)
    question = until(walk, "posted", turn="right", stock="28.5 x 16 x 5", footprint="150 x 90")
    words = question.told_words(walk.said)
    assert "the piece lies at X -16 to 0, Y 0 to 28.5 mm from the zero" in words
    assert "unturned, at X 0 to 28.5, Y 0 to 16 mm" in words
    with pytest.raises(
        Asks, match="in CAM by 90 degrees counter-clockwise and say yes; or lay the jig unturned"
    ):
        walk.give(question, "no")


def test_a_sheet_without_a_block_is_not_to_be_printed(
    tmp_path: Path, run: Run, monkeypatch: Any
) -> None:
    """Where there is no block the end says so, with whole quarter turns and the jig unturned as
    ways out, though the grid itself lies a little turned."""
    monkeypatch.chdir(tmp_path)
    answers = {
        **HIGH_JIG,
        "shank": "10",
        "far": "305 90.05",
        "turn": "right",
        "posted": "no",
        "corner": "E4",
    }
    given = [word for key, text in answers.items() for word in ("--answer", f"{key}={text}")]
    ran = run("start", "shop", "--yes", *given)
    assert ran.code == 0, ran.err
    out = " ".join(ran.out.split())
    assert "NO BLOCK: " in out and "open it in a browser and print" not in out
    assert "pincorner block" not in out
    assert "turned by 90 degrees counter-clockwise and say program_angle: 90;" in out
    assert "pincorner register first --turn 0" in out
    assert "pincorner register NAME --like first --corner HOLE another station like it" in out


@pytest.mark.parametrize("side", ["front", "back", "left", "right"])
def test_the_side_is_told_by_what_moves(side: str) -> None:
    """X plus and Y plus are read off the cutter over the board; a table goes the other way."""
    operator = next(question for question in QUESTIONS if question.key == "operator")
    keys = [question.key for question in QUESTIONS]
    assert keys.index("moves") < keys.index("operator")
    cutter = "away from you" if side in ("front", "left") else "toward you"
    table = "toward you" if side in ("front", "left") else "away from you"
    told = operator.tells(side, Said().with_answer("moves", "bed", "bed"))
    low = {"front": "lowest Y", "back": "highest Y", "left": "lowest X", "right": "highest X"}[side]
    axis, end = low.split()[::-1]
    assert told.startswith(f"{side}, where {axis} is {end}. Jog {axis} plus to see it"), told
    assert f"the cutter goes {cutter}" in told and table in told.split("table", 1)[1], told
    assert "at Y plus it comes toward you if you stand at the front" in operator.help
    of_table = {"Y": ("bed-y", "bed-xy"), "X": ("bed-x", "bed-xy")}[axis]
    for moves in ("bed-y", "bed-x", "bed-xy"):
        told = operator.tells(side, Said().with_answer("moves", moves, moves))
        is_table = moves in of_table
        assert f"the table {'comes' if table == 'toward you' else 'goes'} {table}" in told or (
            not is_table
        )
        assert (f"the cutter goes {cutter}" in told) is not is_table, (moves, told)


@pytest.mark.parametrize(
    ("moves", "beam", "told"),
    [
        ("table along y", "x", "along Y alone, against the arrow: for Y+ it goes to your left."),
        ("table along x", "y", "along X alone, against the arrow: for X+ it goes away from you."),
        ("table along both", "none", "for Y+ it goes to your left, for X+ away from you."),
    ],
)  # fmt: skip
def test_a_table_moves_along_the_axis_that_was_said(
    tmp_path: Path, moves: str, beam: str, told: str
) -> None:
    """A table along one axis and the spindle along the other: in the document, and in the words of
    who stands at the right. Of `the table` alone the axis is asked about."""
    walk = walked(tmp_path, **GOOD, moves=moves, operator="right", shank="19.9")
    walk.default_all()
    assert walk.drafted.setup is not None and bed_moves_told(walk.drafted.setup).endswith(told)
    text = texts_of(walk.said)["machine"]
    assert "    bed_moves: true" in text and f"    beam: {beam}" in text
    question = next(each for each in QUESTIONS if each.key == "moves")
    with pytest.raises(Asks, match="whether the table moves along Y, along X or both is not said"):
        question.must_be_sure(question.answer("the table", walk.said), walk.said)


@pytest.mark.parametrize("homes", ["yes", "no"])
@pytest.mark.parametrize("controller", DIALECTS)
def test_who_writes_the_offset(tmp_path: Path, controller: str, homes: str) -> None:
    """`which you key in` is said where the sheet has figures to key in: also where the offsets are
    sums with the G54 of the day that this controller does not reckon."""
    answers = {**GOOD, "controller": controller, "homes": homes, "work_offset": "G56"}
    walk = walked(tmp_path, **answers, shank="19.9")
    walk.default_all()
    assert walk.drafted.setup is not None
    words = walk.drafted.setup.printed.words
    by_hand = any(word.by_hand for word in words if word.axis in "XY")
    question = next(each for each in QUESTIONS if each.key == "work_offset")
    told = question.tells("G56", walk.said)
    assert told == f"G56, which {'you key in' if by_hand else 'the block writes'}"


@pytest.mark.parametrize("answer", ["zero=4", "missing=A1", "corner=A1"])
def test_answers_in_advance_to_what_comes_much_later(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, answer: str
) -> None:
    """The bed is drawn with what can be said of it yet."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "stdin", io.StringIO("short\nquit\n"))
    ran = run("start", "shop", "--answer", answer)
    assert ran.code == 0 and ran.err == "" and "What was answered is kept" in ran.out
