"""What people type at the questions of `start`: read, asked about in part, or refused.

The sentences are common practice at a machine, no source; what each must be read as is by hand.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest

from pincorner.cli.first_commands import lines_of
from pincorner.geometry.pose import turned_by_quarters
from pincorner.render.text.guide import page
from pincorner.units import MM_PER_INCH as INCH
from pincorner.units import parse_length, told_size
from pincorner.work.first.asked.bed import Far, a1_place, angle_of, far_hole
from pincorner.work.first.asked.clamped import clamp_boxes
from pincorner.work.first.asked.piece import front_points, lies_doubts, person_of, turn_of
from pincorner.work.first.asked.question import Question
from pincorner.work.first.asked.typed import NOT_KNOWN, Amount, Asks, Said
from pincorner.work.first.drafting import draft, filled
from pincorner.work.first.questions import QUESTIONS
from pincorner.work.loading import shipped_dialects

BY_KEY = {question.key: question for question in QUESTIONS}
SHOP = {
    "homes": "yes", "controller": "six", "moves": "across", "pitch": "4 in", "holes": "11 x 23",
    "size": "48 x 96 in", "edge": "4 in, 4 in", "a1": "4 in, 4.125 in", "hole": "3/4 in",
    "far": NOT_KNOWN, "holder": "jig", "footprint": "24 x 15 in", "seat": "3/4 in",
    "turn": "to you", "stock": "22 x 13 x 3/4 in", "lies": "1 in, 1 in", "zero": "front left",
    "corner": "A1", "clamps": "2 far, 1 left", "clamp_over": "10",
}  # fmt: skip
"""Answers that stand before the one that is read."""


@cache
def said_before(key: str, unit: str = "mm", operator: str = "front", **more: str) -> Said:
    """What was said in such a shop before a question."""
    said = Said()
    answers = {**SHOP, "units": unit, "operator": operator, **more}
    if operator != "front":
        answers.setdefault("turn", "right")
    for question in QUESTIONS:
        if question.key == key:
            return said
        if question.key in answers and question.asked(said):
            found = question.answer(answers[question.key], said)
            said = said.with_answer(question.key, found.kept, found.value)
    raise AssertionError(f"there is no question {key}")


def plain(value: Any) -> Any:
    """A value as the tables state it: lengths in mm."""
    if isinstance(value, Amount):
        return pytest.approx(value.mm, abs=1e-9)
    if isinstance(value, Far):
        return value.hole, *map(plain, value.at)
    if isinstance(value, tuple):
        return tuple(map(plain, value))
    return [plain(each) for each in value] if isinstance(value, list) else value


def outcome(key: str, text: str, said: Said) -> Any:
    """What becomes of an answer: `taken` with its value, `asked` with the value that Enter takes
    and the words that are told as unread, `refused`."""
    question = BY_KEY[key]
    try:
        found = question.answer(text, said)
    except ValueError:
        return "refused"
    again = question.answer(found.kept, said)
    assert plain(again.value) == plain(found.value) and not again.rest, (text, found.kept)
    if found.rest:
        with pytest.raises(Asks) as asks:
            question.must_be_sure(found, said)
        assert asks.value.offers == found.kept
        return ("asked", *found.rest, plain(found.value))
    return ("taken", plain(found.value))


TAKEN: dict[tuple[str, str], dict[tuple[str, ...], Any]] = {
    ("units", "mm"): {
        ("mm", "1", "metric", "MM please", "millimetres", "it is mm"): "mm",
        ("in", "2", "inches", "Inches.", '"', "imperial", "we measure in inches"): "in",
    },
    ("homes", "mm"): {
        ("y", "yes", "Yes.", "it homes, yes"): "yes",
        ("n", "no", "2", "no, no switches"): "no",
    },
    ("extent", "mm"): {("1", "short", "the short one", "the short way"): "short"},
    ("travel_x", "mm"): {
        ("0 to 600", "0..600", "X 0 to 600", "600", "0-600", "0 - 600", "from 0 to 600 mm",
         "0, 600", "600 to 0", "60 cm", "0.6 m"): [0, 600],
        ("-600 to 0", "-600 - 0", "-600"): [-600, 0],
        ("0 to 48 in", '0 to 48"', "4 ft"): [0, 48 * INCH],
    },
    ("moves", "mm"): {
        ("1", "beam-x", "the beam, along X", "a beam that lies along X", "it moves along Y",
         "gantry along x, moves along y", "a beam across"): "beam-x",
        ("2", "the beam, along Y", "it moves along X", "beam y"): "beam-y",
        ("3", "the table, along Y", "table moves in y, the spindle along x", "the bed along y",
         "bed-y"): "bed-y",
        ("4", "the table goes along X", "spindle moves along Y, table along X"): "bed-x",
        ("5", "the table along both", "table along x and y"): "bed-xy",
        ("6", "an arm"): "arm",
    },
    ("hole_position", "mm"): {
        ("1", "machine", "this router", "the router"): 0.1,
        ("2", "hand", "by hand", "hand drill through a template", "drilled by hand"): 0.3,
        ("a hand drill", "hand drill with a drilling jig", "cordless drill", "hand drilled"): 0.3,
        ("hand drill without a template", "hand drill, no jig", "hand drill and a fence"): 0.3,
        ("CNC", "a CNC mill", "drilled on the router", "bored by the CNC"): 0.1,
        ("3", "bored to a drawing", "jig bored", "bored", "reamed", "bored and reamed"): 0.02,
        ("4", "a machinist", "a mill with a read-out", "a machinist on a CNC mill"): 0.05,
        ("drilled on a mill", "a machinist, jig and drill"): 0.05,
        ("5", "drill press with a fence", "on a drill press", "drill press"): 0.2,
        ("drill press through a template", "pillar drill with a jig", "drilled with a fence",
         "drilled by hand on a drill press", "drill press, drilled and reamed"): 0.2,
        ("0.05", "within 0.05", "0.05 mm", "+-0.05", "\N{PLUS-MINUS SIGN}0.05", "50 microns"): 0.05,
        ("not known",): None,
    },
    ("hole_position", "in"): {("1", "machine"): 0.004 * INCH, ("0.002",): 0.002 * INCH},
    ("fixed", "mm"): {
        ("none", "no"): [],
        ("fence: X -40 to 900, Y -50 to -20, 30 high", "fence: 900 -40 -50 -20 30",
         "fence: y -20 to -50, x 900 to -40, 30 mm tall"): [
            ("fence", (-40.0, 900.0), (-50.0, -20.0), 30.0)
        ],
        ("vice: 0 9 0 9 5; back stop: X 0 to 1 in, Y 2 in to 3 in, 1/2 in high",): [
            ("vice", (0.0, 9.0), (0.0, 9.0), 5.0),
            ("back stop", (0.0, INCH), (2 * INCH, 3 * INCH), INCH / 2),
        ],
        ("not known",): None,
    },
    ("names", "mm"): {("mill, pallet, dowel", "mill ,pallet,  dowel"): ["mill", "pallet", "dowel"]},
    ("operator", "mm"): {("front", "1", "I stand at the front", "fr"): "front", ("rear",): "back"},
    ("controller", "mm"): {
        ("3", "six", "plain numbers", "plain numbers, no sums"): "six",
        ("5", "keyed", "no block, typed on a panel"): "keyed", ("1", "it takes sums"): "rs274",
    },
    ("carriage", "mm"): {
        ("95 95 70 110", "95, 95, 70, 110", "left 95, right 95, front 70, back 110",
         "95 left 95 right 70 front 110 back", "front 70, back 110, left 95, right 95"):
            [95, 95, 70, 110],
        ("120", "120 each way"): [120, 120, 120, 120],
        ("95 70 110", "95 to either side, 70 in front, 110 back", "front 70, back 110, sides 95",
         "95 to each side, 70 to the front, 110 back"): [95, 95, 70, 110],
    },
    ("size", "in"): {
        ("48 x 96", "48x96", '48" x 96"', "4 x 8 ft", "4' x 8'", "X 48 Y 96", "Y 96, X 48",
         "48 by 96 inches", "48 along x and 96 along y", "48 96"): [48 * INCH, 96 * INCH],
        ("48 x 96 x 3/4", "48 x 96, 3/4 thick", "48, 96, 3/4", "4 x 8 foot x 3/4",
         "4 x 8 ft x 3/4 in", "4 ft x 8 ft x 3/4"): [48 * INCH, 96 * INCH, 0.75 * INCH],
        ("48 x 96 3/4",): [48 * INCH, 96.75 * INCH],
    },
    ("pitch", "mm"): {
        ("100", "100 mm apart", "10 cm", "about 100", "100 middle to middle"): [100, 100],
        ("96 x 100", "X 96 Y 100", "96 100"): [96, 100],
        ("82,5", "82.5"): [82.5, 82.5],
    },
    ("holes", "mm"): {
        ("12 x 7", "12x7", "12 by 7", "12 7", "12 along X and 7 along Y", "7 along y, 12 along x",
         "12 columns, 7 rows", "12 holes across and 7 deep", "X 12 Y 7", "7 rows of 12",
         "7 deep and 12 across", "12 across and 7 back", "12 left to right, 7 front to back",
         "rows 7, columns 12"):
            [12, 7],
    },
    ("hole", "in"): {
        ("3/4", "0.75", ".75", '3/4"', "3/4 in", "3/4 wide", "0.75 inches"): 0.75 * INCH,
        ("1 1/4", "1-1/4", "1\N{VULGAR FRACTION ONE QUARTER}", "1 1/4 in"): 1.25 * INCH,
        ("20 mm", "20mm", "2 cm"): 20,
    },
    ("missing", "in"): {("A1 H5", "a1, h5", "A1 and H5"): ["A1", "H5"], ("none", "no holes"): []},
    ("edge", "mm"): {
        ("50 60", "50 x 60", "50 from the left and 60 from the front", "left 50, front 60",
         "60 from the front, 50 from the left", "60 from the front, 50"):
            [50, 60],
    },
    ("a1", "mm"): {
        ("80 90", "X 80 Y 90", "x80 y90", "Y 90 X 80", "X80.0, Y90.0", "80, 90",
         "it reads X 80 Y 90", "X=80 Y=90"): [80, 90],
        ("-80 -90", "X -80 Y -90", "\N{MINUS SIGN}80 \N{MINUS SIGN}90"): [-80, -90],
    },
    ("corner", "mm"): {
        ("B3", "b3", "hole B3", "2 3", "2, 3", "column B, row 3", "B 3", "row 3, column B", "B, 3",
         "B-3", "col B row 3", "second from the left, third from the front",
         "third from the front, second from the left", "row 3, column 2", "second across, third up",
         "2nd from left and 3rd from front"): "B3",
    },
    ("spoil", "mm"): {("0", "never", "not at all", "none"): 0, ("0.5",): 0.5},
    ("more", "mm"): {
        ("none", "no", "no more", "0", "none."): [],
        ("20 x 400; 20 x 800", "20, 400; 20, 800;", "400 from the front, 20 from the left; 20 800",
         "2 cm x 40 cm; 20 mm x 800 mm"): [[20, 400], [20, 800]],
        ("0 x 400", "0 400", "left 0, front 400"): [[0, 400]],
    },
    ("run_off", "mm"): {("0", "never", "none"): 0, ("8", "8 mm"): 8, ("not known",): None},
    ("clamps_left", "mm"): {("in the middle", "190.5", "the middle"): [190.5]},
    ("toward", "mm"): {
        ("1", "right and back", "right, back", "back right", "right and away", "+x+y", "+x +y",
         "to the right of and behind that hole", "back and to the right",
         "higher X and higher Y"):
            "+x+y",
        ("4", "left and front", "left and to me", "-x-y"): "-x-y",
    },
    ("turn", "mm"): {("to you", "1", "to me", "toward me"): "to you",
                     ("left", "4", "to the left", "to my left"): "left"},
    ("stock", "mm"): {
        ("400 x 250 x 18", "400x250x18", "400 250 18", "400 x 250, 18 thick", "18 thick, 400 x 250",
         "250 deep, 400 wide, 18 thick", "Y 250 X 400 Z 18"): [400, 250, 18],
        ("15 3/4 x 9 x 3/4 in",): [15.75 * INCH, 9 * INCH, 0.75 * INCH],
    },
    ("zero", "mm"): {
        ("front left", "1", "left front", "the front left corner", "0 0"): [0, 0],
        ("middle", "5", "centre", "in the middle of the piece"): [11 * INCH, 6.5 * INCH],
        ("10 5", "X 10 Y 5", "10 x 5"): [10, 5], ("back right",): [22 * INCH, 13 * INCH],
        ("-10 -5",): [-10, -5],
    },
    ("clamps", "mm"): {
        ("2 back, 1 left", "left, 2 back", "two back one left", "left 2 back", 
         "2 on the far edge, 1 left",
         "2 clamps on the back edge and one on the left edge"): {"left": 1, "back": 2},
        ("none", "no", "no clamps", "0"): {},
    },
    ("clamp_over", "mm"): {("10", "10 in over the jig", "10 over the jig"): 10},
    ("clamps_back", "mm"): {("100 and 500", "500, 100", "100 500"): [100, 500]},
    ("work_offset", "mm"): {("G55", "g55", "55", "G 55"): "G55", ("G54.1 P3",): "G54.1 P3"},
    ("z_zero", "mm"): {("1", "top", "stock-top", "top of the piece"): "stock-top",
                       ("bed", "3", "the surface of the bed", "the plate",
                        "table top", "top of the bed"): "surface"},
    ("paper", "mm"): {("a4", "A4 paper"): "a4", ("letter", "us letter"): "letter"},
    ("nose", "mm"): {("not known", "I don't know", "later", "no idea", "skip"): None},
}  # fmt: skip

ASKED: dict[tuple[str, str], tuple[Any, ...]] = {
    ("homes", "yes, at the front left"): (["front left"], "yes"),
    ("homes", "no, no switches, with a v-bit"): (["v-bit"], "no"),
    ("size", "900 x 600 birch ply"): (["birch ply"], [900, 600]),
    ("hole", "8 H7"): (["h7"], 8),
    ("pin_height", "20 above the board"): (["board"], 20),
    ("clamp_top", "60 above the plate"): (["plate"], 60),
    ("holder", "jig with a pocket"): (["pocket"], "jig"),
    ("clamps", "2 back at the ends"): (["ends"], {"back": 2}),
    ("z_zero", "top of the blank"): (["blank"], "stock-top"),
    ("work_offset", "G55 or so"): (["or so"], "G55"),
}  # fmt: skip


@pytest.mark.parametrize(
    "text", ["a drill", "drilled", "through a template", "drilling jig", "drilled and reamed"]
)
def test_a_drill_that_is_not_said_to_be_held_or_not_is_asked_about(text: str) -> None:
    """Enter takes the wider of the two spreads."""
    with pytest.raises(Asks, match="hand or press") as asks:
        BY_KEY["hole_position"].answer(text, said_before("hole_position"))
    assert asks.value.offers == "hand"


REFUSED = {
    "units": ("yes", "mm or in", "not mm", "3", "cm"),
    "homes": ("perhaps", "yes and no", "yes, but not in Z"),
    "travel_x": ("wide", "0 to 600 to 700", "5 to 5", "Z 0 to 600"),
    "moves": ("it moves across, the bed is still", "7", "the gantry", "along", "not the table"),
    "names": ("mill", "mill, pallet", "a, b, c, d", "mill, pallet, a/b", ", ,"),
    "operator": ("front left", "not the front", "0", "5"),
    "controller": ("6", "no sums", "it takes sums, and R", "some maths"),
    "carriage": (
        "95 70",
        "Y 5 5 6 6",
        "left 5, left 5, front 6, back 6",
    ),
    "size": (
        "48",
        "48 x",
        "1 x 2 x 3 x 4",
        "wide",
        "1,250 x 800",
        "900 x 600 apiece 3 7",
        "48 96 3/4",
        "900 x 600, long side along y",
        "900 thick x 600",
    ),
    "pitch": ("wide open", "4 by 4 by 4", "0", "40000", "four"),
    "holes": ("12", "12 x", "12.5 x 7", "12 mm x 7", "0 x 7", "600 x 2", "a dozen by seven"),
    "hole": ("wide", "not known", "8 9", "-8", "8 for pins of 7.9", "half an inch", "not 8"),
    "edge": ("50 from the right, 60 from the front", "50 left, 60 left", "50 back 60"),
    "lies": ("30 from the left, 35 from the back", "30 x 35 from the right"),
    "more": ("yes", "two", "20", "20 x 400 x 800", "30 x 400 from the right", "20 400; ; 7", "0 0"),
    "fixed": (
        "a fence",
        "fence: 0 to 9",
        "fence: X 0 to 9, Y 0 to 9",
        "a/b: 0 9 0 9 5",
        "fence: X 0 to 9, Y 4 to 4, 5 high",
        "fence 0 9 0 9 5",
        "a: 0 9 0 9 5; A: 0 9 0 9 5",
        "fence: 0 to X 9, 0 to Y 9, 5 high",
        "fence: 0 to 9, 0 to 9, 5 high, not there",
    ),
    "missing": ("Z99", "the first", "12"),
    "a1": ("80", "80 90 100", "over the hole", "not known", "80 90, at the back right"),
    "corner": (
        "second from the right, third from the front",
        "third row",
        "Z99",
        "G55",
        "front left",
        "third across",
        "A1 B2",
        "0 3",
        "40 40",
    ),
    "hole_position": (
        "somebody",
        "0.1 0.2",
        "not by hand",
        "30",
        "router, then a drill press",
        "no drill press",
    ),
    "toward": ("right", "left and right", "up", "right and left and back", "+x"),
    "turn": ("90", "turned", "left right"),
    "posted": ("perhaps",),
    "zero": ("top", "front", "10", "left"),
    "stock": ("400 x 250", "400", "1 x 2 x 3 x 4"),
    "clamps": ("right 60", "2 in all", "one at the side", "3 back 2 back", "some"),
    "clamps_back": ("100", "1 2 3", "-5 100", "100 5000"),
    "clamp_top": ("10", "high"),
    "work_offset": ("G12", "offset"),
    "bed": ("a/b", ""),
    "paper": ("a5",),
}


@pytest.mark.parametrize(("key", "unit"), TAKEN)
def test_what_is_taken(key: str, unit: str) -> None:
    """An answer of the form that is asked for is read as it is meant, and kept so that it reads the
    same."""
    said = said_before(key, unit)
    wrong = [
        (text, found) for texts, meant in TAKEN[key, unit].items() for text in texts
        if (found := outcome(key, text, said)) != ("taken", meant)
    ]  # fmt: skip
    assert wrong == []


@pytest.mark.parametrize(("key", "text"), ASKED)
def test_what_is_read_in_part_is_asked_about(key: str, text: str) -> None:
    """Words that may carry something are told as unread, and not taken until it is said again."""
    rest, value = ASKED[key, text]
    assert outcome(key, text, said_before(key)) == ("asked", *rest, value)


@pytest.mark.parametrize("key", REFUSED)
def test_what_is_refused(key: str) -> None:
    """Another form than is asked for is refused, with one that is taken."""
    more = {"turn": "right"} if key == "posted" else {}
    said = said_before(key, **more)
    for text in REFUSED[key]:
        with pytest.raises(ValueError, match=r".") as caught:
            raise AssertionError(text, BY_KEY[key].answer(text, said))
        assert "{" not in str(caught.value)


def test_a_word_beside_a_length_puts_it_in_its_place_or_stops_it() -> None:
    """Two lengths whose sides or axes are said the other way round than asked are put in order or
    refused: they are never taken, or offered, in the order in which they stand."""
    for question in QUESTIONS:
        said = said_before(question.key)
        if not question.asked(said) or question.key.startswith(("clamps_", "travel_")):
            continue  # places along an edge and ends are put in their order anyway
        for one, other in (("left", "front"), ("x", "y"), ("across", "deep"), ("column", "row")):
            for text in (f"20 {other} 30 {one}", f"{other} 20 {one} 30"):
                try:
                    found = question.answer(text, said)
                except ValueError:
                    continue
                lengths = found.value if isinstance(found.value, list) else []
                assert [plain(each) for each in lengths][:2] != [20, 30], (question.key, text)


STRAYS = ("{}, 7.31", "{} 7.31", "7.31, {}", "{}, and the other 7.31", "{}, not seven point three")


def test_nothing_that_was_said_is_lost_without_a_word() -> None:
    """A good answer with a number, or a not, that belongs to nothing is asked about or refused, or
    the number is in what was read."""
    rows = [(key, unit, text) for (key, unit), rows in TAKEN.items() for ts in rows for text in ts]
    lost = []
    for number, (key, unit, text) in enumerate(rows):
        stray, said = STRAYS[number % len(STRAYS)].format(text), said_before(key, unit)
        try:
            found = BY_KEY[key].answer(stray, said)
        except ValueError:
            continue
        if not found.rest and not any(each in found.kept for each in ("7.31", "73.1", "87.72")):
            lost.append((key, stray, found))
    assert lost == []


def printed(question: Question, said: Said) -> Iterator[str]:
    """All that a question and its `?` print as an answer: examples, the default, what is listed."""
    yield from question.told_examples(said)
    if default := question.default(said):
        yield from (default, question.shown(default, said))
    for number, option in enumerate(question.listed(said), 1):
        shown = question.shown(option.word, said)
        yield from (option.word, f"{number}", shown, f"{number} {option.word}")


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize(
    "more", [{}, {"homes": "no", "reference": "mark", "operator": "left", "holder": "stock"}]
)
def test_what_a_question_prints_is_an_answer_to_it(unit: str, more: dict[str, str]) -> None:
    """Every example, default and listed answer of a question passes typed back, with nothing left
    unread; a question takes four lines of 80 at most, and speaks of the shop's unit alone."""
    for question in QUESTIONS:
        said = said_before(question.key, unit, **more)
        if not (question.asked(said) or question.key in ("reference", "max_skew", "posted")):
            continue
        shown = lines_of(question, said)
        assert len(shown) <= 5 and max(map(len, shown)) <= 80, (question.key, shown)
        texts = list(printed(question, said))
        assert texts or question.key == "posted", question.key
        for text in texts:
            found = question.answer(text, said)
            assert not found.rest, (question.key, text, found)
        told = " ".join((*shown, question.told_help(said)))
        assert "|" not in told and "{" not in told, told
        assert (
            unit == "mm"
            or question.key in ("units", "controller_units", "max_skew")
            or (" mm" not in told)
        ), told


