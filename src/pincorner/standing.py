"""What stands on a bed: one value for all that a tool, a jig or a pin may run into.

`check` puts it into a program's frame, `place` keeps clear of it, `run` holds it against each
other, `repeat` passes over it, drawings draw it. What lies sunk in the bed is in `bed.py`.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from typing import Literal, NamedTuple

from pincorner.documents.beds import Bed, Pin
from pincorner.documents.fields import key_of
from pincorner.geometry.outline import Outline, bounds
from pincorner.geometry.pose import XY
from pincorner.setups.facts import Facts
from pincorner.setups.heights import ends_below, level_mm, surface_around, surface_at
from pincorner.setups.setup import Setup

Kind = Literal["jig", "stock", "solid", "clamp", "pin"]


class Standing(NamedTuple):
    """A thing that stands on a bed.

    outline: three or more corners in bed coordinates; of a pin its middle, which `radius_mm` makes
    a disc. bottom_mm, top_mm: above the surface that it stands on, with what lies `under` a jig in
    them; that surface lies at `surface_mm` in machine Z, None where it is not known (as for what
    stands on the bed itself while no setup tells of slats and surveys). A pin's is the
    one around its own hole; the rest of a station counts on the one that its jig lies on.
    name: its own; of a pin, its kind. station, jig, nest: whose it is; station empty for what
    belongs to the bed. hole: of a pin; gives_mm: how far it gives way, in its play, to a jig.
    footprint: whether its outline is where the station lies (the jig, or bare stock).
    sticks_out: whether it belongs to a jig and reaches over its footprint.
    mark: of a clamp, or of a jig's own solid, what it is called on sheet and drawings (`marks`).
    """

    kind: Kind
    name: str
    outline: Outline
    surface_mm: float | None = None
    bottom_mm: float = 0.0
    top_mm: float = 0.0
    station: str = ""
    jig: str = ""
    nest: str = ""
    hole: str = ""
    radius_mm: float = 0.0
    gives_mm: float = 0.0
    footprint: bool = False
    sticks_out: bool = False
    mark: str = ""

    @property
    def marked(self) -> str:
        """As a sentence names it beside its station's sheet: a clamp by its mark as well."""
        return f"clamp {self.mark} ({self.name})" if self.kind == "clamp" else self.called

    @property
    def called(self) -> str:
        """As a sentence names it, but for whose it is."""
        return {"clamp": f"clamp {self.name}", "pin": f"pin {self.hole}"}.get(self.kind, self.name)

    @property
    def whose(self) -> str:
        """Whose it is, to be put behind its name."""
        return f" of station {self.station}" if self.station else " on the bed"

    @property
    def firm_mm(self) -> float:
        """The radius that it keeps when a jig is pushed against it."""
        return self.radius_mm - self.gives_mm

    @property
    def is_body(self) -> bool:
        """Whether another jig cannot lie there: the footprint, and what sticks out of it."""
        return self.footprint or self.sticks_out

    @property
    def takes_room(self) -> bool:
        """Whether it takes room on the bed of its own: stock within its jig does not."""
        return self.kind != "stock" or self.is_body

    def above_mm(self, surface_mm: float | None) -> float:
        """How high it reaches over another surface; as if level where either is not known."""
        return self.top_mm + level_mm(self.surface_mm, surface_mm)

    def passes_under(self, other: Standing) -> bool:
        """Whether it is a pin that ends below stock which sticks out over it: in nobody's way."""
        over = self.kind == "pin" and other.kind == "stock" and not other.footprint
        return over and ends_below(self.top_mm, self.surface_mm, other.bottom_mm, other.surface_mm)


def first_of_each(bed: Bed, setups: Iterable[Setup]) -> list[Setup]:
    """One setup of each station on a bed: its jig lies in one place, whatever its nests."""
    found: dict[str, Setup] = {}
    for setup in setups:
        if key_of(setup.facts.bed.name) == key_of(bed.name):
            found.setdefault(key_of(setup.facts.station.name), setup)
    return list(found.values())


def standing_on(bed: Bed, setups: Iterable[Setup] = ()) -> list[Standing]:
    """All that stands on a bed: station by station, then what belongs to the bed itself.

    Of a station with several nests one setup is enough; setups on other beds are left out.
    """
    stations = first_of_each(bed, setups)
    found = [each for setup in stations for each in standing_of(setup)]
    for solid in bed.solids:
        outline, surface_mm = solid.box.outline, None
        if stations:
            surface_mm = surface_at(stations[0].facts, outline, bounds(outline).middle)
        found.append(Standing("solid", solid.name, outline, surface_mm, top_mm=solid.top))
    return found


