"""What practical people type at the questions of `start`: read as they mean it, asked, or refused.

The sentences are common practice at a machine, no source; what each must be read as is by hand.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest

from pincorner.cli.first_commands import lines_of
from pincorner.geometry.pose import turned_by_quarters
from pincorner.render.text.guide import page
from pincorner.units import parse_length
from pincorner.work.first.clamped import Clamp, Clamps, clamp_boxes
from pincorner.work.first.heard import ALL, unheard_parts
from pincorner.work.first.plain import NOT_KNOWN, OneByOne, Unclear
from pincorner.work.first.questions import FOR_EXAMPLE, QUESTIONS, Question
from pincorner.work.first.reckoned import (
    Far,
    a1_place,
    angle_of,
    front_points,
    lies_doubts,
    mark_of,
    turn_of,
)
from pincorner.work.first.typed import Amount, Said
from pincorner.work.first.walk import read_answer

BY_KEY = {question.key: question for question in QUESTIONS}
SHOP = {
    "homes": "yes",
    "operator": "front",
    "controller": "six",
    "moves": "across",
    "pitch": "4 in",
    "holes": "11 x 23",
    "size": "48 x 96 in",
    "edge": "4 4",
    "a1": "4 in 4.125 in",
    "far": NOT_KNOWN,
    "hole": "3/4 in",
    "holder": "jig",
    "jig": "tray",
    "footprint": "24 x 15 in",
    "seat": "3/4 in",
    "turn": "to you",
    "stock": "22 x 13 x 3/4 in",
    "lies": "1 in 1 in",
    "zero": "front left",
    "corner": "A1",
}
"""Answers that stand before the one that is read."""


@cache
def said_before(key: str, unit: str, operator: str = "front", **more: str) -> Said:
    """What was said in such a shop before a question."""
    said = Said()
    answers = {**SHOP, "units": unit, "operator": operator, **more}
    if operator != "front":
        answers["turn"] = "right"
    for question in QUESTIONS:
        if question.key == key:
            return said
        if question.key in answers and question.asked(said):
            said = said.with_answer(
                question.key, *read_answer(question, answers[question.key], said)
            )
    raise AssertionError(f"there is no question {key}")


def plain(value: Any) -> Any:
    """A value as the tables state it: lengths in mm."""
    if isinstance(value, Amount):
        return value.mm
    if isinstance(value, Far):
        return value.hole, *map(plain, value.at)
    if isinstance(value, Clamp):
        return value.side, plain(value.at)
    if isinstance(value, Clamps):
        size = {key.removeprefix("clamp_"): plain(each) for key, each in value.size.items()}
        each = [plain(clamp) for clamp in value.each]
        return (each, size, *value.unsure) if size or value.unsure else each
    return [plain(each) for each in value] if isinstance(value, list) else value


def alike(texts: tuple[str, ...], meant: Any) -> dict[str, Any]:
    """Rows whose texts all mean the same."""
    return dict.fromkeys(texts, meant)


INCH = 25.4
READ: dict[tuple[str, str], dict[str, Any]] = {
    ("units", "mm"): {
        **alike(("mm", "millimeters", "Millimetres", "metric", "1", "in mm", "MM please"), "mm"),
        **alike(("in", "inches", "Inches.", "imperial", '"', "2", "inch", "we use inches"), "in"),
    },
    ("homes", "mm"): {
        **alike(
            (
                "y",
                "yes",
                "it homes",
                "Yes it does",
                "yes please",
                "yep",
                "sure",
                "1",
                "it does",
                "yes, it has home switches",
                "yes, front left, spindle up",
                "of course",
            ),
            "yes",
        ),
        **alike(
            (
                "n",
                "no",
                "No.",
                "it does not",
                "no home switches",
                "it doesn't home",
                "nope",
                "no, there are no switches",
                "never",
                "2",
                "by hand",
            ),
            "no",
        ),
    },
    ("travel_x", "mm"): {
        "0..600": [0, 600],
        "0 to 600": [0, 600],
        "X 0..600": [0, 600],
        "600": [0, 600],
        "from 0 to 600 mm": [0, 600],
        "0 - 600": [0, 600],
        "0-600": [0, 600],
        "-600 0": [-600, 0],
        "-600 up to 0": [-600, 0],
        "0, 600": [0, 600],
        "between 0 and 600": [0, 600],
        "about 600 mm": [0, 600],
        "600 to 0": [0, 600],
        "minus 600 to 0": [-600, 0],
        "0..60 cm": [0, 600],
        "it goes from 0 to 600": [0, 600],
        "0 up to 0.6 m": [0, 600],
        "-5.5 ... 600": [-5.5, 600],
        "-600 - 0": [-600, 0],
        "x=0, x=600": [0, 600],
        "0,600": [0, 600],
    },
    ("travel_z", "in"): {
        "from 0 down to -6": [-6 * INCH, 0],
        "0 at the top, -6 at the bottom": [-6 * INCH, 0],
        "-6": [-6 * INCH, 0],
        "0 to minus 6": [-6 * INCH, 0],
        "-6 to 0 inches": [-6 * INCH, 0],
        '0 to -6"': [-6 * INCH, 0],
        "0 to \N{MINUS SIGN}6": [-6 * INCH, 0],
        "top 0, bottom -5 1/2": [-5.5 * INCH, 0],
        "-150 mm to 0": [-150, 0],
    },
    ("operator", "mm"): {
        **alike(
            (
                "the front",
                "at the front",
                "f",
                "1",
                "front side",
                "in front",
                "the front, the short side",
                "I stand at the front",
                "Front.",
            ),
            "front",
        ),
        **alike(("left", "at the left side", "the LEFT", "l", "3", "third"), "left"),
        **alike(("back side", "the rear", "2", "behind the back"), "back"),
    },
    ("controller", "mm"): {
        **alike(
            (
                "3 I think",
                "3",
                "the third",
                "number 3",
                "#3",
                "six",
                "third one",
                "3.",
                "option 3",
                "block 3",
                "probably 3",
                "three",
                "(3)",
                "maybe 3?",
            ),
            "six",
        ),
        **alike(
            (
                "keyed",
                "the last one",
                "5",
                "not sure",
                "no idea",
                "last",
                "I key it in by hand",
                "I type them in myself, G54 to G59",
                "typed offsets on a panel",
            ),
            "keyed",
        ),
        **alike(("1", "first", "rs274", "RS274/NGC", "sums in brackets"), "rs274"),
        **alike(("plain numbers", "no sums", "sums: no", "Plain numbers, no sums"), "six"),
        "2": "rs274-turned",
        "turns axes by G68": "extended",
    },
    ("moves", "mm"): {
        **alike(
            (
                "across",
                "1",
                "across, the beam moves along Y",
                "beam across",
                "acr",
                "the gantry lies along X",
                "the gantry moves along Y",
                "a beam from left to right that goes front and back",
                "the beam moves in Y",
                "beam along X moves along Y, the table does not move",
                "the beam spans left to right and travels in Y",
                "gantry moves toward the back",
            ),
            "across",
        ),
        **alike(
            (
                "along",
                "2",
                "The beam lies along Y and moves along X",
                "gantry moves left and right",
                "the beam moves along x",
            ),
            "along",
        ),
        **alike(
            (
                "bed",
                "the table moves",
                "the table moves, spindle on a fixed bridge",
                "the table (bed) moves along Y, the spindle moves along X on a fixed bridge",
                "3",
                "the bed moves",
                "table",
            ),
            "bed",
        ),
        "arm": "arm",
        "an arm": "arm",
        "no idea": None,
        "not sure": None,
    },
    ("carriage", "in"): {
        **alike(
            (
                "6 in left and right, 9 in to the front and 5 in back",
                "6 6 9 5",
                "6, 6, 9, 5",
                "left 6, right 6, front 9, back 5",
                "6 left, 6 right, 9 front, 5 back",
                "left and right 6, front 9, back 5",
                "6 on both sides, 9 front, 5 back",
                "6 left/right, 9 front, 5 back",
                "front 9, back 5, left and right 6",
                "L 6 R 6 F 9 B 5",
                "6 to the left, 6 to the right, 9 to the front, 5 to the back",
                "6 inches left and right; 9 inches forward; 5 inches behind",
                "about 6 6 9 5",
                "sides 6, front 9, back 5",
                "6x6x9x5",
                '6" left and right, 9" front and 5" back',
            ),
            [6 * INCH, 6 * INCH, 9 * INCH, 5 * INCH],
        ),
        **alike(
            (
                "about 7 in each way, 10 to the front and 6 to the back",
                "7 each way, 10 front, 6 back",
            ),
            [7 * INCH, 7 * INCH, 10 * INCH, 6 * INCH],
        ),
        "6 all round": [6 * INCH] * 4,
        **alike(
            (
                "5 all around, the back only 3",
                "yes: spindle and dust boot reach 5 in all around, the back only 3",
            ),
            [5 * INCH, 5 * INCH, 5 * INCH, 3 * INCH],
        ),
        "6 all round except 9 to the front": [6 * INCH, 6 * INCH, 9 * INCH, 6 * INCH],
        "6 in on all sides": [6 * INCH] * 4,
        "none": None,
        "not known": None,
        "I don't know": None,
        "never measured": None,
    },
    ("nose", "mm"): {
        "about 42 mm": 42,
        "42": 42,
        "~42": 42,
        "42mm": 42,
        "roughly 42 mm, I think": 42,
        "4.2 cm": 42,
        "42,5": 42.5,
        "42,5 mm": 42.5,
        "1 5/8 in": 41.275,
        "1-5/8 in": 41.275,
        '1 5/8"': 41.275,
        "1\N{VULGAR FRACTION ONE HALF} in": 38.1,
        "dia 42": 42,
        "42mm ER32 nut": 42,
        "42 mm wide": 42,
        "\N{DIAMETER SIGN}42": 42,
        "no idea": None,
        "none": None,
        "not sure": None,
        "skip": None,
        "42 or so": 42,
        "it is 42": 42,
        "42 mm (measured)": 42,
        "one and a half": 1.5,
    },
    ("repeatability", "mm"): {
        "+-0.02 mm": 0.02,
        "0.02": 0.02,
        "+/- 0.02": 0.02,
        "\N{PLUS-MINUS SIGN}0.02 mm": 0.02,
        "plus or minus 0.02": 0.02,
        "within 0.02 mm": 0.02,
        "0,02": 0.02,
        "20 microns": 0.02,
        "20 um": 0.02,
        "about 0.02 mm or so": 0.02,
        "1 thou": 0.0254,
        "a couple of hundredths": 0.02,
        "comes back within a hundredth": 0.01,
        "don't know": None,
        "not measured": None,
        "none": None,
    },
    ("size", "in"): {
        **alike(
            (
                "48 x 96",
                "48x96",
                "48 by 96 in",
                "48 in x 96 in",
                "48 96",
                "4 x 8 ft",
                "4 ft x 8 ft",
                "4' x 8'",
                '48" x 96"',
                "48 wide, 96 deep",
                "X 48 Y 96",
                "Y 96 X 48",
                "48 \N{MULTIPLICATION SIGN} 96 inches",
                "about 48 x 96",
            ),
            [48 * INCH, 96 * INCH],
        ),
        "48 square": [48 * INCH, 48 * INCH],
        "1200 x 2400 mm": [1200, 2400],
        "48 1/2 x 96 3/4": [48.5 * INCH, 96.75 * INCH],
        "don't know": None,
    },
    ("thickness", "mm"): {
        "18 mm": 18,
        "18mm MDF": 18,
        "12 thick": 12,
        "3/4 in": 19.05,
        "none": None,
        "a 12 mm aluminium plate": 12,
        "three quarters of an inch": 19.05,
    },
    ("spoil", "in"): {
        "0.02 in": 0.02 * INCH,
        "0.02 in deep": 0.02 * INCH,
        "none": 0,
        "no": 0,
        "not at all": 0,
        "never, not at all": 0,
        "no cutting into it": 0,
        "you may cut 1/32 into it": INCH / 32,
        "0": 0,
        "no cutting": 0,
        "never": 0,
        "zero": 0,
        "1/64": INCH / 64,
        "not known": None,
        "20 thou": 0.02 * INCH,
        "0.5 mm": 0.5,
        "no cutting into the bed at all": 0,
        "about 0.02 in into the board": 0.02 * INCH,
    },
    ("pitch", "mm"): {
        "every 50 mm": [50, 50],
        "50": [50, 50],
        "50 mm": [50, 50],
        "96 x 100": [96, 100],
        "50 mm apart": [50, 50],
        "50 each way": [50, 50],
        "5 cm": [50, 50],
        "every 2 in": [50.8, 50.8],
        "50 mm centre to centre": [50, 50],
        "50 x 50": [50, 50],
        "50 mm both ways": [50, 50],
        "X 96, Y 100": [96, 100],
        "25.4": [25.4, 25.4],
        "pitch 50": [50, 50],
        "1 inch": [25.4, 25.4],
    },
    ("holes", "mm"): {
        "fifteen left to right, ten front to back": [15, 10],
        "twelve in each line and 24 lines": [12, 24],
        **alike(
            (
                "10 columns, 7 rows",
                "10 x 7",
                "10x7",
                "10 by 7",
                "10, 7",
                "10 7",
                "7 rows, 10 columns",
                "10 across and 7 deep",
                "7 rows of 10",
                "10 in X and 7 in Y",
                "10 along X, 7 along Y",
                "ten by seven",
                "columns 10, rows 7",
                "10 holes across, 7 holes deep",
                "10 wide 7 long",
                "X: 10, Y: 7",
                "7 rows and 10 columns",
                "10 per row, 7 rows",
                "10*7",
                "7 deep, 10 across",
                "10 cols 7 rows",
                "x 10 y 7",
                "rows 7 columns 10",
                "y 7 x 10",
            ),
            [10, 7],
        ),
        "11 across and 23 deep": [11, 23],
        "10 each way": [10, 10],
        "10 by 10": [10, 10],
    },
    ("edge", "in"): {
        **alike(
            (
                "1 2",
                "1 x 2",
                "1 in from the left and 2 in from the front",
                "left 1, front 2",
                "1 left, 2 front",
                "X 1 Y 2",
                "2 from the front, 1 from the left",
                "1 in from left edge, 2 in from front edge",
            ),
            [INCH, 2 * INCH],
        ),
        "4 in from the left and front edges": [4 * INCH, 4 * INCH],
    },
    ("hole", "mm"): {
        "8": 8,
        "8 mm": 8,
        "8mm dia": 8,
        "8 mm H7 holes": 8,
        "12 H7": 12,
        "12 mm H7": 12,
        "3/4 in": 19.05,
        "20,02": 20.02,
        "20.02 mm with a calliper": 20.02,
        "a 3/4 in hole": 19.05,
        '3/4"': 19.05,
        "half an inch": 12.7,
        "6.0 reamed": 6,
        "20, from the catalogue": 20,
        "0.755 in": 19.177,
    },
    ("hole_position", "mm"): {
        **alike(
            (
                "two or three tenths",
                "0.2 to 0.3 mm",
                "within 2 or 3 tenths of a millimetre",
                "three tenths",
            ),
            0.3,
        ),
        "a tenth or two": 0.2,
        "within 0.15 mm": 0.15,
        "0.15": 0.15,
        "+-0.15": 0.15,
        "about 0.15": 0.15,
        "not sure": 0.1,
        "no idea": 0.1,
        "not known": None,
        "0.2 mm I think": 0.2,
        "4 thou": 0.1016,
        "0,15 mm": 0.15,
    },
    ("missing", "mm"): {
        "none": [],
        "no": [],
        "all there": [],
        "none missing": [],
        "nothing": [],
        "A1 and H5": ["A1", "H5"],
        "a1, h5": ["A1", "H5"],
        "hole B2": ["B2"],
        "no holes are missing": [],
        "all are there": [],
        "0": [],
        "A1 H5": ["A1", "H5"],
        "A7 is plugged": ["A7"],
    },
    ("a1", "in"): {
        **alike(
            (
                "4.0 4.125",
                "X 4.0 Y 4.125",
                "X4 Y4.125",
                "x=4 y=4.125",
                "4, 4.125",
                "4 and 4 1/8",
                "4 x 4-1/8",
                "Y 4.125 X 4",
                "X: 4.0  Y: 4.125",
                "it reads X 4.0 Y 4.125",
                "4.0 / 4.125",
                "4,0 4,125",
                "4.0; 4.125",
            ),
            [4 * INCH, 4.125 * INCH],
        ),
        "-38.2 -27.65": [-38.2 * INCH, -27.65 * INCH],
        "101.6 mm 104.775 mm": [101.6, 104.775],
    },
    ("far", "in"): {
        **alike(
            (
                "K1 X 44.0 Y 4.13",
                "K1 44.0 4.13",
                "k1: 44, 4.13",
                "K1 at X44 Y4.13",
                "hole K1 X 44.0 Y 4.13",
                "K1 is at 44.0 4.13",
                "K1 = 44 4.13",
            ),
            ("K1", 44 * INCH, 4.13 * INCH),
        ),
        **alike(
            (
                "4.0 92.13",
                "A23 X 4.0 Y 92.13",
                "X 4.0 Y 92.13",
                "last hole of the first column, X 4.0 Y 92.13",
                "the last hole in the first column, 4.0 92.13",
                "first column, last hole: X 4.0 Y 92.13",
            ),
            ("A23", 4 * INCH, 92.13 * INCH),
        ),
        "the last hole of the first row is at X 44.0 Y 4.13": ("K1", 44 * INCH, 4.13 * INCH),
        "K23 44.01 92.13": ("K23", 44.01 * INCH, 92.13 * INCH),
        "not known": None,
        "skip": None,
        "no idea": None,
    },
    ("pin_height", "mm"): {
        "20 mm above the board": 20,
        "16 mm above the plate": 16,
        "20": 20,
        "1 in above the bed": 25.4,
        "20 mm high": 20,
        "about 20": 20,
        "20 tall": 20,
        "20 mm over the bed": 20,
        "it sticks out 20 mm": 20,
    },
    ("holder", "mm"): {
        "a jig, an aluminium plate dowelled on two pins": "jig",
        "a jig: a birch base with a blank on it": "jig",
        **alike(
            (
                "stock",
                "bare stock",
                "bare boards",
                "the boards themselves, no jig",
                "no jig",
                "1",
                "the bare stock",
                "none",
                "s",
                "no jig, bare stock",
                "just the piece itself",
                "the material",
            ),
            "stock",
        ),
        **alike(
            (
                "jig",
                "a jig",
                "tray",
                "2",
                "a tray",
                "fixture",
                "j",
                "a plywood tray",
                "the jig please",
            ),
            "jig",
        ),
    },
    ("footprint", "in"): {
        "24 x 15 x 3/4 in": [24 * INCH, 15 * INCH, 0.75 * INCH],
        "24 x 15": [24 * INCH, 15 * INCH],
        "24 by 15 in": [24 * INCH, 15 * INCH],
        "24 wide, 15 deep": [24 * INCH, 15 * INCH],
        "24 x 15, 3/4 thick": [24 * INCH, 15 * INCH, 0.75 * INCH],
        "15 deep, 24 wide": [24 * INCH, 15 * INCH],
        "24 x 15 x 3/4 plywood": [24 * INCH, 15 * INCH, 0.75 * INCH],
        "24 x 15 base, the strips stand 1/2 above it": [24 * INCH, 15 * INCH],
        "3/4 ply, 24 x 15, front edge towards me": [24 * INCH, 15 * INCH, 0.75 * INCH],
        "24 x 15, two strips 1 1/4 high": [24 * INCH, 15 * INCH],
        "600 x 400 mm": [600, 400],
        "about 24 x 15": [24 * INCH, 15 * INCH],
        "24 long 15 wide": [24 * INCH, 15 * INCH],
    },
    ("turn", "mm"): {
        **alike(
            (
                "to you",
                "to me",
                "toward me",
                "towards me",
                "me",
                "1",
                "facing me",
                "not turned",
                "0",
                "to you, not turned",
                "it points to me",
                "the front points to me",
            ),
            "to you",
        ),
        **alike(
            (
                "right",
                "to the right",
                "to my right",
                "2",
                "r",
                "90 degrees counter-clockwise",
                "a quarter turn ccw",
                "270 clockwise",
                "front points to the right",
                "its front edge faces right",
            ),
            "right",
        ),
        **alike(("away", "away from me", "180", "half a turn", "3"), "away"),
        **alike(("left", "4", "to the left", "a quarter clockwise", "90 cw"), "left"),
    },
    ("stock", "mm"): {
        "600 along y, 400 along x, 19 thick": [400, 600, 19],
        "the 600 is along y and the 400 along x, 19 thick": [400, 600, 19],
        "600 x 400 x 19, long side along y": [400, 600, 19],
        "y 600 x 400 19": [400, 600, 19],
        "120 x 80 x 15 mm": [120, 80, 15],
        "120 80 15": [120, 80, 15],
        "120x80x15": [120, 80, 15],
        "120 by 80 by 15": [120, 80, 15],
        "120 long, 80 wide, 15 thick": [120, 80, 15],
        "120, 80, 15": [120, 80, 15],
        "22 x 13 x 3/4 in": [22 * INCH, 13 * INCH, 0.75 * INCH],
        "120 x 80, 15 thick": [120, 80, 15],
        "12 x 8 x 1.5 cm": [120, 80, 15],
    },
    ("lies", "in"): {
        "2 in from either end and 2 in from the front edge": [2 * INCH, 2 * INCH],
        **alike(
            (
                "1 in from the left and 2 in from the front",
                "1 2",
                "1, 2",
                "X 1 Y 2",
                "1 x 2",
                "1 right and 2 behind",
                "1 to the right, 2 back",
                "2 behind and 1 right",
                "1 in in from the left and 2 in in from the front",
                "left 1, front 2",
                "1 in right of the left edge and 2 in behind its front edge",
                "Y 2 X 1",
                "1 from the left edge, 2 from the front edge",
                "from the left 1, from the front 2",
            ),
            [INCH, 2 * INCH],
        ),
        "1 in from the left and front": [INCH, INCH],
        "-1/2 -1/2": [-INCH / 2, -INCH / 2],
        "20 mm right and 15 mm behind": [20, 15],
        "3/4 in in from the left and 1 in from the front edge": [0.75 * INCH, INCH],
        "25 mm from its left and 15 mm from its front edge": [25, 15],
        "in the middle": [INCH, INCH],
        "flush": [0, 0],
        "1 inch in both ways": [INCH, INCH],
        "1 in from the left and 1 in from the front of the jig": [INCH, INCH],
        **alike(("centred", "in the middle of the base"), [INCH, INCH]),
        "in the back left corner": [0, 2 * INCH],
        "in the middle left to right, 1/2 from the front": [INCH, INCH / 2],
        "flush with the left, 1/2 from the front": [0, INCH / 2],
    },
    ("zero", "in"): {
        **alike(
            (
                "front left",
                "yes",
                "same",
                "the front left corner",
                "front left corner, top",
                "0 0",
                "bottom left",
            ),
            [0, 0],
        ),
        **alike(
            (
                "middle",
                "the middle of the part",
                "the middle of the part, top",
                "centre",
                "in the center of the piece",
                "zero is in the centre of the piece",
            ),
            [11 * INCH, 6.5 * INCH],
        ),
        "front right": [22 * INCH, 0],
        "back left corner": [0, 13 * INCH],
        "top left": [0, 13 * INCH],
        "back right, on top": [22 * INCH, 13 * INCH],
        "middle of the front edge": [11 * INCH, 0],
        "1/2 1/2": [INCH / 2, INCH / 2],
        "1 from the left, 2 from the front": [INCH, 2 * INCH],
        "the jig's corner": [-INCH, -INCH],
        "middle of the left edge": [0, 6.5 * INCH],
        "2 right and 1 behind the front left corner": [2 * INCH, INCH],
        "dead centre of the blank": [11 * INCH, 6.5 * INCH],
    },
    ("corner", "mm"): {
        "A1": "A1",
        "b2": "B2",
        "hole B2": "B2",
        "front left": "A1",
        "back right": "K23",
        "the front left corner": "A1",
        "right front": "K1",
        "b 2": "B2",
        "at C4": "C4",
        **alike(
            (
                "third across, third up",
                "the third hole across and third up",
                "third hole over, third up",
                "3rd column, 3rd row",
                "3 across, 3 up",
                "third from the left, third from the front",
                "third hole of the third row",
            ),
            "C3",
        ),
        "second column, last row": "B23",
        "column B row 2": "B2",
        "last across, second up": "K2",
        "second from the right, first from the front": "J1",
    },
    ("toward", "mm"): {
        **alike(
            (
                "+x+y",
                "right and back",
                "back right",
                "1",
                "+X +Y",
                "right, back",
                "to the right and away from me",
                "plus x plus y",
                "+x and +y",
            ),
            "+x+y",
        ),
        **alike(("-x-y", "left and front", "4", "front left", "-X-Y"), "-x-y"),
        "left and back": "-x+y",
        "right and toward me": "+x-y",
    },
    ("clamps", "mm"): {
        "none": [],
        "no": [],
        "no clamps": [],
        "nope": [],
        "nothing": [],
        "not known": None,
        **alike(
            (
                "right, back",
                "right and back",
                "from the right and the back",
                "right edge and back edge",
                "at the right and behind",
            ),
            [("right", None), ("back", None)],
        ),
        "right 60, back 100": [("right", 60), ("back", 100)],
        "two clamps at the left and right": [("left", None), ("right", None)],
        "one in the middle of the right edge and one in the middle of the back edge": [
            ("right", None),
            ("back", None),
        ],
        "don't know yet": None,
        "its own left edge": [("left", None)],
        "right 60 mm": [("right", 60)],
        "left 20, left 80": [("left", 20), ("left", 80)],
        **alike(
            ("2 at the back", "back, back", "two toggle clamps on the back edge"),
            [("back", 152.4), ("back", 457.2)],
        ),
        "two at the back edge, 60 mm and 180 from the left": [("back", 60), ("back", 180)],
        **alike(
            (
                "one clamp front and one back",
                "one at the front, one at the back",
                "one clamp each front and back",
            ),
            [("front", None), ("back", None)],
        ),
        "two, one on the right edge, one on the back": [("right", None), ("back", None)],
        "the far edge and the left edge, 60 wide, 25 high": (
            [("back", None), ("left", None)],
            {"wide": 60, "top": 25},
        ),
        "I don't know yet": None,
        "it has no clamps, double-sided tape": [],
        "back, 2 clamps": [("back", 152.4), ("back", 457.2)],
        "two clamps over the back edge": [("back", 152.4), ("back", 457.2)],
        "2 back 1 left": [("back", 152.4), ("back", 457.2), ("left", None)],
        "left end: 1; back: 2": [("left", None), ("back", 152.4), ("back", 457.2)],
        **alike(
            ("back two, left one", "back 2 clamps, left 1", "two small ones on the back, left: 1"),
            [("back", 152.4), ("back", 457.2), ("left", None)],
        ),
        "1 left at 60, 2 back at 100 and 300": [("left", 60), ("back", 100), ("back", 300)],
        "none on the left, one at the back": [("back", None)],
        **alike(
            ("60 mm from each end of the back edge", "two on the back edge, 60 from each end"),
            [("back", 60), ("back", 549.6)],
        ),
        "back 60 mm from the right": [("back", 549.6)],
        "one on each edge": [("left", None), ("right", None), ("front", None), ("back", None)],
        "right 60 along, 30 wide": ([("right", 60)], {"wide": 30}),
        "right, 30 along, 50 out, 10 over, 45 high": (
            [("right", None)],
            {"wide": 30, "out": 50, "over": 10, "top": 45},
        ),
        # places and sizes in one answer; what is not sure of them is asked next
        **alike(
            (
                "right and back, 25 wide, 20 out, 6 over, 10 high",
                "right and back: wide 25, out 20, over 6, high 10",
                "right and back, 25 wide 20 out 6 over 10 high",
            ),
            ([("right", None), ("back", None)], {"wide": 25, "out": 20, "over": 6}, "10 high"),
        ),
        "two clamps, one on the right edge, one on the back, each 20 wide, 30 out, 15 over the "
        "blank, 8 above it": (
            [("right", None), ("back", None)],
            {"wide": 20, "out": 30, "over": 15},
            "8 high",
        ),
        "right, 20 wide, 12 over the plate, 55 above the plate": (
            [("right", None)],
            {"wide": 20},
            "12 over the plate",
            "55 above the plate",
        ),
        "right and back, 25 20 6 10": (
            [("right", None), ("back", None)],
            {},
            "25",
            "20",
            "6",
            "10",
        ),
        **alike(
            (
                "two toggle clamps on the jig's back edge and one on its left end, 30 wide, 40 "
                "out, 10 over, handles 70 above the base",
                "two 30 wide toggles at the back and one at the left, they stick out 40 and "
                "reach 10 over the jig, tops 70 above the base",
            ),
            (
                [("back", 152.4), ("back", 457.2), ("left", None)],
                {"wide": 30, "out": 40, "over": 10, "top": 89.05},
            ),
        ),
        "two at the back 30 wide 50 out 10 over the jig and top is 45 above the bed": (
            [("back", 152.4), ("back", 457.2)],
            {"wide": 30, "out": 50, "over": 10, "top": 45},
        ),
    },
    ("zero", "mm"): {"the near one on my left: lowest X, highest Y": [0, 13 * INCH]},
    ("seat", "in"): {
        "3/4": 0.75 * INCH,
        "on the bed itself": 0,
        "3/4, on the base": 0.75 * INCH,
    },
    ("clamp_over", "mm"): {"35 in over the base": 35, "35 mm over": 35},
    ("clamp_over", "in"): {"1/2": INCH / 2, "1 1/4 onto the blank": 1.25 * INCH, "0": 0},
    ("clamp_top", "in"): {
        "3": 3 * INCH,
        "2 1/4 above the seat": 3 * INCH,
        "70 mm above the base": 89.05,
        "top 45 mm": 45,
        "not known": None,
    },
    ("height", "in"): {
        "2 1/4 above the seat": 3 * INCH,
        "1 1/8 with the stop strip": 1.125 * INCH,
        "1 1/8 including toggles": 1.125 * INCH,
        "1 1/8": 1.125 * INCH,
    },
    ("work_offset", "mm"): {
        "P2, that's G55": "G55",
        "G55": "G55",
        "g55": "G55",
        "55": "G55",
        "G 55": "G55",
        "g55 please": "G55",
        "use G56": "G56",
        "G54.1 P3": "G54.1 P3",
        "G59.1": "G59.1",
    },
    ("z_zero", "mm"): {
        **alike(
            (
                "stock-top",
                "stock top",
                "top of the stock",
                "top",
                "1",
                "the top",
                "top of the part",
                "top of stock",
                "the top of the piece",
                "stock",
                "top of material",
                "on top of the stock",
            ),
            "stock-top",
        ),
        **alike(
            ("seat", "bottom", "underside of the piece", "2", "the bottom of the stock"), "seat"
        ),
        **alike(
            (
                "surface",
                "the bed",
                "spoilboard",
                "top of the spoilboard",
                "3",
                "table",
                "the bed surface",
            ),
            "surface",
        ),
    },
    ("paper", "mm"): {
        "A4": "a4",
        "a4 paper": "a4",
        "letter": "letter",
        "US letter": "letter",
        "l": "letter",
        "2": "letter",
        "8.5 x 11": "letter",
    },
}
ROWS = [(key, unit, text) for (key, unit), rows in READ.items() for text in rows]


@pytest.mark.parametrize(("key", "unit"), READ)
def test_answers_as_people_type_them(key: str, unit: str) -> None:
    """Each is read as it is meant, and as it is kept; a few are refused, with an example."""
    question, said = BY_KEY[key], said_before(key, unit)
    wrong = []
    for text, meant in READ[key, unit].items():
        try:
            kept, value = read_answer(question, text, said)
        except ValueError as error:
            if meant not in ("refused", "twice"):
                wrong.append((text, str(error)))
            continue
        if plain(value) != as_stated(meant):
            wrong.append((text, plain(value)))
        elif plain(read_answer(question, kept, said)[1]) != plain(value):
            wrong.append((text, kept))
        elif value is not None:
            assert "{" not in question.tells(value, said)
    assert wrong == []


def as_stated(meant: Any) -> Any:
    """A row's meaning, its lengths within what a float holds."""
    if isinstance(meant, float | int):
        return pytest.approx(meant, abs=1e-6)
    if isinstance(meant, list | tuple):
        return type(meant)(as_stated(each) for each in meant)
    return meant


