"""Every text of a registry at once, as bad as can be: what block, sheet and map make of it.

Names with such characters are refused when documents are read; here they come in all the same, so
that nothing rests on that refusal alone.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from typing import Any, NamedTuple
from xml.etree import ElementTree

import pytest
from blocks import A0
from hypothesis import example, given, settings
from hypothesis import strategies as st
from oracles.block_reader import read_block
from pydantic import BaseModel
from test_block_words import COMMENT
from test_sheet import Page, sheet_of
from test_sheet_guards import FORMAT_CHARACTERS, assert_same_but_for_room, elements
from thinning import thinned
from worlds import facts, world

from pincorner.characters import visible
from pincorner.documents.beds import PoseEntry
from pincorner.documents.fields import check_name, key_of
from pincorner.render.blocks.block import render_block
from pincorner.render.pages.maps import render_map_page, render_map_svg
from pincorner.setups.facts import Facts
from pincorner.setups.setup import OffsetRow
from pincorner.setups.transform import make_setups, offset_rows

TEXTS = [
    "a) G0 X0 (b", "(MSG, go on)", "MSG, go on", "100 % done", "<script>alert(1)</script>",
    "</title><h1>a", "a]]>--><b>", "{{ 7*7 }}", "{% raw %}", "a\u202eb\u2066c\u2069d", "a\u200fb",
    "\"'><b x=\"", "&lt;i&gt;&amp;", "!?~a", "; G0 X0", "a\ufeffb\u00adc", "#5221=0",
    "a\x07b\x1b[31mc", "a\ufffeb", "/G0 X0", "a,b=c",
]  # fmt: skip
LINES = ["a\nG0 X0", "a\r\nG28", "a\nwords of the block\nb", "a\tb", "a\u2028G0 X0", "a\x0bG0"]
texts = st.one_of(st.sampled_from(TEXTS), st.text(st.characters(exclude_categories=["Cs", "Cc"])))
notes = st.one_of(st.sampled_from([*TEXTS, *LINES]), st.text(max_size=60))


WORLD = """
format: 1
machines: [{name: Aplain, dialect: rs274, travel: {x: [0, 1540]}, note: noted}]
beds:
  - name: Aplain
    machine: Aplain
    grid: {columns: 15, rows: 9, pitch: [100, 100], hole: 20.02}
    pose: {x: 60, y: 55, angle: 0}
    extra: [{name: Bplain, at: [200, 300]}]
    tracks: [{name: Aplain, from: [0, 0], to: [9, 0], width: 9}]
    screws: [{name: Aplain, at: [0, 0], diameter: 9}]
    slats: [{name: Aplain, from: [0, 0], to: [9, 9]}]
    solids: [{name: Aplain, from: [0, 0], to: [9, 9], top: 9}]
    note: noted
pins: [{name: Aplain, shank: 20, body: 20, height: 22, note: noted}]
jigs:
  - name: Aplain
    footprint: [460, 280]
    seat: 18
    solids: [{name: Aplain, from: [200, 100], to: [209, 109], top: 55}]
    nests: [{name: Aplain, zero: [25, 20], stock: {size: [410, 240, 20]}}]
    note: noted
stations:
  - name: Aplain
    bed: Aplain
    jig: Aplain
    pin: Aplain
    pins: {edge: [D2, G2], stop: Bplain}
    work_offsets: {Aplain: G55}
    clamps: [{name: Aplain, from: [0, 0], to: [9, 9], top: 35}]
    program: Aplain
    note: noted
programs: [{name: Aplain, file: noted}]
"""
"""The worked station; everything in it is called Aplain, but for a hole, and noted alike."""


@cache
def documents() -> Facts:
    """The station with its plain texts, read once and never set up: copies start from here."""
    return facts(world(WORLD), "Aplain", pins_pressed=False)


def hostile(text: str, note: str) -> Facts:
    """The same station called A and `text`, its stop in hole B- and `text`, everything noted."""
    # Papers print hole labels as stored: that no mark turns them rests on the documents alone.
    table = {"aplain": f"A{text}", "bplain": f"B-{visible(text)}", "noted": note}

    def put(value: Any) -> Any:
        if isinstance(value, str):
            return table.get(value.casefold(), value)
        if isinstance(value, BaseModel):
            return value.model_copy(update={key: put(part) for key, part in value})
        if isinstance(value, dict):
            return {put(key): put(part) for key, part in value.items()}
        return tuple(map(put, value)) if isinstance(value, tuple) else value

    pins = {key_of(pin.name): pin for pin in map(put, documents().pins.values())}
    return Facts(*map(put, documents()))._replace(pins=pins)


PLAIN, LONG = hostile("b", "c"), hostile("b" * 60, "c" * 200)
"""Stations that the others are compared with: also one for whose names no drawing has room."""


@settings(deadline=None, max_examples=thinned(40))
@given(texts, notes)
def test_a_block_holds_its_own_words_and_plain_comments(text: str, note: str) -> None:
    """No name and no note gets a word, a message or a line of its own into a block."""
    assert_plain_block(render_block(make_setups(hostile(text, note))))


@pytest.mark.parametrize("text", TEXTS)
def test_a_finding_stays_a_comment(text: str) -> None:
    """A finding tells names in a block's comments too, and they stay plain there."""
    found = hostile(text, "")
    deep = found.holder.model_copy(update={"footprint": (460.0, 1200.0)})
    setups = make_setups(found._replace(holder=deep))
    assert [finding.code for finding in setups[0].findings] == ["outside-bed"]
    block = render_block(setups)
    assert "(NOTE A" in block
    assert_plain_block(block)


