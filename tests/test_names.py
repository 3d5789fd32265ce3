"""Names, notes and hole labels: which are taken, and how they are kept."""

from __future__ import annotations

import random
import unicodedata
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from thinning import thinned
from worlds import entries

from pincorner.documents.beds import Bed, ColumnLetters
from pincorner.documents.fields import WholeDocument, check_name, key_of
from pincorner.documents.jigs import Jig
from pincorner.documents.stations import Station
from pincorner.documents.writing import from_json, to_json
from pincorner.errors import DocumentErrors
from pincorner.geometry.outline import Box


def one(text: str) -> WholeDocument:
    """The only document of a text without its format line."""
    (entry,) = entries(f"format: 1\n{text}\n")
    return entry.document


@pytest.mark.parametrize(
    ("written", "want"),
    [
        ("on", "on"), ("007", "007"), ("0x1F", "0x1F"), ("1.50", "1.50"), ("true", "true"),
        ("2026-11-20", "2026-11-20"), ("Éclisse", "Éclisse"),
        ("'E\u0301clisse'", "Éclisse"), ("棚 3", "棚 3"),
        ("क्षि", "क्षि"), ("a" * 64, "a" * 64), ("é" * 64, "é" * 64), ("e\u0301" * 64, "é" * 64),
        ("a" * 65, None), ("' a'", None), ("'a '", None), ("'.a'", None), ("'a.'", None),
        ("'-'", None), ("'- _'", None), ("-a-", "-a-"), ("'+1'", "+1"), ("a/b", None),
        ("'a\\b'", None), ('"a\\tb"', None), ('"a\\u200fb"', None), ("a(b)", None), ("½", None),
        ("Ⅷ", None), ("٣", "٣"), ("''", None), ("'\u0301'", None),
    ],
)  # fmt: skip
def test_names(written: str, want: str | None) -> None:
    """A name is the scalar's text in NFC, and keeps the rule of names."""
    text = f"pins: [{{name: {written}, shank: 8, body: 9, height: 10}}]"
    if want is None:
        with pytest.raises(DocumentErrors, match=r"pins\[0\]\.name"):
            one(text)
    else:
        assert one(text).name == want


NAMELIKE = st.text(st.characters(categories=["L", "M", "Nd"], include_characters=" -_.+"))


@given(NAMELIKE)
def test_names_by_rule(text: str) -> None:
    """Of texts of allowed characters those pass that the rule allows, and pass unchanged."""
    kept = unicodedata.normalize("NFC", text)
    good = 1 <= len(kept) <= 64 and kept == kept.strip(" .") and any(c.isalnum() for c in kept)
    if good:
        name = check_name(text)
        assert name == kept == check_name(name)
        assert key_of(key_of(name)) == key_of(name)
    else:
        with pytest.raises(ValueError, match="name"):
            check_name(text)


OUTSIDE = st.characters(exclude_categories=["L", "M", "Nd", "Cs"], exclude_characters=" -_.+")


@given(NAMELIKE.map(lambda text: text[:30]), OUTSIDE, NAMELIKE.map(lambda text: text[:30]))
def test_other_characters_are_no_name(before: str, character: str, after: str) -> None:
    """A character outside the rule is refused, in one line, wherever it stands."""
    with pytest.raises(ValueError, match="name") as caught:
        check_name(f"{before}{character}{after}")
    assert str(caught.value).isprintable()


@pytest.mark.parametrize(
    ("written", "want"),
    [
        ('"two\\nlines\\tand a tab"', "two\nlines\tand a tab"), ("on", "on"), ("12", "12"),
        ('""', ""), ('"' + "x" * 2000 + '"', "x" * 2000), ('"' + "x" * 2001 + '"', None),
        ('"a\\rb"', None), ('"a\\x07b"', None), ('"a\\x85b"', None), ("|\n    a\n    b", "a\nb\n"),
    ],
)  # fmt: skip
def test_notes(written: str, want: str | None) -> None:
    """A note has at most 2,000 characters, of which tab and newline alone may be controls."""
    text = f"pins:\n- name: a\n  shank: 8\n  body: 9\n  height: 10\n  note: {written}"
    if want is None:
        with pytest.raises(DocumentErrors, match=r"pins\[0\]\.note"):
            one(text)
    else:
        assert getattr(one(text), "note", None) == want


def bed(more: str, columns: int = 30) -> Bed:
    """A bed of 100 mm pitch with more keys."""
    grid = f"{{columns: {columns}, rows: 9, pitch: [100, 50], hole: 8}}"
    made = one(f"beds: [{{name: b, machine: m, grid: {grid}, pose: {{x: 0, y: 0}}, {more}}}]")
    assert isinstance(made, Bed)
    return made


@pytest.mark.parametrize(
    ("skip", "column", "letters"),
    [
        ("", 1, "A"), ("", 26, "Z"), ("", 27, "AA"), ("", 52, "AZ"), ("", 53, "BA"),
        ("", 500, "SF"), ("IO", 9, "J"), ("IO", 14, "P"), ("IO", 24, "Z"), ("IO", 25, "AA"),
        ("io", 9, "J"), ("A", 1, "B"), ("A", 26, "BB"), ("ABCDEFGHIJKLMNOPQRSTUVWXY", 3, "ZZZ"),
    ],
)  # fmt: skip
def test_column_letters(skip: str, column: int, letters: str) -> None:
    """Columns run A..Z, AA, AB.. without the letters that the bed skips."""
    made = bed(f'labels: {{skip: "{skip}"}}', columns=500)
    assert made.letters.of(column) == letters
    place = made.hole(f"{letters}3")
    assert place is not None and (place.x_mm, place.y_mm) == ((column - 1) * 100, 100)


