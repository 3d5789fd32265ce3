"""How a pin stands in its hole: pushed aside by the jig, or anywhere within its play.

A jig located by edges is pushed against its pins, and a pushed pin stands away from the jig: with
its shank against the far side of the hole, and leaning as far as hole and jig let it (guide,
Pressed pins). A pin that nothing pushes may lie and lean anywhere (guide, Budget); one in a jig's
own hole leans no more than that hole, upright around it, lets it (guide, Dowels).
"""

from __future__ import annotations

import math
from typing import NamedTuple

from pincorner.bed import hole_depth_mm
from pincorner.documents.beds import Pin
from pincorner.documents.jigs import OnDowels
from pincorner.geometry.iso286 import clearance_mm
from pincorner.geometry.pose import XY
from pincorner.setups.facts import Facts

LEAN_SHARE = 0.5
"""Variance of a lean, as a share of the square of the most that it can be off its middle.

It is at one of its ends more often than between: an arc sine (JCGM 101, 6.4.6)."""


class Play(NamedTuple):
    """Diametral play of a pin in its hole: its mean, the mean of its square, its most; mm, mm2."""

    mean_mm: float
    square_mm2: float
    most_mm: float

    @property
    def sd_mm(self) -> float:
        return math.sqrt(max(self.square_mm2 - self.mean_mm**2, 0.0))

    @property
    def most_share(self) -> float:
        """The most, as a multiple of the root of the mean square; 1 where it is one figure."""
        return self.most_mm / math.sqrt(self.square_mm2) if self.square_mm2 else 1.0


class PinFit(NamedTuple):
    """What a pin's play does to its contact, mm.

    shift_mm: how far its body stands from the hole's centre, away from the jig. fixed_sd_mm: what
    of that is unknown and the same each time; varying_sd_mm: what differs each time, per axis or
    along the contact's normal. lean_mm: by how much at the most a lean is off its middle, to either
    side; it may go together with those of other pins. `lean_unknown`: how deep it stands is not
    given. `most_share`: what varies on the board with the largest play that its fit allows, as a
    multiple of what is said of all boards. reach_mm: of a pin that nothing pushes, how far from
    the hole's middle it may stand where it is touched, with the largest play that its fit allows.
    """

    shift_mm: float = 0.0
    fixed_sd_mm: float = 0.0
    varying_sd_mm: float = 0.0
    lean_mm: float = 0.0
    lean_unknown: bool = False
    most_share: float = 1.0
    reach_mm: float = 0.0

    @property
    def lean_sd_mm(self) -> float:
        return math.sqrt(LEAN_SHARE) * self.lean_mm

    @property
    def at_most(self) -> PinFit:
        """The same on the board with the largest play: what varies there from time to time."""
        return self._replace(
            varying_sd_mm=self.most_share * self.varying_sd_mm,
            lean_mm=self.most_share * self.lean_mm,
            most_share=1.0,
        )


def gives_way_mm(facts: Facts, pin: Pin, at_mm: XY) -> float:
    """How far a pin stands from its hole's centre where a jig is pushed against it, on average.

    c/2 + w with w = c e1/(2 d); 0 for pins that are screwed or have a taper.
    """
    if pin.held != "loose":
        return 0.0
    depth_mm = _depth_mm(facts, pin, at_mm)
    height_mm = min(pin.height, lowest_mm(facts))  # another station's pin may end below the jig
    slope = height_mm / depth_mm if depth_mm else 0.0
    return (0.5 + slope / 2) * play_of(facts, pin).mean_mm


def is_pressed(facts: Facts, pin: Pin) -> bool:
    """Whether the station's jig pushes such a pin aside: never on dowels, nor one that is held."""
    on_dowels = isinstance(facts.holder.locate, OnDowels)
    return facts.station.pins_pressed and pin.held == "loose" and not on_dowels


def play_of(facts: Facts, pin: Pin) -> Play:
    """Play as measured on the bed, else by the pin's fit, else hole less shank; never below 0.

    A fit class has its play uniform between its ISO 286 limits, interference counted as none.
    """
    if pin.held == "tapered":
        return Play(0.0, 0.0, 0.0)
    grid = facts.bed.grid
    if grid.play is not None or pin.fit is None:
        play_mm = max(grid.hole - pin.shank, 0.0) if grid.play is None else grid.play
        return Play(play_mm, play_mm**2, play_mm)
    least, most = clearance_mm(pin.fit, pin.shank)
    low, high = max(least, 0.0), max(most, 0.0)
    return Play(
        (high**2 - low**2) / (2 * (most - least)),
        (high**3 - low**3) / (3 * (most - least)),
        high,
    )


