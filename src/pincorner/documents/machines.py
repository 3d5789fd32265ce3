"""Machines and what their controllers accept."""

from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, model_validator

from pincorner.documents.dialect_words import FIRST, CancelWord, FirstWord, HarmlessWords
from pincorner.documents.fields import (
    Code,
    Disagreement,
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
    agree,
    length_got,
)
from pincorner.units import Unit

DEFAULT_MAX_SKEW_MM = 0.1


def _rising(span: tuple[float, float], info: ValidationInfo) -> tuple[float, float]:
    if span[0] >= span[1]:
        low, high = (length_got(each, info) for each in span)
        raise ValueError(f"expected the lower end first, got {low} to {high}")
    return span


Range = Annotated[tuple[Length, Length], AfterValidator(_rising)]


class Travel(Document):
    """How far the axes go, in machine coordinates."""

    x: Range | None = None
    """`[lowest, highest]`"""
    y: Range | None = None
    """the same"""
    z: Range | None = None
    """the same; 0 at the top, as a rule"""


class Carriage(Document):
    """Reach from the spindle axis of all that moves with it; a side left out is not known."""

    left: LengthFromZero | None = None
    """to the left; left out: not known, so that there are no loading windows"""
    right: LengthFromZero | None = None
    """to the right; left out: not known, so that there are no loading windows"""
    front: LengthFromZero | None = None
    """to the front; left out: not known, so that there are no loading windows"""
    back: LengthFromZero | None = None
    """to the back; left out: not known, so that there are no loading windows"""


MachinePlace = tuple[Length, Length, Length]


class Home(Document):
    """Where G28 and G30 go, in machine coordinates: the controller keeps it (RS274/NGC, 3.5.8)."""

    g28: MachinePlace | None = None
    """`[x, y, z]` where G28 goes"""
    g30: MachinePlace | None = None
    """`[x, y, z]` where G30 goes"""

    @model_validator(mode="after")
    def _one_at_least(self) -> Self:
        if self.g28 is None and self.g30 is None:
            raise ValueError("expected g28, g30 or both")
        return self


def _right_handed(value: Any) -> Any:
    if isinstance(value, str) and value.strip().lower().startswith("left"):
        raise ValueError("a machine whose read-out is left-handed (ISO 841) is not served")
    return value


Side = Literal["front", "back", "left", "right"]
"""A side of a machine or a bed."""

ReadOut = Annotated[Literal["right-handed"], BeforeValidator(_right_handed)]


