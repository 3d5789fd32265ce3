"""Proposed places as people and scripts see them: table, commands, JSON, drawing."""

from __future__ import annotations

import itertools
import re
import shlex
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from conftest import Run
from shapely import Polygon
from worlds import BASE, World, facts, world

from pincorner.documents.stations import EdgePins
from pincorner.places.search import Places, find_places
from pincorner.places.several import Selection, spread_out
from pincorner.render.outputs.runs import places_json
from pincorner.render.pages.place_map import PlaceDrawing, render_place_map
from pincorner.render.text.places import place_names, places_text, register_command, selection_text
from pincorner.setups.facts import Facts
from pincorner.setups.person import Person
from pincorner.setups.transform import make_setups
from pincorner.shipped import shipped_folder
from pincorner.standing import Standing, standing_on


def demo_world() -> World:
    """The documents of the demo."""
    return world((shipped_folder("fixtures_db") / "beehive.yaml").read_text(encoding="utf-8"))


def tray(**changes: object) -> Facts:
    """A draft for the demo's tray, with neither program nor codes."""
    return facts(demo_world(), "left", program=None, work_offsets={}, clamps=(), **changes)


@pytest.fixture(scope="module")
def trays() -> Places:
    """Where the demo's tray can lie, not turned."""
    found = tray()
    return find_places(found, standing_on(found.bed), turns=(0,))


def test_four_trays_can_be_registered_as_printed(shop: Path, run: Run, trays: Places) -> None:
    """The demo's bed takes four trays at once; each printed command registers one, as computed."""
    assert shop.is_dir()
    places = trays
    chosen = spread_out(places, 4)
    names = place_names(places, chosen.places, ["left", "right"])
    assert (len(chosen.places), chosen.gap_mm, chosen.exact) == (4, pytest.approx(220.02), True)
    for one, other in itertools.combinations(chosen.places, 2):
        assert Polygon(one.footprint).distance(Polygon(other.footprint)) >= 220.0 - 1e-9
    text = selection_text(places, chosen, names)
    assert "smallest gap between them 220 mm; no choice of 4 has a larger one" in text
    commands = re.findall(r"^\d+  (pincorner register .*)$", text, re.MULTILINE)
    for command, name, each in zip(commands, names, chosen.places, strict=True):
        words = shlex.split(command)
        assert words[2] == name
        assert run(*words[1:]).code == 0
        row = run("offsets", name, "--json").json["offsets"][0]
        assert row["refused"] is None
        assert row["u95_worst_mm"] == pytest.approx(each.u95_worst_mm, abs=1e-9)
        assert row["angle_deg"] == 0.0


def test_every_option_of_a_draft_is_in_its_command() -> None:
    """Names with spaces and lists stand in double quotes; lengths carry their unit."""
    station = facts(demo_world(), "roof", work_offsets={"a": "G54.1 P7"}).station.model_copy(
        update={"pins": EdgePins(edge=("B7", "F7"), stop="odd hole"), "turn": 270,
                "program_angle": -90.0, "program": "roof groove", "bed": "long bench",
                "stock": (500.0, 230.5, 18.0)}
    )  # fmt: skip
    assert register_command(station, "lid 1") == (
        'pincorner register "lid 1" --bed "long bench" --stock "500mm,230.5mm,18mm" '
        '--pin peg-12 --pins "B7,F7,odd hole" --turn 270 --program-angle -90 --under 3mm '
        '--program "roof groove" --z-zero surface --work-offset "a=G54.1 P7"'
    )


def test_names_are_new_and_not_too_long(trays: Places) -> None:
    """Stations are named after jig and hole, numbered where taken, at most 64 characters."""
    found, places = trays.facts, trays
    shown = [next(each for each in places.proposals if each.where == "A1")] * 2
    assert place_names(places, shown, ["Panel-Tray-a1"]) == ("panel-tray-A1-2", "panel-tray-A1-3")
    for jig, first in (("end bars", "end bars A1"), ("x" * 64, "x" * 54 + "-A1"), ("-x", "x-A1")):
        holder = found.holder.model_copy(update={"name": jig})
        renamed = places._replace(facts=found._replace(holder=holder))
        assert place_names(renamed, shown[:1], []) == (first,)