def test_a_figure_of_common_practice_is_told_as_such() -> None:
    """Who made the holes stands for a figure that nobody measured; a length is somebody's own."""
    said, question = said_before("hole_position"), BY_KEY["hole_position"]
    for text, figure in (("a drill press with a fence", "0.2 mm"), ("0.07", "0.07 mm")):
        told = question.heard(question.answer(text, said), said)
        assert told.startswith(f"two in three within {figure}, nearly all within")
        assert ("common practice" in told) == (figure == "0.2 mm")


def test_refusals_have_an_example_in_the_unit_of_the_shop() -> None:
    """What cannot be read is refused with an example of that question in the shop's unit."""
    for question in QUESTIONS:
        said = said_before(question.key, "in")
        if not question.asked(said) or question.key in ("machine", "bed", "pin", "jig", "station"):
            continue
        with pytest.raises(ValueError, match=r"such as|from 1 to|expected") as caught:
            question.answer("?!", said)
        assert " mm" not in str(caught.value) or "units" in question.key


def test_lengths_are_kept_as_documents_read_them() -> None:
    """What is kept of a length reads in a document of the shop's unit as the same length."""
    for (key, unit), rows in TAKEN.items():
        for text in (text for texts in rows for text in texts):
            value = BY_KEY[key].answer(text, said_before(key, unit)).value
            for each in value if isinstance(value, list) else [value]:
                if isinstance(each, Amount):
                    read = parse_length(each.written, "in" if unit == "in" else "mm")
                    assert read == pytest.approx(each.mm, abs=1e-6), text


