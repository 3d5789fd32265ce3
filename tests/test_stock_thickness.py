"""--stock-thickness: today's piece instead of the stock on file, in the block and nowhere else."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest
from conftest import Run
from oracles.worked import assert_close
from worlds import BASE, facts, world

from pincorner.setups.facts import Facts
from pincorner.setups.transform import make_setups

BARE = BASE.replace("jig: panel-tray\n    pin", "stock: [410, 240, 20]\n    pin")
TWO_NESTS = BASE.replace(
    "stock: {size: [410, 240, 20]}}]",
    "stock: {size: [180, 240, 20]}},"
    " {name: b, zero: [225, 20], stock: {size: [180, 240, 28]}}]",
).replace("{a: G55}", "{a: G55, b: G56}")  # fmt: skip


def today(text: str, thickness_mm: float, zero: str = "stock-top") -> tuple[Facts, Facts]:
    """Station left as it is on file, and with today's piece."""
    ruled = text.replace("pin: peg-20\n", f"pin: peg-20\n    under: 3\n    z: {{zero: {zero}}}\n")
    found = facts(world(ruled))
    return found, found.with_stock_thickness(thickness_mm)


# By hand, under 3 and piece 17.5: seat 18 under the tray, 0 under bare stock.
@pytest.mark.parametrize(
    ("text", "zero", "height", "top"),
    [
        (BASE, "stock-top", 38.5, 38.5), (BASE, "seat", 21.0, 38.5), (BASE, "surface", 0.0, 38.5),
        (BARE, "stock-top", 20.5, 20.5), (BARE, "seat", 3.0, 20.5), (BARE, "surface", 0.0, 20.5),
        (TWO_NESTS, "stock-top", 38.5, 38.5),
    ],
)  # fmt: skip
def test_todays_piece_moves_z_alone(text: str, zero: str, height: float, top: float) -> None:
    """Zero on the stock's top follows the piece, other zeros stay, the top does; X and Y stay."""
    before, after = (make_setups(found) for found in today(text, 17.5, zero))
    for was, now in zip(before, after, strict=True):
        assert_close(now.heights.zero_mm, height, 1e-9, "sums of decimal figures")
        assert_close(float(now.printed.own.tip_on_surface), -height, 1e-9, "printed exactly")
        assert_close(float(now.printed.own.tip_on_stock), top - height, 1e-9, "printed exactly")
        assert now.zero_in_machine == was.zero_in_machine
        assert now.printed.own.stock == (*was.printed.own.stock[:2], "17.500")
        assert now.fingerprint != was.fingerprint


def test_thin_bare_stock_is_touched_lower() -> None:
    """Bare stock thinner than the pins is touched at its top: R = c/2 + c e/d, and at its foot,
    which lies on a sheet, R1; in any one direction R² + R1² - (c/2)² of it (guide, Budget)."""
    before, after = (make_setups(found)[0].budget for found in today(BARE, 5.0))
    was, now = (next(r.x_mm for r in b.rows if r.source == "pin fit") for b in (before, after))
    # e: 22 of the pin below 3 + 20 of sheet and stock; then 3 + 5. d 20, e1 3.
    high, low = (0.5 + 22 / 20) ** 2, (0.5 + 8 / 20) ** 2
    foot = (0.5 + 3 / 20) ** 2 - 0.5**2
    ratio = math.sqrt((low + foot) / (high + foot))
    assert_close(now / was, ratio, 1e-12, "a ratio of exact figures")


def test_the_registry_keeps_the_stock_on_file(shop: Path, run: Run) -> None:
    """A block for today's piece changes no document, and the next block is the one on file."""
    before, dumped = run("block", "left").out, run("dump").out
    ran = run("block", "left", "--stock-thickness", "19", "-o", "today.nc")
    assert ran.code == 0
    written = (shop / "today.nc").read_text(encoding="ascii")
    assert "(G55 Z0 IS 37.000 MM ABOVE THE BED SURFACE)" in written
    assert "(TOOL TIP ON THE BED SURFACE MUST READ Z-37.000)" in written
    words = re.compile(r"^[^(].*$", re.MULTILINE)
    assert words.findall(written) == words.findall(before)
    assert (run("block", "left").out, run("dump").out) == (before, dumped)
