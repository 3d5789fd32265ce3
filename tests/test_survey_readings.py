"""What is said of surveys that fit nowhere, of few holes, and of heights off the surface."""

from __future__ import annotations

import math
import random
from collections.abc import Callable

import pytest
from worlds import BASE, facts, world

from pincorner.documents.survey_csv import MeasuredHole
from pincorner.errors import BadInput
from pincorner.surveys.fitting import make_survey

BED = facts(world(BASE)).bed
TWELVE = ("A1", "H1", "O1", "A5", "E4", "K5", "O5", "A9", "D9", "H9", "L8", "O9")
READING_SD_MM = 0.02
Change = Callable[[MeasuredHole], MeasuredHole]


def read(labels: tuple[str, ...], seed: int = 3, swelling: float = 0.0) -> list[MeasuredHole]:
    """Readings of a bed that lies near its stated pose and slopes by 0.5 mm in a metre."""
    rng = random.Random(seed)
    cos, sin = math.cos(0.001), math.sin(0.001)
    found = []
    for label in labels:
        hole = BED.hole(label)
        assert hole is not None
        x, y = hole.x_mm * (1 + swelling), hole.y_mm * (1 + swelling)
        at = 60.4 + cos * x - sin * y, 54.7 + sin * x + cos * y, -120 + 0.0005 * x
        sds = (0.045, 0.045, 0.02)
        values = (value + rng.gauss(0, sd) for value, sd in zip(at, sds, strict=True))
        found.append(MeasuredHole(label, *values))
    return found


def swapped(found: list[MeasuredHole], first: str, second: str) -> tuple[MeasuredHole, ...]:
    """The readings with the labels of two holes exchanged."""
    other = {first: second, second: first}
    return tuple(each._replace(label=other.get(each.label, each.label)) for each in found)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda hole: hole._replace(x_mm=hole.x_mm / 25.4, y_mm=hole.y_mm / 25.4), "hole,x_in"),
        (lambda hole: hole._replace(x_mm=hole.x_mm * 25.4, y_mm=hole.y_mm * 25.4), "hole,x_mm"),
        (lambda hole: hole._replace(x_mm=hole.y_mm, y_mm=hole.x_mm), "mirror"),
        (lambda hole: hole._replace(y_mm=-hole.y_mm), "mirror"),
        (lambda hole: hole._replace(x_mm=hole.x_mm * 0.96, y_mm=hole.y_mm * 0.96), "96 by 96 mm"),
    ],
)
def test_readings_that_fit_otherwise(change: Change, told: str) -> None:
    """Another unit, exchanged axes and another pitch are called by name, two swapped as well."""
    found = [change(hole) for hole in read(TWELVE)]
    for readings in (tuple(found), swapped(found, "E4", "K5")):
        with pytest.raises(BadInput, match=told) as refused:
            make_survey(BED, readings, READING_SD_MM)
        assert "\n" not in str(refused.value)


def test_two_holes_too_far_apart() -> None:
    """Two readings whose distance is not that drawn are refused with both distances."""
    near, far = read(("A1", "O1"))
    with pytest.raises(BadInput, match=r"1500\.\d\d mm apart and are drawn 1400\.00"):
        make_survey(BED, (near, far._replace(x_mm=far.x_mm + 100)))


def test_three_holes_of_which_two_are_swapped() -> None:
    """The swapped pair agrees only with the bed turned round: that is refused, not believed."""
    with pytest.raises(BadInput, match="swapped"):
        make_survey(BED, swapped(read(("A1", "O1", "A9")), "O1", "A9"), READING_SD_MM)


def test_four_holes_of_which_two_are_swapped() -> None:
    """Two good readings and two swapped ones: the swapped are named, the bed stays."""
    result = make_survey(BED, swapped(read(("A1", "O1", "A9", "O9")), "A9", "O9"), READING_SD_MM)
    assert {hole.label: hole.suspect for hole in result.suspects} == {
        "A9": "measured as A9, lies on O9",
        "O9": "measured as O9, lies on A9",
    }
    assert abs(result.pose.angle_deg) < 0.1 and result.points == 2


@pytest.mark.parametrize("swelling", [0.0, 0.0033])
@pytest.mark.parametrize("count", [6, 8, 12])
def test_a_bad_reading_on_a_swollen_board(count: int, swelling: float) -> None:
    """2.7 mm in Y is found among six holes or more, though swelling moves others farther."""
    found = read(TWELVE[-count:], swelling=swelling)
    wrong = found[2]
    found[2] = wrong._replace(y_mm=wrong.y_mm + 2.7)
    result = make_survey(BED, tuple(found), READING_SD_MM)
    assert [hole.label for hole in result.suspects] == [wrong.label]
    assert result.significant is (swelling > 0)