ASKED: dict[tuple[str, str], dict[str, str | None]] = {
    ("operator", "mm"): {"front and back": None, "not the front": None},
    ("controller", "mm"): {"1 or 2": None, "no G10": None,
        **dict.fromkeys((
            "G54 to G59, G10 L2, no sums",
            "G54 to G59 and lines like G10 L2 P1 X.. Y..; no sums in brackets",
            "it takes G10 L2 lines for G54 to G59, G10 L20 too I believe, sums no",
            "G54 to G59 with G10 L2, sums it does not do",
            "it takes G54 through G59 and G10 L2 P1 X.. Y.. lines, I have never seen it do sums",
        ), "3"),
        **dict.fromkeys((
            "it takes sums I believe", "you paste G10 L2 lines; a sum in brackets gave an alarm",
            "sums in brackets work",
        ), None),
        "the one with G54.1 and G68": "4", "it turns by G68": "4",
        "it takes what the post gives it": "5"},
    ("moves", "mm"): {"the beam goes front to back": None, "the table does not go": None,
                      "the gantry runs left to right": None, "the gantry": None, "beam": None,
                      "along Y": None,
                      "across, the beam moves along X": None},
    ("carriage", "mm"): {"120": "left 120 mm, right 120 mm, front 120 mm, back 120 mm"},
    ("nose", "mm"): {"1,250": None},
    ("hole_position", "mm"): {"all within 0.2 mm": "0.1 mm", "0.3 max": "0.15 mm",
                              "not sure, bored them with a 12 mm cutter, 0.02": "0.02 mm"},
    ("clamps", "mm"): dict.fromkeys((
        "back, 60", "four clamps, right and back", "two on the back, left and right",
        "back 2 left 1", "left 2 right 3", "clamps at the back",
        "a few clamps at the back and the left",
        "one at the back left corner", "back left", "no clamps on the back", "not the left",
        "two over the back edge", "two on the right, 10 over the front edge", "left or right",
        "right, sticks out 40 behind the jig", "3 clamps: 2 on the back, 2 on the left",
        "the long edges", "all edges except the front", "one on the left, one on the other side",
        "right and back, 30 wide, 40 wide", "2 back, 60", "right, 30 wide, 40 out, 10 over, 45 "
        "high, 70", "it never moves", "left, not tight", "left at the third hole", "left at C3",
        "left, 2 in over the jig", "left 60 in from the front",
        "two on the back edge a third in from either end", "back, half way along",
    )),
    ("height", "mm"): {"65 above the plate": "84.05 mm"},
    ("height", "in"): {"the top is 1/2 over the piece": None},
    ("footprint", "mm"): {"300 by 200 by 15 with two 12 mm dowel holes": "300, 200, 15 mm"},
    ("clamp_top", "in"): {"2 above the plate": "2.75 in"},
    ("holder", "mm"): {"a board": None, "cradle": None},
    ("pitch", "mm"): {"96,5": None},
    ("body", "mm"): {"12 mm above the board": "12", "9.9 high": "9.9"},
    ("toward", "mm"): {"pins at front and left": "right and back",
                       "against the back right edges": "left and front",
                       "stops are at the left and the back": "right and front"},
    ("holes", "mm"): {"7 deep, 10 deep": None},
    ("far", "in"): {"44 4.13": "K1 X 44, Y 4.13"},
    ("turn", "mm"): {"90 degrees": "right", "a quarter": "right"},
    ("lies", "mm"): {"20 in from the left and 15 in from the front": None,
                     "20 from the right and 15 from the front": None},
    ("zero", "in"): dict.fromkeys((
        "no", "a corner", "the back right corner of the jig", "centre, not a corner",
        "front left of the stock, not of the jig",
        "front left corner of the piece, 5 in",
    )),
    ("lies", "in"): dict.fromkeys((
        "not in the middle", "against the strips at the left and front", "1 from the left",
        "the pocket is 1 from the left and 2 from the front, 1/4 deep", "near me",
    )),
    ("turn", "in"): dict.fromkeys((
        "the left edge points to me", "the maker's mark points to me", "not to me",
        "the front faces left, its long side runs left to right",
    )),
    ("stock", "in"): dict.fromkeys((
        "16 x 10", "16 x 10 x 3/4, planed to 5/8", "16 x 10 x 3/4, not square",
    )),
    ("z_zero", "mm"): {"top of the bed or the stock": None, "not the top": None,
                        "top of the board": None, "the board": None, "top of the plate": None},
}  # fmt: skip