def pin_fit(facts: Facts, pin: Pin, at_mm: XY, in_jig_mm: float | None = None) -> PinFit:
    """What the play of a pin in the hole at a place of the bed does to its contact.

    `in_jig_mm`: across the jig's own hole over it, a dowel (`_dowel_fit`). Not pushed: see
    `_laid_share`. Pushed: c/2 + w +- w with w = c e1/(2 d), c the play, e1 the lowest height of
    contact, d the hole's depth or the shank's length in it if that is less. Screwed: a disc of
    radius c/2, which has c/4 per axis.
    """
    if in_jig_mm is not None:
        return _dowel_fit(facts, pin, at_mm, in_jig_mm)
    play = play_of(facts, pin)
    if play.square_mm2 == 0.0:
        return PinFit()
    if pin.held == "screwed":
        reach_mm = play.most_mm / 2
        return PinFit(fixed_sd_mm=math.sqrt(play.square_mm2) / 4, reach_mm=reach_mm)
    pressed = is_pressed(facts, pin)
    low_mm, high_mm = lowest_mm(facts), _highest_mm(facts, pin)
    depth_mm = _depth_mm(facts, pin, at_mm)
    low, high = (each / depth_mm if depth_mm else 0.0 for each in (low_mm, high_mm))
    unknown = depth_mm is None and (low_mm if pressed else high_mm) > 0
    root_mm, most = math.sqrt(play.square_mm2), play.most_share
    if not pressed:
        varying_mm = _laid_share(low, high) * root_mm
        reach_mm = (0.5 + high) * play.most_mm
        return PinFit(0.0, 0.0, varying_mm, 0.0, unknown, most, reach_mm)
    shift_mm, fixed_mm = gives_way_mm(facts, pin, at_mm), (0.5 + low / 2) * play.sd_mm
    return PinFit(shift_mm, fixed_mm, 0.0, root_mm * low / 2, unknown, most)


def _dowel_fit(facts: Facts, pin: Pin, at_mm: XY, in_jig_mm: float) -> PinFit:
    """The same of a pin in the jig's own hole, with the play between these two.

    The hole stands upright around the pin from the waste sheet, u high, to the pin's top or the
    jig's, e high. With p the play there the pin leans by at most p/(e - u), nor more than c/d, and
    the hole's middle lies within R = c/2 + u min(c/d, p/(e - u)) + p/2 of that of the bed's hole: a
    hole that begins at the surface does not see a pin lean. A jig that is pushed on its dowels lies
    at the rim, one that is laid anywhere in it: R/sqrt(2) per axis (JCGM 101, 6.4.6).
    """
    in_jig = max(in_jig_mm - pin.body, 0.0)
    low_mm, depth_mm = lowest_mm(facts), _depth_mm(facts, pin, at_mm)
    held_mm = _highest_mm(facts, pin) - low_mm
    by_jig = in_jig / held_mm if held_mm > 0 else math.inf

    def radius_mm(play_mm: float) -> float:
        slope = min(play_mm / depth_mm if depth_mm else math.inf, by_jig)
        leans_mm = low_mm * slope if 0 < slope < math.inf else 0.0
        return play_mm / 2 + leans_mm + in_jig / 2

    play, share = play_of(facts, pin), math.sqrt(LEAN_SHARE)
    if pin.held == "screwed":
        fixed_mm, most_mm = math.sqrt(play.square_mm2) / 4, (play.most_mm + in_jig) / 2
        return PinFit(0.0, fixed_mm, share * in_jig / 2, reach_mm=most_mm)
    root_mm, most_mm = radius_mm(math.sqrt(play.square_mm2)), radius_mm(play.most_mm)
    unknown = depth_mm is None and low_mm > 0 and by_jig == math.inf
    most = most_mm / root_mm if root_mm else 1.0
    return PinFit(0.0, 0.0, share * root_mm, 0.0, unknown, most, most_mm)


def _laid_share(low: float, high: float) -> float:
    """Standard deviation per axis of a pin that nothing pushes, as a share of its play.

    `low`, `high`: lowest and highest height of contact over the depth of the hole. At a height h it
    reaches R = c/2 + c h/d from the hole's centre. Anywhere in that disc it has R/2 (JCGM 100,
    4.3); leaning as far as it can, any way, R/sqrt(2). A wall that begins at the surface stops it
    from leaning away and leaves the disc of the highest contact; one that begins higher stops less,
    and what it adds to R^2/4 at the lowest contact counts beside it.
    """
    at_low, at_high = 0.5 + low, 0.5 + high
    return math.sqrt(at_high**2 + at_low**2 - 0.5**2) / 2


def lowest_mm(facts: Facts) -> float:
    """The lowest height at which a pin can touch; a dowel's hole has no chamfer that counts.

    A pin that ends there holds nothing (`setups.holes.refuse_pin`).
    """
    edge_from_mm = 0.0 if isinstance(facts.holder.locate, OnDowels) else facts.holder.edge_from
    return facts.station.under + edge_from_mm


def _highest_mm(facts: Facts, pin: Pin) -> float:
    """The highest place where a jig can touch a pin."""
    return min(pin.height, facts.station.under + facts.holder.top_mm)


def _depth_mm(facts: Facts, pin: Pin, at_mm: XY) -> float | None:
    """How deep a pin stands in its hole; None where nothing says."""
    depths = (hole_depth_mm(facts.bed, facts.surfacings, at_mm), pin.in_hole)
    return min((depth for depth in depths if depth is not None), default=None)
