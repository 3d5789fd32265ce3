"""Nothing from a registry acts on a page; a shop's own templates come first, faults are told."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from functools import cache
from itertools import groupby
from pathlib import Path
from xml.etree import ElementTree

import pytest
from conftest import Run
from hypothesis import given, settings
from hypothesis import strategies as st
from test_sheet import Page, sheet_of
from thinning import thinned
from worlds import BASE, facts, world

from pincorner.characters import visible
from pincorner.render.pages.maps import render_map_page, render_map_svg
from pincorner.setups.facts import Facts
from pincorner.setups.setup import OffsetRow
from pincorner.setups.transform import offset_rows

HOSTILE = ["<script>alert(1)</script>", "</title><h1>", "{{ 7*7 }}", "{% raw %}", "a\u202eb\u2066c",
           "\"'><b x=\"", "&lt;i&gt;&amp;", "(MSG, hi) % ) ;", "]]>-->",
           "\u200b\ufeff\u00ad"]  # fmt: skip
texts = st.one_of(
    st.sampled_from(HOSTILE),
    st.text(st.characters(exclude_categories=("Cc", "Cs")), min_size=1, max_size=80),
)
odd_names = st.text(
    st.characters(categories=("L", "M", "Nd"), include_characters=" -_.+"), min_size=1, max_size=64
)


FORMAT_CHARACTERS = re.compile("[\u202a-\u202e\u2066-\u2069\u200b-\u200f\ufeff\x00-\x08\x7f-\x9f]")


def elements(page: Page) -> list[tuple[str, tuple[str, ...]]]:
    """The elements of a page with the attributes they have, holes and labels in a row as one.

    Paragraphs stand only where there is a text, a drawing shows fewer holes where texts need more
    lines, white lies below each line of a long name, and a line leads to a name far from its pin.
    """
    told = (
        (tag, tuple(sorted(has))) for tag, has in page.tags if tag not in ("p", "b", "rect", "path")
    )
    found: list[tuple[str, tuple[str, ...]]] = []
    for each, some in groupby(told):
        found += [each] if each[0] in ("circle", "text", "rect", "path") else some
    return found


PAGES: tuple[Callable[[list[OffsetRow]], str], ...] = (
    lambda rows: sheet_of([row.setup for row in rows]),
    lambda rows: render_map_page(rows[0].setup.facts.bed, rows, None),
)


@cache
def plain_facts() -> Facts:
    """A station with a note, whose program has a file."""
    return facts(world(BASE + "programs: [{name: p, file: f.nc}]\n"), program="p", note="x")


DRAWN = ("circle", "g", "line", "path", "polygon", "polyline", "rect", "text", "tspan")


def assert_same_but_for_room(
    got: Sequence[tuple[str, tuple[str, ...]]],
    plain: Sequence[tuple[str, tuple[str, ...]]],
    long: Sequence[tuple[str, tuple[str, ...]]],
) -> None:
    """A page has the kinds of elements of two plain ones, with short texts and with long ones; and
    those beside the drawings of which these have as many stand there in the same order."""
    assert set(got) <= {*plain, *long}
    many, more = Counter(plain), Counter(long)
    alike = {kind for kind in many if many[kind] == more[kind] and kind[0] not in DRAWN}
    assert len(alike) > len({kind for kind in many if kind[0] not in DRAWN}) / 2, "or no test"
    assert [each for each in got if each in alike] == [each for each in plain if each in alike]


@cache
def plain_elements(text: str) -> list[list[tuple[str, tuple[str, ...]]]]:
    """The elements of each page of that station, called and noted so, its jig too."""
    plain = plain_facts()
    holder = plain.holder.model_copy(update={"note": text})
    station = plain.station.model_copy(update={"name": text, "note": text})
    rows = offset_rows(plain._replace(holder=holder, station=station))
    return [elements(Page(render(rows))) for render in PAGES]


@settings(max_examples=thinned(60), deadline=None)
@given(note=texts, jig_note=texts, file=texts, name=odd_names)
def test_hostile_texts_stay_texts(note: str, jig_note: str, file: str, name: str) -> None:
    """Whatever notes, names and paths hold, the page has the elements of a plain one, and no bidi
    marks."""
    plain = plain_facts()
    hostile = plain._replace(
        station=plain.station.model_copy(update={"note": note, "name": name}),
        holder=plain.holder.model_copy(update={"note": jig_note}),
        program=plain.program and plain.program.model_copy(update={"file": file}),
    )
    rows = offset_rows(hostile)
    written = [render(rows) for render in PAGES]
    wanted = zip(written, plain_elements("x"), plain_elements("A" * 64), strict=True)
    for text, short, long in wanted:
        # A text of nothing but invisible characters has no paragraph of its own.
        assert_same_but_for_room(elements(Page(text)), short, long)
        assert not FORMAT_CHARACTERS.search(text)
    words = Page(written[0]).words
    for shown in (note, jig_note, name):
        assert " ".join(visible(shown).split()) in words
    ElementTree.fromstring(render_map_svg(plain.bed, rows))


@pytest.mark.parametrize(
    ("template", "told"),
    [
        ("{% if %}", "sheet.html.j2:1"),
        ("\n{{ no_such_value }}", "sheet.html.j2"),
        ("{% include 'gone.j2' %}", "gone.j2"),
        ("{{ 1 / 0 }}", "sheet.html.j2"),
        ("{{ station + 1 }}", "sheet.html.j2"),
        (b"\xff\xfe", "sheet.html.j2"),
    ],
)
def test_a_fault_in_a_shops_own_template(
    shop: Path, run: Run, template: str | bytes, told: str
) -> None:
    """A fault in the shop's own template is one clear line, exit code 2, and no file."""
    data = template if isinstance(template, bytes) else template.encode("utf-8")
    (shop / "templates" / "sheet.html.j2").write_bytes(data)
    ran = run("sheet", "left", "-o", "new")
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith("template ") and told in ran.err and ran.err.count("\n") == 1
    assert not list((shop / "new").glob("*"))


def test_a_shops_own_template(shop: Path, run: Run) -> None:
    """The shop's own sheet.html.j2 comes before the shipped one, also with a style of its own."""
    own = "<p>{{ station }}</p>{% include 'sheet.css.j2' %}"
    (shop / "templates" / "sheet.html.j2").write_text(own, encoding="utf-8")
    (shop / "templates" / "sheet.css.j2").write_text("own {{ paper }}", encoding="utf-8")
    assert run("sheet", "left", "-o", "new", "--paper", "letter").code == 0
    assert (shop / "new" / "left.html").read_text(encoding="utf-8") == "<p>left</p>own Letter"