@pytest.mark.parametrize(("key", "unit"), ASKED)
def test_what_may_mean_two_things_is_asked(key: str, unit: str) -> None:
    """It is not guessed; what Enter takes then is an answer of its own."""
    question, said = BY_KEY[key], said_before(key, unit)
    for text, meant in ASKED[key, unit].items():
        with pytest.raises(Unclear) as caught:
            read_answer(question, text, said)
        assert caught.value.meant == meant, text
        if meant is not None:
            read_answer(question, meant, said)


def test_whoever_stands_at_the_left() -> None:
    """Words of direction are theirs; front and back, which are the machine's sides, are asked."""
    turns, towards = BY_KEY["turn"], BY_KEY["toward"]
    said = said_before("turn", "mm", "left")
    # at the left, X grows away from them and Y to their left; the front edge of an unturned jig
    # points along -Y, to their right
    found = {way: turn_of(said.with_answer("turn", way, way)) for way in
             ("right", "away", "left", "to you")}  # fmt: skip
    assert found == {"right": 0, "away": 90, "left": 180, "to you": 270}
    assert turns.default(said) == "right"
    for text, meant in (("90 ccw", "away"), ("not turned", "right"), ("90", "away")):
        with pytest.raises(Unclear) as caught:
            read_answer(turns, text, said)
        assert caught.value.meant == meant, text
    said = said_before("toward", "mm", "left")
    for text, meant in (("away and left", "+x+y"), ("right and away", "+x-y"), ("2", "-x+y"),
                        ("to me, on the right", "-x-y")):  # fmt: skip
        assert read_answer(towards, text, said)[1] == meant, text
    with pytest.raises(Unclear) as caught:
        read_answer(towards, "back right", said)
    assert caught.value.meant == "+x+y"
    with pytest.raises(Unclear) as caught:
        read_answer(BY_KEY["corner"], "back right", said_before("corner", "mm", "left"))
    assert caught.value.meant == "K23"