@given(st.integers(1, 500), st.sampled_from(["", "IO", "AEIOU", "BCDFGHJKLMNPQRSTVWXYZ"]))
def test_column_letters_are_unique(column: int, skip: str) -> None:
    """A column's letters name that column and no other."""
    letters = bed(f'labels: {{skip: "{skip}"}}').letters
    assert letters.index(letters.of(column)) == column


@pytest.mark.parametrize(
    ("label", "want"),
    [
        ("H5", ("H5", 700.0, 200.0, False)), ("C4", ("C4", 203.0, 151.0, True)),
        ("P-1", ("p-1", 250.0, 150.0, True)), ("P-2", ("p-2", 0.0, 0.0, False)),
        ("A10", None), ("AE1", None), ("A0", None), ("A01", None), ("4C", None), ("Q", None),
        ("AD9", ("AD9", 2900.0, 400.0, True)),
    ],
)  # fmt: skip
def test_holes_of_a_bed(label: str, want: tuple[Any, ...] | None) -> None:
    """An extra hole with a grid label moves that hole, and missing holes are there but unusable."""
    off_grid = "{name: p-1, at: [250, 150]}, {name: p-2, at: [0, 0]}"
    made = bed(f"missing: [h5, P-2], extra: [{off_grid}, {{name: c4, at: [203, 151]}}]")
    assert made.hole(label) == want
    listed = {place.label.upper(): place for place in made.holes()}
    assert listed.get(label) == want and len(listed) == 30 * 9 + 2


def test_extra_hole_keeps_its_name() -> None:
    """An extra hole with a long name reads back from the registry as it was written."""
    made = bed(f"extra: [{{name: {'ß' * 40}, at: [0, 0]}}]")
    assert from_json(Bed, to_json(made)) == made


def test_labels_count_in_plain_digits() -> None:
    """A hole's row is written in the digits 0 to 9, so that a hole has one label."""
    assert ColumnLetters().split("A13") == (1, 13)
    assert ColumnLetters().split("A1\u0663") is None


@pytest.mark.parametrize("asked", ["Éclisse", "e\u0301CLISSE", "ÉCLISSE"])
def test_parts_are_found_as_documents_are(asked: str) -> None:
    """A nest and its work offset are found by `key_of`, composed or not, in any case."""
    jig = one(
        "jigs: [{name: tray, footprint: [200, 100], seat: 20, "
        "nests: [{name: éclisse, zero: [10, 10], stock: {size: [100, 50, 10]}}]}]"
    )
    station = one(
        "stations: [{name: left, bed: b, jig: tray, pin: p, pins: {edge: [A1, B1], stop: A2}, "
        "work_offsets: {éclisse: G55}}]"
    )
    assert isinstance(jig, Jig) and isinstance(station, Station)
    nest = jig.nest(asked)
    assert nest is not None and nest.name == "éclisse"
    assert station.code_of(asked) == "G55"


def test_a_line_through_a_hole_has_all_that_stand_on_it() -> None:
    """Row and column of a hole of the grid, from first to last, and holes off the grid on them."""
    (bed,) = (
        entry.document
        for entry in entries(
            "format: 1\nbeds: [{name: b, machine: m, grid: {columns: 4, rows: 3, pitch: [100, 50],"
            " hole: 20}, pose: {x: 0, y: 0}, missing: [C1], extra: [{name: R1, at: [150, 50.2]}]}]"
        )
    )
    assert isinstance(bed, Bed)
    on_grid = [hole for hole in bed.holes() if hole.label != "R1"]
    for through in on_grid:
        for axis in (0, 1):
            across = through.at_mm[1 - axis]
            want = {h.label for h in bed.holes() if abs(h.at_mm[1 - axis] - across) <= 0.5}
            found = [each.label for each in bed.line_of_holes(through, axis, 0.5)]
            assert set(found) == want, (through.label, axis)
            assert len(found) == len(want)


def test_holes_in_a_box_and_in_steps_are_those_of_all() -> None:
    """Holes within a box, and each so manieth, are what a look at every hole finds, in its order:
    moved and missing ones and those off the grid with them."""
    rng = random.Random(8)
    for _ in range(thinned(200)):
        columns, rows = rng.choice((1, 15, 40)), rng.choice((1, 9, 30))
        pitch = rng.choice((100.0, 33.3, 25.4)), rng.choice((100.0, 50.0))
        names = rng.sample(("A1", "B2", "R1", "p-1", "ZZ99"), rng.randint(0, 5))
        made = Bed.model_validate(
            {
                "name": "b",
                "machine": "m",
                "grid": {"columns": columns, "rows": rows, "pitch": pitch, "hole": 8},
                "pose": {"x": 0, "y": 0},
                "extra": [
                    {"name": name, "at": [rng.uniform(-200, 2000), rng.uniform(-200, 2000)]}
                    for name in names
                ],
                "missing": [each for each in dict.fromkeys(("A1", *names)) if rng.random() < 0.5],
            }
        )
        x, y = (rng.choice((0.0, rng.uniform(-200, 2000))) for _ in "xy")
        within = Box(x, y, x + rng.choice((0.0, 3 * pitch[0], 900.0)), y + 2 * pitch[1])
        every = rng.choice(((1, 1), (2, 3), (7, 1)))
        steps = {
            f"{made.letters.of(column)}{row}"
            for column in range(1, columns + 1, every[0])
            for row in range(1, rows + 1, every[1])
        }
        on_grid = {hole.label for hole in made.holes()[: columns * rows]}
        for box in (within, None):
            want = [
                hole
                for hole in made.holes()
                if (box is None or box.holds(hole.at_mm))
                and (not hole.usable or hole.label not in on_grid or hole.label in steps)
            ]
            assert made.holes(box, every) == want
