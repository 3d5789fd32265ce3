"""Machines that do not home: offsets count from G54 everywhere, and sums stay open (3.4)."""

from __future__ import annotations

import re

import pytest
from blocks import EXTENSIONS, Z_MACHINE, Z_REFERENCE, block_of, explain_of, station
from oracles.block_reader import MachineState, program_origin, read_block
from oracles.worked import assert_close
from test_sheet import Page, sheet_of

from pincorner.documents.beds import PoseEntry
from pincorner.documents.stations import ZRule
from pincorner.errors import Refused
from pincorner.render.outputs.stations import offsets_json
from pincorner.render.pages.maps import render_map_page
from pincorner.render.text.offsets import offsets_table
from pincorner.setups.facts import Facts
from pincorner.setups.transform import make_setups, offset_rows

NEGATIVE = {"pose": PoseEntry(x=60, y=-197.125)}
"""A1 lies in front of the reference: the zero has a positive X, 295, and a negative Y, -67.125."""


def relative(dialect: str, rule: ZRule | None = None, units: str = "mm") -> Facts:
    """Station left on a machine that does not home."""
    machine = {"homes": False, "units": units}
    return station(dialect, machine=machine, bed=NEGATIVE, z=rule or ZRule())


def test_figures_count_from_g54_on_table_map_and_in_json() -> None:
    """Each place that shows the offset says that it counts from G54, with the same figure."""
    found = relative("six")
    rows = offset_rows(found)
    told = offsets_json(rows)["offsets"][0]
    assert (told["relative_to"], told["x_mm"]) == ("G54", 295.0)
    assert_close(told["y_mm"], -67.125, 1e-12, "sums of exact figures")
    table = " ".join(offsets_table(rows).split())
    words = Page(render_map_page(found.bed, rows, None)).words
    for shown in (table, words):
        assert re.search(r"G54 \+ 295\.000 G54 - 67\.125", shown)
    homing = offsets_json(offset_rows(station("six")))["offsets"][0]
    assert homing["relative_to"] is None


@pytest.mark.parametrize("units", ["mm", "in"])
def test_an_expression_adds_to_g54_wherever_it_is(units: str) -> None:
    """The written origin is G54's own, as the operator set it, plus the printed figure."""
    text = block_of(relative("rs274", Z_REFERENCE, units))
    for origin in ((0.0, 0.0, 0.0), (-700.5, 12.25, -88.0)):
        state = MachineState(dict(zip((5221, 5222, 5223), origin, strict=True)), unit=units)
        after = read_block(text, state, EXTENSIONS["rs274"])
        scale, half = (1.0, 0.51e-3) if units == "mm" else (25.4, 0.51e-4)
        added = zip(program_origin(after, units), origin, (295, -67.125, 38), strict=True)
        for got, start, figure_mm in added:
            assert_close(got, start + figure_mm / scale, half, "half the last digit printed")
        assert [after.parameters[n] for n in (5221, 5222, 5223)] == list(origin)


OPEN = ["G55 X = G54 X + 295.000 MM", "G55 Y = G54 Y - 67.125 MM"]


@pytest.mark.parametrize(
    ("dialect", "rule", "sums"),
    [
        ("six", ZRule(), OPEN),
        ("six", Z_REFERENCE, [*OPEN, "G55 Z = G54 Z + 38.000 MM"]),
        ("extended", ZRule(), OPEN),
        ("keyed", Z_REFERENCE, [*OPEN, "G55 Z = G54 Z + 38.000 MM"]),
    ],
)
def test_sums_stay_open_without_expressions(dialect: str, rule: ZRule, sums: list[str]) -> None:
    """Where the controller cannot add, block and sheet leave each sum open, and nothing is written.

    The sheet has a place for what is read in G54 and one for what is entered.
    """
    found = relative(dialect, rule)
    text = block_of(found)
    assert re.findall(r"\(KEY IN (.*)\)", text) == sums
    assert "G10" not in text and "OFFSETS COUNT FROM G54" in text
    words = Page(sheet_of(make_setups(found))).words
    for line in sums:
        code, axis, _, _, _, sign, figure, _ = line.split()
        added = r"\+" if sign == "+" else "−"
        assert re.search(rf"{code} {axis} G54 {axis} _+ {added}{figure} = _+", words)