def test_which_way_a_program_lies_by_the_side_along_x() -> None:
    """A piece of 22 x 13 in a jig turned by a quarter: 22 along X is not turned, 13 is; the letter
    Y in a sentence is an axis and no yes."""
    question, said = BY_KEY["posted"], said_before("posted", "in", turn="right")
    for text, meant in (
        ("I drew it 22 along X and 13 along Y in CAM", "no"), ("22 in X, 13 in Y", "no"),
        ("X -11 to 11", "no"), ("X 0 to 13, Y 0 to 22", "yes"),
        ("X 0 to 13, Y -90 to -68", "yes"), ("y", "yes"), ("n", "no"),
    ):  # fmt: skip
        assert read_answer(question, text, said)[1] == meant, text
    for text in ("X 0 to 18", "the Y side is long"):
        with pytest.raises(ValueError):  # noqa: PT011
            read_answer(question, text, said)


def test_which_way_a_program_was_turned() -> None:
    """A program that was turned the other way than the jig is cut end for end, and no outline shows
    it: an angle that is said must be the jig's, counter-clockwise or the rest of it clockwise."""
    question, said = BY_KEY["posted"], said_before("posted", "in", turn="left")
    for text in ("yes, by 270", "yes, I turned it 90 clockwise", "yes, 270 degrees ccw",
                 "yes, a quarter clockwise"):  # fmt: skip
        assert read_answer(question, text, said)[1] == "yes", text
    for text in ("yes, 90 counter-clockwise", "yes, I turned it 90 anticlockwise", "yes, by 90",
                 "yes, a quarter ccw"):  # fmt: skip
        with pytest.raises(Unclear, match="270 degrees, 90 clockwise"):
            read_answer(question, text, said)


