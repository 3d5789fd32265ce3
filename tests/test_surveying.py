"""Surveys of made beds: wrong labels, bad readings, swelling, and which hole to measure next."""

from __future__ import annotations

import math
import random
import re

import numpy as np
import pytest
from worlds import BASE, facts, world

from pincorner.documents.survey_csv import MeasuredHole
from pincorner.errors import BadInput
from pincorner.geometry.fits import scatter_of
from pincorner.geometry.place_spread import PlaceErrors, place_covariance
from pincorner.geometry.student import coverage_factor
from pincorner.render.drawing.canvas import round_below
from pincorner.render.pages.survey_map import LONGEST_MM, survey_drawing
from pincorner.setups.budget import TOO_FEW_HOLES
from pincorner.setups.person import Person
from pincorner.setups.transform import make_setups
from pincorner.surveys.fitting import make_survey
from pincorner.surveys.next_hole import best_further_hole
from pincorner.surveys.result import SurveyResult
from pincorner.units import Unit
from pincorner.work.surveying import survey_document

BED = facts(world(BASE)).bed
HOLE_SD, READING_SD = 0.04, 0.02
POSE = (60.7, 54.2, math.radians(0.11))


def read(rng: random.Random, count: int, swelling: float = 0.0) -> dict[str, tuple[float, float]]:
    """Readings of random holes of a bed at POSE, with the errors of holes and readings."""
    sd = math.hypot(HOLE_SD, READING_SD)
    cos, sin = math.cos(POSE[2]), math.sin(POSE[2])
    found = {}
    for hole in rng.sample([hole for hole in BED.holes() if hole.usable], count):
        x, y = hole.x_mm * (1 + swelling), hole.y_mm * (1 + swelling)
        found[hole.label] = (
            POSE[0] + cos * x - sin * y + rng.gauss(0, sd),
            POSE[1] + sin * x + cos * y + rng.gauss(0, sd),
        )
    return found


def survey(found: dict[str, tuple[float, float]]) -> SurveyResult:
    """The survey of these readings."""
    holes = tuple(MeasuredHole(label, x, y) for label, (x, y) in found.items())
    return make_survey(BED, holes, READING_SD)


def suspects(result: SurveyResult) -> dict[str, str]:
    """What is said of readings in doubt, by label."""
    return {hole.label: hole.suspect or "" for hole in result.suspects}


@pytest.mark.parametrize("swelling", [0.0, 0.0033])
@pytest.mark.parametrize("seed", range(10))
def test_wrong_labels_are_found(seed: int, swelling: float) -> None:
    """Of 40 readings eight carry each other's labels: all are named with the hole they lie on."""
    rng = random.Random(seed)
    found = read(rng, 40, swelling)
    wrong = rng.sample(sorted(found), 8)
    true = dict(zip(wrong, [*wrong[1:], wrong[0]], strict=True))
    mixed = {label: found[true.get(label, label)] for label in found}
    said = suspects(survey(mixed))
    assert set(wrong) <= set(said)
    assert all(f"lies on {true[label]}" in said[label] for label in wrong)
    # a good reading is doubted once in twenty surveys
    assert len(said) <= len(wrong) + 1


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("off", [-2.7, 1.0, 12.0])
def test_bad_readings_are_found(axis: int, off: float) -> None:
    """A reading off by a millimetre or more is named with its distance and axis, and left out."""
    found = read(random.Random(5), 12)
    label = sorted(found)[3]
    place = list(found[label])
    place[axis] += off
    result = survey({**found, label: (place[0], place[1])})
    assert set(suspects(result)) == {label} and result.points == 11
    assert f"off in {'XY'[axis]}" in suspects(result)[label]


def test_false_alarms_are_rare() -> None:
    """Of 200 good surveys of twelve holes at most one in ten doubts a reading or sees swelling."""
    rng = random.Random(77)
    results = [survey(read(rng, 12)) for _ in range(200)]
    assert sum(bool(result.suspects) for result in results) <= 20
    assert sum(result.significant for result in results) <= 20


def test_swelling_is_seen_and_sized() -> None:
    """A board swollen by 0.1 % is always seen with twelve holes, and its scale found."""
    rng = random.Random(8)
    for _ in range(50):
        result = survey(read(rng, 12, 0.001))
        assert result.significant and result.shape is not None
        scale = result.shape.scale_x
        assert scale.sd is not None
        assert scale.value == pytest.approx(0.001, abs=5 * scale.sd)


