"""The documents that decide one station."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from pincorner.documents.beds import Bed, Pin
from pincorner.documents.fields import key_of
from pincorner.documents.jigs import Jig, Nest
from pincorner.documents.machines import Dialect, Machine
from pincorner.documents.records import Program, Surfacing, Survey
from pincorner.documents.stations import PinInHole, Station, bare_stock_jig
from pincorner.errors import UnknownName


class Facts(NamedTuple):
    """Everything that a station's setup is computed from.

    `holder` is the station's jig, or bare stock as the jig it is located as. `survey` is the
    accepted one (the last by name), `surfacings` come in order of name. `pins` are known by key.
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

    def pin_of(self, entry: str | PinInHole) -> Pin:
        """The pin that stands where a pin entry says."""
        name = entry.pin if isinstance(entry, PinInHole) else self.station.pin
        return self.pins[key_of(name)]

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
            return self._replace(holder=bare_stock_jig((length, width, thickness_mm)))
        nests = tuple(_thicker(nest, thickness_mm) for nest in self.holder.nests)
        return self._replace(holder=self.holder.model_copy(update={"nests": nests}))


def _thicker(nest: Nest, thickness_mm: float) -> Nest:
    length, width, _ = nest.stock.size
    stock = nest.stock.model_copy(update={"size": (length, width, thickness_mm)})
    return nest.model_copy(update={"stock": stock})
