"""Values that a document may not hold: told at their key, with what was expected."""

from __future__ import annotations

from copy import deepcopy
from functools import cache
from typing import Any

import pytest
import yaml
from example_world import LEAST

from pincorner.documents.kinds import KINDS
from pincorner.documents.reading import read_text
from pincorner.errors import Problem

DUMPER = getattr(yaml, "CSafeDumper", yaml.SafeDumper)  # a tenth of the time


def problems(text: str) -> list[Problem]:
    """What is wrong in a text."""
    return read_text(text, "shop.yaml")[0].problems


@cache
def read_least(kind: str) -> Any:
    """The least document of a kind as it was read: reading takes longer than what is tested."""
    return yaml.safe_load(LEAST[kind])


def least(kind: str) -> Any:
    """The least document of a kind, as plain values to change."""
    return deepcopy(read_least(kind))


def step_to(values: Any, path: str) -> tuple[Any, Any]:
    """What holds the last key of a path such as `grid.columns` or `nests[0].name`, and that key."""
    parts = path.replace("[", ".[").split(".")
    *way, last = [int(part[1:-1]) if part.startswith("[") else part for part in parts]
    for part in way:
        values = values[part]
    return values, last


def as_text(values: Any) -> str:
    """A file of documents from plain values."""
    return "format: 1\n" + yaml.dump(values, Dumper=DUMPER, sort_keys=False)


REQUIRED = {
    "machine": "name dialect",
    "bed": "name machine grid grid.columns grid.rows grid.pitch grid.hole pose pose.x pose.y"
    " tracks[0].name tracks[0].from tracks[0].to tracks[0].width screws[0].name screws[0].at"
    " screws[0].diameter slats[0].name slats[0].from slats[0].to",
    "pin": "name shank body height",
    "jig": "name footprint nests nests[0].name nests[0].zero nests[0].stock nests[0].stock.size",
    "station": "name bed",
    "program": "name file tools.1.diameter",
    "survey": "name bed readings fit fit.pose fit.points fit.s fit.dof fit.centroid fit.spread",
    "surfacing": "name bed",
    "run": "name stations",
    "dialect": "name work_offsets",
}  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "path"), [(kind, path) for kind, paths in REQUIRED.items() for path in paths.split()]
)
def test_required_key(kind: str, path: str) -> None:
    """A document without a key that it must have is refused, and the key named."""
    values, list_key = least(kind), KINDS[kind].list_key
    holder, last = step_to(values[list_key][0], path)
    del holder[last]
    (found,) = problems(as_text(values))
    assert found.path == f"{list_key}[0].{path}" and found.text.startswith("this key is needed")
    assert found.line is not None and found.line >= 2


def test_a_station_needs_a_pin_or_a_measured_zero() -> None:
    """A station with neither is refused, and both named."""
    values = least("station")
    del values["stations"][0]["pin"]
    (found,) = problems(as_text(values))
    assert found.path == "stations[0]" and found.text.startswith("expected pin, ")
    assert "measured" in found.text and found.line is not None