def assert_plain_block(block: str) -> None:
    """The words of the worked block alone, and comments of plain characters."""
    words = [line for line in block.splitlines() if not COMMENT.fullmatch(line)]
    assert words == A0.splitlines()[5:11]
    assert block.isascii() and not re.search(r"[%!?~<>{}#;/]|\(\s*MSG", block, re.IGNORECASE)
    assert not read_block(block).messages


def rows_of(found: Facts) -> list[OffsetRow]:
    """A station that is located, one outside the travel, and one that a missing pin refuses."""
    far = found.bed.model_copy(update={"pose": PoseEntry(x=-400, y=55)})
    gone = found.station.pins.model_copy(update={"edge": ("D2", "Z99")})
    refused = found.station.model_copy(update={"pins": gone})
    each = [found, found._replace(bed=far), found._replace(station=refused)]
    return [row for this in each for row in offset_rows(this)]


def sheet_page(found: Facts) -> str:
    """The sheet of the station."""
    return sheet_of(make_setups(found))


def map_page(found: Facts) -> str:
    """The map's page with the station, the one outside the travel and the one refused."""
    return render_map_page(found.bed, rows_of(found), None)


@settings(deadline=None, max_examples=thinned(40))
@given(texts, notes, st.sampled_from([sheet_page, map_page]))
def test_a_page_has_the_elements_of_a_plain_one(
    text: str, note: str, page: Callable[[Facts], str]
) -> None:
    """On sheet and map every text stays text: no element, no attribute, no mark that turns it."""
    html = page(hostile(text, note))
    got = Page(html)
    plain, long = (elements(Page(page(each))) for each in (PLAIN, LONG))
    assert_same_but_for_room(elements(got), plain, long)
    assert not FORMAT_CHARACTERS.search(html)
    assert " ".join(visible(f"A{text}").split()) in got.words


SVG = "{http://www.w3.org/2000/svg}"
NAMES = ("}svg", "}title", "}text", "}rect")
"""The drawing, which has room for a list below, its title, letters and their ground."""


class Part(NamedTuple):
    """An element of a drawing: its tag, what its attributes say, and its text."""

    tag: str
    says: tuple[tuple[str, str], ...]
    text: str

    @property
    def kind(self) -> tuple[str, ...]:
        """The same without its text, and with each number as #."""
        return self.tag, *(f"{key}={_FIGURE.sub('#', value)}" for key, value in self.says)


_FIGURE = re.compile(r"-?[0-9]+(?:\.[0-9]+)?")


def drawing(found: Facts) -> str:
    """The map of the stations as a drawing."""
    return render_map_svg(found.bed, rows_of(found))


def parts_of(svg: str) -> list[Part]:
    """The parts of a drawing, in order; the drawing itself is the first one."""
    return [
        Part(each.tag, tuple(sorted(each.attrib.items())), each.text or "")
        for each in ElementTree.fromstring(svg).iter()
    ]


@cache
def plain_drawn() -> tuple[list[Part], list[list[Part]]]:
    """What drawings have alike whatever things are called, in order; and of those of short and of
    long names what they have not: a name beside its jig or, without room, a number and a list."""
    both = [parts_of(drawing(PLAIN)), parts_of(drawing(LONG))]
    alike = set(both[0]) & set(both[1])
    return [part for part in both[0] if part in alike], [
        [part for part in each if part not in alike] for each in both
    ]


@settings(deadline=None, max_examples=thinned(40))
@given(texts, notes)
@example("<script>alert(1)</script>", "a\nG0 X0")
@example("a\u202eb\u2066c\u2069d", "{{ 7*7 }}")
def test_a_drawing_is_a_plain_one_but_for_its_names(text: str, note: str) -> None:
    """The map as a drawing stays well-formed XML; all in it but the names is where it is with plain
    ones, to the last digit and in the same order, and names are drawn as those are."""
    svg = drawing(hostile(text, note))
    got = parts_of(svg)
    alike, others = plain_drawn()
    shapes = [[part.tag for part in each if not part.tag.endswith(NAMES)] for each in others]
    assert shapes == [[], [f"{SVG}polygon"]], "what is called otherwise is where it was"
    assert [part for part in got if part in set(alike)] == alike
    rest = [part for part in got if part not in set(alike)]
    assert {part.kind for part in rest} <= {part.kind for each in others for part in each}
    # a name may take some lines, each with its ground
    assert len(rest) <= max(map(len, others)) + 4 and rest[0] == got[0], "the drawing, then names"
    left, top, width, height = (float(each) for each in dict(got[0].says)["viewBox"].split())
    for part in rest[1:]:
        at = {key: float(value) for key, value in part.says if key in ("x", "y")}
        assert left <= at.get("x", left) <= left + width and top <= at.get("y", top) <= top + height
    words = "".join(part.text for part in got)
    assert not FORMAT_CHARACTERS.search(svg)
    assert "".join(visible(f"A{text}").split()) in "".join(words.split())


def test_the_map_tells_every_station_and_why_one_is_left_out() -> None:
    """The plain map that the hostile ones are compared with has a finding and a refusal on it."""
    words = Page(map_page(PLAIN)).words
    assert "outside the travel of Ab" in words
    assert "station Ab: bed Ab has no hole Z99" in words


@pytest.mark.parametrize("name", [*TEXTS, *LINES])
def test_documents_refuse_such_names(name: str) -> None:
    """A document whose name holds such a character is not taken in the first place."""
    with pytest.raises(ValueError, match="a name"):
        check_name(name)
