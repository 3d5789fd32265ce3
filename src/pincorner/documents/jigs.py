"""Jigs: reusable holders with one or more nests for parts."""

from functools import cached_property
from typing import Annotated, Any, Literal, Self

from pydantic import Discriminator, Field, Tag, ValidationInfo, model_validator

from pincorner.documents.beds import Solid
from pincorner.documents.fields import (
    Angle,
    Count,
    Document,
    FilePath,
    LengthFromZero,
    Name,
    Note,
    Point,
    Size,
    StockSize,
    WholeDocument,
    key_of,
)
from pincorner.geometry.outline import Outline, reaches_over, rectangle, signed_area
from pincorner.geometry.pose import Pose
from pincorner.units import Unit, told_size


class RoundHole(Document):
    """The round hole of a jig that sits on a dowel."""

    at: Point
    hole: Size


class Slot(Document):
    """The slot of a jig that sits on the other dowel; travel is end to end."""

    at: Point
    width: Size
    travel: LengthFromZero


class OnDowels(Document):
    """A jig located by a round hole and a slot."""

    round: RoundHole
    slot: Slot


Locate = Annotated[
    Annotated[Literal["edges"], Tag("~edges")] | Annotated[OnDowels, Tag("~dowels")],
    Discriminator(lambda value: "~edges" if isinstance(value, str) else "~dowels"),
]


class Stock(Document):
    """The stock of a nest: its lowest corner from the nest's zero, and length, width, thickness."""

    from_: Point = Field(default=(0.0, 0.0), alias="from")
    size: StockSize

    @property
    def outline(self) -> Outline:
        """The four corners along the nest's axes, from its zero."""
        (x, y), (length, width, _) = self.from_, self.size
        return rectangle(x, y, x + length, y + width)


class Nest(Document):
    """One place for a part in a jig; its zero is the program zero, in jig coordinates."""

    name: Name
    zero: Point
    angle: Angle = 0.0
    stock: Stock
    run_off: LengthFromZero | None = None

    @property
    def in_jig(self) -> Pose:
        """The nest's frame, with program zero as its origin, in the jig."""
        return Pose.of_degrees("jig", "nest", *self.zero, self.angle)

    @property
    def stock_in_jig(self) -> Outline:
        """The stock's four corners in jig coordinates."""
        return self.in_jig.points(self.stock.outline)

    def run_off_mm(self, largest_tool_mm: float) -> float:
        """How far the cutter's edge may pass the stock: as stated, else by that tool's diameter."""
        return largest_tool_mm if self.run_off is None else self.run_off


def _footprint_kind(value: Any) -> str:
    first = value[0] if isinstance(value, list | tuple) and value else None
    return "~points" if isinstance(first, list | tuple) else "~size"


Footprint = Annotated[
    Annotated[tuple[Size, Size], Tag("~size")]
    | Annotated[tuple[Point, ...], Tag("~points"), Field(min_length=3, max_length=200)],
    Discriminator(_footprint_kind),
]


class Jig(WholeDocument):
    """A reusable holder with a footprint, a seat height and its nests."""

    footprint: Footprint
    locate: Locate = "edges"
    seat: LengthFromZero = 0.0
    height: LengthFromZero | None = None
    spoil: LengthFromZero = 0.0
    solids: tuple[Solid, ...] = ()
    nests: Annotated[tuple[Nest, ...], Field(min_length=1)]
    copies: Count | None = None
    photo: FilePath | None = None
    note: Note | None = None

    @model_validator(mode="after")
    def _fits_together(self, info: ValidationInfo) -> Self:
        keys = [key_of(nest.name) for nest in self.nests]
        for nest in self.nests:
            if keys.count(key_of(nest.name)) > 1:
                raise ValueError(f"nests: two are named {nest.name}")
        if self.height is not None and self.height < self.seat:
            unit: Unit = info.context["units"] if info.context else "mm"
            raise ValueError(
                f"height: the tallest point ({told_size(self.height, unit)}) is not below the seat "
                f"({told_size(self.seat, unit)})"
            )
        return self

    @cached_property
    def outline(self) -> Outline:
        """The footprint's corners, counter-clockwise, in jig coordinates."""
        first = self.footprint[0]
        if not isinstance(first, tuple):
            width, depth = self.footprint
            assert not isinstance(width, tuple)
            assert not isinstance(depth, tuple)
            return rectangle(0.0, 0.0, width, depth)
        points = tuple(point for point in self.footprint if isinstance(point, tuple))
        return points if signed_area(points) > 0 else points[::-1]

    @property
    def top_mm(self) -> float:
        """Height of the tallest point above the surface."""
        return self.seat if self.height is None else self.height

    def sticks_out(self, outline: Outline) -> bool:
        """Whether something convex of the jig (jig coordinates) reaches over its footprint."""
        return reaches_over(self.outline, outline)

    @cached_property
    def solids_out(self) -> tuple[Outline, ...]:
        """The solids that stick out of the footprint, in jig coordinates."""
        return tuple(filter(self.sticks_out, (solid.box.outline for solid in self.solids)))

    @cached_property
    def stock_out(self) -> tuple[Outline, ...]:
        """The stock that sticks out of the footprint, in jig coordinates."""
        return tuple(filter(self.sticks_out, (nest.stock_in_jig for nest in self.nests)))

    @property
    def body(self) -> tuple[Outline, ...]:
        """The footprint and all that sticks out of it, in jig coordinates."""
        return (self.outline, *self.solids_out, *self.stock_out)

    def nest(self, name: str) -> Nest | None:
        """The nest of that name, without regard to case."""
        wanted = key_of(name)
        return next((nest for nest in self.nests if key_of(nest.name) == wanted), None)
