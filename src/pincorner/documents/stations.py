"""Stations: named places on a bed, a jig or bare stock against given pins."""

from collections.abc import Iterator, Mapping
from datetime import date
from functools import lru_cache
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Discriminator, Field, Tag, model_validator
from pydantic import WithJsonSchema as Shown

from pincorner.documents.beds import Solid
from pincorner.documents.fields import (
    Angle,
    Code,
    Disagreement,
    Document,
    Duration,
    Flag,
    Label,
    Length,
    LengthFromZero,
    Name,
    Note,
    Point,
    StockSize,
    Whole,
    WholeDocument,
    agree,
    check_name,
    key_of,
    twice,
)
from pincorner.documents.jigs import Jig, Nest, Stock
from pincorner.documents.machines import Side

Toward = Literal["+x+y", "-x+y", "+x-y", "-x-y"]
BARE_NEST = "a"
"""Bare stock has one nest of this name."""


class PinInHole(Document):
    """A pin that differs from the station's own."""

    hole: Label
    """the hole's label"""
    pin: Name
    """the kind of pin in it"""


def _entry_kind(value: Any) -> str:
    return "~entry" if isinstance(value, dict | PinInHole) else "~label"


PinEntry = Annotated[
    Annotated[Label, Tag("~label")] | Annotated[PinInHole, Tag("~entry")],
    Discriminator(_entry_kind),
]


def hole_of(entry: str | PinInHole) -> str:
    """The hole that a pin entry names."""
    return entry if isinstance(entry, str) else entry.hole


class EdgePins(Document):
    """Two pins under one edge, a stop on the edge at right angles to it."""

    edge: tuple[PinEntry, PinEntry]
    """the holes of the two pins under one edge, such as `[D2, G2]`; `{hole: D2, pin: peg-12}` for
    another kind of pin"""
    stop: PinEntry
    """the hole of the pin at the edge at right angles to it"""
    chosen: Flag = False
    """`true`: they were chosen here"""

    def by_role(self) -> tuple[tuple[str, str, str | PinInHole], ...]:
        """(path, role, entry) of every pin."""
        first, second = self.edge
        return ("edge[0]", "edge", first), ("edge[1]", "edge", second), ("stop", "stop", self.stop)


class DowelPins(Document):
    """The pins that the jig's round hole and slot sit on."""

    round: PinEntry
    """the hole of the pin in the jig's round hole"""
    slot: PinEntry
    """the hole of the pin in the slot"""

    def by_role(self) -> tuple[tuple[str, str, str | PinInHole], ...]:
        """(path, role, entry) of every pin."""
        return ("round", "round", self.round), ("slot", "slot", self.slot)


def _pins_kind(value: Any) -> str:
    if isinstance(value, Mapping):
        return "~dowels" if "round" in value or "slot" in value else "~edges"
    return "~dowels" if isinstance(value, DowelPins) else "~edges"


Pins = Annotated[
    Annotated[EdgePins, Tag("~edges")] | Annotated[DowelPins, Tag("~dowels")],
    Discriminator(_pins_kind),
]


def _quarter(value: int) -> int:
    if value not in (0, 90, 180, 270):
        raise ValueError(f"expected 0, 90, 180 or 270, got {value}")
    return value


def _toward(value: Any) -> Any:
    return value.replace(" ", "").lower() if isinstance(value, str) else value


def check_day(value: Any) -> str:
    """A day as `2026-11-20`; ValueError tells what was expected."""
    text = check_name(value)
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise ValueError(f"expected a day such as 2026-11-20, got {text!r}") from None


Day = Annotated[str, BeforeValidator(check_day), Shown({"type": "string", "format": "date"})]


class MeasuredZero(Document):
    """A program zero as it was measured in the machine, where no pins say where the jig lies."""

    x: Length
    """of the program zero, X in the machine, as it stood in the offset table"""
    y: Length
    """likewise, Y"""
    z: Length | None = None
    """likewise, Z with that day's tool: shown, and never written"""
    nest: Name | None = None
    """the nest whose zero it is, from which those of others follow; left out: the jig's first"""
    date: Day | None = None
    """the day on which it was measured, such as `2026-11-20`; left out: not known"""
    by: Name | None = None
    """who measured it"""

    @property
    def when(self) -> str:
        """`on 2026-11-20`, in sentences."""
        return f"on {self.date}" if self.date else "on a day that nobody wrote down"

    def is_before(self, record: str) -> bool:
        """Whether it was measured no later than a record that is named by its date, or may be."""
        return self.date is None or self.date <= record[:10]


class ZRule(Document):
    """Which height is zero and how it is set."""

    zero: Literal["surface", "seat", "stock-top"] = "stock-top"
    """height of the program zero: `surface` of the bed, `seat` of the part, or `stock-top`"""
    set: Literal["touch", "reference", "machine"] = "touch"
    """how it is set: by `touch`, from the `reference` code of a machine that does not home, or by
    the `machine`"""


