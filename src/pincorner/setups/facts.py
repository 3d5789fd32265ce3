"""The documents that decide one station, and what several stations want of one jig."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import NamedTuple

from pincorner.documents.beds import Bed, Pin
from pincorner.documents.fields import key_of
from pincorner.documents.jigs import Jig, Nest
from pincorner.documents.machines import Dialect, Machine
from pincorner.documents.records import Disturbance, Program, Surfacing, Survey
from pincorner.documents.stations import EdgePins, PinInHole, Station, bare_stock_jig
from pincorner.errors import UnknownName
from pincorner.geometry.outline import Box
from pincorner.geometry.pose import XY


class LastPaper(NamedTuple):
    """What the newest paper of a nest shows: its fingerprint and its offset in the machine."""

    fingerprint: str
    x_mm: float
    y_mm: float


class UsedHole(NamedTuple):
    """A hole of the bed and a kind of pin that stations have in it.

    `stations`: the first and the last of them by key (the same one where it is alone).
    """

    at_mm: XY
    hole: str
    pin: Pin
    stations: tuple[str, str]

    def other_than(self, station: str) -> str | None:
        """A station with this pin that is not `station` (a key); None where there is none."""
        return next((each for each in self.stations if each != station), None)


class UsedHoles:
    """Holes in use on a bed, found by place. `largest_mm`: the largest body of a pin in them."""

    def __init__(self, holes: Iterable[UsedHole]) -> None:
        holes = list(holes)
        self.largest_mm = max((hole.pin.body for hole in holes), default=0.0)
        columns: dict[float, list[UsedHole]] = {}
        for hole in sorted(holes, key=lambda hole: (hole.at_mm, hole.hole, hole.pin.name)):
            columns.setdefault(hole.at_mm[0], []).append(hole)
        self._xs = list(columns)
        self._columns = list(columns.values())
        self._ys = [[hole.at_mm[1] for hole in column] for column in self._columns]

    def within(self, box: Box) -> list[UsedHole]:
        """Those with their centre in a box of bed coordinates, by place."""
        found: list[UsedHole] = []
        for at in range(bisect_left(self._xs, box.left), bisect_right(self._xs, box.right)):
            ys = self._ys[at]
            found += self._columns[at][bisect_left(ys, box.front) : bisect_right(ys, box.back)]
        return found


class Facts(NamedTuple):
    """Everything that a station's setup is computed from.

    `holder` is the station's jig, or bare stock as the jig it is located as. `survey` is the
    accepted one (the last by name), `surfacings` come in order of name. `disturbed`: since then
    nothing has shown where the bed lies. `pins` are known by key.
    `used` are the holes in use on the bed now; None when they were not asked for.
    `papers`: the newest paper of each nest, by name. `nest_programs`: of the nests that have one of
    their own, by name.
    """

    machine: Machine
    dialect: Dialect
    bed: Bed
    pins: Mapping[str, Pin]
    holder: Jig
    station: Station
    program: Program | None = None
    survey: Survey | None = None
    surfacings: tuple[Surfacing, ...] = ()
    disturbed: Disturbance | None = None
    used: UsedHoles | None = None
    papers: Mapping[str, LastPaper] = MappingProxyType({})
    nest_programs: Mapping[str, Program] = MappingProxyType({})

    def program_of(self, nest: Nest) -> Program | None:
        """The program that runs at a nest: its own, else the station's."""
        return self.nest_programs.get(nest.name, self.program)

    def pin_of(self, entry: str | PinInHole) -> Pin:
        """The pin that stands where a pin entry says."""
        return self.pins[key_of(self.station.pin_of(entry))]

    @property
    def is_bare(self) -> bool:
        """Whether a piece of stock itself lies on the bed, and no jig."""
        return self.station.stock is not None

    @property
    def thing(self) -> str:
        """What lies on the bed, in a word: `jig`, or `stock` where that is bare."""
        return "stock" if self.is_bare else "jig"

    @property
    def max_skew_mm(self) -> float:
        """Largest deviation over the stock that may stay uncorrected: the station's own, else the
        machine's."""
        own = self.station.max_skew
        return self.machine.max_skew if own is None else own

    @property
    def largest_tool_mm(self) -> float:
        """Diameter of the programs' largest tool, mm; 0 where no program or no tool is known."""
        programs = {each.name: each for each in map(self.program_of, self.holder.nests) if each}
        tools = (tool for each in programs.values() for tool in each.tools.values())
        return max((tool.diameter for tool in tools), default=0.0)

    @property
    def widest_mm(self) -> float:
        """Of the programs' largest tool and the nose above it what is wider, mm."""
        return max(self.machine.nose or 0.0, self.largest_tool_mm)

    def nest(self, name: str | None) -> Nest:
        """The nest of that name, the first with None. Raises UnknownName."""
        if name is None:
            return self.holder.nests[0]
        nest = self.holder.nest(name)
        if nest is None:
            known = [each.name for each in self.holder.nests]
            raise UnknownName(f"nest of {self.holder.name}", name, known)
        return nest

    def with_stock_thickness(self, thickness_mm: float) -> Facts:
        """The same station with today's piece instead of the stock on file."""
        if self.station.stock is not None:
            length, width, _ = self.station.stock
            size = (length, width, thickness_mm)
            return self._replace(holder=bare_stock_jig(size, self.station.stock_zero))
        nests = tuple(_thicker(nest, thickness_mm) for nest in self.holder.nests)
        return self._replace(holder=self.holder.model_copy(update={"nests": nests}))


def _thicker(nest: Nest, thickness_mm: float) -> Nest:
    length, width, _ = nest.stock.size
    stock = nest.stock.model_copy(update={"size": (length, width, thickness_mm)})
    return nest.model_copy(update={"stock": stock})


class WantedJig(NamedTuple):
    """A jig, the stations that name it, and how many there are of it; None where not given."""

    jig: str
    stations: tuple[str, ...]
    copies: int | None


def wanted_jigs(facts: Iterable[Facts]) -> list[WantedJig]:
    """Jigs of which there are, or may be, fewer than stations that name them."""
    stations: dict[str, dict[str, int | None]] = {}
    for each in facts:
        if each.station.jig is not None:
            named = stations.setdefault(each.holder.name, {})
            named[each.station.name] = each.holder.copies
    wanted = []
    for jig, named in stations.items():
        copies = next(iter(named.values()))
        if len(named) > (copies or 1):
            wanted.append(WantedJig(jig, tuple(named), copies))
    return wanted


def with_pins(station: Station, pins: EdgePins) -> Station:
    """The station with these pins."""
    return station.model_copy(update={"pins": pins})
