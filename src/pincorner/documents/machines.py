"""Machines and what their controllers accept."""

from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from pincorner.documents.dialect_words import FIRST, CancelWord, FirstWord, HarmlessWords
from pincorner.documents.fields import (
    Code,
    Document,
    Flag,
    Length,
    LengthFromZero,
    Name,
    Note,
    Point,
    Size,
    Whole,
    WholeDocument,
)

DEFAULT_MAX_SKEW_MM = 0.1


def _rising(span: tuple[float, float]) -> tuple[float, float]:
    if span[0] >= span[1]:
        raise ValueError(f"expected the lower end first, got {span[0]:g} to {span[1]:g}")
    return span


Range = Annotated[tuple[Length, Length], AfterValidator(_rising)]


class Travel(Document):
    """How far the axes go, in machine coordinates."""

    x: Range | None = None
    y: Range | None = None
    z: Range | None = None


class Carriage(Document):
    """Reach of the moving parts from the spindle axis."""

    left: LengthFromZero = 0.0
    right: LengthFromZero = 0.0
    front: LengthFromZero = 0.0
    back: LengthFromZero = 0.0


MachinePlace = tuple[Length, Length, Length]


class Home(Document):
    """Where G28 and G30 go, in machine coordinates: the controller keeps it (RS274/NGC, 3.5.8)."""

    g28: MachinePlace | None = None
    g30: MachinePlace | None = None

    @model_validator(mode="after")
    def _one_at_least(self) -> Self:
        if self.g28 is None and self.g30 is None:
            raise ValueError("expected g28, g30 or both")
        return self


def _right_handed(value: Any) -> Any:
    if isinstance(value, str) and value.strip().lower().startswith("left"):
        raise ValueError("a machine whose read-out is left-handed (ISO 841) is not served")
    return value


ReadOut = Annotated[Literal["right-handed"], BeforeValidator(_right_handed)]


class Machine(WholeDocument):
    """A router: its controller's dialect and unit, its travel and how well it repeats."""

    dialect: Name
    units: Literal["mm", "in"] = "mm"
    homes: Flag = True
    read_out: ReadOut = "right-handed"
    travel: Travel | None = None
    repeatability: LengthFromZero | None = None
    homing: LengthFromZero | None = None
    max_skew: LengthFromZero = DEFAULT_MAX_SKEW_MM
    tool_lengths: Literal["none", "gauge"] = "none"
    touch_plate: Size | None = None
    beam: Literal["x", "y", "none"] = "none"
    bed_moves: Flag = False
    carriage: Carriage = Carriage()
    nose: Size | None = None
    straight_rapids: Flag = False
    park: Point | None = None
    home: Home | None = None
    home_named_axes: Flag = False
    note: Note | None = None

    @model_validator(mode="after")
    def _home_lasts(self) -> Self:
        if self.home is not None and not self.homes:
            raise ValueError(
                "home: machine coordinates do not last on a machine that does not home "
                "(homes: false); leave one of the two out"
            )
        return self

    @property
    def travel_not_checked(self) -> str:
        """What of the travel nothing is held against, and why; empty where all of it is known."""
        if not self.homes:
            return "the travel (the machine does not home)"
        if self.travel is None:
            return "the travel (not given)"
        missing = [axis.upper() for axis in "xyz" if getattr(self.travel, axis) is None]
        return f"the travel in {', '.join(missing)} (not given)" if missing else ""


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


class Dialect(WholeDocument):
    """What one controller family accepts."""

    work_offsets: tuple[Code, ...]
    write: Literal["g10-l2", "none"] = "g10-l2"
    rotation: Literal["none", "r-word", "g68"] = "none"
    expressions: Flag = False
    converts: Flag = False
    first: tuple[FirstWord, ...] = FIRST
    harmless: HarmlessWords = ()
    cancel: tuple[CancelWord, ...] = ("G92.1",)
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