class Station(WholeDocument):
    """A named place on a bed: a jig (or bare stock) against pins, or as measured."""

    bed: Name
    """where"""
    jig: Name | None = None
    """the jig that lies there; this or `stock`"""
    stock: StockSize | None = None
    """`[length, width, thickness]` of bare stock: one nest `a`; this or `jig`"""
    stock_zero: Point = (0.0, 0.0)
    """`[x, y]` of the program zero on bare stock, along its length and width from the corner that
    is front left when it is not turned: `[0, 0]` that corner, half the size its middle; with
    `stock` alone"""
    pin: Name = ""
    """the kind of pin; needed unless `measured` stands there"""
    pins: Pins | None = None
    """the holes that the pins stand in; left out: chosen, and then kept"""
    corner: Label | None = None
    """the hole at the inside corner, which stays empty; needed where `pins` is left out, else it
    follows"""
    toward: Annotated[Toward, BeforeValidator(_toward)] | None = None
    """the quadrant in which the jig lies, seen from there: `+x+y`, `-x+y`, `+x-y` or `-x-y`;
    likewise"""
    measured: MeasuredZero | None = None
    """the zero as it was measured in the machine, instead of pin, pins, corner and toward"""
    turn: Annotated[Whole, AfterValidator(_quarter), Shown({"enum": [0, 90, 180, 270]})] = 0
    """the jig turned on the bed by 0, 90, 180 or 270"""
    pins_pressed: Flag = True
    """`true`: the jig is pushed against its edge pins, which give way by their play; `false`: it is
    laid against them, and a pin may stand anywhere in its play"""
    measured_holes: Flag = False
    """`true`: its pins' holes count where the survey found them"""
    program_angle: Angle = 0.0
    """by how much the program was posted turned already"""
    max_skew: LengthFromZero | None = None
    """largest deviation over the stock that may stay uncorrected here; left out: the machine's"""
    under: LengthFromZero = 0.0
    """thickness of a waste sheet under jig or stock"""
    work_offsets: dict[Name, Code] = Field(default_factory=dict)
    """the code of each nest, such as `{a: G55}`"""
    z: ZRule = ZRule()
    """which height is zero, and how it is set"""
    program: Name | None = None
    """the program that runs there"""
    access: Side | None = None
    """the side it is loaded from: `front`, `back`, `left` or `right`; left out: the operator's"""
    load: Duration | None = None
    """how long loading it takes; left out: the run's"""
    clamps: tuple[Solid, ...] = ()
    """clamps, from the corner of the jig or of bare stock, turned with it"""
    note: Note | None = None
    """text for whoever reads it"""

    @model_validator(mode="after")
    def _keys_agree(self) -> Self:
        agree([*self._what_lies_there(), *self._what_holds_it(), *self._said_twice()])
        return self

    def _what_lies_there(self) -> Iterator[Disagreement]:
        what = ("jig", "stock")
        if (self.jig is None) == (self.stock is None):
            yield Disagreement(what, "expected jig or, for bare stock, stock: one of the two")
        elif self.stock is None and "stock_zero" in self.model_fields_set:
            yield Disagreement(
                (*what, "stock_zero"),
                "stock_zero: it goes with stock; where the zeros of a jig are, its nests say",
            )

    def _what_holds_it(self) -> Iterator[Disagreement]:
        where = ("pins", "corner", "toward", "measured")
        if self.measured is not None:
            held = ("pin", "pins", "corner", "toward", "measured_holes")
            said = [key for key in held if getattr(self, key)]
            if said:
                yield Disagreement(
                    ("measured", *said),
                    "measured: no pins say where it lies; leave out "
                    f"{', '.join(said)}, or measured",
                )
            return
        if not self.pin:
            text = "expected pin, the kind of pin (or measured, a zero as it was found)"
            yield Disagreement(("pin", "measured"), text)
        if isinstance(self.pins, DowelPins):
            if self.stock is not None:
                text = "pins: bare stock has no dowel holes; give edge and stop"
                yield Disagreement(("pins", "stock"), text)
            if self.corner or self.toward or ("turn" in self.model_fields_set and self.turn):
                text = "pins: on dowels, corner, toward and turn follow; leave them out"
                yield Disagreement((*where, "turn"), text)
        elif self.pins is None and not (self.corner and self.toward):
            text = "expected pins, or corner and toward (then pins are chosen)"
            yield Disagreement(where, text)

    def _said_twice(self) -> Iterator[Disagreement]:
        for name in twice(self.work_offsets):
            yield Disagreement(("work_offsets",), f"work_offsets: nest {name} stands there twice")
        for hole in twice(self.pin_holes):
            text = f"pins: two pins cannot stand in one hole ({hole})"
            yield Disagreement(("pins",), text)

    @property
    def wants_pins(self) -> bool:
        """Whether pins are to be chosen for it."""
        return self.pins is None and self.measured is None

    @property
    def pins_by_role(self) -> tuple[tuple[str, str, str | PinInHole], ...]:
        """(path, role, entry) of every pin; empty while none are known."""
        return () if self.pins is None else self.pins.by_role()

    @property
    def pin_holes(self) -> tuple[str, ...]:
        """The holes of its pins as they are written, in the order in which `register` takes them:
        edge, edge, stop; or round, slot."""
        return tuple(hole_of(entry) for _, _, entry in self.pins_by_role)

    def pin_of(self, entry: str | PinInHole) -> str:
        """The name of the pin that stands where a pin entry says."""
        return entry.pin if isinstance(entry, PinInHole) else self.pin

    def code_of(self, nest: str) -> str | None:
        """The work offset of a nest, without regard to the name's case."""
        wanted = key_of(nest)
        return next((c for name, c in self.work_offsets.items() if key_of(name) == wanted), None)


@lru_cache(maxsize=1024)
def bare_stock_jig(size: tuple[float, float, float], zero: tuple[float, float]) -> Jig:
    """Bare stock as the jig it is located as: its own size, seat 0, one nest.

    Size and zero in mm, the zero from the corner of lowest X and Y of the piece, unturned.
    """
    x, y = zero
    corner = (0.0 - x, 0.0 - y)  # 0.0 less 0.0 has no sign
    stock = Stock.model_validate({"from": corner, "size": size})
    nest = Nest(name=BARE_NEST, zero=zero, stock=stock)
    return Jig(name="bare stock", footprint=size[:2], height=size[2], nests=(nest,))
