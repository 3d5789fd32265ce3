"""Programs, runs, and what is recorded about a bed: surveys, surfacings, disturbances."""

from collections.abc import Iterator
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Discriminator, Field, Tag, model_validator

from pincorner.documents.beds import PoseEntry
from pincorner.documents.fields import (
    Disagreement,
    Document,
    Duration,
    Factor,
    FilePath,
    Label,
    Length,
    LengthFromZero,
    Name,
    Note,
    Point,
    Size,
    Whole,
    WholeDocument,
    agree,
    number,
)
from pincorner.units import Unit


class Tool(Document):
    """A cutter: its diameter and how far it stands out of the nose."""

    diameter: Size
    """of the cutter"""
    stickout: Size | None = None
    """how far the tip stands out of the nose; left out: not known"""


def _tool_number(value: Any) -> str:
    text = str(value)
    if not text.isdecimal() or len(text) > 6:
        raise ValueError(f"expected a tool number, got {text!r}")
    return str(int(text))


def _tools_once(value: Any) -> Any:
    if isinstance(value, dict):
        numbers = [str(key).lstrip("0") for key in value]
        for key, number in zip(value, numbers, strict=True):
            if numbers.count(number) > 1:
                raise ValueError(f"tool {key} stands there twice")
    return value


Tools = Annotated[
    dict[Annotated[str, BeforeValidator(_tool_number)], Tool], BeforeValidator(_tools_once)
]


def _stretch(lines: tuple[int, int]) -> tuple[int, int]:
    if not 1 <= lines[0] <= lines[1]:
        raise ValueError(f"expected the first and the last line, got {lines[0]} to {lines[1]}")
    return lines


class Known(Document):
    """Lines of a program that need not be read, and what they do: probing, say."""

    what: Name
    """what they do, such as `probing`"""
    lines: Annotated[tuple[Whole, Whole], AfterValidator(_stretch)]
    """`[first, last]`"""


class Program(WholeDocument):
    """A program file, its unit and its tools."""

    file: FilePath
    """its file, from the shop folder, with / between folders"""
    units: Unit | None = None
    """what it was posted in, `mm` or `in`; left out: the machine's"""
    tools: Tools = Field(default_factory=dict)
    """its cutters by number, such as `{"1": {diameter: 6, stickout: 38}}`"""
    cycle: Duration | None = None
    """how long it takes, as `"4:20"`, `260` or `"90 s"`; left out: read from the program"""
    known: tuple[Known, ...] = ()
    """stretches that `check` takes as known, and reads for what their words state alone"""
    note: Note | None = None
    """text for whoever reads it"""


def _measured_kind(value: Any) -> str:
    return "~with_z" if isinstance(value, list | tuple) and len(value) == 4 else "~plane"


Ratio = Annotated[float, BeforeValidator(number)]

Reading = Annotated[
    Annotated[tuple[Label, Length, Length], Tag("~plane")]
    | Annotated[tuple[Label, Length, Length, Length], Tag("~with_z")],
    Discriminator(_measured_kind),
]
"""A hole, its measured centre in machine coordinates, and the surface height there if measured."""


def _not_below(least: int) -> AfterValidator:
    def check(value: int) -> int:
        if value < least:
            raise ValueError(f"expected {least} or more, got {value}")
        return value

    return AfterValidator(check)


Linear = tuple[tuple[Ratio, Ratio], tuple[Ratio, Ratio]]
"""A 2 x 2 matrix, row by row."""


class Plane(Document):
    """The surface fitted to a survey's heights."""

    height: Length
    """machine Z at the centroid"""
    slope: tuple[Ratio, Ratio]
    """rise per mm along the bed's X and Y"""
    rms: LengthFromZero
    """of what the heights lie off"""
    points: Annotated[Whole, _not_below(3)]
    """how many heights were used"""

    def at(self, at_mm: tuple[float, float], centroid_mm: tuple[float, float]) -> float:
        """Machine Z of the surface at a place of the bed, mm."""
        (x, y), (cx, cy), (sx, sy) = at_mm, centroid_mm, self.slope
        return self.height + sx * (x - cx) + sy * (y - cy)


