"""From documents to the zero in the machine, against worked examples and a numerical method."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import Run
from oracles.second_method import Case, wrapped_deg
from oracles.worked import assert_close, clearances_um, reference
from thinning import thinned
from worlds import BASE, PRESSED, World, entries, facts, make_registry, setups, world

from pincorner.documents.beds import Bed, Pin
from pincorner.documents.jigs import Jig
from pincorner.documents.stations import Station, ZRule
from pincorner.errors import DocumentErrors, Refused
from pincorner.setups.facts import Facts
from pincorner.setups.transform import make_setups

PLACES = reference("worked_places")["cases"]
LETTERS = (
    "ABCDEFGHJKLMNPQRSTUVWXYZ"  # columns where I and O are left out, as the drawn beds have it
)


@cache
def plain_world() -> World:
    """The world of the worked examples, read once; documents are frozen."""
    return world()


def drawn(seed: int, **pin_changes: Any) -> Facts:
    """A random station that can be located: any quadrant, edge, turn, pins, holes and nests."""
    rng = np.random.default_rng(seed)
    sx, sy = (int(s) for s in rng.choice([-1, 1], 2))
    along_x, turn = bool(seed % 2), int(rng.integers(4)) * 90
    pitch = rng.uniform(45, 110, 2).round(3)
    corner = [4 if sx > 0 else 12, 3 if sy > 0 else 11]
    steps = [int(rng.integers(1, 3)), int(rng.integers(4, 7)), int(rng.integers(1, 6))]
    axis = 0 if along_x else 1
    labels, extra, at = [], [], []
    for step, way in zip(steps, (axis, axis, 1 - axis), strict=True):
        cell = corner.copy()
        cell[way] += (sx, sy)[way] * step
        labels.append(f"{LETTERS[cell[0] - 1]}{cell[1]}")
        place = (np.array(cell) - 1) * pitch
        if rng.random() < 0.5:  # measured apart from the grid
            place = place + rng.normal(0, 0.3, 2)
            extra.append({"name": labels[-1], "at": place.tolist()})
        at.append(place)
    size = np.array([1.0, 1.0])
    size[axis], size[1 - axis] = steps[1] * pitch[axis] + 30, steps[2] * pitch[1 - axis] + 40
    length, width = size if turn % 180 == 0 else size[::-1]
    cut = 8.0  # chamfers at the box's corners: the outline need not reach the pins' corner
    outline = [
        [cut, 0], [length - cut, 0], [length, cut], [length, width - cut], [length - cut, width],
        [cut, width], [0, width - cut], [0, cut],
    ]  # fmt: skip
    nests = [
        {
            "name": name,
            "zero": (rng.uniform(0, 1, 2) * [length, width]).tolist(),
            "angle": float(rng.uniform(-200, 200)),
            "stock": {"from": rng.uniform(-9, 9, 2).tolist(), "size": [*rng.uniform(20, 90, 2), 9]},
        }
        for name in ("a", "b")
    ]
    bodies = rng.uniform(8, 30, 3) if rng.random() < 0.7 else np.full(3, 20.0)
    pins = {
        f"p{index}": Pin.model_validate(
            {"name": f"p{index}", "shank": 20, "body": body, "height": 22} | pin_changes
        )
        for index, body in enumerate(bodies)
    }
    entries = [{"hole": hole, "pin": f"p{index}"} for index, hole in enumerate(labels)]
    bed = {
        "name": "drawn", "machine": "gantry-1", "labels": {"skip": "IO"}, "extra": extra,
        "grid": {"columns": 16, "rows": 14, "pitch": pitch.tolist(), "hole": 20.02, "depth": 20},
        "pose": {"x": rng.uniform(-900, 900), "y": 55, "angle": float(rng.uniform(-190, 190))},
    }  # fmt: skip
    station = {
        "name": "drawn", "bed": "drawn", "jig": "drawn", "pin": "p0", "turn": turn,
        "pins": {"edge": entries[:2], "stop": entries[2]},
        "toward": f"{'+-'[sx < 0]}x{'+-'[sy < 0]}y", "program_angle": float(rng.uniform(-9, 9)),
        "work_offsets": {"a": "G54", "b": "G55"},
    }  # fmt: skip
    base = facts(plain_world())
    return base._replace(
        bed=Bed.model_validate(bed),
        pins=pins,
        holder=Jig.model_validate({"name": "drawn", "footprint": outline, "nests": nests}),
        station=Station.model_validate(station),
    )


def case_of(found: Facts, nest: int = 0, **sizes: Any) -> Case:
    """A station's documents in the second method's plain numbers; it reads holes for itself."""
    grid, station = found.bed.grid, found.station
    letters = LETTERS if found.bed.labels.skip else "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    moved = {hole.name: hole.at for hole in found.bed.extra}
    pins, pushes = [], []
    for entry in (*station.pins.edge, station.pins.stop):
        hole, name = (entry, station.pin) if isinstance(entry, str) else (entry.hole, entry.pin)
        on_grid = (letters.index(hole[0]) * grid.pitch[0], (int(hole[1:]) - 1) * grid.pitch[1])
        pins.append((*moved.get(hole, on_grid), found.pins[name].body / 2))
        pushes.append(pushed_mm(found, found.pins[name]))
    pose = found.bed.pose if found.survey is None else found.survey.fit.pose
    where = found.holder.nests[nest]
    return Case(
        outline=found.holder.outline,
        pins=pins,
        toward=station.toward,
        turn_deg=station.turn,
        zero=where.zero,
        bed_pose=(pose.x, pose.y, pose.angle),
        nest_angle_deg=where.angle,
        program_angle_deg=station.program_angle,
        push_mm=tuple(pushes),
        **sizes,
    )


def pushed_mm(found: Facts, pin: Pin) -> float:
    """How far a pin gives way, in plain numbers: half its play, and half of what it may lean."""
    station, grid = found.station, found.bed.grid
    if not station.pins_pressed:
        return 0.0
    play = grid.hole - pin.shank
    if pin.fit:
        play = sum(clearances_um(pin.shank, pin.fit)) / 2000
    if grid.play is not None:
        play = grid.play
    foot = station.under + found.holder.edge_from
    depth = min(pin.in_hole or grid.depth, grid.depth)
    return play / 2 + play * foot / depth / 2


def worked_text(name: str) -> str:
    """The documents of a worked place."""
    case = PLACES[name]
    extra = [f"{{name: {hole}, at: {at}}}" for hole, at in case.get("holes_mm", {}).items()]
    edge, stop = case["pins"]["edge"], case["pins"]["stop"]
    return (
        BASE.replace("angle: 0}", f"angle: {case['bed_pose']['angle_deg']}}}")
        .replace("surface: -120", f"surface: -120\n    extra: [{', '.join(extra)}]")
        .replace("{edge: [D2, G2], stop: C4}", f"{{edge: [{', '.join(edge)}], stop: {stop}}}")
        .replace("pin: peg-20\n", f"pin: peg-20\n    turn: {case['turn_deg']}\n")
        .replace("work_offsets", f"toward: {case['toward']}\n    work_offsets")
    )


@pytest.mark.parametrize("name", list(PLACES))
def test_worked_places(name: str, run: Run, tmp_path: Path) -> None:
    """A worked place comes out of the transform and of `offsets --json` alike."""
    want = PLACES[name]["offset"]
    setup = make_setups(facts(world(worked_text(name))))[0]
    make_registry(tmp_path / "shop.sqlite", worked_text(name))
    ran = run("--db", tmp_path / "shop.sqlite", "offsets", "left", "--json")
    assert ran.code == 0
    (row,) = ran.json["offsets"]
    assert (row["station"], row["nest"], row["refused"]) == ("left", "a", None)
    assert row["fingerprint"] == setup.fingerprint
    for key, here in (
        ("x_mm", setup.zero_in_machine.x_mm),
        ("y_mm", setup.zero_in_machine.y_mm),
        ("angle_deg", setup.angle_deg),
    ):
        assert_close(here, want[key], 0.51e-6, f"{key} printed to six decimals")
        assert row[key] == here


@pytest.mark.parametrize("seed", range(thinned(240)))
def test_random_stations_lie_where_the_second_method_puts_them(seed: int) -> None:
    """Any quadrant, edge, turn, pins, holes and nests: the zero is the numerical method's."""
    found = drawn(seed)
    for index, setup in enumerate(make_setups(found)):
        x, y, angle = case_of(found, index).nominal()
        assert_close(setup.zero_in_machine.x_mm, x, 1e-6, "solved to 1e-9 mm over its levers")
        assert_close(setup.zero_in_machine.y_mm, y, 1e-6, "solved to 1e-9 mm over its levers")
        turned = wrapped_deg(setup.angle_deg - angle)
        assert_close(turned, 0, 1e-6, "solved to 1e-9 mm over the pins' distance")
        assert -180 < setup.angle_deg <= 180


