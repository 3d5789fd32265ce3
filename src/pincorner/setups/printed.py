"""The figures as an operator sees and keys them in: the one place that rounds."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import NamedTuple

from pincorner.documents.jigs import Nest
from pincorner.geometry.outline import Outline, bounds
from pincorner.geometry.pose import Pose, normal_deg
from pincorner.setups.facts import Facts
from pincorner.setups.heights import Heights
from pincorner.units import NEAREST, Rounded, Unit, figure, fixed, in_unit


class Figures(NamedTuple):
    """Lengths in one unit, with that unit's decimals; `z` is empty where the block writes none.

    `zero_above_surface`: height of program zero. `tip_on_surface`, `tip_on_stock`,
    `tip_on_plate`, `plate_on_stock`: what Z must read there once it is set (the plate on the bed,
    or on the stock; both empty without a touch plate). `tip_on_sheet`, `plate_on_sheet`: the same
    on the waste sheet that covers the bed; empty without one. `right_of_corner`, `behind_corner`:
    where the zero lies from the jig's corner for who stands at the machine, one decimal in mm, two
    in inches, signed.
    """

    unit: Unit
    x: str
    y: str
    z: str
    zero_above_surface: str
    tip_on_surface: str
    tip_on_stock: str
    tip_on_plate: str
    plate_on_stock: str
    tip_on_sheet: str
    plate_on_sheet: str
    plate: str
    stock: tuple[str, str, str]
    right_of_corner: str
    behind_corner: str

    @property
    def stock_told(self) -> str:
        """The stock's size without closing zeros: `410 × 240 × 18`."""
        return " × ".join(map(short, self.stock))


class Printed(NamedTuple):
    """All printed figures of one nest, lengths in the machine's unit (`own.unit`).

    `fingerprint` by today's definition (`contents.DEFINITION`), `first_fingerprint` by the first,
    which papers of before show.
    """

    own: Figures
    words: tuple[AxisWord, ...]
    angle: str
    program_angle: str
    turn: str
    skew: str
    max_skew: str
    first_fingerprint: str
    fingerprint: str


def figures(
    unit: Unit,
    facts: Facts,
    nest: Nest,
    zero: Pose,
    height: Heights,
    from_corner_mm: tuple[float, float],
) -> Figures:
    """The figures of one nest in `unit`."""

    def text(value_mm: float) -> str:
        return printed_length(facts, value_mm, unit)

    plate, sheet = facts.machine.touch_plate, facts.station.under
    sheet_mm = sheet - height.zero_mm
    length, width, thickness = (text(size) for size in nest.stock.size)
    right, behind = (figure(value, unit, 1) for value in from_corner_mm)
    return Figures(
        unit=unit,
        x=text(zero.x_mm),
        y=text(zero.y_mm),
        z="" if height.machine_z_mm is None else text(height.machine_z_mm),
        zero_above_surface=text(height.zero_mm),
        tip_on_surface=text(-height.zero_mm),
        tip_on_stock=text(height.stock_top_in_program_mm),
        tip_on_plate="" if plate is None else text(plate - height.zero_mm),
        plate_on_stock="" if plate is None else text(plate + height.stock_top_mm - height.zero_mm),
        tip_on_sheet=text(sheet_mm) if sheet else "",
        plate_on_sheet=text(plate + sheet_mm) if sheet and plate is not None else "",
        plate="" if plate is None else text(plate),
        stock=(length, width, thickness),
        right_of_corner=right,
        behind_corner=behind,
    )


def printed_length(
    facts: Facts, value_mm: float, unit: Unit | None = None, rounded: Rounded = NEAREST
) -> str:
    """A length with the dialect's decimals, in the machine's unit or in `unit`."""
    unit = unit or facts.machine.units
    return fixed(in_unit(value_mm, unit), facts.dialect.decimals.of(unit), rounded)


def short(figure: str) -> str:
    """A printed figure without closing zeros, for drawings and sentences."""
    return figure.rstrip("0").rstrip(".") if "." in figure else figure


