"""Jigs: reusable holders with one or more nests for parts."""

from collections.abc import Iterator
from functools import cached_property
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Discriminator, Field, Tag, ValidationInfo, model_validator
from pydantic import WithJsonSchema as Shown

from pincorner.documents.beds import Solid
from pincorner.documents.fields import (
    Angle,
    Count,
    Disagreement,
    Document,
    FilePath,
    LengthFromZero,
    Name,
    Note,
    Point,
    Size,
    StockSize,
    WholeDocument,
    agree,
    check_note,
    key_of,
    twice,
    unit_told,
)
from pincorner.documents.machines import Side
from pincorner.geometry.outline import Outline, reaches_over, rectangle, signed_area
from pincorner.geometry.pose import Pose
from pincorner.units import Unit, told_size


class RoundHole(Document):
    """The round hole of a jig that sits on a dowel."""

    at: Point
    """`[x, y]` of its centre, from the jig's corner"""
    hole: Size
    """its diameter"""


class Slot(Document):
    """The slot of a jig that sits on the other dowel; travel is end to end."""

    at: Point
    """`[x, y]` of its middle, from the jig's corner"""
    width: Size
    """across"""
    travel: LengthFromZero
    """from end to end"""


class OnDowels(Document):
    """A jig located by a round hole and a slot."""

    round: RoundHole
    """the round hole on one dowel pin"""
    slot: Slot
    """the slot on the other"""


Locate = Annotated[
    Annotated[Literal["edges"], Tag("~edges")] | Annotated[OnDowels, Tag("~dowels")],
    Discriminator(lambda value: "~edges" if isinstance(value, str) else "~dowels"),
]


class Stock(Document):
    """The stock of a nest: its lowest corner from the nest's zero, and length, width, thickness."""

    from_: Point = Field(default=(0.0, 0.0), alias="from")
    """`[x, y]` of its lowest corner from the nest's zero, along the nest's axes"""
    size: StockSize
    """`[length, width, thickness]`"""

    @property
    def outline(self) -> Outline:
        """The four corners along the nest's axes, from its zero."""
        (x, y), (length, width, _) = self.from_, self.size
        return rectangle(x, y, x + length, y + width)


class Nest(Document):
    """One place for a part in a jig; its zero is the program zero, in jig coordinates.

    program: one of its own, instead of the station's.
    """

    name: Name
    """its name, such as `a`"""
    zero: Point
    """`[x, y]` of the program zero, from the jig's corner"""
    angle: Angle = 0.0
    """of the program's X axis against the jig's"""
    stock: Stock
    """the piece that lies in it"""
    run_off: LengthFromZero | None = None
    """how far the cutter's edge may pass the stock, and from where on the jig around it counts as a
    solid block; left out: the largest tool's diameter, and said so"""
    program: Name | None = None
    """one of its own, instead of the station's"""

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


def _edge_name(value: Any) -> str:
    text = check_note(value)
    if not 0 < len(text) <= 64 or not text.isprintable() or text != text.strip():
        raise ValueError("expected one line of 1 to 64 characters, such as maker's mark")
    return text


EdgeName = Annotated[
    str,
    BeforeValidator(_edge_name),
    Shown({"type": ["string", "number", "boolean"], "minLength": 1, "maxLength": 64}),
]


class Edges(Document):
    """What people call a jig's own edges, by what is to be seen there."""

    front: EdgeName | None = None
    """the edge along its own X, from its corner"""
    back: EdgeName | None = None
    """the one opposite"""
    left: EdgeName | None = None
    """the edge along its own Y, from its corner"""
    right: EdgeName | None = None
    """the one opposite"""


class Jig(WholeDocument):
    """A reusable holder with a footprint, a seat height and its nests."""

    footprint: Footprint
    """`[x, y]` of a rectangle with its front left corner at 0, 0; or a list of corners"""
    locate: Locate = "edges"
    """`edges`: its edges lie against pins; or a round hole and a slot on two dowel pins"""
    seat: LengthFromZero = 0.0
    """height of the part's seat above the surface"""
    height: LengthFromZero | None = None
    """height of its tallest point above the surface; left out: the seat's"""
    spoil: LengthFromZero = 0.0
    """how deep cuts may go into the seat"""
    solids: tuple[Solid, ...] = ()
    """what stands up on it, from its corner"""
    nests: Annotated[tuple[Nest, ...], Field(min_length=1)]
    """places for parts, one at least"""
    edge_straightness: LengthFromZero | None = None
    """how straight and square its locating edges are: one standard deviation at a contact; left
    out: not counted, and said so"""
    edge_from: LengthFromZero = 0.0
    """lowest height of its locating edges above what it lies on, as a chamfer or a rebate leaves
    it"""
    copies: Count | None = None
    """how many there are of it: `status` tells if more stations name it, `run` if it needs more at
    once; left out: not known, and `run` says so"""
    photo: FilePath | None = None
    """a picture's file, from the shop folder; the sheet shows it"""
    edges: Edges | None = None
    """what people call its own edges, such as `{front: maker's mark}`; drawings and steps say it"""
    note: Note | None = None
    """text for whoever reads it"""

    @model_validator(mode="after")
    def _fits_together(self, info: ValidationInfo) -> Self:
        agree(self._disagreements(unit_told(info)))
        return self

    def _disagreements(self, unit: Unit) -> Iterator[Disagreement]:
        for name in twice(nest.name for nest in self.nests):
            yield Disagreement(("nests",), f"nests: two are named {name}")
        if self.height is not None and self.height < self.seat:
            yield Disagreement(
                ("height", "seat"),
                f"height: the tallest point ({told_size(self.height, unit)}) is not below the seat "
                f"({told_size(self.seat, unit)})",
            )
        elif self.edge_from > self.top_mm:
            yield Disagreement(
                ("edge_from", "height", "seat"),
                f"edge_from: its edges ({told_size(self.edge_from, unit)}) do not begin above its "
                f"tallest point ({told_size(self.top_mm, unit)})",
            )

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

    def edge_name(self, side: Side) -> str:
        """What people call one of its own edges; empty where nothing is said."""
        return (self.edges and getattr(self.edges, side)) or ""

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