@pytest.mark.parametrize("seed", range(0, 40, 3))
def test_the_order_of_edge_pins_does_not_matter(seed: int) -> None:
    """Edge pins in either order give the same zero, fingerprint and budget to the last bit."""
    found = drawn(seed, body_tolerance=0.01)
    pins = found.station.pins
    other = pins.model_copy(update={"edge": pins.edge[::-1]})
    swapped = found._replace(station=found.station.model_copy(update={"pins": other}))
    for here, there in zip(make_setups(found), make_setups(swapped), strict=True):
        assert here.zero_in_machine == there.zero_in_machine
        assert here.fingerprint == there.fingerprint
        assert here.budget == there.budget


HEIGHTS = [  # under, zero, height of zero (guide, Heights), with seat 18 and stock 20, surface -120
    (0, "surface", 0), (0, "seat", 18), (0, "stock-top", 38),
    (3, "surface", 0), (3, "seat", 21), (3, "stock-top", 41),
]  # fmt: skip


@pytest.mark.parametrize(("under", "zero", "height"), HEIGHTS)
def test_heights_of_zero(under: float, zero: str, height: float) -> None:
    """Zero lies at the surface, at under + seat or at under + seat + stock, in machine Z too."""
    rule = ZRule(zero=zero, set="machine")
    setup = make_setups(facts(plain_world(), under=under, z=rule))[0]
    assert setup.heights.zero_mm == height
    assert setup.heights.machine_z_mm == -120 + height
    own = setup.printed.own
    assert float(own.tip_on_surface) == -height
    assert float(own.tip_on_stock) == under + 38 - height
    assert float(own.tip_on_plate) == round(19.05 - height, 3)


