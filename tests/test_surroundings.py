"""What stands around a nest: other stations, slats, cover over metal after surfacings, sheets."""

from __future__ import annotations

import pytest
from checking import demo_facts, demo_setup, other_setups
from shapely import Polygon, unary_union

from pincorner.documents.beds import Slat
from pincorner.documents.records import Surfacing
from pincorner.documents.stations import EdgePins
from pincorner.program.check.surroundings import ROUNDING_MM, Obstacle, Surroundings, surroundings
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setup

ROUNDING_OF_DOUBLES_MM = 1e-9


def around(setup: Setup, run_off_mm: float = 8.0) -> Surroundings:
    """The surroundings of a station of the demo, margin 0.1."""
    return surroundings(setup, setup, other_setups(setup.facts.station.name), run_off_mm, 0.1)


def named(setup: Setup, name: str) -> list[Obstacle]:
    """Its obstacles of a name."""
    return [each for each in around(setup).obstacles if each.name == name]


def test_heights_are_the_programs() -> None:
    """Tops are told from program zero: the top of the stock, 38 mm above the surface."""
    setup = demo_setup("left")
    tops = {each.name: each.top_mm for each in around(setup).obstacles}
    assert tops["pin G2"] == 22 - 38
    assert tops["clamp P (c1)"] == 35 - 38
    assert tops["panel-tray"] == 40 - 38
    assert tops["toggle-1 of panel-tray"] == 55 - 38
    assert tops["setter on the bed"] == 60 - 38
    assert tops["the stock of station end-bars"] == 24 + 28 - 38
    assert tops["the seat of panel-tray"] == pytest.approx(18 - 38 - ROUNDING_MM)
    assert tops["the surface of long-bench"] == pytest.approx(-38 - 0.5 - ROUNDING_MM)
    assert tops["track T1"] == -38 - 1
    assert tops["screw S1"] == -38 - 5


def test_a_sheet_lifts_the_jig_but_not_the_clamps() -> None:
    """On a sheet of 3 mm the jig and its solids rise with the zero; pins and clamps do not."""
    setup = demo_setup("left", station={"under": 3.0})
    tops = {each.name: each.top_mm for each in around(setup).obstacles}
    assert tops["panel-tray"] == 43 - 41
    assert tops["toggle-1 of panel-tray"] == 58 - 41
    assert tops["pin G2"] == 22 - 41
    assert tops["clamp P (c1)"] == 35 - 41


def test_body_and_seat_make_up_the_jig() -> None:
    """The body's pieces and the seat cover the footprint without overlap; the room lies between."""
    setup = demo_setup("left")
    body = [Polygon(each.shape[0]) for each in named(setup, "panel-tray")]
    (seat,) = [Polygon(each.shape[0]) for each in named(setup, "the seat of panel-tray")]
    assert seat.equals(Polygon([(-8, -8), (418, -8), (418, 248), (-8, 248)]))
    areas = sum(piece.area for piece in body) + seat.area
    assert areas == pytest.approx(460 * 280, abs=1e-6)
    assert unary_union([*body, seat]).area == pytest.approx(460 * 280, abs=1e-6)


def test_surfacing_lowers_the_cover() -> None:
    """After 0.4 mm were cut off the surface a track lies 0.6 mm deep instead of 1."""
    cut = Surfacing(name="2026-11-22", bed="long-bench", depth=0.4)
    facts = demo_facts("left")._replace(surfacings=(cut,))
    (track,) = named(make_setup(facts, "a"), "track T1")
    assert track.allowed_mm == pytest.approx(0.6, abs=ROUNDING_OF_DOUBLES_MM)
    assert track.datum_mm == -38


def test_slats_have_surfaces_of_their_own() -> None:
    """A slat 0.4 mm lower than the surface at the station may be cut to its own depth."""
    slat = Slat.model_validate(
        {"name": "L1", "from": [900, 50], "to": [1200, 90], "surface": -120.4}
    )
    setup = demo_setup("left", bed={"slats": (slat,)})
    (lower,) = named(setup, "the surface of slat L1")
    assert lower.datum_mm == pytest.approx(-38.4)
    whole = sum(
        Polygon(each.shape[0], each.shape[1:]).area
        for each in around(setup).obstacles
        if each.code == "cuts-surface"
    )
    assert whole == pytest.approx(1500 * 900 - 460 * 280)  # the bed less what the jig covers


def test_a_station_in_the_same_place_is_not_set_up() -> None:
    """A board lies where the cradle lies: of that its pins count, where they can stand."""
    pins = EdgePins(edge=("G6", "J6"), stop="F8")
    found = around(demo_setup("roof", station={"stock": (500.0, 230.0, 18.0), "pins": pins}))
    names = {each.name for each in found.obstacles}
    assert "end-bar-cradle of station end-bars" not in names
    assert "pin M8 of station end-bars" in names
    assert "pin I8 of station end-bars" not in names, "it would stand under the board"
    assert "panel-tray of station left" in names
    assert any(note.startswith("station end-bars: its jig would lie") for note in found.notes)


def test_bare_stock_has_no_body_and_no_seat() -> None:
    """Under bare stock the bed's surface counts, everywhere."""
    setup = demo_setup("roof")
    codes = {each.code for each in around(setup).obstacles if "station" not in each.name}
    assert "cuts-seat" not in codes
    assert "hits-jig" not in codes
    (surface,) = named(setup, "the surface of long-bench")
    assert len(surface.shape) == 1, "no hole where the stock lies"