@pytest.mark.parametrize(
    "text", ["A14", "over hole A14", "X 0 Y -650", "last hole of the first column"]
)
def test_g54_over_another_hole(text: str) -> None:
    """G54 may be set over any hole: the grid turns about that one, and A1 is counted from it. By
    hand: T14 is 950 mm along the row; atan(1.1 / 949.4) = 0.0664 degrees, A1 at 650 sin of it."""
    shop = {"homes": "no", "pitch": "50", "holes": "20 x 14", "size": NOT_KNOWN, "edge": "50 50",
            "hole": "10", "a1": text}  # fmt: skip
    said = said_before("far", "mm", "left", **shop)
    _, far = read_answer(BY_KEY["far"], "T14 X 949.4 Y 1.1", said)
    said = said.with_answer("far", "", far)
    assert angle_of(said) == pytest.approx(0.06638, abs=1e-4)
    assert a1_place(said) == pytest.approx((0.7531, -649.9996), abs=1e-3)
    assert mark_of(said) == "hole A14"
    with pytest.raises(Unclear, match="back a1"):
        read_answer(BY_KEY["far"], "T14 X 949.4 Y -649", said)


REFUSED = ("wide open", "banana", "1 2 3 4 5 6 7", "x", "1..x..", "5 by", "?!", "1/0 2", "4 4 4 x")


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_refusals_have_an_example_that_is_taken(unit: str) -> None:
    """What cannot be read is refused with an example of that question in the shop's unit, and the
    example, typed in, is taken."""
    for question in QUESTIONS:
        if question.members or question.key in (
            "units",
            "controller_units",
            "machine",
            "bed",
            "pin",
            "jig",
            "station",
            "max_skew",
            "posted",
        ):
            continue
        said = said_before(question.key, unit)
        for text in REFUSED:
            with pytest.raises(ValueError, match=r".") as caught:
                raise AssertionError(question.key, text, read_answer(question, text, said))
            told = str(caught.value)
            assert "{" not in told and (" mm" not in told or unit == "mm"), told