@pytest.mark.parametrize("side", ["left", "back", "right"])
def test_whoever_stands_at_another_side(side: str) -> None:
    """Words of direction are theirs: what is listed first, right and away, lies right and away as
    they see it; front and back, which are the machine's sides, are no answer."""
    quarters = {"left": 1, "back": 2, "right": 3}[side]
    said = said_before("toward", operator=side)
    seen = {"right and away": (1, 1), "left and away": (-1, 1), "left and to you": (-1, -1)}
    for words, vector in seen.items():
        x, y = turned_by_quarters(vector, -quarters)
        quadrant = f"{'+' if x > 0 else '-'}x{'+' if y > 0 else '-'}y"
        assert outcome("toward", words, said) == ("taken", quadrant)
    assert outcome("toward", "right and back", said) == "refused"
    for way in ("to you", "right", "away", "left"):
        turn = turn_of(said_before("stock", operator=side, turn=way))
        assert front_points(turn, said) == way


@pytest.mark.parametrize("first", ["A1", "A23", "K1"])
def test_g54_over_another_hole(first: str) -> None:
    """G54 may be set over any hole: the grid turns about that one, and A1 is counted from it. By
    hand: a grid of 11 x 23 holes 100 apart that leans by 0.1 degrees, 0.0017453 rad."""
    lean = 0.0017453292519943296
    at = {"A1": (0, 0), "A23": (0, 2200), "K1": (1000, 0)}
    second = {"A1": "A23", "A23": "A1", "K1": "K23"}[first]
    dx, dy = 0 if second[0] == first[0] else -1000, 2200 if second.endswith("23") else -2200
    read = f"{second} {dx - dy * lean:.6f} {dy + dx * lean:.6f}"
    more = {"homes": "no", "reference": first, "pitch": "100", "size": NOT_KNOWN, "far": read}
    said = said_before("shank", "mm", **more)
    assert angle_of(said) == pytest.approx(0.1, abs=1e-4)
    x, y = at[first]
    assert a1_place(said, angle_of(said)) == pytest.approx((-x + y * lean, -y - x * lean), abs=0.01)