def lies_from_zero(piece: Outline, turn_deg: float, unit: Unit) -> str:
    """Where a piece lies from program zero in a program that was posted turned by an angle.

    piece: its outline from that zero in the program as drawn, mm.
    """
    box = bounds(Pose.of_degrees("program", "nest", 0.0, 0.0, turn_deg).points(piece))
    x, y = (
        f"{axis} {_short(low, unit)} to {_short(high, unit)}"
        for axis, low, high in (("X", box.left, box.right), ("Y", box.front, box.back))
    )
    return f"the piece lies at {x}, {y} {unit} from the zero"


def turn_told(turn_deg: float) -> str:
    """A turn as who looks down at it sees it: `90 degrees clockwise` for 270 and for -90."""
    turned_deg = normal_deg(turn_deg)
    way = " clockwise" if turned_deg < 0 else "" if turned_deg in (0, 180) else " counter-clockwise"
    return f"{abs(turned_deg):g} degrees{way}"


def posted_told(turn_deg: float) -> str:
    """The same of a program that was posted so, with the angle on file where it reads otherwise:
    `90 degrees clockwise, 270 on file`."""
    told, on_file = turn_told(turn_deg), f"{turn_deg:g}"
    return told if told.startswith(f"{on_file} ") else f"{told}, {on_file} on file"


def _short(value_mm: float, unit: Unit) -> str:
    return f"{round(in_unit(value_mm, unit), 4) + 0.0:.6g}"


def unwritten_deg(facts: Facts, angle_deg: float) -> float:
    """What is left of an angle by the words of the offset: all where the dialect writes none."""
    if facts.dialect.rotation == "none":
        return angle_deg
    return angle_deg - float(fixed(angle_deg, facts.dialect.decimals.deg))


PARAMETERS = {"X": 5221, "Y": 5222, "Z": 5223}
"""Where G54's origin is kept (RS274/NGC, 3.2.1, Table 2)."""

RELATIVE_TO = "G54"
"""The code whose origin other offsets count from, where no machine coordinates survive."""


class AxisWord(NamedTuple):
    """One axis of an offset: its figure, and the code it counts from (empty: the machine).

    `by_hand`: the controller cannot be told by the block; the operator keys it in. `word` is what
    follows the axis letter: a number, or an expression that adds to the code's own origin.
    """

    axis: str
    figure: str
    counts_from: str
    by_hand: bool

    @property
    def word(self) -> str:
        if not self.counts_from:
            return self.figure
        if self.by_hand:
            return counted_from(f"{self.counts_from} {self.axis}", self.figure)
        plus = "" if self.figure.startswith("-") else "+"
        return f"[#{PARAMETERS[self.axis]}{plus}{self.figure}]"


def counted_from(start: str, figure: str) -> str:
    """A figure as a sum: `G54 + 235.000`, `G54 - 12.125`; the figure alone without a start."""
    if not start:
        return figure
    return f"{start} - {figure[1:]}" if figure.startswith("-") else f"{start} + {figure}"


def axis_words(facts: Facts, own: Figures, angle: str) -> tuple[AxisWord, ...]:
    """The words that write a nest's offset: X, Y, Z unless it is set by touch, R by R words."""
    dialect = facts.dialect
    start = "" if facts.machine.homes else RELATIVE_TO
    keyed = dialect.write == "none"
    summed = keyed or not dialect.expressions
    words = [
        AxisWord("X", own.x, start, summed if start else keyed),
        AxisWord("Y", own.y, start, summed if start else keyed),
    ]
    if facts.station.z.set == "reference":
        words.append(AxisWord("Z", own.zero_above_surface, RELATIVE_TO, summed))
    elif own.z:
        words.append(AxisWord("Z", own.z, "", keyed))
    if dialect.rotation == "r-word":
        words.append(AxisWord("R", angle, "", keyed))
    return tuple(words)


def fingerprint(parts: Sequence[str]) -> str:
    """Eight hex digits of SHA-256 over the printed parts, as `7F3A-91C2`."""
    digest = hashlib.sha256("\n".join(parts).encode("utf-8")).hexdigest().upper()
    return f"{digest[:4]}-{digest[4:8]}"
