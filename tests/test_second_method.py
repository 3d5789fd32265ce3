"""The second method's places against worked examples and general-purpose libraries.

It earns its place as a check on the tool by reproducing figures that do not come from it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
import shapely.affinity
from oracles.contacts import NoPlaceError, Pin, signed_distance, touches
from oracles.second_method import (
    largest_swing_rad,
    place,
    place_on_dowels,
    wrapped_deg,
    zero_in_machine,
)
from oracles.worked import assert_close, clearances_um, rectangle, reference, worked_case
from scipy import optimize

SEED = 20261125
EPS = float(np.finfo(float).eps)


def test_distance_agrees_with_shapely() -> None:
    """The signed distance to a notched outline is the one the shapely library measures."""
    notched = [(0, 0), (460, 0), (460, 280), (300, 280), (260, 120), (200, 280), (0, 280)]
    polygon = shapely.Polygon(notched)
    rng = np.random.default_rng(SEED)
    points = rng.uniform(-100, 560, 500) + 1j * rng.uniform(-100, 380, 500)
    at = shapely.points(points.real, points.imag)
    outside = np.where(shapely.contains(polygon, at), -1.0, 1.0)
    want = outside * shapely.distance(polygon.exterior, at)
    assert (want < 0).any() and (want > 0).any()
    worst = float(np.abs(signed_distance(notched, points) - want).max())
    assert_close(worst, 0.0, 100 * EPS * 560, "rounding of sums of coordinates up to 560 mm")


def test_unequal_pins_touch_along_the_external_tangent() -> None:
    """An edge on pins of radius 1 and 4 lies on their external tangent, at the touching points."""
    table = reference("tangent")["external_tangent"]  # sympy
    pins: list[Pin] = [(*c["at_mm"], c["radius_mm"]) for c in table["circles"]]
    # The stop, radius 1, stands 3 before the first contact along the tangent and 10 above it.
    pins.append((-3 * 0.8 - 10 * 0.6, -3 * 0.6 + 10 * 0.8, 1.0))
    outline = rectangle([40, 40])
    pose = place(outline, pins, "+x+y", 0)
    assert_close(math.degrees(pose[2]), table["angle_deg"], 0.5e-4, "printed to 0.0001 deg")
    found = touches(outline, pins, pose)[:2]
    for got, want in zip(found, table["touches_fifths_mm"], strict=True):
        assert_close(got[0], want[0] / 5, 1e-9, "exact; solved to 1e-9 mm")
        assert_close(got[1], want[1] / 5, 1e-9, "exact; solved to 1e-9 mm")
    assert_close(math.dist(*found), table["length_mm"], 2e-9, "two points, solved to 1e-9 mm")


@pytest.mark.parametrize("program_angle_deg", [0.0, 30.0])
def test_jig_lands_on_the_turned_rectangle(program_angle_deg: float) -> None:
    """Pins around a rectangle turned by the 3-4-5 angle put the jig exactly on its corners."""
    table = reference("tangent")["turned_rectangle"]
    outline = [tuple(corner) for corner in table["corners_mm"]]
    # Radius 5, edge contacts 20 and 80 along the long side, stop contact 30 up the short one.
    pins = [(269.0, 128.0, 5.0), (317.0, 164.0, 5.0), (228.0, 141.0, 5.0)]
    for corner, want in zip(outline, table["lands_mm"], strict=True):
        x, y, angle = zero_in_machine(
            outline, pins, "+x+y", 0, corner, 15.0, (0, 0, 0), program_angle_deg
        )
        assert_close(x, want[0], 1e-8, "exact; solved to 1e-9 mm over a lever of pin distances")
        assert_close(y, want[1], 1e-8, "exact; solved to 1e-9 mm over a lever of pin distances")
        want_deg = table["angle_deg"] + 15.0 - program_angle_deg
        assert_close(angle, want_deg, 0.5e-6, "printed to 1e-6 deg")


@pytest.mark.parametrize("name", list(reference("worked_places")["cases"]))
def test_worked_place(name: str) -> None:
    """A worked place comes out to its last digit."""
    want = reference("worked_places")["cases"][name]["offset"]
    x, y, angle = worked_case(name).nominal()
    assert_close(x, want["x_mm"], 0.51e-6, "printed to 1e-6 mm; 0.01e-6 for the solver")
    assert_close(y, want["y_mm"], 0.51e-6, "printed to 1e-6 mm; 0.01e-6 for the solver")
    assert_close(angle, want["angle_deg"], 0.51e-6, "printed to 1e-6 deg; 0.01e-6 for the solver")


def test_worked_place_by_shapely_and_fsolve() -> None:
    """Case C is also where scipy's fsolve closes the gaps that the shapely library measures."""
    case, want = worked_case("C"), reference("worked_places")["cases"]["C"]["offset"]

    def posed(pose: np.ndarray) -> shapely.Polygon:
        turned = shapely.affinity.rotate(shapely.Polygon(case.outline), pose[2], origin=(0, 0))
        return shapely.affinity.translate(turned, pose[0], pose[1])

    def gaps(pose: np.ndarray) -> list[float]:
        return [posed(pose).exterior.distance(shapely.Point(x, y)) - r for x, y, r in case.pins]

    pose = optimize.fsolve(gaps, (211.0, 111.0, 0.0), xtol=1e-13)  # starts clear of the pins
    zero = shapely.affinity.rotate(shapely.Point(case.zero), pose[2], origin=(0, 0))
    zero = shapely.affinity.translate(zero, pose[0], pose[1])
    zero = shapely.affinity.rotate(zero, case.bed_pose[2], origin=(0, 0))
    printed = "printed to 1e-6 mm and 1e-6 deg; 0.01e-6 for the solver"
    assert_close(zero.x + case.bed_pose[0], want["x_mm"], 0.51e-6, printed)
    assert_close(zero.y + case.bed_pose[1], want["y_mm"], 0.51e-6, printed)
    assert_close(float(pose[2]) + case.bed_pose[2], want["angle_deg"], 0.51e-6, printed)


