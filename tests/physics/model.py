"""The physics of pins, holes and edges, drawn at random: where a part really lands.

Written from the model in words (guide, Pressed pins and Budget), with no formula of the package: a
pin is a rigid cylinder whose shank lies between mouth and bottom of a hole that is a little wider,
a jig is two lines at right angles with bumps at the contacts, and a pose is found by closing the
gaps numerically. A push leaves a pin against the far side of its hole; how far it leans is drawn
in the ways of `Leans`. Lengths in mm, angles in radians. Arrays hold one trial a row.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Leans = Literal[
    "full", "none", "either end", "each at an end", "together", "each for itself", "anywhere"
]
"""How far pushed pins lean: `full` is a push without friction; friction may hold a pin anywhere.

Pins that nothing pushes have their ends anywhere in the hole, each for itself, or lean as far as
they can, any way (`full`; on dowels the jig is pushed one way, always the same); `anywhere` is what
DEVELOPERS.md has for them, Budget: they stand anywhere within all that play and lean allow.
"""

LEANS: tuple[Leans, ...] = (
    "full", "none", "either end", "each at an end", "together", "each for itself",
)  # fmt: skip
Way = Literal["pressed", "laid", "half and half"]
STEP = 1e-4


@dataclass(frozen=True)
class PinAt:
    """A pin: where its hole is drawn, its body's radius, least and greatest play, its depth.

    `held`: pushed aside (`loose`), or standing where it was once set (`screwed`).
    """

    at: tuple[float, float]
    radius: float
    play: tuple[float, float]
    depth: float
    height: float
    held: str = "loose"


@dataclass(frozen=True)
class Shop:
    """What is uncertain in a shop: one standard deviation each, but for `body`, a bound.

    `bottom`, `top`: lowest and highest place where the jig's wall may touch a pin.
    """

    pins: tuple[PinAt, PinAt, PinAt]
    two_along_x: bool
    holes: float = 0.0
    edges: float = 0.0
    body: float = 0.0
    machine: float = 0.0
    homing: float = 0.0
    bottom: float = 0.0
    top: float = 30.0


@dataclass(frozen=True)
class Built:
    """Shops as they were built, n of them: hole centres (n, 3, 2), plays, radii, edges (n, 3)."""

    centres: Floats
    plays: Floats
    radii: Floats
    bumps: Floats
    set_at: Floats


def in_disc(rng: np.random.Generator, radius: Floats) -> Floats:
    """Points (.., 2) anywhere in discs of these radii."""
    reach = radius * np.sqrt(rng.uniform(size=radius.shape))
    angle = rng.uniform(0, 2 * math.pi, radius.shape)
    return np.stack((reach * np.cos(angle), reach * np.sin(angle)), axis=-1)


def ends_anywhere(built: Built, leans: Leans, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Mouth and bottom (n, 3, 2) of pins that nothing pushes, off their hole's middle."""
    mouth, bottom = (in_disc(rng, built.plays / 2) for _ in range(2))
    if leans == "full":
        angle = rng.uniform(0, 2 * math.pi, built.plays.shape)
        ways = np.stack((np.cos(angle), np.sin(angle)), axis=-1)
        mouth = ways * built.plays[..., None] / 2
        return mouth, -mouth
    return mouth, bottom


def build(shop: Shop, n: int, rng: np.random.Generator) -> Built:
    """n shops: what is the same each time is drawn once for each."""
    drawn = np.array([pin.at for pin in shop.pins])
    centres = drawn + rng.normal(0, shop.holes, (n, 3, 2))
    low, high = (np.array([pin.play[end] for pin in shop.pins]) for end in (0, 1))
    plays = np.maximum(rng.uniform(low, high, (n, 3)), 0.0)
    radii = np.array([pin.radius for pin in shop.pins]) + rng.uniform(-0.5, 0.5, (n, 3)) * shop.body
    bumps = rng.normal(0, shop.edges, (n, 3))
    return Built(centres, plays, radii, bumps, in_disc(rng, plays / 2))


def lean_shares(leans: Leans, n: int, rng: np.random.Generator) -> Floats:
    """How much of the most that they can lean three pins do, 0 to 1, in n settings."""
    if leans in ("full", "none", "anywhere"):
        return np.full((n, 3), float(leans == "full"))
    if leans == "either end":
        return np.repeat(rng.integers(0, 2, (n, 1)), 3, axis=1).astype(float)
    if leans == "each at an end":
        return rng.integers(0, 2, (n, 3)).astype(float)
    phase = rng.uniform(-math.pi / 2, math.pi / 2, (n, 1 if leans == "together" else 3))
    return np.repeat((1 + np.sin(phase)) / 2, 3 if leans == "together" else 1, axis=1)