def test_holes_in_one_line() -> None:
    """A row of holes gives pose but no shape, and that is said."""
    rng = random.Random(2)
    row = {
        f"{letter}4": (60 + 100 * at + rng.gauss(0, 0.04), 355 + rng.gauss(0, 0.04))
        for at, letter in enumerate("ABCDEFGH")
    }
    result = survey(row)
    assert result.shape is None and any("line" in note for note in result.notes)


def test_a_survey_of_unknown_worth_is_not_taken_as_exact() -> None:
    """Two holes, and nothing that says how well they are known: listed as not given."""
    plain = facts(world(BASE))
    bare = plain.bed.model_copy(
        update={"grid": plain.bed.grid.model_copy(update={"hole_position": None})}
    )
    holes = tuple(MeasuredHole(label, *at) for label, at in read(random.Random(1), 2).items())
    document = survey_document(make_survey(bare, holes, None), "2026-11-20")
    budget = make_setups(plain._replace(bed=bare, survey=document))[0].budget
    assert TOO_FEW_HOLES in budget.not_given
    assert "survey" not in {row.source for row in budget.rows}


def test_another_bed_is_refused() -> None:
    """Readings that agree with nothing are refused, and so are inches taken as mm."""
    rng = random.Random(4)
    stray = {label: (rng.uniform(0, 1400), rng.uniform(0, 800)) for label in read(rng, 12)}
    with pytest.raises(BadInput, match=r"agree|fit|another"):
        survey(stray)
    inches = {label: (x / 25.4, y / 25.4) for label, (x, y) in read(rng, 12).items()}
    with pytest.raises(BadInput, match="inch"):
        survey(inches)


@pytest.mark.parametrize("seed", range(5))
def test_next_hole_against_all_of_them(seed: int) -> None:
    """The hole proposed lowers the worst target's u95 most of all holes, each tried by itself."""
    rng = random.Random(seed)
    used = rng.sample([hole.label for hole in BED.holes()], rng.choice([2, 4, 9]))
    targets = [(rng.uniform(0, 1400), rng.uniform(0, 800)) for _ in range(6)]
    found = best_further_hole(BED, used, 0.05, targets)
    assert found is not None

    def worst(labels: list[str]) -> float:
        places = [hole.at_mm for hole in BED.holes() if hole.label in labels]
        errors = PlaceErrors(0.05, scatter_of(np.array(places)), affine=False, angle_rad=0.0)
        dof = 2 * len(labels) - 3
        k = coverage_factor(dof) if len(used) >= 3 else 2.0
        return k * max(place_covariance(errors, at).worst_sd(0.0, 0.0) for at in targets)

    tried = {hole.label: worst([*used, hole.label]) for hole in BED.holes()
             if hole.usable and hole.label not in used}  # fmt: skip
    assert found.u95_after_mm == pytest.approx(min(tried.values()), abs=1e-5)
    assert tried[found.label] == pytest.approx(min(tried.values()), abs=1e-5)
    assert found.u95_before_mm == pytest.approx(worst(used), abs=1e-9)


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_the_scale_of_a_drawing_is_as_long_as_it_says(unit: Unit) -> None:
    """The bar below the arrows is a round length in the unit that it is told in: the longest used
    arrow, 12 mm on paper, is as much longer as its residual."""
    result = survey(read(random.Random(5), 12))._replace(unit=unit)
    drawing = survey_drawing(BED, result, Person())
    told = re.search(r">(0\.\d+) (mm|in) off</text>", drawing)
    assert told is not None and told[2] == unit and told[1].strip("0.") in ("1", "2", "5")
    (box,) = re.findall(r'viewBox="\S+ \S+ (\S+) ', drawing)
    (wide,) = re.findall(r'<svg[^>]* width="(\S+)mm"', drawing)
    bar = re.findall(r'<path d="M(\S+) (\S+)L(\S+) \2 ', drawing)[-1]
    on_paper_mm = (float(bar[2]) - float(bar[0])) * float(wide) / float(box)
    largest_mm = max(math.hypot(hole.dx_mm, hole.dy_mm) for hole in result.holes if hole.used)
    length_mm = float(told[1]) * (25.4 if unit == "in" else 1.0)
    assert math.isclose(on_paper_mm / LONGEST_MM, length_mm / largest_mm, rel_tol=0.005)


@pytest.mark.parametrize(
    ("limit", "found"), [(0.3 / 3, 0.05), (0.1, 0.1), (4.9, 2.0), (70.0, 50.0)]
)
def test_a_round_number_is_found_below_every_limit(limit: float, found: float) -> None:
    """A third of 0.3 is a hair below a tenth: what is round below it is 0.05."""
    assert math.isclose(round_below(limit), found)
