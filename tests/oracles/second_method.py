"""Where a jig lands against its pins, found by moving it until all three pins touch.

Nothing here constructs a tangent line, meets two lines in a corner or states a derivative: poses
are roots of measured distances, found numerically, so that agreement with the closed form means
something. Lengths in mm, angles in radians or degrees as the names say.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from .contacts import (
    SOLVED_MM,
    Floats,
    NoPlaceError,
    Pin,
    Point,
    Pose,
    carried,
    gaps_between,
    guesses,
    land,
    lies_in_quadrant,
    pushed,
)

CHUNK = 10_000  # poses solved at once, to keep the arrays in the processor's cache


def place(
    outline: Sequence[Point],
    pins: Sequence[Pin],
    toward: str,
    turn_deg: float,
    push_mm: Sequence[float] = (0.0, 0.0, 0.0),
) -> tuple[float, float, float]:
    """Return the pose (x mm, y mm, θ rad) in the bed of a jig pushed against three pins.

    Each pin gives way by its `push_mm`, straight away from where the jig touches it.

    `outline` is in jig coordinates (mm); `pins` are (x, y, radius) in the bed (mm), two edge pins
    then the stop; `toward` is one of `+x+y -x+y +x-y -x-y`. θ lies within 45° of `turn_deg`.
    Raises NoPlaceError where no pose has the jig in the quadrant and all three pins on its sides.
    """
    if len(pins) != 3:
        raise NoPlaceError(f"{len(pins)} pins given; two edge pins and a stop are needed")
    pin_rows = np.array([pins], dtype=float)

    def gaps(pose: Floats) -> Floats:
        return gaps_between(outline, pin_rows, pose[None, :]).ravel()

    lever = max(abs(complex(*a) - complex(*b)) for a in outline for b in outline)
    for guess in guesses(outline, pin_rows[0], toward, turn_deg):
        found = least_squares(
            gaps, guess, method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15, x_scale=(1, 1, 1 / lever)
        )
        # A last Newton step or two: least_squares stops on the square of the gap.
        try:
            pose = settle(outline, pin_rows, found.x, np.array([push_mm]))[0]
        except NoPlaceError:
            continue
        given_way = pushed(outline, pin_rows, pose[None, :], np.array([push_mm]))[0]
        if lies_in_quadrant(outline, given_way, toward, turn_deg, pose):
            return float(pose[0]), float(pose[1]), float(pose[2])
    raise NoPlaceError(f"no pose found with the jig toward {toward}, turned {turn_deg}")


def settle(outline: Sequence[Point], pins: Floats, start: Floats, push_mm: Floats) -> Floats:
    """Return n × 3 poses for n × 3 × 3 pins that give way by n × 3 `push_mm`.

    Landed on the pins as they stand, then on the pins as that pose pushes them, until it rests:
    a push turns the jig by some 1e-4 of itself, so three rounds leave nothing.
    """
    poses = land(outline, pins, start)
    if np.any(push_mm):
        for _ in range(3):
            poses = land(outline, pushed(outline, pins, poses, push_mm), poses)
    return poses


def zero_in_machine(
    outline: Sequence[Point],
    pins: Sequence[Pin],
    toward: str,
    turn_deg: float,
    zero: Point,
    nest_angle_deg: float,
    bed_pose: Pose,
    program_angle_deg: float = 0.0,
    push_mm: Sequence[float] = (0.0, 0.0, 0.0),
) -> tuple[float, float, float]:
    """Return the work offset (x mm, y mm, angle deg in (-180, 180]).

    `zero` is in jig coordinates (mm), `bed_pose` is (x mm, y mm, angle deg) in the machine.
    Raises NoPlaceError as `place` does.
    """
    pose = np.array([place(outline, pins, toward, turn_deg, push_mm)])
    bed = np.array([[bed_pose[0], bed_pose[1], math.radians(bed_pose[2])]])
    x, y, theta = carried(bed, pose, zero)[0]
    return float(x), float(y), wrapped_deg(math.degrees(theta) + nest_angle_deg - program_angle_deg)


def wrapped_deg(angle_deg: float) -> float:
    """Return the angle brought into (-180, 180]; a numerical -180 counts as 180."""
    wrapped = 180.0 - (180.0 - angle_deg) % 360.0
    return wrapped + 360.0 if wrapped < -180.0 + 1e-9 else wrapped


def place_on_dowels(
    round_pin: Point, slot_pin: Point, round_at: Point, slot_at: Point
) -> tuple[float, float, float]:
    """Return the pose (x mm, y mm, θ rad in (-π, π]) of a jig on a round and a slotted hole.

    Pins are in the bed, holes in jig coordinates (mm). The round hole's centre coincides with its
    pin; the slot's centre line, from the round hole on, passes through the other pin.
    Raises NoPlaceError where pins or holes coincide.
    """
    pin, other = complex(*round_pin), complex(*slot_pin)
    hole, along = complex(*round_at), complex(*slot_at) - complex(*round_at)
    if pin == other or along == 0:
        raise NoPlaceError("round and slot need two different pins and two different holes")

    def misses(pose: Floats) -> Floats:
        turn = np.exp(1j * pose[2])
        hole_off = hole * turn + complex(pose[0], pose[1]) - pin
        from_hole = (other - complex(pose[0], pose[1])) / turn - hole
        return np.array([hole_off.real, hole_off.imag, (from_hole / (along / abs(along))).imag])

    line_deg = math.degrees(np.angle((other - pin) / along))  # the first guess; any other may do
    for start_deg in range(0, 360, 20):
        theta = math.radians(line_deg + start_deg)
        shift = pin - hole * np.exp(1j * theta)
        found = least_squares(
            misses, (shift.real, shift.imag, theta), method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15
        )
        x, y, theta = (float(v) for v in found.x)
        ahead = (((other - complex(x, y)) / np.exp(1j * theta) - hole) / along).real > 0
        if ahead and np.abs(misses(found.x)).max() < SOLVED_MM:
            return x, y, math.radians(wrapped_deg(math.degrees(theta)))
    raise NoPlaceError("no pose found that puts the slot over its pin")


def largest_swing_rad(
    round_play_mm: float, other_play_mm: float, distance_mm: float, slotted: bool
) -> float:
    """Return the largest angle (rad) to which a jig with play can swing on two dowels.

    Plays are diametral; pins and holes are equally far apart. By brute force: for every place of
    the round hole around its pin, on a grid, the swing is halved down to where the other pin
    touches its slot (`slotted`) or its own round hole.
    """
    direction = np.exp(1j * np.radians(np.arange(0.0, 360.0, 0.5)))
    hole = np.outer(np.linspace(0.0, round_play_mm / 2, 21), direction).ravel()

    def fits(swing: Floats) -> NDArray[np.bool_]:
        off = (distance_mm - hole) * np.exp(-1j * swing) - distance_mm
        inside: NDArray[np.bool_] = np.abs(off.imag if slotted else off) <= other_play_mm / 2
        return inside

    fitting = np.angle(distance_mm - hole)
    hole, fitting = hole[fits(fitting)], fitting[fits(fitting)]
    beyond = fitting + 2 * (round_play_mm + other_play_mm) / distance_mm
    for _ in range(60):
        middle = (fitting + beyond) / 2
        inside = fits(middle)
        fitting, beyond = np.where(inside, middle, fitting), np.where(inside, beyond, middle)
    return float(fitting.max())


@dataclass(frozen=True)
class Case:
    """A station in plain numbers with the standard deviations of its inputs (mm, deg)."""

    outline: Sequence[Point]
    pins: Sequence[Pin]  # two edge pins, then the stop: x, y, radius
    toward: str
    turn_deg: float
    zero: Point
    bed_pose: Pose  # x mm, y mm, angle deg
    nest_angle_deg: float = 0.0
    program_angle_deg: float = 0.0
    hole_sd_mm: float = 0.0  # per axis
    lie_radius_mm: tuple[float, float] = (0.0, 0.0)  # limits; equal where the play is known
    body_tolerance_mm: float = 0.0  # ± on the diameter
    homing_sd_mm: float = 0.0  # per axis
    machine_sd_mm: float = 0.0  # per axis
    push_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)  # how far each pin gives way to the jig
    lean_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)  # by so much more or less at the most
    edge_sd_mm: float = 0.0  # of the jig's edge at each contact
    bed_covariance: Floats | None = None  # 3 × 3 of the bed's pose at A1: mm, mm, rad

    @cached_property
    def lies(self) -> tuple[float, float, float]:
        """The pose (x mm, y mm, θ rad) in the bed of the undisturbed inputs."""
        return place(self.outline, self.pins, self.toward, self.turn_deg, self.push_mm)

    def nominal(self) -> Pose:
        """Return the work offset (x mm, y mm, angle deg) of the undisturbed inputs."""
        return zero_in_machine(
            self.outline,
            self.pins,
            self.toward,
            self.turn_deg,
            self.zero,
            self.nest_angle_deg,
            self.bed_pose,
            self.program_angle_deg,
            self.push_mm,
        )


def monte_carlo(case: Case, n: int, seed: int) -> Floats:
    """Return n sampled deviations of the zero from nominal, n × 3: x mm, y mm, angle rad.

    Inputs are drawn as JCGM 101:2008, 6.4 has it and every draw is solved anew: hole places and
    machine normal per axis; each pin anywhere in a disc whose radius is uniform between
    `lie_radius_mm` (below 0 counts as 0); pin radii uniform within half the diameter's tolerance;
    leans of an arc sine (6.4.6), each for itself; edges normal, straight away from the pins.
    """
    rng = np.random.default_rng(seed)
    pins = np.repeat(np.array([case.pins], dtype=float), n, axis=0)
    pins[:, :, :2] += rng.normal(0.0, case.hole_sd_mm, (n, 3, 2))
    disc = np.maximum(rng.uniform(*case.lie_radius_mm, (n, 3)), 0.0)
    # Uniform over an area: the square of the distance from the centre is uniform.
    reach, angle = disc * np.sqrt(rng.uniform(size=(n, 3))), rng.uniform(0, 2 * np.pi, (n, 3))
    pins[:, :, 0] += reach * np.cos(angle)
    pins[:, :, 1] += reach * np.sin(angle)
    pins[:, :, 2] += rng.uniform(-0.5, 0.5, (n, 3)) * case.body_tolerance_mm
    lean = np.sin(rng.uniform(-np.pi, np.pi, (n, 3))) * np.array(case.lean_mm)
    push = np.array(case.push_mm) + lean + rng.normal(0.0, case.edge_sd_mm, (n, 3))
    bed = np.zeros((n, 3))
    if case.bed_covariance is not None:
        bed = rng.multivariate_normal(np.zeros(3), case.bed_covariance, n)
    moved = _zero_moves(case, pins, bed, push)
    moved[:, :2] += rng.normal(0.0, case.homing_sd_mm, (n, 2))
    moved[:, :2] += rng.normal(0.0, case.machine_sd_mm, (n, 2))
    return moved


def one_by_one(case: Case) -> dict[str, Floats]:
    """Return the 3 × 3 covariance of the zero (mm, mm, rad) from each source of uncertainty.

    Each input is moved by plus and minus its standard deviation and the pose solved anew
    (JCGM 100:2008, 5.1.3, note 2): free of sampling noise, still without a stated derivative.
    """
    low, high = case.lie_radius_mm
    radii = np.maximum(np.linspace(low, high, 100_001), 0.0)
    lie_sd = math.sqrt(float(np.mean(radii**2))) / 2
    body_sd = case.body_tolerance_mm / (2 * math.sqrt(3))
    still, no_pins = np.zeros((1, 3)), np.zeros((1, 3, 3))
    xy = [(pin, axis) for pin in range(3) for axis in (0, 1)]
    found = {}
    for source, places, sd in (
        ("hole position", xy, case.hole_sd_mm),
        ("pin fit", xy, lie_sd),
        ("pin body", [(pin, 2) for pin in range(3)], body_sd),
    ):
        shifts = np.concatenate([no_pins] * len(places))
        for row, (pin, column) in enumerate(places):
            shifts[row, pin, column] = sd
        beds = np.repeat(still, len(places), axis=0)
        found[source] = _half_swing(case, shifts, beds)
    if case.edge_sd_mm:
        edges, three = np.eye(3) * case.edge_sd_mm, np.concatenate([no_pins] * 3)
        found["jig edge"] = _half_swing(case, three, np.repeat(still, 3, axis=0), edges)
    for source, sd in (("homing", case.homing_sd_mm), ("machine", case.machine_sd_mm)):
        found[source] = np.diag([sd**2, sd**2, 0.0])
    if case.bed_covariance is not None:
        size, axes = np.linalg.eigh(case.bed_covariance)
        beds = (axes * np.sqrt(np.maximum(size, 0.0))).T
        found["survey"] = _half_swing(case, np.repeat(no_pins, 3, axis=0), beds)
    return found


def moves_at(deviations: Floats, angle_deg: float, point: Point) -> Floats:
    """Return n × 2 displacements (mm, machine axes) of a point given in the nest's frame.

    `deviations` are those of the zero (n × 3, mm and rad), `angle_deg` the nest's angle.
    """
    lever = complex(*point) * np.exp(1j * math.radians(angle_deg))
    moved = deviations[:, 0] + 1j * deviations[:, 1] + lever * (np.exp(1j * deviations[:, 2]) - 1)
    return np.stack([moved.real, moved.imag], axis=1)


def moved_by_leans(case: Case, lean_mm: Sequence[float]) -> Floats:
    """Return the move (x mm, y mm, θ rad) of the zero when pins lean by so much more and less."""
    pins = np.array([case.pins], dtype=float)
    plus, minus = (
        _zero_moves(
            case, pins, np.zeros((1, 3)), np.array([case.push_mm]) + sign * np.array(lean_mm)
        )
        for sign in (1, -1)
    )
    half: Floats = (plus[0] - minus[0]) / 2
    return half


def _half_swing(
    case: Case, pin_shifts: Floats, bed_shifts: Floats, edge_shifts: Floats | None = None
) -> Floats:
    pins = np.array(case.pins, dtype=float)
    push = np.zeros((1, 3)) if edge_shifts is None else edge_shifts
    nominal = np.array([case.push_mm])
    plus = _zero_moves(case, pins + pin_shifts, bed_shifts, nominal + push)
    minus = _zero_moves(case, pins - pin_shifts, -bed_shifts, nominal - push)
    half = (plus - minus) / 2
    return half.T @ half


def _zero_moves(case: Case, pins: Floats, bed_shifts: Floats, push_mm: Floats) -> Floats:
    """Return n × 3 moves of the zero (mm, mm, rad) for n sets of pins and shifts of the bed."""
    nominal = np.array([case.lies])
    bed = np.array([[case.bed_pose[0], case.bed_pose[1], math.radians(case.bed_pose[2])]])
    push = np.broadcast_to(push_mm, (len(pins), 3))
    chunks = [slice(first, first + CHUNK) for first in range(0, len(pins), CHUNK)]
    poses = np.concatenate(
        [settle(case.outline, pins[part], nominal[0], push[part]) for part in chunks]
    )
    return carried(bed + bed_shifts, poses, case.zero) - carried(bed, nominal, case.zero)
