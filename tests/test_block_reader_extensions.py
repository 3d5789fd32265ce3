"""What controllers add to NISTIR 6556: rotation, further systems, shifts, units that convert.

Common practice, from memory; used as the guide's page `controllers` says.
"""

import pytest
from oracles.block_reader import (
    ReadError,
    machine_point,
    program_angle_deg,
    program_origin,
    read_block,
)
from test_block_reader import FLOAT


def test_r_word_turns_the_system_it_is_written_for() -> None:
    """With `r-word`, R90 on G10 turns program X to machine Y, and R0 takes it back."""
    r_word = frozenset({"r-word"})
    after = read_block("G10 L2 P2 X10 Y20 R90\nG55", extensions=r_word)
    assert program_angle_deg(after) == 90
    assert machine_point(after, "mm", (1, 0, 0)) == pytest.approx((10, 21, 0), abs=FLOAT)
    assert program_angle_deg(read_block("G54", after, r_word)) == 0
    stale = read_block("G10 L2 P2 X0", after, r_word)
    assert program_angle_deg(stale) == 90
    assert program_angle_deg(read_block("G10 L2 P2 R0.0000", stale, r_word)) == 0


def test_g68_turns_about_its_centre_and_g69_ends_it() -> None:
    """With `g68`, the centre stays where it is and program zero goes round it."""
    g68 = frozenset({"g68"})
    about_zero = read_block("G10 L2 P1 X100\nG68 X0 Y0 R0.1200", extensions=g68)
    assert program_origin(about_zero, "mm") == (100, 0, 0)
    assert program_angle_deg(about_zero) == 0.12
    about_10 = read_block("G68 X10 Y0 R90", extensions=g68)
    assert program_origin(about_10, "mm") == pytest.approx((10, -10, 0), abs=FLOAT)
    assert machine_point(about_10, "mm", (10, 0, 0)) == pytest.approx((10, 0, 0), abs=FLOAT)
    assert program_angle_deg(read_block("G69", about_10, g68)) == 0


@pytest.mark.parametrize("line", ["G55", "G10 L2 P1 X0", "G92.1", "G68 Y0 R1", "G18 G68 X0 Y0 R1"])
def test_offsets_are_not_changed_under_g68(line: str) -> None:
    """Rotation goes on last and off first, so an offset code under G68 is refused."""
    with pytest.raises(ReadError):
        read_block(f"G68 X0 Y0 R1\n{line}", extensions=frozenset({"g68"}))


def test_further_systems() -> None:
    """With `g54.1`, G54.1 P48 selects what G10 L20 P48 wrote, and P49 does not exist."""
    further = frozenset({"g54.1", "six"})
    after = read_block("G54.1 P48\nG10 L20 P48 X5 Y6", extensions=further)
    assert program_origin(after, "mm") == (5, 6, 0)
    assert 5221 not in after.parameters
    assert program_origin(read_block("G54", after, further), "mm") == (0, 0, 0)
    for line in ("G54.1 P49", "G54.1", "G10 L20 P0 X0", "G10 L2 P7 X0", "G59.1"):
        with pytest.raises(ReadError):
            read_block(line, extensions=further)


def test_g52_shifts_all_systems_until_zero() -> None:
    """With `g52`, the shift is not cumulative, holds in all systems and ends with zeros."""
    g52 = frozenset({"g52"})
    after = read_block("G52 X5\nG52 X7 Y1\nG55", extensions=g52)
    assert program_origin(after, "mm") == (7, 1, 0) and not after.moved
    assert program_origin(read_block("G52 X0 Y0 Z0", after, g52), "mm") == (0, 0, 0)


def test_converting_controllers_keep_every_place_over_a_change_of_units() -> None:
    """With `converts`, stored numbers follow the unit, so all systems keep their place."""
    after = read_block(
        "G21\nG10 L2 P2 X254 Y-25.4\nG20\nG55", extensions=frozenset({"converts", "six"})
    )
    assert program_origin(after, "in") == pytest.approx((10, -1, 0), abs=FLOAT)
    assert program_origin(after, "mm") == pytest.approx((254, -25.4, 0), abs=FLOAT)


def test_restrictions_of_plain_controllers() -> None:
    """With `six` and `no-expressions`, G10 under G91 and anything to be computed are refused."""
    plain = frozenset({"six", "no-expressions"})
    assert read_block("G90\nG10 L2 P6 X1\nG59", extensions=plain).system == 6
    for text in ("G91\nG10 L2 P1 X1", "G10 L2 P1 X[1]", "G10 L2 P1 X#1", "#1=2"):
        with pytest.raises(ReadError):
            read_block(text, extensions=plain)


def test_unknown_extension_is_refused() -> None:
    """A misspelt extension must not switch a check off in silence."""
    with pytest.raises(ValueError, match="no such extension: g86"):
        read_block("G54", extensions=frozenset({"g86"}))
