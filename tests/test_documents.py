"""Documents of every kind: what they hold, what leaving a key out says, how names are kept."""

from __future__ import annotations

from typing import Any

import pytest
from example_world import EXAMPLE, LEAST
from pydantic import ValidationError
from worlds import entries

from pincorner.documents.fields import WholeDocument
from pincorner.documents.kinds import KINDS, identity, kind_of
from pincorner.documents.records import Run
from pincorner.documents.writing import from_json, plain_values, to_json, to_yaml
from pincorner.errors import DocumentErrors

DEFAULTS: list[tuple[str, str, Any]] = [
    ("machine", "units", "mm"), ("machine", "homes", True), ("machine", "travel", None),
    ("machine", "repeatability", None), ("machine", "homing", None), ("machine", "max_skew", 0.1),
    ("machine", "tool_lengths", "none"), ("machine", "touch_plate", None),
    ("machine", "beam", None), ("machine", "carriage", None), ("machine", "operator", None),
    ("machine", "rapid", None), ("machine", "nose", None),
    ("machine", "straight_rapids", False), ("machine", "park", None), ("machine", "note", None),
    ("machine", "home", None), ("machine", "home_named_axes", False),
    ("bed", "box", (-25.0, -20.0, 125.0, 60.0)), ("bed", "thickness", None),
    ("bed", "grid.hole_position", None), ("bed", "grid.depth", None), ("bed", "labels.skip", ""),
    ("bed", "pose.angle", 0.0), ("bed", "surface", None), ("bed", "spoil", 0.0),
    ("bed", "missing", ()), ("bed", "extra", ()), ("bed", "tracks.0.depth", 0.0),
    ("bed", "screws.0.depth", 0.0), ("bed", "slats.0.surface", None), ("bed", "solids", ()),
    ("pin", "body_tolerance", None), ("pin", "fit", None),
    ("jig", "locate", "edges"), ("jig", "top_mm", 3.0), ("jig", "spoil", 0.0),
    ("jig", "solids", ()), ("jig", "photo", None), ("jig", "nests.0.angle", 0.0),
    ("jig", "nests.0.stock.from_", (0.0, 0.0)), ("jig", "nests.0.run_off", None),
    ("station", "stock", None), ("station", "pins", None), ("station", "turn", 0),
    ("station", "program_angle", 0.0), ("station", "under", 0.0), ("station", "work_offsets", {}),
    ("station", "z.zero", "stock-top"), ("station", "z.set", "touch"), ("station", "program", None),
    ("station", "clamps", ()), ("station", "note", None),
    ("program", "units", None), ("program", "cycle", None), ("program", "tools.1.stickout", None),
    ("survey", "fit.pose.angle", 0.0), ("surfacing", "slats", ()), ("surfacing", "surface", None),
    ("run", "load", None), ("run", "reach", None), ("run", "parts", None),
    ("dialect", "write", "g10-l2"), ("dialect", "rotation", "none"),
    ("dialect", "expressions", False), ("dialect", "converts", False),
    ("dialect", "first", ("G40", "G17", "G49", "G80", "G94", "G98")),
    ("dialect", "harmless", ()), ("dialect", "cancel", ("G92.1",)),
    ("dialect", "comment", "parens"), ("dialect", "upper_case", False),
    ("dialect", "line_length", 256), ("dialect", "decimals.mm", 3),
    ("dialect", "decimals.inch", 4), ("dialect", "decimals.deg", 4),
]  # fmt: skip


def one(text: str) -> WholeDocument:
    """The only document of a text without its format line."""
    (entry,) = entries(f"format: 1\n{text}\n")
    return entry.document


def at(document: Any, path: str) -> Any:
    """What stands at a dotted path of a document."""
    for part in path.split("."):
        if isinstance(document, dict):
            document = document[part]
        else:
            document = document[int(part)] if part.isdecimal() else getattr(document, part)
    return document


@pytest.mark.parametrize(("kind", "path", "want"), DEFAULTS)
def test_key_left_out_has_its_default(kind: str, path: str, want: Any) -> None:
    """A key left out counts as the guide's page of keys says."""
    assert at(one(LEAST[kind]), path) == want


