"""What a fingerprint stands for: the printed ingredients (guide, Block), and nothing else."""

from __future__ import annotations

import re
from typing import Any

import pytest
from blocks import TURNED, TWO, Z_MACHINE, Z_REFERENCE, setup_of, station

from pincorner.documents.beds import PoseEntry, Solid
from pincorner.documents.jigs import Stock
from pincorner.documents.stations import EdgePins
from pincorner.setups.contents import changes, contents, differences, heaviest_first

OFF = {"pose": PoseEntry(x=60.002, y=55, angle=0.12)}
OFF_Y = {"pose": PoseEntry(x=60, y=55.002, angle=0.12)}
SMALLER = (TWO[0].model_copy(update={"stock": Stock(size=(410.0, 239.0, 20.0))}),)
ONE = TWO[0].model_copy(update={"stock": Stock(size=(410.0, 240.0, 20.0))})
CHANGES: list[tuple[str, dict[str, Any], bool]] = [  # what, keys, whether the fingerprint changes
    ("station", {"name": "right"}, True),
    ("nest", {"jig": {"nests": (ONE.model_copy(update={"name": "b"}),)}}, True),
    ("bed", {"bed": TURNED | {"name": "short-bench"}}, True),
    ("jig", {"jig": {"name": "lid-tray", "nests": (ONE,)}}, True),
    ("hole", {"pins": EdgePins(edge=("E2", "G2"), stop="C4")}, True),
    ("role", {"pins": EdgePins(edge=("G2", "D2"), stop="C4")}, False),  # the order only
    ("turn", {"turn": 180}, True),
    ("code", {"work_offsets": {"a": "G56"}}, True),
    ("unit", {"machine": {"units": "in"}}, True),
    ("x", {"bed": OFF}, True),
    ("y", {"bed": OFF_Y}, True),
    ("x within the last digit", {"bed": {"pose": PoseEntry(x=60.0001, y=55, angle=0.12)}}, False),
    ("z", {"z": Z_MACHINE, "machine": {"tool_lengths": "gauge"}}, True),
    ("z word", {"z": Z_REFERENCE}, True),
    ("x word", {"machine": {"homes": False}}, True),
    ("r", {"dialect": "rs274-turned"}, True),
    ("h", {"under": 1.0}, True),
    ("stock", {"jig": {"nests": SMALLER}}, True),
    ("program", {"program": "hand-hold"}, True),
    ("program angle", {"program_angle": 0.12}, True),
    ("notes", {"note": "new", "bed": TURNED | {"note": "new"}, "jig": {"note": "new"}}, False),
    ("clamps", {"clamps": (Solid(name="c", to=(9, 9), top=35, **{"from": (0, 0)}),)}, True),
    ("uncertainties", {"machine": {"repeatability": 0.2, "homing": 0.3}}, False),
]  # fmt: skip


@pytest.mark.parametrize(("what", "keys", "changes"), CHANGES, ids=[each[0] for each in CHANGES])
def test_what_a_fingerprint_stands_for(what: str, keys: dict[str, Any], changes: bool) -> None:
    """A fingerprint changes with each printed ingredient and with nothing else (guide, Block)."""
    before = setup_of(station(bed=TURNED)).fingerprint
    after = setup_of(station(**({"bed": TURNED} | keys))).fingerprint
    assert re.fullmatch(r"[0-9A-F]{4}-[0-9A-F]{4}", after)
    assert (after != before) == changes, what


def test_what_takes_the_place_of_another_is_not_told_as_gone() -> None:
    """Another jig or program is one change, told first: nobody reads that the one of before is
    gone, or its nest, or what stands on it."""
    stop = Solid(name="stop", to=(9, 9), top=35, **{"from": (0, 0)})
    jig = {"name": "lid-tray", "nests": (ONE,), "solids": (stop,)}
    keys = {"program": "hand-hold", "jig": jig}
    told = differences(*(contents(setup_of(station(**each))) for each in ({}, keys)))
    assert told == ["jig panel-tray to lid-tray", "program none to hand-hold"]


@pytest.mark.parametrize(
    ("keys", "now", "before"),
    [
        (
            {"jig": {"nests": (ONE.model_copy(update={"run_off": 0.0}),)}},
            "nest a of panel-tray run-off is now 0.0 mm",
            "run-off by the largest tool is now 0.0 mm",
        ),
        (
            {"pins_pressed": True},
            "jig is no longer laid, not pushed",
            "jig is now laid, not pushed",
        ),
    ],
)
def test_a_figure_that_is_given_otherwise_is_not_told_as_gone(
    keys: dict[str, Any], now: str, before: str
) -> None:
    """What was answered, with 0 too, stands there by another key: it is now so much."""
    plain = {"jig": {"nests": (ONE.model_copy(update={"run_off": None}),)}}
    one, other = (contents(setup_of(station(**plain | each))) for each in ({}, keys))
    for told, sentence in ((differences(one, other), now), (differences(other, one), before)):
        assert sentence in told
        assert not any(" is gone" in each or " is new" in each for each in told)
        assert sum("run-off" in each or "pushed" in each for each in told) == 1


def test_of_changes_the_one_that_moves_most_is_told_first() -> None:
    """A pin in the wrong hole, which moves Y by a pitch and X by what two rounded last digits make:
    Y is told first, X behind it, before pins and all else; one last digit alone is not, and of
    several nests that one first whose zero moved farthest."""
    wrong = {"pins": EdgePins(edge=("D3", "G3"), stop="C5"), "clamps": ()}
    bed = {"pose": PoseEntry(x=60.002, y=55, angle=0)}
    here, there = (setup_of(station(**each)) for each in ({}, wrong | {"bed": bed}))
    found = changes(contents(here), contents(there))
    told = [change.text for change in found]
    assert told[:2] == ["Y 185.0 to 285.0", "X 295.0 to 295.002"]
    assert {"pin in D2 is gone", "pin in D3 is new"} <= {*told[2:]}
    bed = {"pose": PoseEntry(x=60.001, y=55, angle=0)}
    rounded = setup_of(station(**wrong | {"bed": bed}))
    last = differences(contents(here), contents(rounded))
    assert last[0] == told[0] and last.index("X 295.0 to 295.001") > last.index("pin in D3 is new")
    nearer = changes(contents(rounded), contents(there))
    assert heaviest_first([nearer, [], found])[: len(told)] == told