class Machine(WholeDocument):
    """A router: its controller's dialect and unit, its travel and how well it repeats."""

    dialect: Name
    """what its controller takes; `pincorner list dialects` shows those on file"""
    units: Unit = "mm"
    """the controller's own unit, `mm` or `in`: setup blocks are written in it"""
    homes: Flag = True
    """whether machine coordinates survive switching it off"""
    read_out: ReadOut = "right-handed"
    """`right-handed` is the only one: X to the right, Y to the back, Z up (ISO 841)"""
    travel: Travel | None = None
    """how far the axes go, in machine coordinates; an axis that is left out is not checked"""
    repeatability: LengthFromZero | None = None
    """error with which it comes back to a place; left out: not counted, and said so"""
    homing: LengthFromZero | None = None
    """error from one homing to the next, or of setting G54 where it does not home; left out: not
    counted, and said so"""
    max_skew: LengthFromZero = DEFAULT_MAX_SKEW_MM
    """how far any point of the stock may lie askew where the controller cannot turn its axes;
    beyond it there is no block"""
    tool_lengths: Literal["none", "gauge"] = "none"
    """`gauge`: lengths refer to the gauge point, the spindle's own reference, so that machine Z
    means something without a tool; `none`: Z is set by touch for each tool"""
    touch_plate: Size | None = None
    """thickness of the plate that Z is touched on; left out: none"""
    beam: Literal["x", "y", "none"] | None = None
    """axis along which the moving beam lies, without end: `x`, `y` or `none`; where the bed moves,
    the axis along which the spindle does, and the bed along the other: `none`, the bed along both;
    left out: not known, so that there are no loading windows"""
    bed_moves: Flag = False
    """`true` where the bed moves instead of the beam, along one axis or both (`beam`); `run` then
    gives no loading windows"""
    carriage: Carriage | None = None
    """reach from the spindle's axis of all that moves with it, at its widest: beam, feet, motors,
    dust boom, hoses; left out: not known, so that there are no loading windows"""
    nose: Size | None = None
    """diameter of spindle nose and nut; left out: not checked, and said so"""
    straight_rapids: Flag = False
    """whether G0 goes in a straight line; `false`: anywhere in the box between its ends"""
    park: Point | None = None
    """`[x, y]` in machine coordinates where it waits or changes tools"""
    home: Home | None = None
    """where G28 and G30 go, in machine coordinates, one of them or both; not for a machine that
    does not home; left out: anywhere in the travel"""
    home_named_axes: Flag = False
    """whether G28 and G30 move only the axes that their line names; `false`: all of them"""
    operator: Side | None = None
    """the side of the machine where people stand: `front`, `back`, `left` or `right`; left out:
    stations are reached into from all sides"""
    rapid: Size | None = None
    """speed of rapids, in the file's units a minute, for the timeline alone; left out: rapids take
    no time"""
    note: Note | None = None
    """text for whoever reads it"""

    @model_validator(mode="after")
    def _home_lasts(self) -> Self:
        if self.home is not None and not self.homes:
            text = (
                "home: machine coordinates do not last on a machine that does not home "
                "(homes: false); leave one of the two out"
            )
            agree([Disagreement(("home", "homes"), text)])
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
    """in mm, 1 to 6"""
    inch: Decimals = Field(default=4, alias="in")
    """in inches, 1 to 6"""
    deg: Decimals = 4
    """of angles, 1 to 6"""

    def of(self, unit: Unit) -> int:
        """Those of a length in `unit`."""
        return self.mm if unit == "mm" else self.inch


def _known_length(value: int) -> int:
    if not 40 <= value <= 256:
        raise ValueError(f"expected 40 to 256 characters a line, got {value}")
    return value


class Dialect(WholeDocument):
    """What one controller family accepts."""

    work_offsets: tuple[Code, ...]
    """the codes that there are, such as `[G54, G55, G54.1 P1]`"""
    write: Literal["g10-l2", "none"] = "g10-l2"
    """`g10-l2`: the block writes the offset; `none`: it says what to key in"""
    rotation: Literal["none", "r-word", "g68"] = "none"
    """how the axes are turned: `none` not at all, `r-word` on the line that writes the offset,
    `g68` by a line of its own"""
    expressions: Flag = False
    """whether `[#5221+1]` is understood"""
    converts: Flag = False
    """`true` where stored origins are converted when the unit changes; `false`: they are plain
    numbers"""
    first: tuple[FirstWord, ...] = FIRST
    """mode words that a block begins with, so that none is left over"""
    harmless: HarmlessWords = ()
    """words that are read over in programs, such as `[G91.1, M10]`; none that moves,
    measures, selects or stops"""
    cancel: tuple[CancelWord, ...] = ("G92.1",)
    """words that end shifts which would add to the offsets"""
    comment: Literal["parens", "semicolon"] = "parens"
    """how comments are written: `parens` or `semicolon`"""
    upper_case: Flag = False
    """`true` where comments must be in capitals"""
    line_length: Annotated[Whole, AfterValidator(_known_length)] = 256
    """longest line in characters, 40 to 256"""
    decimals: DecimalPlaces = DecimalPlaces()
    """digits behind the point in the numbers that are printed"""
    note: Note | None = None
    """text for whoever reads it"""

    @model_validator(mode="after")
    def _one_code_at_least(self) -> Self:
        if not self.work_offsets:
            text = "work_offsets: expected at least one code"
            agree([Disagreement(("work_offsets",), text)])
        return self