@pytest.mark.parametrize("toward", ["+x+y", "-x+y", "+x-y", "-x-y"])
@pytest.mark.parametrize("turn_deg", [0, 90, 180, 270])
@pytest.mark.parametrize("two_along", ["x", "y"])
def test_square_jig_fills_the_quadrant(toward: str, turn_deg: int, two_along: str) -> None:
    """On pins square to the bed a jig's box starts at the pins' sides, in every quadrant."""
    sx, sy = int(toward[0] + "1"), int(toward[2] + "1")
    along_x = [(x * sx, -10.0 * sy, 10.0) for x in (50, 250)]
    along_y = [(-10.0 * sx, y * sy, 10.0) for y in (50, 250)]
    pins = [*along_x, along_y[0]] if two_along == "x" else [*along_y, along_x[0]]
    outline = rectangle([460, 280])
    x, y, theta = place(outline, pins, toward, turn_deg)
    turned = shapely.affinity.rotate(shapely.Polygon(outline), turn_deg, origin=(0, 0))
    box = shapely.affinity.translate(turned, x, y).bounds
    assert_close(wrapped_deg(math.degrees(theta) - turn_deg), 0.0, 1e-9, "square; solved to 1e-9")
    got = (box[0] if sx > 0 else box[2], box[1] if sy > 0 else box[3])
    assert_close(got[0], 0.0, 1e-8, "solved to 1e-9 mm over a lever of pin distances")
    assert_close(got[1], 0.0, 1e-8, "solved to 1e-9 mm over a lever of pin distances")