def test_example_holds_every_kind() -> None:
    """The example of every kind loads, and is the same after its way through text and registry."""
    documents = [entry.document for entry in entries(EXAMPLE)]
    assert {kind_of(document) for document in documents} == set(KINDS)
    for document in documents:
        assert from_json(type(document), to_json(document)) == document
    again = [entry.document for entry in entries(to_yaml(documents))]
    assert sorted(again, key=identity) == sorted(documents, key=identity)
    assert to_yaml(again) == to_yaml(documents)


EXAMPLE_VALUES: list[tuple[str, str, Any]] = [
    ("machine", "travel.z", (-190.0, 0.0)), ("machine", "park", (0.0, 940.0)),
    ("machine", "home.g28", (0.0, 0.0, 0.0)), ("machine", "home.g30", (0.0, 940.0, 0.0)),
    ("dialect", "first", ("G40", "G17", "G49", "G80", "G94", "G98")),
    ("dialect", "harmless", ("G91.1", "G97")),
    ("bed", "box", (-50.0, -50.0, 1450.0, 850.0)), ("bed", "grid.pitch", (100.0, 100.0)),
    ("bed", "missing", ("H5",)), ("bed", "extra.0.at", (250.0, 150.0)),
    ("bed", "slats.0.box", (-50.0, 61.0, 1450.0, 139.0)), ("bed", "solids.0.top", 60.0),
    ("pin", "body_tolerance", 0.01), ("jig", "footprint", (460.0, 280.0)),
    ("jig", "nests.0.stock.size", (410.0, 240.0, 20.0)), ("station", "pins.edge", ("D2", "G2")),
    ("station", "toward", "+x+y"), ("station", "work_offsets.a", "G55"),
    ("program", "cycle", 260.0), ("program", "tools.2.diameter", 12.7),
    ("survey", "readings.0", ("A1", 60.01, 54.98, -120.02)), ("survey", "fit.dof", 1),
    ("surfacing", "depth", 0.4), ("run", "load", 90.0), ("run", "stations", ("left", "right")),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "path", "want"), EXAMPLE_VALUES)
def test_example_value(kind: str, path: str, want: Any) -> None:
    """The example's values are read as what they say."""
    document = next(e.document for e in entries(EXAMPLE) if kind_of(e.document) == kind)
    assert at(document, path) == want


def test_times_are_read_as_people_write_them() -> None:
    """Seconds, minutes:seconds, and amounts with their units, largest first; written as seconds."""
    texts = {
        "180": 180, "180 s": 180, "180s": 180, "3:00": 180, "3 min": 180, "3min": 180,
        "14 min": 840, "1 h": 3600, "1.5 h": 5400, "1 h 30 min": 5400, "2min 5s": 125,
        "1 Hour": 3600, "2 minutes 0.5 sec": 120.5,
    }  # fmt: skip
    for text, seconds in texts.items():
        run = one(f"runs: [{{name: a, stations: [b], load: {text!r}}}]")
        assert isinstance(run, Run) and run.load == seconds, text
        assert plain_values(run)["load"] == seconds
    for text in ("", "3 m", "min", "30 min 1 h", "1 h 30", "-3 min", "0 min", "3 min 3 min", "h"):
        with pytest.raises(DocumentErrors, match=r"load: expected a (time such as 4|size)"):
            one(f"runs: [{{name: a, stations: [b], load: {text!r}}}]")


@pytest.mark.parametrize("kind", sorted(LEAST))
def test_documents_are_frozen(kind: str) -> None:
    """No key of a document can be assigned, nor one added."""
    document: Any = one(LEAST[kind])
    for key in ("name", "colour"):
        with pytest.raises(ValidationError):
            setattr(document, key, "other")


@pytest.mark.parametrize("kind", sorted(LEAST))
def test_least_document_writes_only_what_it_said(kind: str) -> None:
    """Keys that say what leaving them out says are left out when a document is written."""
    values = plain_values(one(LEAST[kind]))
    (written,) = plain_list(LEAST[kind])
    assert set(values) == set(written)


def plain_list(text: str) -> list[dict[str, Any]]:
    """The list in a text, by the plain YAML reader."""
    import yaml

    (values,) = yaml.safe_load(text).values()
    return list(values)