def standing_up(setup: Setup) -> list[Standing]:
    """What stands up on a station: the jig's own solids, and its clamps."""
    return [each for each in standing_of(setup) if each.kind in ("solid", "clamp")]


def standing_of(setup: Setup) -> list[Standing]:
    """What a station puts on its bed: jig, the stock of every nest, solids, clamps and pins.

    Clamps and pins stand on the bed itself, the rest on what lies under the jig.
    """
    station = setup.facts.station
    own = (*_of_jig(setup), *_on_bed(setup))
    clamps, solids = (sum(each.kind == kind for each in own) for kind in ("clamp", "solid"))
    names = marks(clamps + solids, setup.facts.bed)
    left = {"clamp": iter(names[:clamps]), "solid": iter(names[clamps:])}
    return [
        each._replace(
            surface_mm=each.surface_mm if each.kind == "pin" else setup.heights.surface_mm,
            station=station.name,
            jig=setup.facts.holder.name,
            mark=next(left[each.kind]) if each.kind in left else "",
        )
        for each in own
    ]


_LETTERS = "ABCDEFGHJKLMNPQRSTUVW"
"""Not I and O, which are read as digits, nor X, Y and Z, which are axes."""


def marks(count: int, bed: Bed) -> list[str]:
    """What stands up at a station, clamps first, is called so: A, B, ... W, AA, AB, ... without
    those that name a column of its bed, where a picture has both.

    Letters alone: numbers are pins, and a hole's name has both.
    """
    columns = {bed.letters.of(at) for at in range(1, bed.grid.columns + 1)}
    every = (
        "".join(each)
        for long in itertools.count(1)
        for each in itertools.product(_LETTERS, repeat=long)
    )
    return list(itertools.islice((mark for mark in every if mark not in columns), count))


def _of_jig(setup: Setup) -> Iterator[Standing]:
    """The jig and what stands on it; bare stock is told as stock alone."""
    jig, under, on_bed = setup.facts.holder, setup.facts.station.under, setup.jig_in_bed.points
    bare = setup.facts.is_bare
    if not bare:
        yield Standing(
            "jig", jig.name, setup.footprint_in_bed(), None, under, under + jig.top_mm,
            footprint=True,
        )  # fmt: skip
    for nest in jig.nests:
        name = "the stock" if len(jig.nests) == 1 else f"the stock of nest {nest.name}"
        outline = (setup.jig_in_bed @ nest.in_jig).points(nest.stock.outline)
        bottom_mm = setup.heights.stock_bottom_mm
        yield Standing(
            "stock", name, outline, None, bottom_mm, bottom_mm + nest.stock.size[2],
            nest=nest.name, footprint=bare, sticks_out=jig.sticks_out(nest.stock_in_jig),
        )  # fmt: skip
    for solid in jig.solids:
        outline, top_mm = solid.box.outline, under + solid.top
        yield Standing(
            "solid", solid.name, on_bed(outline), None, under, top_mm,
            sticks_out=jig.sticks_out(outline),
        )  # fmt: skip


def _on_bed(setup: Setup) -> Iterator[Standing]:
    for clamp in setup.facts.station.clamps:
        outline = setup.jig_in_bed.points(clamp.box.outline)
        yield Standing("clamp", clamp.name, outline, top_mm=clamp.top)
    for pin in setup.located.pins:
        stands = pin_at(setup.facts, pin.pin, pin.at_mm)
        yield stands._replace(hole=pin.hole, radius_mm=pin.radius_mm, gives_mm=pin.gives_mm)


def pin_at(facts: Facts, pin: Pin, at_mm: XY) -> Standing:
    """A pin at a place of the station's bed, as if nobody's."""
    radius_mm = pin.body / 2
    surface_mm = surface_around(facts, at_mm, radius_mm)
    return Standing("pin", pin.name, (at_mm,), surface_mm, 0.0, pin.height, radius_mm=radius_mm)


def highest_of(setup: Setup) -> float:
    """Height of the tallest thing of a station above the bed's surface, pins, stock and all, mm."""
    return max(each.above_mm(setup.heights.surface_mm) for each in standing_of(setup))


def empty_holes(bed: Bed, setups: Iterable[Setup]) -> list[str]:
    """Labels of the holes at inside corners that stay empty for the stations on a bed."""
    corners = (setup.located.corner_hole for setup in first_of_each(bed, setups))
    places = (bed.hole(corner) for corner in corners if corner is not None)
    return [place.label for place in places if place is not None]