POINTED = "[[20, 0], [440, 0], [460, 140], [440, 280], [20, 280], [0, 140]]"
NOTCHED = "[[0, 0], [350, 0], [350, 20], [420, 20], [420, 0], [460, 0], [460, 280], [0, 280]]"
REFUSED = [  # change of the text, cause, fragment
    (
        ("surface: -120", "missing: [G2]"),
        "hole-missing",
        "hole G2 of bed long-bench is marked miss",
    ),
    (("stop: C4", "stop: E4"), "before-corner", "edge pin D2 touches 110.000 mm before the corner"),
    (
        ("edge: [D2, G2]", "edge: [D2, H2]"),
        "beyond-edge",
        "490.000 mm from the corner, but the FRO",
    ),
    (("stop: C4", "stop: C5"), "beyond-edge", "290.000 mm from the corner, but the LEFT edge of"),
    (("stop: C4", "stop: C4x"), "hole-unknown", "bed long-bench has no hole C4x"),
    (("pins: {edge: [D2, G2]", "pins: {edge: [D2, R1]"), "edge-pins-close", "40.0 mm apart, less"),
    (("footprint: [460, 280]", f"footprint: {POINTED}"), "no-edge", "meets its LEFT side in a poi"),
    (
        ("footprint: [460, 280]", f"footprint: {NOTCHED}"),
        "beyond-edge",
        "side of panel-tray is not",
    ),
    (
        ("pin: peg-20\n", "pin: peg-20\n    corner: D2\n"),
        "corner-disagrees",
        "at C2, but corner say",
    ),
    (
        ("pin: peg-20\n", "pin: peg-20\n    toward: -x+y\n"),
        "toward-disagrees",
        "+x+y, but toward s",
    ),
    (("stop: C4", "stop: A2"), "no-corner", "stands 0.000 mm off the edge pins' line"),
    (("stop: C4", "stop: {hole: E4, pin: wide}"), "no-corner", "off the middle of the edge pins"),
    (
        ("pin: peg-20", "pin: peg-20\n    under: 22"),
        "pin-low",
        "which begin 22 mm above the bed; ta",
    ),
    (
        ("seat: 18", "seat: 18\n    edge_from: 30"),
        "pin-low",
        "is 22 mm high and does not reach the",
    ),
]
WIDE = "pins:\n  - {name: wide, shank: 20, body: 130, height: 22}\n"