def test_a_swollen_board_is_no_bad_reading() -> None:
    """Three holes together and one far off: the far one's 4 mm are swelling, and nothing else."""
    found = tuple(read(("A1", "B1", "A2", "O9"), swelling=0.0033))
    result = make_survey(BED, found, READING_SD_MM)
    assert result.suspects == () and result.points == 4


def test_surface_and_a_height_that_is_off() -> None:
    """The plane is that of the other heights, and the wrong one is told with its size and side."""
    found = read(TWELVE)
    high = found[4]
    assert high.z_mm is not None
    found[4] = high._replace(z_mm=high.z_mm + 1.8)
    result = make_survey(BED, tuple(found), READING_SD_MM)
    (odd,) = result.suspects
    assert odd.label == high.label and odd.used
    assert odd.suspect == "Z 1.8 mm above the plane of the others: read again"
    surface = result.surface
    assert surface is not None and surface.sds is not None and surface.points == 11
    # four standard deviations of each term
    assert abs(surface.slope_x - 0.0005) <= 4 * surface.sds[1]
    assert abs(surface.slope_y) <= 4 * surface.sds[2]
    assert abs(surface.height_mm - (-120 + 0.0005 * result.scatter.x_mm)) <= 4 * surface.sds[0]
    assert surface.rms_mm < 0.05


@pytest.mark.parametrize("labels", [("A1", "O9"), ("A1", "H1", "O1")])
def test_heights_that_make_no_plane(labels: tuple[str, ...]) -> None:
    """Fewer than three heights, or heights in one line, leave the surface open."""
    result = make_survey(BED, tuple(read(labels)), READING_SD_MM)
    assert result.surface is None and all(hole.dz_mm is None for hole in result.holes)


def test_few_holes_count_on_what_is_stated() -> None:
    """One or two holes are as good as bed and machine state; else nothing is claimed."""
    stated_mm = math.hypot(0.04, READING_SD_MM)
    one = make_survey(BED, tuple(read(("H5",))), READING_SD_MM)
    assert (one.dof, one.points) == (0, 1) and one.pose_sd.angle_deg is None
    assert one.s_mm == pytest.approx(stated_mm)
    assert one.pose.angle_deg == BED.pose.angle
    two = make_survey(BED, tuple(read(("A1", "O1"))), READING_SD_MM)
    assert two.dof == 0 and two.pose_sd.angle_deg is not None
    # two holes a baseline apart turn by sqrt(2) s over it
    turn_deg = math.degrees(math.sqrt(2) * stated_mm / 1400)
    assert two.pose_sd.angle_deg == pytest.approx(turn_deg, rel=1e-9)
    silent = BED.model_copy(update={"grid": BED.grid.model_copy(update={"hole_position": None})})
    unknown = make_survey(silent, tuple(read(("A1", "O1"))))
    assert unknown.s_mm is None and any("not known" in note for note in unknown.notes)


def test_a_bed_far_from_its_stated_place() -> None:
    """A good fit half a turn from where the bed is stated to lie comes with a word of doubt."""
    turned = tuple(
        hole._replace(x_mm=1520 - hole.x_mm, y_mm=910 - hole.y_mm) for hole in read(TWELVE)
    )
    result = make_survey(BED, turned, READING_SD_MM)
    assert result.points == 12 and any("look at the labels" in note for note in result.notes)


def test_places_are_those_of_the_affine_fit() -> None:
    """On a swollen bed pose and linear map together put every used hole where its residual says."""
    result = make_survey(BED, tuple(read(TWELVE, swelling=0.002)), READING_SD_MM)
    assert result.linear is not None
    (xx, xy), (yx, yy) = result.linear
    cx, cy = result.scatter.x_mm, result.scatter.y_mm
    turn = math.radians(result.pose.angle_deg)
    for hole, reading in zip(result.holes, result.readings, strict=True):
        place = BED.hole(hole.label)
        assert place is not None
        dx, dy = place.x_mm - cx, place.y_mm - cy
        x, y = cx + xx * dx + xy * dy, cy + yx * dx + yy * dy
        at_x = result.pose.x_mm + math.cos(turn) * x - math.sin(turn) * y
        at_y = result.pose.y_mm + math.sin(turn) * x + math.cos(turn) * y
        assert reading.x_mm - hole.dx_mm == pytest.approx(at_x, abs=1e-9)
        assert reading.y_mm - hole.dy_mm == pytest.approx(at_y, abs=1e-9)