def test_the_list_says_what_was_looked_at() -> None:
    """How many of how many, whole mm of gap rounded down, the caution, and what was assumed."""
    found = tray()
    neighbour = Standing("jig", "tray", ((700.0, 0.0), (800.3, 0.0), (800.3, 90.0), (700.0, 90.0)),
                         station="there", footprint=True)  # fmt: skip
    places = find_places(found, [neighbour], turns=(0, 90))
    names = place_names(places, places.proposals[:3], [])
    text = places_text(places, places.proposals[: len(names)], names)
    assert text.startswith(
        f"3 of {len(places.proposals)} places for panel-tray on long-bench, best first "
        "(1080 ways looked at)\n"
    )
    first = places.proposals[0]
    assert f" {int(first.gap_mm)}" in text.splitlines()[2]
    assert "clamps reach 150 mm from their track (common practice)" in text
    assert "A distance between drawings is no safeguard" in text
    assert "safe " not in text.replace("safeguard", "")
    turned = next(each for each in places.proposals if each.station.turn == 90)
    alone = places._replace(proposals=(turned,))
    table = places_text(alone, alone.proposals[:1], ("x",)).splitlines()[1:4]
    assert "post it turned by 90" in table[1] and table[2].strip() == "degrees counter-clockwise"
    assert all(len(line) <= 80 for line in table)


def test_no_place_is_one_sentence() -> None:
    """Where there is none, list and selection say why and nothing else."""
    found = tray()
    over_all = Standing(
        "jig", "lid", found.bed.box.outline, station="all", jig="lid", footprint=True
    )
    places = find_places(found, [over_all])
    expected = (
        "no place: of 2160 ways to lay panel-tray on bed long-bench, 1296 hang over the edge of "
        "bed long-bench, 864 hit lid of station all\n"
    )
    assert places_text(places, (), ()) == expected
    assert selection_text(places, spread_out(places, 3), ()) == expected


@pytest.mark.parametrize(
    ("gap", "bound", "asked", "most", "left_out", "told"),
    [
        (20.0, 20.0, 2, 2, 0, ["20 mm; no choice of 2 has a larger one"]),
        (20.0, 31.2, 2, 2, 0, ["20 mm; no choice of 2 has more than 32 mm"]),
        (20.0, 20.0, 5, 2, 0, ["no more than 2 fit at once"]),
        (19.9999999, 20.0, 5, 4, 7, ["found: 2; at most 4 fit", "7 places that lie less well",
                                     "them 20 mm"]),
        (-0.0, 0.0, 2, 2, 0, ["smallest gap between them 0 mm"]),
    ],
    ids=str,
)  # fmt: skip
def test_how_good_a_choice_is(
    trays: Places,
    gap: float,
    bound: float,
    asked: int,
    most: int,
    left_out: int,
    told: list[str],
) -> None:
    """Exact choices say so, others give their bound; fewer than asked say what was shown."""
    places = trays
    two = places.proposals[:2]
    text = selection_text(places, Selection(two, asked, gap, bound, most, left_out), ("p", "q"))
    for part in told:
        assert part in text


def test_json_holds_the_same() -> None:
    """Proposals with their command, reasons with counts, and what is known about the choice."""
    found = facts(demo_world(), "end-bars")
    places = find_places(found, standing_on(found.bed))
    chosen = spread_out(places, 2)
    names = place_names(places, chosen.places, [])
    values = places_json(places, chosen.places, names, chosen)
    assert (values["format"], values["kind"]) == (1, "places")
    assert values["together"]["gap_mm"] == chosen.gap_mm
    assert values["together"]["exact"] is True
    assert sum(row["count"] for row in values["against"]) + values["found"] == values["ways"]
    for row, each in zip(values["places"], chosen.places, strict=True):
        assert row["pins"] == list(each.holes)
        assert row["corner"] is None
        assert row["toward"] is None
        assert row["register"] == register_command(each.station, row["station"])
    assert places_json(places, places.proposals[:1], ("x",))["together"] is None


def test_the_map_numbers_places_and_names_stations() -> None:
    """Well-formed SVG with a number at each place, and escaped names of what is there."""
    found = tray()
    first = make_setups(facts(world(BASE)))[0]
    renamed = first.facts.station.model_copy(update={"name": "<left>"})
    there = [first._replace(facts=first.facts._replace(station=renamed))]
    places = find_places(found, standing_on(found.bed, there), turns=(0,))
    for together in (True, False):
        shown = places.proposals[:5]
        drawing = render_place_map(
            PlaceDrawing(found.bed, Person(), tuple(there), found.holder, shown, together)
        )
        root = ET.fromstring(drawing.encode("utf-8"))
        words = ["".join(node.itertext()) for node in root.iter("{http://www.w3.org/2000/svg}text")]
        numbers = [int(n) for word in words for n in word.split(", ") if n.isdecimal()]
        rows = list(range(1, 10))  # the grid's own rows are numbered too
        assert sorted(numbers) == sorted([*rows, *range(1, 6)])
        assert "<left>" in words