@pytest.mark.parametrize("dialect", ["rs274", "six", "keyed"])
def test_g54_is_not_given_to_a_station(dialect: str) -> None:
    """The code that holds the reference is refused as a station's own."""
    found = relative(dialect)
    given = found._replace(station=found.station.model_copy(update={"work_offsets": {"a": "G54"}}))
    with pytest.raises(Refused) as refusal:
        block_of(given)
    assert refusal.value.cause == "code-is-reference"


@pytest.mark.parametrize("dialect", ["rs274", "six", "keyed"])
def test_z_from_such_a_machine_is_refused(dialect: str) -> None:
    """No machine Z survives: `set: machine` is refused by the block, and the sheet says why."""
    found = relative(dialect, Z_MACHINE)
    gauge = found._replace(machine=found.machine.model_copy(update={"tool_lengths": "gauge"}))
    with pytest.raises(Refused, match="does not home; use set: touch or reference"):
        block_of(gauge)
    words = Page(sheet_of(make_setups(gauge))).words
    assert "Z cannot come from gantry-1: it does not home" in words


def test_travel_says_nothing_where_no_machine_coordinate_counts() -> None:
    """An offset from G54 is not held against a travel in machine coordinates."""
    assert [f.code for f in make_setups(relative("rs274"))[0].findings] == []
    homing = station("rs274", bed=NEGATIVE)
    assert [f.code for f in make_setups(homing)[0].findings] == ["outside-travel"]


@pytest.mark.parametrize("rule", [Z_REFERENCE, Z_MACHINE])
def test_where_z_comes_from_is_told_alike(rule: ZRule) -> None:
    """Block and sheet tell one and the same way in which Z comes into the code (guide, Heights)."""
    found = station(z=rule, machine={"tool_lengths": "gauge"})
    text, words = block_of(found), Page(sheet_of(make_setups(found))).words
    if rule is Z_REFERENCE:
        assert "Z[#5223+38.000]" in text
        assert "Select G54 and set its Z to 0 with the tip on the bed surface: Z of this" in words
    else:
        assert "Z-82.000" in text and "TOOL LENGTHS MUST BE APPLIED" in text
        assert "The block writes Z; tool lengths must be applied (G43)." in words
        assert "The block writes Z −82.000 ." in words
    for dialect, by in (("keyed", "Z is keyed in with the rest."), ("six", "Key in the sum of Z.")):
        keyed = station(dialect, z=rule, machine={"tool_lengths": "gauge"})
        if dialect == "six" and rule is Z_MACHINE:
            continue  # its block writes that
        text, words = block_of(keyed), Page(sheet_of(make_setups(keyed))).words
        assert by in words
        counts = rule is Z_REFERENCE  # then nothing of it holds before the reference is set
        assert ("Select G54 and set its Z to 0 with the tip on the bed surface" in words) == counts
        assert ("KEY IT IN, Z ZERO OF G54 IS THE BED SURFACE)" in text) == counts
        page = render_map_page(keyed.bed, offset_rows(keyed), None)
        assert ("the Z zero of G54 is the bed surface." in page) == counts


@pytest.mark.parametrize("dialect", ["rs274", "six", "keyed"])
@pytest.mark.parametrize(
    ("pose", "hole", "reads"),
    [
        (PoseEntry(x=0, y=0), "A1", "X 0 Y 0"),
        (PoseEntry(x=-300, y=-200, angle=0), "D3", "X 0 Y 0"),
        (PoseEntry(x=60, y=-197.125), "A1", "X 60.000 Y -197.125"),
    ],
)
def test_g54_is_set_at_the_reference_before_all_else(
    dialect: str, pose: PoseEntry, hole: str, reads: str
) -> None:
    """The first step sets G54 at a hole; map and explanation tell it; step 6 checks it not."""
    bed = {"bed": {"pose": pose}}
    found = station(dialect, machine={"homes": False}, **bed)
    told = (
        f"put a pin in {hole}, bring the spindle over its middle and set G54 so that it reads "
        f"{reads} there, never by G92; then take that pin out"
    )
    words = Page(sheet_of(make_setups(found))).words
    assert f"In this order First, whenever the machine was switched on : {told}." in words
    assert "The figures are no check of G54: they read the same wherever it was set" in words
    assert (
        f"Offsets count from G54 as set there: {told}."
        in Page(render_map_page(found.bed, offset_rows(found), None)).words
    )
    explained = " ".join(explain_of(make_setups(found)[0]).split())
    assert "They count from G54 as set there, since the machine does not home. " in explained
    assert told in explained
    homing = Page(sheet_of(make_setups(station(dialect, **bed)))).words
    assert "switched on" not in homing and "no check of" not in homing