@pytest.mark.parametrize(
    ("pins", "toward"),
    [
        ([(50, -10, 10), (250, -10, 10), (-10, 50, 10)], "-x+y"),
        ([(50, -10, 10), (250, -10, 10), (-10, 400, 10)], "+x+y"),
        ([(50, -10, 10), (550, -10, 10), (-10, 50, 10)], "+x+y"),
        ([(50, -10, 10), (250, -10, 10)], "+x+y"),
    ],
    ids=["wrong quadrant", "stop beyond the edge", "edge pin beyond the edge", "two pins"],
)
def test_no_place_is_an_error(pins: list[Pin], toward: str) -> None:
    """Pins that cannot all touch the sides that face them give an error instead of a pose."""
    with pytest.raises(NoPlaceError):
        place(rectangle([460, 280]), pins, toward, 0)


def test_angle_is_brought_into_its_range() -> None:
    """An angle comes back in the half-open range from -180 (left out) to 180 degrees."""
    assert [wrapped_deg(a) for a in (-180, 180, 190, -190, 720.5)] == [180, 180, -170, 170, 0.5]


def test_dowels_take_the_direction_of_their_pins() -> None:
    """A jig on dowels along the 3-4-5 direction is turned by its angle, round hole on its pin."""
    table = reference("tangent")["turned_rectangle"]
    round_pin, slot_pin = table["lands_mm"][0], table["lands_mm"][1]
    # The slot hole is 99 away and the pin 100: the slot's travel takes up the difference.
    x, y, theta = place_on_dowels(round_pin, slot_pin, (40, 40), (139, 40))
    assert_close(math.degrees(theta), table["angle_deg"], 0.5e-6, "printed to 1e-6 deg")
    assert_close(x + 40 * 0.8 - 40 * 0.6, round_pin[0], 1e-9, "exact; solved to 1e-9 mm")
    assert_close(y + 40 * 0.6 + 40 * 0.8, round_pin[1], 1e-9, "exact; solved to 1e-9 mm")


def test_dowels_may_lie_any_way_round() -> None:
    """Pins in the opposite direction of the holes turn the jig by half a turn."""
    x, y, theta = place_on_dowels((600, 300), (300, 300), (40, 40), (340, 40))
    assert_close(abs(math.degrees(theta)), 180.0, 1e-9, "exact; solved to 1e-9 mm over 300 mm")
    assert_close(x, 640.0, 1e-8, "exact; solved to 1e-9 mm")
    assert_close(y, 340.0, 1e-8, "exact; solved to 1e-9 mm")


def test_swing_on_round_and_slot() -> None:
    """Two dowels in 12 H7/g6 let a jig swing by the printed angles and distance."""
    table, play = reference("two_pins"), clearances_um(12, "H7/g6")[1] / 1000
    for row in table["slotted"]:
        got = largest_swing_rad(play, play, row["distance_mm"], slotted=True)
        assert_close(got, row["swing_rad"], row["half_last_digit_rad"], "half the last digit")
    far = table["at_point"]
    moves = far["point_mm"] * largest_swing_rad(play, play, far["distance_mm"], slotted=True)
    assert_close(moves, far["moves_mm"], 0.5e-3, "printed to 0.001 mm")


@pytest.mark.parametrize("plays", [(4.0, 4.0), (1.0, 6.0), (6.0, 1.0)])
def test_swing_is_the_sine_with_a_slot_and_the_chord_without(plays: tuple[float, float]) -> None:
    """With large plays the slotted swing is asin((c1+c2)/2L), the round one 2 asin((c1+c2)/4L)."""
    both, length = sum(plays), 40.0
    slotted, chord = math.asin(both / (2 * length)), 2 * math.asin(both / (4 * length))
    grid = "a direction grid of 0.5 deg is at most 0.25 deg off: (1 - cos 0.25 deg) of the swing"
    relative = 1 - math.cos(math.radians(0.25))
    got = largest_swing_rad(*plays, length, slotted=True)
    assert_close(got, slotted, relative * slotted, grid)
    got = largest_swing_rad(*plays, length, slotted=False)
    assert_close(got, chord, relative * chord, grid)
    assert slotted - chord > 10 * relative * slotted  # the test can tell them apart
