"""One way to read: documents by their class, for now, the past, and a load not yet written."""

from __future__ import annotations

from pathlib import Path

import pytest
from test_chosen_pins import SLATTED, SURVEY
from test_round_trip import chosen, empty, load_text
from worlds import BASE, entries, make_registry

from pincorner.documents.beds import Bed
from pincorner.documents.jigs import Jig
from pincorner.documents.kinds import KINDS, kind_of, word_of
from pincorner.documents.stations import Station
from pincorner.errors import UnknownName
from pincorner.work.session import Library

LATER = f"""
format: 1
pins:
  - {{name: peg-20, shank: 20.00, body: 21.00, height: 22}}
jigs:
  - name: panel-tray
    footprint: [450, 280]
    seat: 17
    nests: [{{name: a, zero: [25, 20], stock: {{size: [410, 240, 19]}}}}]
{SURVEY}
"""
"""Another pin and tray of the same names, a slat's new height, and a survey."""


def test_every_kind_is_known_by_its_class() -> None:
    """A kind's word leads to its class and back."""
    assert all(word_of(kind.model) == word for word, kind in KINDS.items())


def test_a_document_is_of_the_class_asked_for(tmp_path: Path) -> None:
    """Names are looked up within a class only, without regard to case."""
    with make_registry(tmp_path / "r.sqlite").reading() as reader:
        for source in (reader, Library(reader)):
            assert type(source.get(Bed, "LONG-Bench")) is Bed
            assert source.find(Jig, "long-bench") is None
            assert {type(each) for each in source.all(Station)} == {Station}
            with pytest.raises(UnknownName, match="no jig is named long-bench; known: panel"):
                source.get(Jig, "long-bench")


def test_a_load_not_yet_written_reads_as_after_it(tmp_path: Path) -> None:
    """Facts with the documents of a load are the facts once they are in, its survey included."""
    slatted = BASE.replace(
        "surface: -120", "surface: -120\n    slats: [{name: L1, from: [550, -50], to: [650, 850]}]"
    )
    registry = make_registry(tmp_path / "r.sqlite", slatted)
    new = [entry.document for entry in entries(LATER)]
    with registry.reading() as reader:
        library = Library(reader, new)
        before = library.facts(library.stations(())[0])
        known = {kind: library.all(KINDS[kind].model) for kind in map(kind_of, new)}
    with registry.writing("test", "load") as writer:
        writer.put(new)
    with registry.reading() as reader:
        library = Library(reader)
        after = library.facts(library.stations(())[0])
        assert known == {kind: reader.all(KINDS[kind].model) for kind in known}
    assert before.survey is not None and before.surfacings and before.holder.seat == 17
    assert before._replace(used=None) == after._replace(used=None)


def test_pins_are_chosen_with_the_survey_of_the_same_file(tmp_path: Path) -> None:
    """A bed with its survey and its stations in one file has the pins that it has in two."""
    whole, parts = empty(tmp_path, "whole"), empty(tmp_path, "parts")
    load_text(whole, tmp_path, SLATTED + SURVEY)
    bed, stations = SLATTED.split("stations:")
    load_text(parts, tmp_path, bed + SURVEY)
    load_text(parts, tmp_path, f"format: 1\nstations:{stations}")
    assert chosen(whole) == chosen(parts)
