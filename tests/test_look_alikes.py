"""Names that look alike, or are alike once spelled in plain letters, still differ on every paper.

What tells them apart by eye is the fingerprint, which stands for names as they are stored.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from blocks import TWO, station
from conftest import Run
from hypothesis import given, settings
from hypothesis import strategies as st
from test_sheet import Page, sheet_of
from thinning import thinned

from pincorner.documents.beds import Extra
from pincorner.documents.fields import check_name, key_of
from pincorner.documents.records import Program
from pincorner.documents.stations import EdgePins
from pincorner.render.blocks.block import render_block
from pincorner.render.blocks.guards import plain_ascii
from pincorner.render.pages.maps import render_map_page
from pincorner.setups.facts import Facts
from pincorner.setups.transform import make_setups, offset_rows

ALIKE = [
    ("a", "а", "ä", "á", "ª"), ("o", "о", "ο", "ö", "ø"), ("e", "е", "é", "ё"), ("p", "р", "ρ"),
    ("c", "с"), ("x", "х"), ("s", "ѕ"), ("i", "і", "ı", "ï"), ("l", "ł", "ӏ"), ("d", "đ", "ð"),
    ("ss", "ß"), ("ae", "æ"), ("th", "þ"), ("-", "_"), ("n", "ո", "ñ"), ("0", "٠", "০"),
    ("", "\ufe0f", "\u034f", "\u3164"), ("", "я"), ("t",), (" ",), ("2",),
]  # fmt: skip
"""Spellings of one letter that look alike, are transliterated alike, or show nothing at all."""

ROLES = ["station", "nest", "bed", "jig", "hole", "program"]
"""What a fingerprint names (guide, Block)."""


def _legal(name: str) -> bool:
    try:
        return check_name(name) == name
    except ValueError:
        return False


@st.composite
def pairs(draw: st.DrawFn) -> tuple[str, str]:
    """Two different names, spelled letter by letter from the same rows of ALIKE."""
    rows = draw(st.lists(st.sampled_from(ALIKE), min_size=1, max_size=8))
    first, second = ("".join(draw(st.sampled_from(row)) for row in rows) for _ in range(2))
    return first, second


def named(role: str, name: str) -> Facts:
    """Station `left` of the worked world with one of its things named so."""
    changes: dict[str, dict[str, Any]] = {
        "station": {"name": name},
        "nest": {
            "jig": {"nests": (TWO[0].model_copy(update={"name": name}),)},
            "work_offsets": {name: "G55"},
        },
        "bed": {"bed": {"name": name}},
        "jig": {"jig": {"name": name}},
        "hole": {
            "bed": {"extra": (Extra(name=name, at=(200.0, 310.0)),)},
            "pins": EdgePins(edge=("D2", "G2"), stop=name),
        },
        "program": {},
    }
    found = station(**changes[role])
    if role != "program":
        return found
    asked = found.station.model_copy(update={"program": name})
    return found._replace(station=asked, program=Program(name=name, file="a.nc"))


def papers(found: Facts) -> dict[str, str]:
    """Block, sheet and map of a station as texts that a reader sees."""
    setups = make_setups(found)
    return {
        "block": render_block(setups),
        "sheet": Page(sheet_of(setups)).words,
        "map": Page(render_map_page(found.bed, offset_rows(found), None)).words,
    }


FINGERPRINT = re.compile("[0-9A-F]{4}-[0-9A-F]{4}")


def told_apart(first: Facts, second: Facts) -> None:
    """Each of the papers of two stations shows its own fingerprint alone."""
    shown = [make_setups(found)[0].fingerprint for found in (first, second)]
    assert shown[0] != shown[1]
    both = [papers(found) for found in (first, second)]
    for mine, texts in zip(shown, both, strict=True):
        for paper, text in texts.items():
            assert set(FINGERPRINT.findall(text)) == {mine}, paper


@settings(deadline=None, max_examples=thinned(40))
@given(pairs().filter(lambda two: all(map(_legal, two)) and key_of(two[0]) != key_of(two[1])),
       st.sampled_from(ROLES))  # fmt: skip
def test_names_that_look_alike_differ_on_every_paper(two: tuple[str, str], role: str) -> None:
    """Whatever two names have in common to the eye, block, sheet and map tell them apart."""
    told_apart(named(role, two[0]), named(role, two[1]))


COLLIDING = [("Bär", "Bar"), ("Łuk", "Luk"), ("Þor", "Thor"), ("sæt", "saet"), ("a_b", "a-b"),
             ("棚", "天板"), ("я", "ю"), ("ﬁn", "fın"), ("２b", "2b"), ("a  b", "a b"),
             ("a\ufe0f", "a")]  # fmt: skip


@pytest.mark.parametrize("number", range(len(COLLIDING)))
def test_names_alike_in_plain_letters_differ_on_every_paper(number: int) -> None:
    """Names that a block spells alike, or not at all, have fingerprints of their own: so do sheet
    and map, which are looked at for one pair of each role; the roles take turns."""
    (first, second), role = COLLIDING[number], ROLES[number % len(ROLES)]
    assert plain_ascii(first) == plain_ascii(second)
    found = named(role, first), named(role, second)
    if number < len(ROLES):
        told_apart(*found)
    setups = [make_setups(each) for each in found]
    blocks = [render_block(each) for each in setups]
    for block, (setup,) in zip(blocks, setups, strict=True):
        assert set(FINGERPRINT.findall(block)) == {setup.fingerprint}
    assert setups[0][0].fingerprint != setups[1][0].fingerprint
    one, other = (FINGERPRINT.sub("", block) for block in blocks)
    assert one == other  # nothing but the fingerprint tells these blocks apart


@pytest.mark.parametrize(("first", "second"), [("Straße", "STRASSE"), ("ſtep", "step")])
def test_names_of_one_key_are_one_name(first: str, second: str) -> None:
    """Spellings that differ in case alone, ß and ss among them, are one thing, not two."""
    assert key_of(first) == key_of(second)


def test_look_alike_stations_in_one_shop(shop: Path, run: Run) -> None:
    """Stations `left`, Cyrillic `lеft` and `lëft` on the same pins have papers of their own."""
    names = ["left", "lеft", "lëft"]
    for name in names[1:]:
        tray = ("--bed", "long-bench", "--jig", "panel-tray", "--pin", "peg-20")
        done = run("register", name, *tray, "--pins", "D2,G2,C4", "--work-offset", "a=G55")
        assert done.code == 0
    rows = run("offsets", *names, "--json").json["offsets"]
    prints = {row["station"]: row["fingerprint"] for row in rows}
    assert set(prints) == set(names) and len(set(prints.values())) == 3
    assert run("sheet", *names, "-o", "new").code == 0
    for name in names:
        others = {prints[other] for other in names if other != name}
        page = (shop / "new" / f"{name}.html").read_text(encoding="utf-8")
        for text in (run("block", name).out, page):
            assert prints[name] in text and not any(other in text for other in others)
        assert f"station {name}, nest a" in run("show", prints[name]).out
    assert run("map", "long-bench", "-o", "new.html").code == 0
    page = (shop / "new.html").read_text(encoding="utf-8")
    assert all(each in page for each in prints.values())