def pushed(built: Built, shop: Shop, shares: Floats) -> tuple[Floats, Floats]:
    """Mouth and bottom of pushed pins along the push (n, 3): away from the jig is positive.

    The mouth lies against the far side; the bottom lies below it (no lean) or at the near side.
    """
    mouth = built.plays / 2
    return mouth, mouth - shares * built.plays


def foremost(mouth: Floats, bottom: Floats, shop: Shop) -> Floats:
    """How far the pin's foremost point stands from the hole's centre, away from the jig (n, 3).

    The wall reaches from `bottom` to `top` or to the pin's height; an axis is straight, so that its
    foremost point lies at one of the ends.
    """
    found = np.empty_like(mouth)
    for at, pin in enumerate(shop.pins):
        slope = (mouth[:, at] - bottom[:, at]) / pin.depth
        low, high = shop.bottom, max(shop.bottom, min(shop.top, pin.height))
        found[:, at] = np.minimum(mouth[:, at] + slope * low, mouth[:, at] + slope * high)
    return found


def away_from_jig(
    built: Built, shop: Shop, normals: Floats, way: Way, leans: Leans, rng: np.random.Generator
) -> Floats:
    """How far each contact stands away from the jig (n, 3); normals (n, 3, 2) point into it."""
    n = len(built.plays)
    firm = foremost(*pushed(built, shop, lean_shares(leans, n, rng)), shop)
    mouth, bottom = (-(end * normals).sum(axis=-1) for end in ends_anywhere(built, leans, rng))
    loose = foremost(mouth, bottom, shop)
    if leans == "anywhere":
        loose = -(in_disc(rng, all_play_allows(built, shop)) * normals).sum(axis=-1)
    pressed = rng.uniform(size=(n, 1)) < {"pressed": 1.0, "laid": 0.0, "half and half": 0.5}[way]
    found = np.where(pressed, firm, loose)
    for at, pin in enumerate(shop.pins):
        if pin.held == "screwed":
            found[:, at] = -(built.set_at[:, at] * normals[:, at]).sum(axis=-1)
    return found


def all_play_allows(built: Built, shop: Shop) -> Floats:
    """How far from the hole's centre (n, 3) a pin may stand at the highest place of contact."""
    heights = np.array([min(shop.top, pin.height) for pin in shop.pins])
    return built.plays * (0.5 + heights / np.array([pin.depth for pin in shop.pins]))


def normals_at(theta: Floats, two_along_x: bool) -> Floats:
    """Unit vectors into the jig at the contacts (n, 3, 2): two edge pins, the stop."""
    along = np.stack((np.cos(theta), np.sin(theta)), axis=-1)
    across = np.stack((-np.sin(theta), np.cos(theta)), axis=-1)
    pair, stop = (across, along) if two_along_x else (along, across)
    return np.stack((pair, pair, stop), axis=1)


def gaps(poses: Floats, centres: Floats, reach: Floats, two_along_x: bool) -> Floats:
    """Gaps (n, 3) between discs and the two lines of a jig that lies toward +x+y of its corner."""
    seen = centres - poses[:, None, :2]
    normals = normals_at(poses[:, 2], two_along_x)
    distance: Floats = -(seen * normals).sum(axis=-1) - reach
    return distance


def landed(centres: Floats, reach: Floats, two_along_x: bool) -> Floats:
    """Poses (n, 3) of the jig's corner: x, y, angle. Newton's method, slopes by differences."""
    poses = np.zeros((len(centres), 3))
    poses[:, :2] = centres.mean(axis=1)
    for _ in range(25):
        open_by = gaps(poses, centres, reach, two_along_x)
        if np.abs(open_by).max() < 1e-10:
            return poses
        slopes = np.empty((len(poses), 3, 3))
        for unknown in range(3):
            ahead, behind = poses.copy(), poses.copy()
            ahead[:, unknown] += STEP
            behind[:, unknown] -= STEP
            slopes[:, :, unknown] = (
                gaps(ahead, centres, reach, two_along_x) - gaps(behind, centres, reach, two_along_x)
            ) / (2 * STEP)
        poses -= np.linalg.solve(slopes, open_by[:, :, None])[:, :, 0]
    raise ArithmeticError("gaps stay open")