def typed_back(question: Question, said: Said) -> Iterator[str]:
    """All that a question and its `?` print as an answer: examples, the default, what is listed."""
    text = question.told_help(said)
    assert not re.search(r"(?:such as|[Aa]s|[Oo]r) \{?[-+]?[0-9]", text), (question.key, text)
    shown = text.partition(FOR_EXAMPLE)[2].removesuffix(".")
    yield from filter(None, shown.split("; "))
    if default := question.default(said):
        yield default
    for number, option in enumerate(question.listed(said), 1):
        yield from (option.word, f"{number}", f"{number} {option.word}")
    if question.key == "zero":
        words = question.told_words(said).partition("CAM? ")[2].partition(";")[0]
        yield from words.split(", ")
    if question.key in ("usual_bed", "names"):
        words = question.told_words(said).partition(": ")[2]
        yield re.split(r"\?|\. ", words)[0]
    if question.key == "clamps":
        yield question.told_words(said).partition(": ")[2].partition("?")[0]


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("more", [{}, {"homes": "no", "operator": "left", "holder": "stock"}])
def test_what_a_question_prints_is_an_answer_to_it(unit: str, more: dict[str, str]) -> None:
    """Every example, default and listed answer of a question, and of its `?`, passes typed back."""
    for question in QUESTIONS:
        if more and question.key in ("lies", "zero", "heights", "seat", "height", "turn"):
            continue  # not asked without a jig
        said = said_before(question.key, unit, **more)
        shown = lines_of(question, said)
        assert len(shown) <= 3 and max(map(len, shown)) <= 80, (question.key, shown)
        texts = list(typed_back(question, said))
        assert texts or question.key in ("max_skew", "posted", "in_hole"), question.key
        for text in texts:
            try:
                found = whole(question, text, said)
            except ValueError as error:
                raise AssertionError((question.key, text, str(error))) from error
            assert not question.members or found or text in ("yes", "later", "not known", "no"), (
                text
            )
            for key, (_, value, before) in found.items():
                assert value is None or not BY_KEY[key].cannot(value, before), text


def whole(question: Question, text: str, said: Said) -> dict[str, tuple[str, Any, Said]]:
    """What was read, by keys: as it is kept, its value, and what was said before it."""
    if not question.members:
        return {question.key: (*read_answer(question, text, said), said)}
    found = {}
    try:
        parts = question.read(text, said)
    except OneByOne:
        assert text == "not known" or (text == "yes" and question.key == "more"), text
        return {}
    if parts:
        lost = unheard_parts(text, parts.values(), question.hears, said)
        assert not lost, (question.key, text, lost)
    for key in (*question.members, *question.also):
        if key in parts:
            found[key] = (*read_answer(BY_KEY[key], parts[key], said), said)
            said = said.with_answer(key, *found[key][:2])
        elif BY_KEY[key].default(said) and key in question.usual and BY_KEY[key].asked(said):
            said = said.with_answer(key, *read_answer(BY_KEY[key], BY_KEY[key].default(said), said))
    return found