@pytest.mark.parametrize(("change", "cause", "fragment"), REFUSED)
def test_refusals(change: tuple[str, str], cause: str, fragment: str) -> None:
    """A station that cannot be located is refused with its own cause and figure (guide, Corner)."""
    text = BASE.replace(*change).replace("pins:\n", WIDE, 1)
    assert text != BASE.replace("pins:\n", WIDE, 1)
    if "R1" in change[1]:
        near = "    extra: [{name: R1, at: [340, 100]}]\n"
        text = text.replace("    surface: -120\n", near)
    with pytest.raises(Refused) as refusal:
        setups(text)
    assert refusal.value.cause == cause
    assert fragment in refusal.value.text


@pytest.mark.parametrize(
    ("change", "fragment"),
    [
        (("stop: C4", "stop: G2"), "pins: two pins cannot stand in one hole (G2)"),
        (("[D2, G2]", "[D2]"), "pins.edge[1]: the list is too short: entry 2 is missing"),
        ((", stop: C4", ""), "pins.stop: this key is needed"),
        (
            ("bed: long-bench\n    jig", "turn: 45\n    bed: long-bench\n    jig"),
            "expected 0, 90, 180",
        ),
    ],
)
def test_refused_as_documents(change: tuple[str, str], fragment: str) -> None:
    """Fewer than three pins, two in one hole, or a turn between quarters do not load at all."""
    with pytest.raises(DocumentErrors) as refusal:
        entries(BASE.replace(*change))
    assert fragment in str(refusal.value)


OUTLINES = [  # all lie against D2 G2 and C4 by the front and left sides of their boxes
    [[0, 0], [460, 0], [460, 100], [200, 100], [200, 280], [0, 280]],
    [[60, 0], [400, 0], [520, 300], [0, 230], [0, 150]],
    [[0, 60], [80, 60], [80, 0], [400, 0], [400, 200], [0, 240]],
]


@pytest.mark.parametrize("points", OUTLINES, ids=["L", "slanted", "stepped"])
@pytest.mark.parametrize("pose", [(60, 55, 0.0), (-7, 3, -31.4)])
def test_polygon_footprints(points: list[list[float]], pose: tuple[float, float, float]) -> None:
    """A jig of any outline lies against its pins where the second method lays it."""
    text = BASE.replace("[460, 280]", str(points)).replace("angle: 0}", f"angle: {pose[2]}}}")
    text = text.replace("x: 60, y: 55", f"x: {pose[0]}, y: {pose[1]}")
    found = facts(world(text), toward="+x+y")
    x, y, angle = case_of(found).nominal()
    zero = make_setups(found)[0].zero_in_machine
    assert math.dist((zero.x_mm, zero.y_mm), (x, y)) < 1e-6
    assert_close(zero.angle_deg, angle, 1e-6, "solved to 1e-9 mm over the pins' distance")


