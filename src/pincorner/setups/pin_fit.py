"""How a pin stands in its hole: pushed aside by the jig, or anywhere within its play.

A jig located by edges is pushed against its pins, and a pushed pin stands away from the jig: with
its shank against the far side of the hole, and leaning as far as hole and jig let it (guide,
Pressed pins). A pin that nothing pushes may lie and lean anywhere (guide, Budget).
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
    """Diametral play of a pin in its hole: its mean, and the mean of its square; mm, mm2."""

    mean_mm: float
    square_mm2: float

    @property
    def sd_mm(self) -> float:
        return math.sqrt(max(self.square_mm2 - self.mean_mm**2, 0.0))


class PinFit(NamedTuple):
    """What a pin's play does to its contact, mm.

    shift_mm: how far its body stands from the hole's centre, away from the jig. fixed_sd_mm: what
    of that is unknown and the same each time; varying_sd_mm: what differs each time, per axis or
    along the contact's normal. lean_mm: by how much at the most a lean is off its middle, to either
    side; it may go together with those of other pins. `lean_unknown`: how deep it stands is not
    given.
    """

    shift_mm: float = 0.0
    fixed_sd_mm: float = 0.0
    varying_sd_mm: float = 0.0
    lean_mm: float = 0.0
    lean_unknown: bool = False

    @property
    def lean_sd_mm(self) -> float:
        return math.sqrt(LEAN_SHARE) * self.lean_mm


def gives_way_mm(facts: Facts, pin: Pin, at_mm: XY) -> float:
    """How far a pin stands from its hole's centre where a jig is pushed against it, on average.

    c/2 + w with w = c e1/(2 d); 0 for pins that are screwed or have a taper.
    """
    if pin.held != "loose":
        return 0.0
    height_mm = min(pin.height, facts.station.under + facts.holder.edge_from)
    depth_mm = _depth_mm(facts, pin, at_mm)
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
        return Play(0.0, 0.0)
    grid = facts.bed.grid
    if grid.play is not None or pin.fit is None:
        play_mm = max(grid.hole - pin.shank, 0.0) if grid.play is None else grid.play
        return Play(play_mm, play_mm**2)
    least, most = clearance_mm(pin.fit, pin.shank)
    low, high = max(least, 0.0), max(most, 0.0)
    return Play(
        (high**2 - low**2) / (2 * (most - least)), (high**3 - low**3) / (3 * (most - least))
    )


def pin_fit(facts: Facts, pin: Pin, at_mm: XY) -> PinFit:
    """What the play of a pin in the hole at a place of the bed does to its contact.

    Not pushed: a uniform disc of radius R = c/2 + c e/d has R/2 per axis (JCGM 100, 4.3), with c
    the play, e the height of contact, d the hole's depth or the shank's length in it if that is
    less. Pushed: c/2 + w +- w with w = c e1/(2 d), e1 the lowest height of contact. Screwed: a disc
    of radius c/2.
    """
    play = play_of(facts, pin)
    if play.square_mm2 == 0.0:
        return PinFit()
    if pin.held == "screwed":
        return PinFit(fixed_sd_mm=math.sqrt(play.square_mm2) / 4)
    pressed = is_pressed(facts, pin)
    station, holder = facts.station, facts.holder
    height_mm = min(pin.height, station.under + (holder.edge_from if pressed else holder.top_mm))
    depth_mm = _depth_mm(facts, pin, at_mm)
    slope = height_mm / depth_mm if depth_mm else 0.0
    unknown = depth_mm is None and height_mm > 0
    if not pressed:
        reach = (0.5 + slope) * math.sqrt(play.square_mm2)
        return PinFit(varying_sd_mm=reach / 2, lean_unknown=unknown)
    share = 0.5 + slope / 2
    lean_mm = math.sqrt(play.square_mm2) * slope / 2
    shift_mm = gives_way_mm(facts, pin, at_mm)
    return PinFit(shift_mm, share * play.sd_mm, 0.0, lean_mm, unknown)


def _depth_mm(facts: Facts, pin: Pin, at_mm: XY) -> float | None:
    """How deep a pin stands in its hole; None where nothing says."""
    depths = (hole_depth_mm(facts.bed, facts.surfacings, at_mm), pin.in_hole)
    return min((depth for depth in depths if depth is not None), default=None)