WHOLE: dict[tuple[str, str], dict[str, dict[str, Any]]] = {
    ("unit", "mm"): {
        "inches": {"units": "in", "controller_units": "in"},
        "inches, the read-out shows mm": {"units": "in", "controller_units": "mm"},
        "in, but the controller is in mm": {"units": "in", "controller_units": "mm"},
        "metric": {"units": "mm", "controller_units": "mm"},
    },
    ("travel", "mm"): {
        **alike(
            (
                "0 to 420, -300 to 0, -90 to 0",
                "X 0..420, Y -300..0, Z -90..0",
                "X travel 0 to 420, Y travel -300 to 0, Z travel -90 to 0",
                "0..420 -300..0 -90..0",
                "0 420 -300 0 -90 0",
                "0 to 420 in X, -300 to 0 in Y and -90 to 0 in Z",
                "420, -300, -90",
                "420 x -300 x -90",
                "Z -90 to 0, X 0 to 420, Y 0 to -300",
                "0 to 42, -30 to 0, -9 to 0 cm",
            ),
            {"travel_x": [0, 420], "travel_y": [-300, 0], "travel_z": [-90, 0]},
        ),
        "X 0 to 420 left to right, Y 0 to 300 1/2 front to back, Z 0 down to -5 1/2": {
            "travel_x": [0, 420], "travel_y": [0, 300.5], "travel_z": [-5.5, 0],
        },
        "X 0 to 420, Y -300 to 0": {"travel_x": [0, 420], "travel_y": [-300, 0]},
        "400, -250 to 0, -120 to 0": {
            "travel_x": [0, 400], "travel_y": [-250, 0], "travel_z": [-120, 0],
        },
        "X 0..420, Y -300..0, Z not known": {
            "travel_x": [0, 420], "travel_y": [-300, 0], "travel_z": None,
        },
    },
    ("more", "in"): {
        "5 all around, the back only 3": {"carriage": [5 * INCH] * 3 + [3 * INCH]},
        "later": {}, "not now": {}, "no idea": {},
        "reach 6 each way, nut 2 1/2 wide, comes back within 0.001": {
            "carriage": [6 * INCH] * 4, "nose": 2.5 * INCH, "repeatability": 0.001 * INCH,
        },
        "6 in left and right, 9 in to the front and 5 in back": {
            "carriage": [6 * INCH, 6 * INCH, 9 * INCH, 5 * INCH],
        },
        "about 7 in each way, 10 to the front and 6 to the back; nut 2 1/2": {
            "carriage": [7 * INCH, 7 * INCH, 10 * INCH, 6 * INCH], "nose": 2.5 * INCH,
        },
        "the nut is 2 1/2 in": {"nose": 2.5 * INCH},
    },
    ("board", "mm"): {
        **alike(
            (
                "460 x 320, 20 mm thick", "460 x 320 x 20", "460 by 320 by 20 mm",
                "aluminium plate 460 x 320, 20 mm thick", "20 mm aluminium plate, 460 x 320",
                "460 x 320, thickness 20", "46 x 32 x 2 cm",
            ),
            {"size": [460, 320], "thickness": 20},
        ),
        "460 x 320": {"size": [460, 320]},
        "1250 wide by 2500 long, 25 mm MDF": {"size": [1250, 2500], "thickness": 25},
        "4 x 8 ft, 3/4 in thick": {"size": [48 * INCH, 96 * INCH], "thickness": 19.05},
        "22 mm MDF, 1000 x 600": {"size": [1000, 600], "thickness": 22},
        "18 mm thick": {"thickness": 18},
    },
    ("grid", "mm"): {
        "16 mm holes, 80 mm apart, 15 left to right, ten front to back": {
            "holes": [15, 10], "pitch": [80, 80], "hole": 16,
        },
        **alike(
            (
                "12 x 7, every 50, 8 wide", "12 x 7, 50, 8", "8 mm holes every 50 mm, 12 by 7",
                "8 mm holes every 50 mm: 12 columns, 7 rows",
                "12 across and 7 deep, 50 apart, 8 mm",
                "7 rows of 12, spacing 50, diameter 8", "every 50 mm, 12 x 7, 8 mm holes",
                "8 mm dog holes on 50 mm centres, 12 along X and 7 along Y",
            ),
            {"pitch": [50, 50], "holes": [12, 7], "hole": 8},
        ),
        "20 mm dog holes every 4 inches, 14 across and 29 deep": {
            "pitch": [101.6, 101.6], "holes": [14, 29], "hole": 20,
        },
        "8 mm H7 holes every 25 mm: 16 columns, 11 rows": {
            "pitch": [25, 25], "holes": [16, 11], "hole": 8,
        },
        "12 x 7": {"holes": [12, 7]},
        "20 mm holes 96 apart, nine across, six back, within two tenths": {
            "pitch": [96, 96], "holes": [9, 6], "hole": 20, "hole_position": 0.2,
        },
        "8 mm reamed holes H7, 25 apart, 17 along and 7 to the back": {
            "pitch": [25, 25], "holes": [17, 7], "hole": 8,
        },
        "fourteen by nine M8 size holes 8.1 mm, spaced 60": {
            "pitch": [60, 60], "holes": [14, 9], "hole": 8.1,
        },
        'holes are 1/2", 2" apart, 11 wide by 17 deep': {
            "pitch": [50.8, 50.8], "holes": [11, 17], "hole": 12.7,
        },
        "12 columns and 7 rows, one hundred apart, 16mm holes": {
            "pitch": [100, 100], "holes": [12, 7], "hole": 16,
        },
        "6 mm dowel holes, 40 mm grid, 19 x 14": {
            "pitch": [40, 40], "holes": [19, 14], "hole": 6,
        },
        "12 by 7 every 50": {"pitch": [50, 50], "holes": [12, 7]},
        "12 x 7, every 96 x 100, 20 wide": {"pitch": [96, 100], "holes": [12, 7], "hole": 20},
    },
    ("usual_bed", "in"): {
        "yes": {}, "as usual": {}, "ok": {},
        "you may cut 1/32 into it": {"spoil": INCH / 32},
        "never cut into the plate": {"spoil": 0},
        "yes, never cut into the plate": {"spoil": 0},
        "out by three or four tenths": {"hole_position": 0.0004 * INCH},
        "cuts 1/32 deep, holes within 0.01": {"spoil": INCH / 32, "hole_position": 0.01 * INCH},
        "A1 2 x 3 from the left and front edges, A1 missing": {
            "edge": [2 * INCH, 3 * INCH], "missing": ["A1"],
        },
        "2 from the left, 3 from the front": {"edge": [2 * INCH, 3 * INCH]},
        "drilled by hand with a template, within 0.01": {"hole_position": 0.01 * INCH},
        "H5 and A1 are missing": {"missing": ["H5", "A1"]},
    },
    ("pins", "mm"): {
        "12 mm, 30 long, half of it sticks out": {"shank": 12, "pin_height": 15, "in_hole": 15},
        "19.8 oak dowels, 40 long, half sticks out": {
            "shank": 19.8, "pin_height": 20, "in_hole": 20,
        },
        "beech dowels 19.8 thick, 25 above the bed, 50 long": {
            "shank": 19.8, "pin_height": 25, "in_hole": 25,
        },
        "1/2 in pins, an inch long, half an inch above": {
            "shank": 12.7, "pin_height": 12.7, "in_hole": 12.7,
        },
        **alike(
            (
                "8, 10 high", "8 mm h6 ground pins, 10 mm above the plate", "8 10",
                "10 high, 8 thick", "8 mm thick, stands 10 above the bed", "8 x 10",
            ),
            {"shank": 8, "pin_height": 10},
        ),
        "8 mm h6 ground pins, 10 mm above the plate, sit 15 deep": {
            "shank": 8, "pin_height": 10, "in_hole": 15,
        },
        "20 in the hole, body 18, 25 high": {"shank": 20, "body": 18, "pin_height": 25},
        "20 in the hole, 18 above it, 25 high": {"shank": 20, "body": 18, "pin_height": 25},
        "20, 18, 25": {"shank": 20, "body": 18, "pin_height": 25},
        "20 mm aluminium dogs, a hair under (19.9), 20 above the bed": {
            "shank": 19.9, "pin_height": 20,
        },
        "10 mm dowel rod (beech, 9.9), 12 mm above the board, pushed in all through": {
            "shank": 9.9, "pin_height": 12,
        },
        "8 mm": {"shank": 8},
        ".498 dowels sticking up 5": {"shank": 0.498, "pin_height": 5},
        "three quarter dowels that measure .742, 1 tall": {"shank": 0.742, "pin_height": 1},
    },
    ("heights", "in"): {
        **alike(
            ("3/4, 1 1/8", "seat 3/4, tallest 1 1/8", "3/4, 1 1/8 with the stop strip",
             "tallest 1 1/8, seat 3/4", "3/4 and 1 1/8"),
            {"seat": 0.75 * INCH, "height": 1.125 * INCH},
        ),
        "3/4": {"seat": 0.75 * INCH},
        "1 1/8 with the stop strip": {"height": 1.125 * INCH},
        "part lies 23 mm above the plate, block 30 mm high": {"seat": 23, "height": 30},
        "the piece lies on the base 3/4 high, nothing taller but the clamps": {
            "seat": 0.75 * INCH, "height": 0.75 * INCH,
        },
        "3/4 both": {"seat": 0.75 * INCH, "height": 0.75 * INCH},
        "seat 3/4 and tallest 1/2 above the seat": {"seat": 0.75 * INCH, "height": 1.25 * INCH},
    },
    ("clamp_size", "in"): {
        **alike(
            ("1 wide, 2 out, 1/2 over the work, 1 3/4 high", "1, 2, 1/2, 1 3/4",
             "top 1 3/4, 1 wide, sticks out 2, 1/2 over", "1 x 2 x 1/2 x 1 3/4"),
            {"clamp_wide": INCH, "clamp_out": 2 * INCH, "clamp_over": INCH / 2,
             "clamp_top": 1.75 * INCH},
        ),
        "25 mm wide, 40 mm out, 12 mm on top of it, 48 mm tall": {
            "clamp_wide": 25, "clamp_out": 40, "clamp_over": 12, "clamp_top": 48,
        },
        "20 wide, sticks out 30, 8 over the work, top 42 mm": {
            "clamp_wide": 20, "clamp_out": 30, "clamp_over": 8, "clamp_top": 42,
        },
        "1 wide, sticks out 2, 1/2 over the base, top 2 1/4 above the seat": {
            "clamp_wide": INCH, "clamp_out": 2 * INCH, "clamp_over": INCH / 2,
            "clamp_top": 3 * INCH,
        },
        "1 wide, nothing over the work": {"clamp_wide": INCH, "clamp_over": 0},
    },
    ("place", "mm"): {
        **alike(
            ("C3, right and back", "C3 right and back", "C3 and the part goes to the right and up",
             "third across, third up, right and back",
             "C3, +x+y", "C3 +x+y", "C3, the work lies right and back of it"),
            {"corner": "C3", "toward": "+x+y"},
        ),
        "C3": {"corner": "C3"},
        "third across, third up": {"corner": "C3"},
        "front left": {"corner": "A1"},
        "front left, right and back": {"corner": "A1", "toward": "+x+y"},
    },
    ("names", "mm"): {
        "call the station guitar body": {"station": "guitar body"},
        "no": {}, "no thanks": {}, "as they are": {}, "fine": {},
        "drawers": {"station": "drawers"},
        "station drawers, machine big router": {"station": "drawers", "machine": "big router"},
        "machine: Mill 2; pins called pegs": {"machine": "Mill 2", "pin": "pegs"},
    },
}  # fmt: skip


BARE = {
    "grid": {"size": NOT_KNOWN}, "pins": {"hole": "20.02 mm"}, "clamp_size": {"clamps": "right"},
}  # fmt: skip


