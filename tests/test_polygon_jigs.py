"""Jigs that are no rectangles: what lies in a notch is neither touched, covered nor under them."""

from __future__ import annotations

import numpy as np
import pytest
import yaml
from worlds import BASE, facts, world

from pincorner.documents.beds import Extra, Slat
from pincorner.documents.stations import EdgePins
from pincorner.errors import Refused
from pincorner.geometry.outline import signed_area
from pincorner.places.pins import bed_holes, touching
from pincorner.places.ways import outline_of
from pincorner.setups.choice import choose_pins, with_pins
from pincorner.setups.facts import Facts, UsedHole, UsedHoles
from pincorner.setups.findings import Finding
from pincorner.setups.transform import make_setups

RECTANGLE = "[460, 280]"
L_SHAPE = "[[0, 0], [460, 0], [460, 100], [200, 100], [200, 280], [0, 280]]"
"""Its front-left corner lies at 210, 110 of the bed: nothing of it right of x 410, behind y 210."""
NOTCHED = "[[0, 0], [350, 0], [350, 20], [420, 20], [420, 0], [460, 0], [460, 280], [0, 280]]"
"""Along its front the pin in G2 would stand in the notch, 390 from the corner."""
POINTED = "[[0, 0], [300, 0], [460, 140], [300, 280], [0, 280]]"
"""Its front edge ends 300 from the corner: F2 touches, G2 does not."""


@pytest.mark.parametrize("footprint", [RECTANGLE, L_SHAPE, NOTCHED, POINTED])
@pytest.mark.parametrize("way", [1, -1])
def test_outlines_go_round_counter_clockwise(footprint: str, way: int) -> None:
    """Whichever way round a footprint was typed."""
    corners = yaml.safe_load(footprint)
    if isinstance(corners[0], list):
        corners = corners[::way]
    outline = lying(str(corners)).holder.outline
    assert signed_area(outline) > 0 and (0.0, 0.0) in outline


def lying(footprint: str, **bed: object) -> Facts:
    """Station left with a jig of this outline; `bed` changes keys of the bed."""
    return facts(world(BASE.replace("[460, 280]", footprint), bed=bed))


@pytest.mark.parametrize(
    (
        "footprint",
        "edge",
        "count",
    ),  # pairs along the front times C3 and C4; C3 and C4 times the front's
    [
        (RECTANGLE, ("D2", "G2"), 6 * 2 + 4),
        (NOTCHED, ("D2", "F2"), 3 * 2 + 3),
        (POINTED, ("D2", "F2"), 3 * 2 + 3),
    ],
)
def test_pins_are_chosen_where_the_edge_is_straight(
    footprint: str, edge: tuple[str, str], count: int
) -> None:
    """Of the holes along the front those count whose pins touch it; the widest two are chosen."""
    found = lying(footprint)
    asked = found.station.model_copy(update={"pins": None, "corner": "C2", "toward": "+x+y"})
    pins, reason, _ = choose_pins(found._replace(station=asked))
    assert pins.edge == edge
    assert f"the least of {count} choices" in reason
    make_setups(found._replace(station=with_pins(asked, pins)))


@pytest.mark.parametrize("footprint", [NOTCHED, POINTED])
def test_pins_that_miss_the_edge_are_refused(footprint: str) -> None:
    """A pin that would stand in a notch, or past the edge's end, locates nothing."""
    found = lying(footprint)
    off = found.station.model_copy(update={"pins": EdgePins(edge=("D2", "G2"), stop="C4")})
    with pytest.raises(Refused) as refusal:
        make_setups(found._replace(station=off))
    assert refusal.value.cause == "beyond-edge"
    assert "edge pin G2 would touch 390.000 mm from the corner" in refusal.value.text


def findings(found: Facts) -> dict[str, Finding]:
    """What is noteworthy about the station, by code."""
    return {finding.code: finding for finding in make_setups(found)[0].findings}


@pytest.mark.parametrize(
    ("at", "under_l"),
    [((500.0, 300.0), False), ((419.0, 300.0), True), ((421.0, 300.0), False),
     ((350.0, 150.0), True), ((500.0, 219.0), True), ((500.0, 221.0), False)],
)  # fmt: skip
def test_pins_in_a_notch_are_not_under_the_jig(at: tuple[float, float], under_l: bool) -> None:
    """Another station's pin, 20 mm thick, is in the way from 10 mm off the outline on, not before.

    Under the rectangle around the outline each of them stands. The stock lies over the notch, on a
    seat that is higher than the pin.
    """
    for footprint, under in ((L_SHAPE, under_l), (RECTANGLE, True)):
        found = lying(footprint, extra=(Extra(name="R1", at=at),))
        found = found._replace(holder=found.holder.model_copy(update={"seat": 24.0}))
        other = UsedHole(at, "R1", found.pins["peg-20"], ("other", "other"))
        told = findings(found._replace(used=UsedHoles([other])))
        assert ("pin-under-jig" in told) == under


@pytest.mark.parametrize(("footprint", "under"), [(L_SHAPE, False), (RECTANGLE, True)])
def test_slats_in_a_notch_do_not_carry_the_jig(footprint: str, under: bool) -> None:
    """A higher slat counts, and its step is told, only where it lies under the outline itself."""
    raised = {"name": "L1", "from": [450, 250], "to": [650, 380], "surface": -119}
    found = lying(footprint, slats=(Slat.model_validate(raised),))
    assert make_setups(found)[0].heights.surface_mm == (-119 if under else -120)
    told = findings(found)
    assert ("slat-step" in told) == under
    assert not under or told["slat-step"].figure_mm == pytest.approx(1.0, abs=1e-9)


def test_a_pin_at_either_end_of_an_edge_touches_it() -> None:
    """A contact exactly where a straight part begins, or ends, lies on it; one beyond does not."""
    outline = ((0.0, 20.0), (90.0, 0.0), (390.0, 0.0), (460.0, 20.0), (460.0, 280.0), (0.0, 280.0))
    found = facts(world(BASE, jig={"footprint": outline}), pins=None, corner="C2", toward="+x+y")
    holes = bed_holes(found)
    labels = [place.label for place in holes.places]
    corner = np.array([labels.index("C2")])
    side = touching(found, holes, corner, 0, outline_of(found), holes.usable)
    touched = [labels[at] for at, there in zip(side.holes[0], side.there[0], strict=True) if there]
    assert touched == ["D2", "E2", "F2", "G2"]  # 10 mm less than their 100 to 400 mm
