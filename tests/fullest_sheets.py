"""The stations whose sheets have most to say: what is printed, measured and looked at.

Portrait beds, a fine grid, many nests and clamps, the longest names, notes in four scripts, beds
that are turned, dowels, refusals, inches, offsets that are keyed in. All of it is invented.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

from worlds import BASE, facts, world

from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups
from pincorner.shipped import shipped_folder


class Case(NamedTuple):
    """A world, the station whose sheet is meant, and holes with other stations' pins.

    `pages`: how many sheets of paper it takes at most, A4 and Letter.
    """

    text: str
    station: str = "left"
    take_out: tuple[str, ...] = ()
    pages: tuple[int, int] = (1, 1)

    @property
    def setups(self) -> list[Setup]:
        """The setups of all its nests; made once."""
        return _setups(self.text, self.station)


@cache
def _setups(text: str, station: str) -> list[Setup]:
    return make_setups(facts(world(text), station))


def changed(text: str, *changes: tuple[str, str]) -> str:
    """A text with pieces put in place of others, each of which is there."""
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text


NAME = "W" * 64
LATIN = "The third clamp is missing. Wide and long words, mostly. " * 36
CYRILLIC = "Зажим слева держит плохо. " * 80
GREEK = "Ο σφιγκτήρας δεξιά είναι χαλαρός. " * 60
KANA = "左のクランプはゆるい。" * 190
DEMO = (shipped_folder("fixtures_db") / "beehive.yaml").read_text(encoding="utf-8")
LONG = changed(
    BASE,
    ("left", NAME),
    ("panel-tray", "M" * 64),
    ("long-bench", "Q" * 64),
    ("peg-20", "G" * 64),
    ("gantry-1", "H" * 64),
    ("    seat: 18", f"    note: {GREEK[:1000]}{KANA[:990]}\n    seat: 18"),
    (
        "    work_off",
        f"    note: {LATIN[:1000]}{CYRILLIC[:990]}\n    program: {'P' * 64}\n    work_off",
    ),
) + (
    f"programs: [{{name: {'P' * 64}, file: {'f' * 200}.nc, cycle: 4:20, tools: "
    + "{"
    + ", ".join(f"{number}: {{diameter: {number}}}" for number in range(1, 9))
    + "}}]\n"
)
SKEWED = changed(BASE, ("angle: 0}", "angle: 0.12}"))
ONE_NEST = "nests: [{name: a, zero: [25, 20], stock: {size: [410, 240, 20]}}]"
EIGHT = changed(
    BASE,
    (
        ONE_NEST,
        "nests: ["
        + ", ".join(
            f"{{name: nest-{at}, zero: [{25 + 50 * at}, 20], stock: {{size: [45, 240, 20]}}}}"
            for at in range(8)
        )
        + "]",
    ),
    (
        "{a: G55}",
        "{nest-0: G55, nest-1: G56, nest-2: G57, nest-3: G58, nest-4: G59, nest-5: G59.1, "
        "nest-6: G59.2, nest-7: G59.3}",
    ),
)
SIX = changed(
    BASE,
    (
        ONE_NEST,
        "nests: ["
        + ", ".join(
            f"{{name: {name}, zero: [{20 + 145 * (at % 3)}, {20 + 125 * (at // 3)}], "
            f"stock: {{size: [130, 110, {18 + 2 * at}]}}}}"
            for at, name in enumerate("abcdef")
        )
        + "]\n    solids: [{name: fence, from: [0, 262], to: [460, 280], top: 52}]",
    ),
    ("{a: G55}", "{a: G54, b: G55, c: G56, d: G57, e: G58, f: G59}"),
    (
        "    work_offsets",
        "    clamps: ["
        + ", ".join(
            f"{{name: clamp-{at + 1}, from: [{25 + 38 * at}, {-34 if at % 2 else 284}], "
            f"to: [{45 + 38 * at}, {4 if at % 2 else 320}], top: {35 + at}}}"
            for at in range(12)
        )
        + "]\n    work_offsets",
    ),
)
HOME = "    home: {g28: [0, 0, 0], g30: [0, 940, 0]}\n"
RELATIVE = changed(
    DEMO, ("dialect: rs274", "dialect: six\n    homes: false"), ("x: 60", "x: -560"), (HOME, "")
)
ROTATING = changed(DEMO, ("dialect: rs274", "dialect: extended"), ("angle: 0}", "angle: 0.12}"))
EIGHT_TURNED = changed(
    EIGHT,
    ("dialect: rs274", "dialect: extended"),
    ("angle: 0}", "angle: -0.12}"),
    ("G59.1", "G54.1 P1"),
    ("G59.2", "G54.1 P2"),
    ("G59.3", "G54.1 P48"),
)
FINE = changed(
    BASE,
    ("columns: 15, rows: 9, pitch: [100, 100]", "columns: 62, rows: 31, pitch: [25, 25]"),
    ("{edge: [D2, G2], stop: C4}", "{edge: [AD5, AP5], stop: Z13}"),
    ("x: [0, 1540], y: [0, 940]", "x: [0, 2540], y: [0, 1940]"),
)
PORTRAIT = changed(
    BASE,
    ("columns: 15, rows: 9, pitch: [100, 100]", "columns: 12, rows: 24, pitch: [101.6, 101.6]"),
    ("{edge: [D2, G2], stop: C4}", "{edge: [D14, G14], stop: C16}"),
    ("x: [0, 1540], y: [0, 940]", "x: [0, 2540], y: [0, 3940]"),
)
TURNED = {
    angle: changed(
        DEMO,
        ("pose: {x: 60, y: 55, angle: 0}", f"pose: {{x: {x}, y: {y}, angle: {angle}}}"),
        ("x: [0, 1540], y: [0, 940]", "x: [0, 2540], y: [0, 2940]"),
        ("    work_offsets: {a: G55}", f"    program_angle: {angle}\n    work_offsets: {{a: G55}}"),
    )
    for angle, x, y in ((90, 1000, 55), (180, 1500, 900))
}
AT_THE_LEFT = changed(DEMO, ("operator: front", "operator: left"))
KEYED = changed(BASE, ("dialect: rs274", "dialect: keyed"))
INCH = changed(
    DEMO,
    ("dialect: rs274\n    units: mm", "dialect: rs274\n    units: in"),
)
CLAMPED = changed(
    BASE,
    (
        "    work_offsets",
        "    clamps: ["
        + ", ".join(
            f"{{name: clamp-{at}, from: [{60 * at}, -30], to: [{60 * at + 20}, 0], top: 35}}"
            for at in range(8)
        )
        + "]\n    work_offsets",
    ),
)
NEAR_ENDS = changed(
    DEMO,
    ("footprint: [460, 280]", "footprint: [395, 280]"),
    ("size: [410, 240, 20]", "size: [340, 240, 20]"),
    ("pose: {x: 60, y: 55, angle: 0}", "pose: {x: 60, y: 55, angle: 0.05}"),
    ("    work_offsets: {a: G55}", "    max_skew: 2\n    work_offsets: {a: G55}"),
    ("    work_offsets: {a: G57", "    max_skew: 2\n    work_offsets: {a: G57"),
    ("    work_offsets: {a: G56}", "    max_skew: 2\n    work_offsets: {a: G56}"),
)
NOTED = changed(
    RELATIVE,
    (
        "    surface: -120\n",
        "    note: The cross scribed at the front left corner of the wood is the reference of each "
        "day; the pin in A1 stands over it.\n    surface: -120\n",
    ),
)
TWELVE = tuple(f"AA{number}" for number in range(12))

CASES: dict[str, Case] = {
    **{f"demo {name}": Case(DEMO, name) for name in ("left", "right", "roof")},
    "demo end-bars": Case(DEMO, "end-bars"),
    "long names and notes": Case(LONG, NAME, TWELVE, (3, 3)),
    "skewed, no block": Case(SKEWED),
    "turned, no block": Case(TURNED[180], "right"),
    "eight nests, skewed": Case(changed(EIGHT, ("angle: 0}", "angle: 0.12}"))),
    "sums left open": Case(RELATIVE, "end-bars", ("K6",), (2, 2)),
    "sums and the bed's note": Case(NOTED, "left", (), (2, 2)),
    "pin near an end, askew": Case(NEAR_ENDS, "left", ("D3", "E3")),
    "two nests, askew": Case(NEAR_ENDS, "end-bars", ("K6",)),
    "axes turned": Case(ROTATING, "end-bars"),
    "axes turned, one nest": Case(ROTATING, "left"),
    "axes turned, eight nests": Case(EIGHT_TURNED, "left", (), (2, 2)),
    "axes turned from G54": Case(
        changed(RELATIVE, ("dialect: six", "dialect: rs274-turned"), ("angle: 0}", "angle: 0.12}")),
        "left",
        (),
        (1, 2),
    ),
    "eight nests": Case(EIGHT, "left", ("A1", "B1"), (2, 2)),
    "six nests, twelve clamps": Case(SIX, "left", (), (2, 2)),
    "62 x 31 holes": Case(FINE),
    "portrait": Case(PORTRAIT),
    "turned by 90": Case(TURNED[90], "left"),
    "turned by 180": Case(TURNED[180]),
    "people at the left": Case(AT_THE_LEFT, "right"),
    "keyed in": Case(KEYED),
    "inch": Case(INCH, "roof", ("I8", "M8")),
    "much to take out": Case(BASE, "left", ("D3", "E3", "C5", "H4", "D4", "G4")),
    "clamps side by side": Case(CLAMPED, "left", ("D3", "E3")),
}
"""By what is much on each."""