LOW = "{name: L1, from: [-50, 110], to: [1450, 239], surface: -121}"  # under the front of the jig
HIGH = "{name: L2, from: [-50, 239], to: [1450, 450], surface: -119}"  # under its back
OTHER = "{name: L3, from: [-50, 450], to: [1450, 639], surface: -110}"  # not under it
TOUCHED = (
    "{name: L0, from: [-50, -50], to: [1450, 110], surface: -100}"  # its front edge lies on it
)
SURFACES = [  # slats, surfacings, surface under the jig
    ([], [], -120),
    ([], ["depth: 0.4"], -120.4),
    ([], ["depth: 0.4", "depth: 0.3"], -120.7),
    ([LOW, HIGH, OTHER], [], -119),
    ([LOW, OTHER], [], -120),  # where no slat lies, the bed's own surface counts
    ([LOW, HIGH, OTHER], ["depth: 0.5"], -119.5),
    ([LOW, HIGH, OTHER], ["depth: 3, slats: [L2]"], -121),
    ([LOW, HIGH, OTHER], ["depth: 0.5, slats: [L1]"], -119),
    ([LOW, HIGH, OTHER], ["surface: -117, slats: [L1]"], -117),
    ([LOW, HIGH, OTHER], ["surface: -117, slats: [L1]", "depth: 4, slats: [L1]"], -119),
    ([LOW, HIGH, OTHER], ["depth: 3, slats: [l2]"], -121),
    ([TOUCHED, LOW, HIGH], [], -119),
]


def with_slats(slats: list[str], cuts: list[str] = ()) -> str:
    """The worked world with slats and surfacings, Z from the machine."""
    listed = "".join(f"  - {{name: s{i}, bed: long-bench, {c}}}\n" for i, c in enumerate(cuts))
    text = BASE.replace("surface: -120", f"surface: -120\n    slats: [{', '.join(slats)}]")
    text = text.replace("pin: peg-20\n", "pin: peg-20\n    z: {set: machine}\n")
    return text + (f"surfacings:\n{listed}" if cuts else "")


@pytest.mark.parametrize(("slats", "cuts", "surface"), SURFACES)
def test_the_surface_under_a_station(slats: list[str], cuts: list[str], surface: float) -> None:
    """The highest slat under the footprint counts, less every later surfacing of it."""
    heights = setups(with_slats(slats, cuts))[0].heights
    assert_close(heights.surface_mm or 0, surface, 1e-9, "sums of decimal figures")
    assert_close(heights.machine_z_mm or 0, surface + 38, 1e-9, "sums of decimal figures")


def test_a_step_between_slats_is_a_finding() -> None:
    """A jig over slats of different height has the step and its figure among its findings."""
    findings = setups(with_slats([LOW, HIGH]))[0].findings
    assert any("2.000" in finding.text for finding in findings)


def test_the_worked_skew() -> None:
    """An angle that is not written moves the stock's farthest corner by 0.995003 mm in case A."""
    want = reference("worked_places")["skew"]
    setup = setups(worked_text(want["case"]))[0]
    assert_close(setup.skew_mm, want["mm"], 0.51e-6, "printed to six decimals")


@pytest.mark.parametrize("name", list(PLACES))
def test_worked_places_pressed(name: str) -> None:
    """A jig that is pushed lies against pins that stand half their play away from it."""
    setup = setups(worked_text(name).replace("    pins_pressed: false\n", ""))[0]
    want = PLACES[name]["pressed"]
    assert_close(setup.zero_in_machine.x_mm, want["x_mm"], 0.51e-6, "printed to six decimals")
    assert_close(setup.zero_in_machine.y_mm, want["y_mm"], 0.51e-6, "printed to six decimals")
    assert_close(setup.angle_deg, want["angle_deg"], 0.51e-6, "printed to six decimals")
    assert [pin.shift_mm for pin in setup.located.pins] == pytest.approx([0.01] * 3, abs=1e-12)