def settle(shop: Shop, built: Built, way: Way, leans: Leans, rng: np.random.Generator) -> Floats:
    """Poses (n, 3) of the jig's corner on the bed, each shop set once."""
    state = rng.bit_generator.state
    poses = landed(built.centres, built.radii + built.bumps, shop.two_along_x)
    for _ in range(2):  # the push turns the jig a little, and the jig turns the push
        rng.bit_generator.state = state
        normals = normals_at(poses[:, 2], shop.two_along_x)
        back = away_from_jig(built, shop, normals, way, leans, rng)
        centres = built.centres - back[..., None] * normals
        poses = landed(centres, built.radii + built.bumps, shop.two_along_x)
    return poses


PUSHED = (math.cos(0.9), math.sin(0.9))
"""Which way a jig on dowels is pushed that is always pushed the same way."""


def laid_over(shop: Shop, built: Built, at: int, play: float, rng: np.random.Generator) -> Floats:
    """Middles (n, 2) of an upright hole of a jig over a pin, off the bed's hole.

    `play`: of the pin in the jig's hole. Drawn anew until pin and hole do not cut into each other,
    neither at the hole's lower end nor at its upper.
    """
    pin, n = shop.pins[at], len(built.plays)
    found, todo = np.empty((n, 2)), np.arange(n)
    while len(todo):
        mouth, bottom = (in_disc(rng, built.plays[todo, at] / 2) for _ in range(2))
        slope = (mouth - bottom) / pin.depth
        low, high = (mouth + slope * height for height in heights_of(shop, pin))
        middle = low + in_disc(rng, np.full(len(todo), play / 2))
        fits = np.hypot(*(middle - high).T) <= play / 2
        found[todo[fits]] = middle[fits]
        todo = todo[~fits]
    return found


def pushed_over(shop: Shop, built: Built, at: int, play: float) -> Floats:
    """How far (n,) the middle of such a hole gets from the bed's hole when the jig is pushed.

    All ways to lean are tried; the hole's walls may stand on the pin at either end.
    """
    pin, mouth = shop.pins[at], built.plays[:, at] / 2
    low, high = heights_of(shop, pin)
    farthest = mouth + play / 2 if low == 0 else np.zeros_like(mouth)
    for share in np.linspace(0, 1, 401):
        slope = share * built.plays[:, at] / pin.depth
        fits = slope * (high - low) <= play
        farthest = np.where(fits, np.maximum(farthest, mouth + slope * low + play / 2), farthest)
    return farthest


def heights_of(shop: Shop, pin: PinAt) -> tuple[float, float]:
    """From where to where a jig's wall may touch a pin."""
    return shop.bottom, max(shop.bottom, min(shop.top, pin.height))


def settle_on_dowels(
    shop: Shop, built: Built, plays: tuple[float, float], leans: Leans, rng: np.random.Generator
) -> Floats:
    """Poses (n, 3) of a jig on its first two pins: its round hole, then the slot along X from it.

    `plays` are those of the pins in round hole and slot. `each for itself`: laid, pins and holes
    anywhere that they fit; `anywhere`: evenly in the discs that they reach; `full`: pushed the same
    way each time.
    """
    bodies = built.centres[:, :2].copy()
    for at, play in enumerate(plays):
        if leans == "each for itself":
            bodies[:, at] += laid_over(shop, built, at, play, rng)
            continue
        farthest = pushed_over(shop, built, at, play)
        if leans == "anywhere":
            bodies[:, at] += in_disc(rng, farthest)
        else:
            bodies[:, at] += farthest[:, None] * PUSHED
    along = bodies[:, 1] - bodies[:, 0]
    return np.column_stack((bodies[:, 0], np.arctan2(along[:, 1], along[:, 0])))


def places(
    shop: Shop, poses: Floats, points: Sequence[tuple[float, float]], rng: np.random.Generator
) -> Floats:
    """Places (n, points, 2) of points of the jig, with what machine and homing add."""
    cos, sin = np.cos(poses[:, 2]), np.sin(poses[:, 2])
    found = np.empty((len(poses), len(points), 2))
    own = rng.normal(0, math.hypot(shop.machine, shop.homing), (len(poses), 2))
    for at, (x, y) in enumerate(points):
        found[:, at, 0] = poses[:, 0] + x * cos - y * sin
        found[:, at, 1] = poses[:, 1] + x * sin + y * cos
    return found + own[:, None, :]


def worst_share(off: Floats, within: float) -> float:
    """The least share of deviations (n, 2) within a bound along any one direction."""
    angles = np.linspace(0, math.pi, 24, endpoint=False)
    along = off @ np.stack((np.cos(angles), np.sin(angles)))
    return float((np.abs(along) <= within).mean(axis=0).min())


def repeated(built: Built, times: int) -> Built:
    """Each shop so many times in a row."""
    return Built(*(np.repeat(each, times, axis=0) for each in vars(built).values()))
