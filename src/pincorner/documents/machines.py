"""Machines and what their controllers accept."""

import re
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from pincorner.documents.fields import (
    Code,
    Document,
    Extent,
    Flag,
    Length,
    Name,
    Note,
    Point,
    Size,
    Whole,
    shown,
)

DEFAULT_MAX_SKEW_MM = 0.1


def _rising(span: tuple[float, float]) -> tuple[float, float]:
    if span[0] >= span[1]:
        raise ValueError(f"expected the lower end first, got {span[0]:g} to {span[1]:g}")
    return span


Span = Annotated[tuple[Length, Length], AfterValidator(_rising)]


class Travel(Document):
    """How far the axes go, in machine coordinates."""

    x: Span | None = None
    y: Span | None = None
    z: Span | None = None


class Carriage(Document):
    """Reach of the moving parts from the spindle axis."""

    left: Extent = 0.0
    right: Extent = 0.0
    front: Extent = 0.0
    back: Extent = 0.0


def _right_handed(value: Any) -> Any:
    if isinstance(value, str) and value.strip().lower().startswith("left"):
        raise ValueError("a machine whose read-out is left-handed (ISO 841) is not served")
    return value


ReadOut = Annotated[Literal["right-handed"], BeforeValidator(_right_handed)]


class Machine(Document):
    """A router: its controller's dialect and unit, its travel and how well it repeats."""

    name: Name
    dialect: Name
    units: Literal["mm", "in"] = "mm"
    homes: Flag = True
    read_out: ReadOut = "right-handed"
    travel: Travel | None = None
    repeatability: Extent | None = None
    homing: Extent | None = None
    max_skew: Extent = DEFAULT_MAX_SKEW_MM
    tool_lengths: Literal["none", "gauge"] = "none"
    touch_plate: Size | None = None
    beam: Literal["x", "y", "none"] = "none"
    bed_moves: Flag = False
    carriage: Carriage = Carriage()
    nose: Size | None = None
    straight_rapids: Flag = False
    park: Point | None = None
    note: Note | None = None

    @property
    def travel_not_checked(self) -> str:
        """What of the travel nothing is held against, and why; empty where all of it is known."""
        if not self.homes:
            return "the travel (the machine does not home)"
        if self.travel is None:
            return "the travel (not given)"
        missing = [axis.upper() for axis in "xyz" if getattr(self.travel, axis) is None]
        return f"the travel in {', '.join(missing)} (not given)" if missing else ""


HARMLESS_WORDS = (
    r"G17|G18|G19|G2[01]|G40|G49|G50|G61|G61\.1|G64|G69|G80|G9[04]|G9[04]\.1|G91\.1|G92\.1"
    r"|G92\.2|G97|G98"
)
"""Words that set a mode and move no axis (RS274/NGC, Table 4; G50, G69, G97, G98 on controllers
that know them: common practice, no source). A dialect's mode words come from here alone."""

SHIFT_TO_ZERO = r"G52(?: [XYZ]0(?:\.0+)?)+"
"""Takes a shift back (controllers that know G52: common practice, no source)."""

_FIRST = re.compile(HARMLESS_WORDS)
_CANCEL = re.compile(rf"{HARMLESS_WORDS}|{SHIFT_TO_ZERO}")


def _word(pattern: re.Pattern[str]) -> BeforeValidator:
    def check(value: Any) -> str:
        text = " ".join(value.upper().split()) if isinstance(value, str) else shown(value)
        if not pattern.fullmatch(text):
            raise ValueError(
                f"expected a word that moves no axis, such as G17 or G92.1, got {text}"
            )
        return text

    return BeforeValidator(check)


def _decimals(value: int) -> int:
    if not 1 <= value <= 6:
        raise ValueError(f"expected 1 to 6 decimals, got {value}")
    return value


Decimals = Annotated[Whole, AfterValidator(_decimals)]


class DecimalPlaces(Document):
    """Decimals of the printed numbers."""

    mm: Decimals = 3
    inch: Decimals = Field(default=4, alias="in")
    deg: Decimals = 4


def _known_length(value: int) -> int:
    if not 40 <= value <= 256:
        raise ValueError(f"expected 40 to 256 characters a line, got {value}")
    return value


class Dialect(Document):
    """What one controller family accepts."""

    name: Name
    work_offsets: tuple[Code, ...]
    write: Literal["g10-l2", "none"] = "g10-l2"
    rotation: Literal["none", "r-word", "g68"] = "none"
    expressions: Flag = False
    converts: Flag = False
    first: tuple[Annotated[str, _word(_FIRST)], ...] = ("G17", "G40", "G80")
    cancel: tuple[Annotated[str, _word(_CANCEL)], ...] = ("G92.1",)
    comment: Literal["parens", "semicolon"] = "parens"
    upper_case: Flag = False
    line_length: Annotated[Whole, AfterValidator(_known_length)] = 256
    decimals: DecimalPlaces = DecimalPlaces()
    note: Note | None = None

    @model_validator(mode="after")
    def _one_code_at_least(self) -> Self:
        if not self.work_offsets:
            raise ValueError("work_offsets: expected at least one code")
        return self
