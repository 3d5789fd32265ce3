"""One frame for who stands at the machine: drawings, sheets, verifications and findings agree."""

from __future__ import annotations

import html
from itertools import product
from typing import Any
from xml.etree import ElementTree

import pytest
from test_sheet import Page, sheet_of
from worlds import BASE, facts, setups, world

from pincorner.documents.beds import PoseEntry
from pincorner.documents.jigs import Edges
from pincorner.geometry.pose import Pose
from pincorner.render.drawing.close_up import close_up
from pincorner.render.drawing.lie import edge_points, lies_told, zero_from_corner
from pincorner.render.drawing.scene import Edge, front_shapes
from pincorner.render.pages.maps import render_map_page
from pincorner.render.text.explain import render_explain
from pincorner.setups.advice import Remedies
from pincorner.setups.locating import OUTWARD
from pincorner.setups.person import person_at
from pincorner.setups.setup import OffsetRow, Setup
from pincorner.setups.transform import make_setups
from pincorner.surveys.drift import compare, verification
from pincorner.surveys.drift_advice import deviation_text

SIDES = ("front", "right", "back", "left")
ANGLES = (0, 90, 180, 270, 31, -44)


def seen(operator: str | None, angle: float, **station: Any) -> Setup:
    """Station left on a bed that lies turned, people at a side of the machine."""
    machine, pose = {"operator": operator}, PoseEntry(x=2000, y=2000, angle=angle)
    (setup,) = make_setups(facts(world(BASE, machine=machine, bed={"pose": pose}), **station))
    return setup


# By hand, right and away of somebody who faces the machine (ISO 841: X to the right of who stands
# in front, Y away): in front X is right; at the right side one looks along -X, so Y is right.
RIGHT_AND_AWAY = {
    "front": ((1, 0), (0, 1)),
    "right": ((0, 1), (-1, 0)),
    "back": ((-1, 0), (0, -1)),
    "left": ((0, -1), (1, 0)),
}


@pytest.mark.parametrize("side", SIDES)
def test_right_and_away_by_hand(side: str) -> None:
    """Who stands at a side has that side's own right and away; without a side it is the front."""
    machine = facts(world(BASE, machine={"operator": side})).machine
    person = person_at(machine, None)
    right, away = RIGHT_AND_AWAY[side]
    assert person.machine_vector(right) == (1, 0) and person.machine_vector(away) == (0, 1)
    assert person.stated and not person_at(None, None).stated
    assert person_at(None, None).side == "front"


@pytest.mark.parametrize(("side", "angle"), [*product(SIDES, ANGLES)])
def test_a_bed_is_seen_as_it_lies_to_the_nearest_quarter(side: str, angle: float) -> None:
    """What lies to the right in the drawing lies nearly to the person's right in the machine."""
    setup = seen(side, angle, program_angle=angle)
    person, frame = setup.person, Pose.of_degrees("machine", "bed", 0, 0, angle)
    for axis in ((1.0, 0.0), (0.0, 1.0)):
        on_paper, there = person.bed_vector(axis), person.machine_vector(frame.vector(axis))
        assert on_paper[0] * there[0] + on_paper[1] * there[1] > 0.7  # within 45 degrees


@pytest.mark.parametrize(("side", "angle"), [*product(SIDES, (0, 90, 180, 270))])
def test_sheet_verification_and_drawing_agree(side: str, angle: int) -> None:
    """A zero is found farther to the right by as much as it is moved there: the sheet's words, the
    verification's and the drawing's place are those of one person."""
    setup = seen(side, angle, program_angle=angle)
    own = setup.printed.own
    right, behind = float(own.right_of_corner), float(own.behind_corner)
    corner = setup.bed_in_machine.point(setup.located.corner.point)
    zero = setup.zero_in_machine
    off = setup.person.machine_vector((zero.x_mm - corner[0], zero.y_mm - corner[1]))
    assert off == pytest.approx((right, behind), abs=0.051)  # they are printed to 0.1 mm
    for way, words in zip(RIGHT_AND_AWAY[side], ("to the right", "farther from you"), strict=True):
        found = (zero.x_mm + 0.05 * way[0], zero.y_mm + 0.05 * way[1], None)
        told = deviation_text(compare(setup, verification(setup, "", found, 0.02)))
        assert f"(0.050 {words}" in told
    drawing = close_up([setup], (), 130.0, 90.0)
    places = places_of(drawing)
    # the pins' holes D2 and G2 lie three pitches apart along the bed's row
    (x1, y1), (x2, y2) = places["D2"], places["G2"]
    right, away = setup.person.bed_vector((300.0, 0.0))
    assert (x2 - x1, y2 - y1) == pytest.approx((right, away), abs=60.0)  # letters stand beside