@pytest.mark.parametrize(("key", "unit"), WHOLE)
def test_several_questions_in_one(key: str, unit: str) -> None:
    """Each gets its part of an answer, in whatever order it was said; the rest is asked by itself,
    or counts as usual."""
    question, said = BY_KEY[key], said_before(key, unit, **BARE.get(key, {}))
    wrong = []
    for text, meant in WHOLE[key, unit].items():
        try:
            read = whole(question, text, said)
            found = {key: plain(value) for key, (_, value, _) in read.items()}
        except (ValueError, AssertionError) as error:
            wrong.append((text, str(error)))
            continue
        if found != {key: as_stated(each) for key, each in meant.items()}:
            wrong.append((text, found))
        for key, (_, value, before) in read.items():
            if value is not None:  # whichever of them was said
                assert not BY_KEY[key].cannot(value, before), text
                assert "{" not in BY_KEY[key].tells(value, before)
                BY_KEY[key].doubts(value, before)
    assert wrong == []


def numbers_in(value: Any) -> set[float]:
    """The numbers of a value, lengths in mm."""
    if isinstance(value, Clamps):
        value = [*value.each, *value.size.values()]
    listed = value if isinstance(value, list | tuple) and not isinstance(value, Amount) else [value]
    found: set[float] = set()
    for each in listed:
        if isinstance(each, Amount):
            found.add(round(abs(each.mm), 6))
        elif isinstance(each, list | tuple):
            found |= numbers_in(each)
    return found


A_MARK: dict[str, tuple[float, float]] = {
    "over a cross 20 right of and 35 behind the middle of the corner hole": (-20, -35),
    "the cross is 20 right and 35 behind A1": (-20, -35),
    "no, the hole is 20 left of the cross and 35 in front of it": (-20, -35),
    "20 left and 35 in front of the cross": (-20, -35),
    "X -20 Y -35": (-20, -35),
    "30 right and 40 behind the cross": (30, 40),
    "A1 is 30 to the right of my mark and 40 behind it": (30, 40),
    "my mark is 30 to the left of hole A1 and 40 in front of it": (30, 40),
    "right over the hole": (0, 0),
    "from the cross 20 left and 35 to the front to the hole": (-20, -35),
    "20 left, 35 in front": (-20, -35),
}


@pytest.mark.parametrize("text", A_MARK)
def test_which_of_the_two_is_right_of_which(text: str) -> None:
    """Where G54 is set from A1, or A1 from there: both come out as where A1 is, and are read back
    in words."""
    question, said = BY_KEY["a1"], said_before("a1", "mm", homes="no")
    value = read_answer(question, text, said)[1]
    assert plain(value) == as_stated(list(A_MARK[text]))
    told = question.tells(value, said.with_answer("a1", text, value))
    assert ("20 mm left of and 35 mm in front of" in told) == (A_MARK[text][0] == -20), told
    for unsure in ("the hole is 20 right of A1", "screw at 3 right, 4 behind"):
        with pytest.raises(Unclear):
            read_answer(question, unsure, said)


@pytest.mark.parametrize("text", [
    "can't reach the right end, the fifteenth hole of the front row: X 361.59 Y 18.11",
    "fifteenth hole of the front row: X 361.59 Y 18.11",
    "15th hole of the front row X 361.59 Y 18.11",
])  # fmt: skip
def test_a_second_hole_of_many(text: str) -> None:
    """Holes are counted by words beyond the twelfth; the one that is proposed can be reached."""
    said = said_before("far", "mm", pitch="25", holes="17 x 7", a1="11.5 18", hole="8",
                       size="460 x 200", edge="30 20", travel_x="0 to 370")  # fmt: skip
    question = BY_KEY["far"]
    assert plain(read_answer(question, text, said)[1]) == ("O1", 361.59, 18.11)
    assert "hole O1," in question.told_words(said) and "O1 X 361.5 Y 18" in question.example(said)


STRAYS = ("{}, 7.31", "{} 7.31", "{}, and the other 7.31", "7.31, {}", "{} (7.31 wide at the foot)",
          "{}, not seven point three")  # fmt: skip


def test_nothing_that_was_said_is_lost_without_a_word() -> None:
    """A good answer with a number, or a not, that belongs to nothing is asked about or refused, or
    the number is in what was read; it is never taken without it."""
    rows = [(key, unit, text) for (key, unit), rows in {**READ, **WHOLE}.items() for text in rows]
    lost = []
    for number, (key, unit, text) in enumerate(rows):
        stray = STRAYS[number % len(STRAYS)]
        question, said = BY_KEY[key], said_before(key, unit, **BARE.get(key, {}))
        if question.hears == ALL:
            continue  # a name may be anything
        try:
            found = whole(question, stray.format(text), said)
        except (ValueError, AssertionError):
            continue
        numbers = set().union(*(numbers_in(value) for _, value, _ in found.values()))
        if not numbers & {7.31, 73.1, round(7.31 * INCH, 6), round(7.31 * 12 * INCH, 6)}:
            lost.append((key, stray.format(text), {k: plain(v[1]) for k, v in found.items()}))
    assert lost == []


def test_help_in_the_unit_of_the_shop() -> None:
    """No question's words or help speak of mm in an inch shop, nor leave a mark of either."""
    for question in QUESTIONS:
        if question.key in ("unit", "units", "max_skew"):
            continue
        said = said_before(question.key, "in")
        for text in (question.told_words(said), question.told_help(said)):
            told = text.replace("12 mm h6", "").replace("12 mm H7", "")  # a metric pin
            assert " mm" not in told and "|" not in told, (question.key, text)
        assert "|" not in question.told_help(said_before(question.key, "mm")), question.key


def test_lengths_are_kept_as_documents_read_them() -> None:
    """What is kept of a length reads in a document of the shop's unit as the same length."""
    for key, unit, text in ROWS:
        question: Question = BY_KEY[key]
        try:
            value = read_answer(question, text, said_before(key, unit))[1]
        except ValueError:
            continue
        for each in value if isinstance(value, list) else [value]:
            if isinstance(each, Amount):
                assert parse_length(each.written, unit) == pytest.approx(each.mm, abs=1e-6), text  # type: ignore[arg-type]


def test_the_picture_of_the_four_turns() -> None:
    """In the guide's picture corner and front edge stand where a turn by quarters puts them."""
    text = page("first").split("```text\n")[1].split("```")[0].splitlines()
    said = said_before("turn", "mm")
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


@pytest.mark.parametrize(
    ("text", "reaches_mm", "top_mm"),
    [
        # the jig is 300 x 200 and 18 high; the piece of 200 x 100 x 12 lies 60 from its left and
        # 30 from its front edge, so 40 from the right and 70 from the back
        ("1 right, 1 left, 1 front, 1 back, 20 wide, 30 out, 10 onto the piece, 5 above the piece",
         {"right": (250, 330), "left": (-30, 70), "front": (-30, 40), "back": (120, 230)}, 35),
        ("right, back; 20 wide, 30 out, 10 over the jig, 5 above the jig",
         {"right": (290, 330), "back": (190, 230)}, 23),
    ],
)  # fmt: skip
def test_where_clamps_end(
    text: str, reaches_mm: dict[str, tuple[float, float]], top_mm: float
) -> None:
    """A reach onto the piece counts from the piece's edge, one over the jig from the jig's; both
    are told, and the top above the bed."""
    said = said_before("clamps", "mm", footprint="300 x 200 x 18", seat="18", lies="60 30",
                       stock="200 x 100 x 12")  # fmt: skip
    question = BY_KEY["clamps"]
    value = read_answer(question, text, said)[1]
    assert ("so over the jig's edge" in question.tells(value, said)) == ("onto the piece" in text)
    boxes = clamp_boxes(said.with_answer("clamps", text, value))
    assert {box["top"] for box in boxes} == {top_mm}
    for box in boxes:
        side = box["name"].split()[0]
        axis = 0 if side in ("left", "right") else 1
        assert (box["from"][axis], box["to"][axis]) == pytest.approx(reaches_mm[side]), side


def test_what_a_board_is_by_what_was_called_so() -> None:
    """`the board` is the piece where that was called a board: its reach, its top and Z zero."""
    said = said_before("clamps", "in", footprint="3/4 ply carrier 22 x 11", lies="1 1",
                       stock="20 x 9 cutting board blank, 1 1/4 thick")  # fmt: skip
    text = "1 right, 2 wide, 4 out, 1 in over the board, 1 1/2 above the board"
    size = read_answer(BY_KEY["clamps"], text, said)[1].size
    assert size["clamp_over"].how == "onto the piece"
    assert size["clamp_top"].mm == pytest.approx(3.5 * INCH)
    assert read_answer(BY_KEY["z_zero"], "top of the board", said)[1] == "stock-top"