class Fit(Document):
    """The grid's pose fitted to a survey: what geometry needs of it later, nothing is refitted."""

    pose: PoseEntry
    """the pose that was fitted"""
    points: Annotated[Whole, _not_below(1)]
    """how many readings were used"""
    s: LengthFromZero
    """standard deviation of one reading along an axis"""
    dof: Annotated[Whole, _not_below(0)]
    """its degrees of freedom, 2 n - 3"""
    centroid: Point
    """middle of the used holes, from A1"""
    spread: Annotated[float, Field(ge=0, allow_inf_nan=False)]
    """sum of their squared distances from it, mm2"""
    scatter: tuple[Ratio, Ratio, Ratio] | None = None
    """the same along X, along Y, and of the products"""
    left_out: tuple[Label, ...] = ()
    """holes whose readings were not used"""
    linear: Linear | None = None
    """where the bed has swollen or is out of square: what maps places as drawn to places as they
    are"""
    plane: Plane | None = None
    """the surface, where heights were measured"""

    @model_validator(mode="after")
    def _scatter_with_linear(self) -> Self:
        if self.linear is not None and self.scatter is None:
            raise ValueError("scatter: it is needed where linear is given")
        return self

    def swollen(self, drawn_mm: tuple[float, float]) -> tuple[float, float]:
        """Where a place of the bed as drawn lies on the bed as it is, in bed coordinates, mm."""
        if self.linear is None:
            return drawn_mm
        (xx, xy), (yx, yy) = self.linear
        (x, y), (cx, cy) = drawn_mm, self.centroid
        dx, dy = x - cx, y - cy
        return cx + xx * dx + xy * dy, cy + yx * dx + yy * dy


class Survey(WholeDocument):
    """Measured hole centres and the fit that was accepted."""

    bed: Name
    """the bed"""
    readings: tuple[Reading, ...]
    """`[hole, x, y]` or `[hole, x, y, z]` in machine coordinates"""
    fit: Fit
    """the fit that was accepted"""
    note: Note | None = None
    """text for whoever reads it"""


class Surfacing(WholeDocument):
    """The surface was cut down by `depth`, or slats got a new `surface` (machine Z)."""

    bed: Name
    """the bed"""
    depth: Size | None = None
    """how much was cut off; this or `surface`"""
    surface: Length | None = None
    """machine Z of new slats; this or `depth`"""
    slats: tuple[Name, ...] = ()
    """the slats that were cut or are new; left out: the whole bed"""
    note: Note | None = None
    """text for whoever reads it"""

    @model_validator(mode="after")
    def _one_of_two(self) -> Self:
        agree(self._disagreements())
        return self

    def _disagreements(self) -> Iterator[Disagreement]:
        if (self.depth is None) == (self.surface is None):
            text = "expected depth, or surface for new slats: one of the two"
            yield Disagreement(("depth", "surface"), text)
        if self.surface is not None and not self.slats:
            text = "slats: a new surface needs the slats that it is the height of"
            yield Disagreement(("surface", "slats"), text)


class Disturbance(WholeDocument):
    """The board was off or hit, steps were lost: where it lies is in doubt."""

    bed: Name
    """the bed"""
    note: Note | None = None
    """what happened"""


class Run(WholeDocument):
    """Stations worked in turn."""

    stations: Annotated[tuple[Name, ...], Field(min_length=1)]
    """stations in the order of work"""
    load: Duration | None = None
    """how long taking a part out and the next one in takes; left out: each station says its own"""
    start: Duration | None = None
    """how long the operator is at the machine before each cut; left out: no time"""
    tool_change: Duration | None = None
    """the same at each change by hand; left out: no time"""
    leave: Duration | None = None
    """to be away before a motion comes; left out: 20 s, and said so"""
    reach: LengthFromZero | None = None
    """how far around a jig hands are; left out: 250 mm, and said so"""
    least_gap: LengthFromZero | None = None
    """of a loading window, no safety distance; left out: 120 mm, and said so"""
    override: Factor | None = None
    """the largest feed override in use, 1.2 or `120 %`; left out: 1, and said so"""
    by: Literal["single", "repeat"] = "single"
    """`repeat` where one file of `repeat` works the stations; `single`: each program is started"""
    parts: Annotated[Whole, _not_below(1)] | None = None
    """how many are to be made; left out: one round"""
    note: Note | None = None
    """text for whoever reads it"""
