"""Limits and fits against ISO 286-2 on file and against a general-purpose reference library."""

from __future__ import annotations

from typing import Any

import pressfit
import pytest
from oracles.worked import assert_close, document

from pincorner.geometry import iso286

ISO = document("iso286")
CLASSES = list(ISO["values"]["deviations_um"])
HOLES = [name for name in CLASSES if name[0].isupper()]


@pytest.mark.parametrize("tolerance", CLASSES)
def test_every_cell_of_iso_286(tolerance: str) -> None:
    """Limit deviations are those of ISO 286-2 in each band, over its lower and up to its upper."""
    for band, limits in ISO["values"]["deviations_um"][tolerance].items():
        over, up_to = ISO["bands_mm"][band]
        for size_mm in (over + 1e-6, (over + up_to) / 2, up_to):
            assert iso286.limits_um(tolerance, size_mm) == tuple(limits)
    for size_mm in (3.0, 30.001):
        with pytest.raises(ValueError, match="over 3 to 30 mm"):
            iso286.limits_um(tolerance, size_mm)


def test_iso_286_classes_are_the_ones_on_file() -> None:
    """The known classes are those of the reference, and an unknown class or spelling is told."""
    with pytest.raises(ValueError, match="H6 is not on file") as told:
        iso286.clearance_mm("H6/g6", 20)
    assert set(str(told.value).partition("known: ")[2].split(", ")) == set(CLASSES)
    with pytest.raises(ValueError, match="such as H8/g6"):
        iso286.clearance_mm("g6/H7", 20)


@pytest.mark.parametrize("row", ISO["values"]["clearances"], ids=str)
def test_clearances_of_fits(row: dict[str, Any]) -> None:
    """A fit's least and greatest clearance are the printed ones."""
    least, most = iso286.clearance_mm(row["fit"], row["size_mm"])
    assert_close(least, row["min_um"] / 1000, 1e-12, "whole micrometres")
    assert_close(most, row["max_um"] / 1000, 1e-12, "whole micrometres")


NOT_IN_PRESSFIT = {"F8", "G7"}
"""Its holes are those of the hole basis, H, alone (PyPI, pressfit 0.1.0)."""

SIZES_MM = [3.001, 6.001, 10.001, 18.001, *(quarters / 4 for quarters in range(13, 121))]
"""Just over each band's lower size, and every quarter millimetre up to 30."""


@pytest.mark.parametrize("hole", [c for c in HOLES if c not in NOT_IN_PRESSFIT])
@pytest.mark.parametrize("shaft", [c for c in CLASSES if c not in HOLES])
def test_every_fit_is_that_of_the_reference_library(hole: str, shaft: str) -> None:
    """Limits and clearances are those of PyPI's pressfit in every class and size that both have."""
    for size_mm in SIZES_MM:
        theirs = pressfit.fit(f"{hole}/{shaft}", size_mm)
        assert iso286.limits_um(hole, size_mm) == (theirs.hole_es_um, theirs.hole_ei_um)
        assert iso286.limits_um(shaft, size_mm) == (theirs.shaft_es_um, theirs.shaft_ei_um)
        ours = iso286.clearance_mm(f"{hole}/{shaft}", size_mm)
        for got, want in zip(ours, theirs.clearance_um, strict=True):
            assert_close(got, want / 1000, 1e-12, "whole micrometres")


@pytest.mark.parametrize("hole", sorted(NOT_IN_PRESSFIT))
def test_classes_that_the_reference_library_lacks(hole: str) -> None:
    """The classes left out of the comparison are on file here and unknown to the library."""
    assert hole in HOLES
    with pytest.raises(ValueError, match="could not parse"):
        pressfit.fit(f"{hole}/h6", 20)