def test_the_second_hole_can_be_reached() -> None:
    """The hole that is proposed lies in the row or column of the first one, within the travel."""
    more = {"pitch": "25", "holes": "17 x 7", "a1": "11.5 18", "size": NOT_KNOWN}
    said = said_before("far", "mm", travel_x="0 to 370", **more)
    assert far_hole(said) == "O1", "at 11.5 + 14 * 25 = 361.5; P1 at 386.5 is beyond 370"
    said = said_before("far", "mm", homes="no", reference="A7", **more)
    assert far_hole(said) == "Q7"


def test_the_picture_of_the_four_turns() -> None:
    """In the guide's picture corner and front edge stand where a turn by quarters puts them."""
    text = page("first").split("```text\n")[1].split("```")[0].splitlines()
    said = said_before("turn")
    for number, turn in enumerate((0, 90, 180, 270)):
        column = [line[number * 18 :][:18].strip() for line in text]
        assert column[0] == front_points(turn, said) and column[-1] == f"turn {turn}"
        rows = column[2:-1]
        marks = {(x, -y): mark for y, row in enumerate(rows) for x, mark in enumerate(row)}
        corners = [at for at, mark in marks.items() if mark in "+z"]
        middle = [sum(at[axis] for at in corners) / len(corners) for axis in (0, 1)]
        corner = next(at for at, mark in marks.items() if mark == "z")
        edge = [at for at, mark in marks.items() if mark == "F"]
        front = [sum(at[axis] for at in edge) / len(edge) - middle[axis] for axis in (0, 1)]
        wanted = turned_by_quarters((0.0, -1.0), turn // 90)
        assert front[0] * wanted[0] + front[1] * wanted[1] > 0, turn
        left = turned_by_quarters((-1.0, -1.0), turn // 90)
        assert (corner[0] - middle[0]) * left[0] > 0 and (corner[1] - middle[1]) * left[1] > 0, turn


@pytest.mark.parametrize(
    ("x", "y", "hangs"),
    [(0, 0, False), (60, 40, False), (-1, 0, True), (61, 0, True), (0, -1, True), (0, 41, True)],
)
def test_a_piece_over_any_side_of_its_jig_is_asked_about(x: int, y: int, hangs: bool) -> None:
    """Over one side is enough, and flush with it is none."""
    said = Said()
    for key, values in (("footprint", (460, 280)), ("stock", (400, 240, 20))):
        said = said.with_answer(key, "", [Amount(str(each), each) for each in values])
    doubts = lies_doubts([Amount(str(each), each) for each in (x, y)], said)
    assert bool(doubts) == hangs and all("hangs over the jig" in each for each in doubts)


def test_where_clamps_end() -> None:
    """A clamp reaches so far out from the jig's edge and so far in over it, where along the edge
    its middle is. By hand: a jig of 609.6 x 381."""
    answers = {
        "clamps": "1 right, 2 far",
        "clamps_right": "100",
        "clamps_back": "60, 200",
        "clamp_wide": "20",
        "clamp_out": "30",
        "clamp_over": "10",
        "clamp_top": "60",
    }
    boxes = clamp_boxes(said_before("work_offset", **answers))
    assert [(box["name"], *map(list, (box["from"], box["to"]))) for box in boxes] == [
        ("right 1", pytest.approx([599.6, 90]), pytest.approx([639.6, 110])),
        ("far 2", pytest.approx([50, 371]), pytest.approx([70, 411])),
        ("far 3", pytest.approx([190, 371]), pytest.approx([210, 411])),
    ]
    assert {box["top"] for box in boxes} == {60}


@pytest.mark.parametrize("operator", ["front", "left", "back", "right"])
@pytest.mark.parametrize("turn", ["to you", "right", "away", "left"])
def test_clamps_are_where_somebody_sees_them(operator: str, turn: str) -> None:
    """Whichever way a jig lies and somebody stands: a clamp on the far edge, 30 from its left end,
    lies far and left of them, one on the right edge, 30 from its near end, right and near."""
    size = {"clamp_wide": "20", "clamp_out": "30", "clamp_over": "10", "clamp_top": "60"}
    at = dict.fromkeys((f"clamps_{side}" for side in ("left", "right", "front", "back")), "30")
    answers = {"clamps": "far, right", **at, **size, "operator": operator, "turn": turn}
    said = said_before("work_offset", **answers, posted="yes")
    wide, deep = 609.6, 381.0
    quarters, person = turn_of(said) // 90, person_of(said)
    seen = []
    for box in clamp_boxes(said):
        x, y = ((low + high) / 2 for low, high in zip(box["from"], box["to"], strict=True))
        from_middle = turned_by_quarters((x - wide / 2, y - deep / 2), quarters)
        seen.append(person.bed_vector(from_middle))
    across = wide if quarters % 2 == (0 if operator in ("front", "back") else 1) else deep
    along = wide + deep - across
    assert sorted(seen) == [
        pytest.approx((30 - across / 2, along / 2 + 10)),
        pytest.approx((across / 2 + 10, 30 - along / 2)),
    ]


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_pins_above_the_piece_are_told_as_the_sheet_tells_them(unit: str) -> None:
    """What `start` says of pins that stand above the piece, in a jig or bare, is what the finding
    of the station says that comes of the answers; where it says nothing there is none."""
    dialects, told = shipped_dialects(), set[tuple[str, bool]]()
    for holder, stock_top in (("stock", INCH * 0.75), ("jig", INCH * 1.5)):
        for over in (-0.5, 0.0, 0.0625, 3.5):
            pin = f"{stock_top / INCH + over} in"
            before = said_before("stock", unit, holder=holder, pin_height=pin, shank="0.745 in")
            question = BY_KEY["stock"]
            found = question.answer("16 x 10 x 3/4 in", before)
            doubts = [each for each in question.doubts(found.value, before) if "pins" in each]
            said = filled(before.with_answer("stock", found.kept, found.value))
            setup = draft(said, dialects).setup
            assert setup is not None
            codes = {each.code: each.figure_mm for each in setup.findings}
            assert bool(doubts) == ("pin-above-stock" in codes) == (over > 0), (holder, over)
            if doubts:
                over_mm = codes["pin-above-stock"]
                assert over_mm is not None and told_size(over_mm, said.unit) in doubts[0]
            told.add((holder, bool(doubts)))
    assert len(told) == 4