def play_of_pins(seed: int) -> Facts:
    """A random station whose pins stand in holes with much play, at different heights."""
    rng = np.random.default_rng(seed)
    found = drawn(seed)
    kinds = [
        {"shank": 19.6},
        {"in_hole": float(rng.uniform(5, 30)), "shank": 19.9},
        {"fit": "H11/h9", "height": 14.0},
    ]
    pins = {
        key: pin.model_copy(update=kinds[(at + seed) % 3])
        for at, (key, pin) in enumerate(found.pins.items())
    }
    return found._replace(
        pins=pins,
        station=found.station.model_copy(update={"under": float(rng.uniform(0, 9))}),
        holder=found.holder.model_copy(update={"height": 30.0, "edge_from": 2.0}),
    )


@pytest.mark.parametrize("seed", range(thinned(60)))
def test_pushed_pins_lie_where_the_second_method_puts_them(seed: int) -> None:
    """Pins that give way by different plays and leans: the zero is the numerical method's."""
    found = play_of_pins(seed)
    case = case_of(found)
    assert len(set(case.push_mm)) == 3 and min(case.push_mm) > 0.04
    setup = make_setups(found)[0]
    x, y, angle = case.nominal()
    assert_close(setup.zero_in_machine.x_mm, x, 1e-6, "solved to 1e-9 mm over its levers")
    assert_close(setup.zero_in_machine.y_mm, y, 1e-6, "solved to 1e-9 mm over its levers")
    assert_close(wrapped_deg(setup.angle_deg - angle), 0, 1e-6, "solved to 1e-9 mm, over a length")


HELD = [  # keys of the pin, of the grid, of the station; how far a pin gives way
    ({}, {}, {}, 0.01),
    ({}, {}, {"under": 10}, 0.01 + 0.005),  # c e1 / (2 d) = 0.02 x 10 / 40
    ({"in_hole": 10}, {}, {"under": 10}, 0.01 + 0.01),
    ({"in_hole": 30}, {}, {"under": 10}, 0.01 + 0.005),  # the hole is not that deep
    ({"in_hole": 10}, {"depth": None}, {"under": 10}, 0.01 + 0.01),
    ({}, {"depth": None}, {"under": 10}, 0.01),
    ({}, {}, {"under": 20}, 0.01 + 0.01),
    ({}, {"play": 0.2}, {}, 0.1),
    ({"fit": "H7/g6"}, {"play": 0.2}, {}, 0.1),
    ({"fit": "H7/g6"}, {}, {}, -1.0),  # the middle of its limits: iso286.yaml
    ({"shank": 20.05}, {}, {}, 0.0),
    ({"held": "screwed"}, {}, {"under": 10}, 0.0),
    ({"held": "tapered"}, {"play": 0.2}, {"under": 10}, 0.0),
    ({}, {}, {"pins_pressed": False, "under": 10}, 0.0),
]


@pytest.mark.parametrize(("pin", "grid", "station", "gives"), HELD)
def test_how_far_a_pin_gives_way(
    pin: dict[str, Any], grid: dict[str, Any], station: dict[str, Any], gives: float
) -> None:
    """Half its play, and half of what it may lean at the lowest height of contact."""
    if "fit" in pin and not grid:
        gives = sum(clearances_um(20, pin["fit"])) / 4000
    found = facts(world(PRESSED, pin=pin), **station)
    changed = found.bed.grid.model_copy(update=grid)
    setup = make_setups(found._replace(bed=found.bed.model_copy(update={"grid": changed})))[0]
    assert setup.located.pins[0].shift_mm == pytest.approx(gives, abs=1e-12)
    assert setup.zero_in_machine.x_mm == pytest.approx(295 - gives, abs=1e-9)
    assert setup.zero_in_machine.y_mm == pytest.approx(185 - gives, abs=1e-9)


def test_dowels_are_not_pushed() -> None:
    """A jig on dowels lies the same whether its station says pressed or not."""
    from test_dowels import ON_DOWELS

    pressed, laid = (setups(ON_DOWELS, "bars", pins_pressed=pushed)[0] for pushed in (True, False))
    assert pressed.zero_in_machine == laid.zero_in_machine and pressed.budget == laid.budget