SIZES = [
    ("bed", "grid.pitch[0]"), ("bed", "grid.pitch[1]"), ("bed", "grid.hole"), ("bed", "grid.depth"),
    ("bed", "thickness"), ("bed", "tracks[0].width"), ("bed", "screws[0].diameter"),
    ("machine", "touch_plate"), ("machine", "nose"), ("pin", "shank"), ("pin", "body"),
    ("pin", "height"), ("jig", "footprint[0]"), ("jig", "footprint[1]"),
    ("jig", "nests[0].stock.size[0]"), ("jig", "nests[0].stock.size[2]"),
    ("program", "tools.1.diameter"), ("program", "tools.1.stickout"), ("surfacing", "depth"),
]  # fmt: skip
EXTENTS = [
    ("machine", "repeatability"), ("machine", "homing"), ("machine", "max_skew"),
    ("bed", "grid.hole_position"), ("bed", "spoil"), ("bed", "tracks[0].depth"),
    ("bed", "screws[0].depth"), ("pin", "body_tolerance"), ("jig", "seat"), ("jig", "height"),
    ("jig", "spoil"), ("jig", "nests[0].run_off"), ("station", "under"), ("run", "reach"),
    ("survey", "fit.s"),
]  # fmt: skip
LENGTHS = [
    ("bed", "surface"), ("bed", "pose.x"), ("bed", "tracks[0].from[1]"),
    ("bed", "slats[0].surface"),
    ("jig", "nests[0].zero[0]"), ("survey", "readings[0][1]"), ("surfacing", "surface"),
]  # fmt: skip
NO_LENGTH = [
    (".nan", "finite"), (".inf", "finite"), ("-.inf", "finite"), ("1e999", "finite"),
    ("100001", "at most 100 m"), ("4000 in", "at most 100 m"), ("true", "expected"),
    ("[1]", "expected"), ("{a: 1}", "expected"), ("five", "expected a length"),
    ("'5'", "with its unit"), ("5 cm", "expected a length"), ("1_000", "expected"),
    ("0x10", "expected"), ("1/0 in", "0 below the line"),
]  # fmt: skip
WRONG = [
    *((*where, value, "above 0") for where in SIZES for value in ("0", "-1", "0 in")),
    *((*where, value, "0 or more") for where in EXTENTS for value in ("-0.001", "-1/2 in")),
    *((*where, *bad) for where in (SIZES[0], SIZES[9], EXTENTS[3], *LENGTHS) for bad in NO_LENGTH),
    *(("bed", f"grid.{key}", value, text) for key in ("columns", "rows") for value, text in (
        ("501", "expected 1 to 500, got 501"), ("0", "1 to 500"), ("-3", "1 to 500"),
        ("2.5", "whole number"), ("three", "expected a number"), (".nan", "finite"))),
    ("machine", "units", "cm", "expected mm or in, got 'cm'"),
    ("machine", "homes", "maybe", "expected true or false"),
    ("machine", "homes", "'true'", "expected true or false"),
    ("machine", "homes", "1", "expected true or false"),
    ("machine", "read_out", "left-handed", "left-handed (ISO 841)"),
    ("machine", "tool_lengths", "some", "expected none or gauge"),
    ("machine", "beam", "z", "expected x, y or none"),
    ("machine", "travel", "[0, 1]", "expected keys in { }"),
    ("machine", "travel", "{x: [5, 1]}", "the lower end first"),
    ("machine", "travel", "{x: [5, 5]}", "the lower end first"),
    ("machine", "park", "[1]", "the list is too short: entry 2 is missing"),
    ("machine", "park", "[1, 2, 3]", "at most 2 entries"),
    ("machine", "home", "[0, 0, 0]", "expected keys in { }"),
    ("machine", "home", "{}", "expected g28, g30 or both"),
    ("machine", "home", "{g28: [0, 0]}", "entry 3 is missing"),
    ("machine", "home", "{g28: [0, 0, 0], g29: [0, 0, 0]}", "unknown key"),
    ("machine", "home_named_axes", "some", "expected true or false"),
    ("bed", "labels", "{skip: '1'}", "expected letters"),
    ("bed", "labels", "{skip: abcdefghijklmnopqrstuvwxyz}", "expected letters"),
    ("bed", "missing", "[Z9]", "there is no hole Z9"),
    ("bed", "missing", "A1", "expected a list in [ ]"),
    ("bed", "extra", "[{name: r1, at: [1, 2]}, {name: R1, at: [3, 4]}]", "extra: two are named R1"),
    ("bed", "pose.angle", "12 deg", "expected a number"),
    ("bed", "note", "[a]", "expected text"),
    ("pin", "shank", "", "expected a number, got nothing"),
    ("pin", "fit", "tight", "such as H8/g6"),
    ("pin", "fit", "Z9/g6", "not on file"),
    ("jig", "footprint", "[[0, 0], [9, 0]]", "at least 3 entries"),
    ("jig", "footprint", "[[0, 0], [9, 9], [9, 0], [0, 9]]", "does not cross itself"),
    ("jig", "footprint", "[[0, 0], [9, 9], [18, 18]]", "does not cross itself"),
    ("jig", "height", "2.9", "is not below the seat"),
    ("jig", "nests", "[]", "at least 1 entries"),
    ("jig", "nests[0].stock.size", "[1, 2]", "entry 3 is missing"),
    ("jig", "locate", "corners", "expected edges"),
    ("jig", "photo", "/etc/photo.jpg", "relative to the shop folder"),
    ("jig", "photo", "C:/photo.jpg", "relative to the shop folder"),
    ("jig", "photo", "a\\b.jpg", "write / between folders"),
    ("station", "turn", "45", "expected 0, 90, 180 or 270, got 45"),
    ("station", "toward", "+y+x", "expected +x+y"),
    ("station", "stock", "[1, 2, 3]", "one of the two"),
    ("station", "pins", "{edge: [D2], stop: C4}", "entry 2 is missing"),
    ("station", "pins", "{edge: [D2, G2, H2], stop: C4}", "at most 2 entries"),
    ("station", "pins", "{edge: [D2, G2], stop: d2}", "two pins cannot stand in one hole (D2)"),
    ("station", "pins", "{edge: [D2, p-1], stop: P-1}", "two pins cannot stand in one hole"),
    ("station", "pins", "{round: D2, slot: D4}", "corner, toward and turn follow"),
    ("station", "pins", "[D2, G2, C4]", "expected keys in { }"),
    ("station", "pins", "{edge: [D2, {hole: G2}], stop: C4}", "this key is needed"),
    ("station", "work_offsets", "{a: G53}", "expected a work offset"),
    ("station", "work_offsets", "{a: G59.4}", "expected a work offset"),
    ("station", "work_offsets", "[G54]", "expected keys in { }"),
    ("station", "z", "{zero: table}", "expected surface, seat or stock-top"),
    ("station", "z", "{set: probe}", "expected touch, reference or machine"),
    ("program", "cycle", "4:60", "expected a time such as 4:20"),
    ("program", "cycle", "0", "above 0"),
    ("program", "tools", "{T1: {diameter: 6}}", "expected a tool number"),
    ("program", "file", "''", "expected the name of a file"),
    ("surfacing", "surface", "-121", "one of the two"),
    ("run", "stations", "[]", "at least 1 entries"),
    ("run", "load", "soon", "expected a time"),
    ("run", "parts", "0", "expected 1 or more"),
    ("dialect", "work_offsets", "[]", "expected at least one code"),
    ("dialect", "first", "[G0 X0]", "moves no axis"),
    ("dialect", "first", "[G17 G0]", "moves no axis"),
    ("dialect", "first", "[G52 X5]", "moves no axis"),
    ("dialect", "first", "[M3]", "moves no axis"),
    ("dialect", "harmless", "G97", "expected a list in [ ]"),
    ("dialect", "harmless", "[G97, g097.0]", "G97 stands there twice"),
    ("dialect", "harmless", "[G64 P0.01]", "expected one G or M word, such as G91.1 or M10"),
    ("dialect", "harmless", "[G43.1]", "G43.1 concerns tool lengths and is never read over"),
    ("dialect", "harmless", "[M06]", "M6 concerns tools and is never read over; leave it out"),
    ("dialect", "cancel", "[G28]", "moves no axis"),
    ("dialect", "cancel", "[G92 X0]", "moves no axis"),
    ("dialect", "cancel", "[G52 X1]", "moves no axis"),
    ("dialect", "cancel", "['G69)']", "moves no axis"),
    ("dialect", "decimals", "{mm: 0}", "expected 1 to 6 decimals"),
    ("dialect", "decimals", "{mm: 7}", "expected 1 to 6 decimals"),
    ("dialect", "line_length", "39", "expected 40 to 256"),
    ("dialect", "comment", "hash", "expected parens or semicolon"),
    ("station", "work_offsets", "{a: G55, A: G56}", "nest a stands there twice"),
    ("program", "tools", "{'1': {diameter: 6}, '01': {diameter: 8}}", "tool"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "path", "value", "fragment"), WRONG)
def test_wrong_value(kind: str, path: str, value: str, fragment: str) -> None:
    """A wrong value is refused at its key, with what was expected, and in whose document."""
    values, list_key = least(kind), KINDS[kind].list_key
    holder, last = step_to(values[list_key][0], path)
    if isinstance(holder, list):
        holder[last] = "@@"
    else:
        holder.pop(last, None)
        holder[last] = "@@"
    told = problems(as_text(values).replace("'@@'", value))
    found = [problem for problem in told if fragment in problem.text]
    assert found, told
    assert found[0].path.startswith(f"{list_key}[0]") and "x)" in f"{found[0].path} {found[0].text}"
    assert found[0].line is not None