def places_of(drawing: str) -> dict[str, tuple[float, float]]:
    """Where each text of a drawing stands, to the right and up."""
    texts = ElementTree.fromstring(drawing).iter("{http://www.w3.org/2000/svg}text")
    return {e.text or "": (float(e.attrib["x"]), -float(e.attrib["y"])) for e in texts}


TURNS = {0: "to you", 90: "to your right", 180: "away from you", 270: "to your left"}
PINS = {
    0: "{edge: [D2, G2], stop: C4}",
    90: "{edge: [N3, N6], stop: L2}",
    180: "{edge: [D2, G2], stop: C4}",
    270: "{edge: [D3, D6], stop: E2}",
}


@pytest.mark.parametrize("turn", TURNS)
def test_a_jigs_front_is_its_own_in_every_turn(turn: int) -> None:
    """FRONT is the edge along the jig's own X, wherever it points, with what people call it; its
    notch lies at the jig's own 0, 0."""
    laid = f"pins: {PINS[turn]}\n    turn: {turn}\n    program_angle: {turn}"
    text = BASE.replace("pins: {edge: [D2, G2], stop: C4}", laid)
    named = text.replace("    seat: 18", "    edges: {front: maker's mark}\n    seat: 18")
    (setup,) = setups(named)
    assert edge_points(setup, "front") == TURNS[turn]
    assert lies_told(setup) == f"its FRONT edge (maker's mark) {TURNS[turn]}"
    (front,) = front_shapes(setup)
    assert isinstance(front.form, Edge) and front.name == "maker's mark"
    assert front.form.start == pytest.approx(setup.jig_in_bed.point((0, 0)))
    assert front.form.end == pytest.approx(setup.jig_in_bed.point((460, 0)))
    words = Page(sheet_of([setup])).words
    band = (
        "FRONT: maker's mark" if turn == 180 else "FRONT"
    )  # as much as has room beside axes, clamps
    assert band in words and lies_told(setup) in words
    assert zero_from_corner(setup) in " ".join(render_explain(setup, Remedies(None, None)).split())


@pytest.mark.parametrize("turn", TURNS)
def test_pins_touch_the_edges_that_they_are_said_to(turn: int) -> None:
    """The jig's own side that pins touch faces them: its normal, turned as the jig lies, meets
    theirs."""
    laid = f"pins: {PINS[turn]}\n    turn: {turn}\n    program_angle: {turn}"
    (setup,) = setups(BASE.replace("pins: {edge: [D2, G2], stop: C4}", laid))
    located = setup.located
    for side, pin in ((located.edge_side, located.pins[0]), (located.stop_side, located.pins[2])):
        facing = setup.jig_in_bed.vector(OUTWARD[side])
        assert facing[0] * pin.normal[0] + facing[1] * pin.normal[1] == pytest.approx(-1, abs=1e-6)


def test_where_people_stand_is_drawn() -> None:
    """Every drawing of a bed says where its viewer stands, and shows the machine's axes."""
    for operator, words in (("left", "you stand here,"), (None, "seen from here,")):
        where = f"at the machine's {'left side' if operator else 'front'}"
        for wide_mm, lines in ((100.0, {words, where}), (130.0, {f"{words} {where}"})):
            texts = places_of(close_up([seen(operator, 0)], (), wide_mm, 90.0))
            assert {*lines, "X+", "Y+"} <= set(texts)
    for operator, words in (("left", "; you stand below, at the machine's left side."),
                            (None, ", from the machine's front.")):  # fmt: skip
        setup = seen(operator, 0)
        page = render_map_page(setup.facts.bed, [OffsetRow(setup.facts, "a", setup)], None)
        assert f"Seen from above{words}" in html.unescape(page)
    # who stands at the left looks along X: it points away from them, Y to their left
    places = places_of(close_up([seen("left", 0)], (), 130.0, 90.0))
    assert places["X+"][1] > places["Y+"][1] and places["Y+"][0] < places["X+"][0]


def test_names_of_edges_are_lines() -> None:
    """What people call an edge is one line of at most 64 characters."""
    assert Edges(front="maker's mark").front == "maker's mark"
    for wrong in ("", "x" * 65, "two\nlines", " led by a blank"):
        with pytest.raises(ValueError, match="one line of 1 to 64 characters"):
            Edges(front=wrong)
