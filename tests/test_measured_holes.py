"""Stations on measured hole centres: the estimate and its uncertainty, against Monte Carlo."""

from __future__ import annotations

import math
import random
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import Run
from test_survey_command import readings, written
from worlds import BASE, facts, world

from pincorner.documents.beds import Bed, Extra
from pincorner.documents.records import Surfacing
from pincorner.documents.survey_csv import MeasuredHole
from pincorner.setups.facts import Facts
from pincorner.setups.holes import measured, true_place
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups
from pincorner.surveys.fitting import make_survey
from pincorner.work.surveying import survey_document

HOLE_SD, READING_SD = 0.04, 0.02
LABELS = ("A1", "H1", "O1", "D2", "G2", "C4", "A9", "H9", "O9", "K5", "E6", "L3")
DRAWS = 60


def simulated(rng: random.Random) -> tuple[Facts, Facts]:
    """Station left with a survey of a random bed, and the same station on the true bed."""
    plain = facts(world(BASE))
    bed = plain.bed
    true = {}
    for label in LABELS:
        place = bed.hole(label)
        assert place is not None
        true[label] = (place.x_mm + rng.gauss(0, HOLE_SD), place.y_mm + rng.gauss(0, HOLE_SD))
    found = tuple(
        MeasuredHole(
            label,
            bed.pose.x + x + rng.gauss(0, READING_SD),
            bed.pose.y + y + rng.gauss(0, READING_SD),
        )
        for label, (x, y) in true.items()
    )
    result = make_survey(bed, found, READING_SD)
    survey = survey_document(result, "2026-11-20")
    station = plain.station.model_copy(update={"measured_holes": True})
    surveyed = plain._replace(survey=survey, station=station)
    extra = tuple(Extra(name=label, at=at) for label, at in true.items())
    real = bed.model_copy(update={"extra": extra})
    return surveyed, plain._replace(bed=Bed.model_validate(real.model_dump(by_alias=True)))


def rows(setup: Setup) -> dict[str, Any]:
    """Budget rows by source."""
    return {row.source: row for row in setup.budget.rows}


def test_uncertainty_of_measured_holes() -> None:
    """The spread of the true zero around the computed one is what hole position and survey say.

    60 beds with holes, readings and fits drawn at random; each has its own estimate of the spread,
    so that the sum of squared scores in the plane is near 2 for each.
    """
    rng = random.Random(20261125)
    squares, shares = [], []
    for _ in range(DRAWS):
        surveyed, real = simulated(rng)
        if surveyed.survey is not None and surveyed.survey.fit.linear is not None:
            continue  # one survey in twenty takes the scatter for swelling
        setup, truth = make_setups(surveyed)[0], make_setups(real)[0]
        known = rows(setup)
        believed = measured(surveyed)
        assert believed is not None
        shares.append(believed.share)
        for axis in ("x_mm", "y_mm"):
            off = getattr(setup.zero_in_machine, axis) - getattr(truth.zero_in_machine, axis)
            variance = sum(getattr(known[name], axis) ** 2 for name in ("hole position", "survey"))
            squares.append(off * off / variance)
    # the mean of a chi-square with one degree is 1, its standard error sqrt(2 / n); the spread is
    # estimated from 21 degrees of freedom, which widens it by 21 / 19
    assert np.mean(squares) == pytest.approx(21 / 19, abs=4 * math.sqrt(2 / len(squares)))
    # share = s_h2 / (s_h2 + s_m2) = 0.8
    assert np.mean(shares) == pytest.approx(0.8, abs=0.05)


def test_measured_is_better_than_fitted() -> None:
    """With a reading better than the drilling, the zero is known better from its own holes."""
    surveyed, _ = simulated(random.Random(1))
    station = surveyed.station.model_copy(update={"measured_holes": False})
    fitted = make_setups(surveyed._replace(station=station))[0].budget
    assert make_setups(surveyed)[0].budget.u95_worst_mm < 0.8 * fitted.u95_worst_mm


def test_a_hole_that_was_not_measured_spoils_it() -> None:
    """Then all holes count where the fit has them; so they do in a slat that is newer."""
    surveyed, _ = simulated(random.Random(1))
    pins = surveyed.station.pins
    assert pins is not None
    other = pins.model_copy(update={"stop": "C3"})
    moved = surveyed._replace(station=surveyed.station.model_copy(update={"pins": other}))
    assert measured(moved) is None
    assert measured(surveyed._replace(machine=_without_repeatability(surveyed))) is None
    slats = [{"name": "L", "from": [-50, -50], "to": [1450, 450]}]
    values = {**surveyed.bed.model_dump(by_alias=True), "slats": slats}
    bed = Bed.model_validate(values, context={"units": "mm"})
    new = Surfacing(name="2026-11-22", bed=bed.name, surface=-119.0, slats=("L",))
    assert measured(surveyed._replace(bed=bed)) is not None
    assert measured(surveyed._replace(bed=bed, surfacings=(new,))) is None


def _without_repeatability(these: Facts) -> Any:
    return these.machine.model_copy(update={"repeatability": None})


def test_estimate_lies_between_fit_and_reading() -> None:
    """The believed share of a residual is taken from the fitted place towards the read one."""
    surveyed, _ = simulated(random.Random(2))
    believed, survey = measured(surveyed), surveyed.survey
    assert believed is not None and survey is not None
    place = surveyed.bed.hole("D2")
    assert place is not None
    x, _ = true_place(surveyed, "D2", place.at_mm)
    reading = next(each for each in survey.readings if each[0] == "D2")
    pose = survey.fit.pose
    angle = math.radians(pose.angle)
    dx, dy = reading[1] - pose.x, reading[2] - pose.y
    read = math.cos(angle) * dx + math.sin(angle) * dy
    assert x == pytest.approx(place.x_mm + believed.share * (read - place.x_mm), abs=1e-9)


def test_explain_says_so(shop: Path, run: Run) -> None:
    """A station that wants measured holes hears how far they are believed, or what is missing."""
    assert run("survey", "long-bench", written(shop, readings()), "--accept").code == 1
    ran = run("register", "odd", "--bed", "long-bench", "--jig", "panel-tray", "--pin", "peg-20",
              "--pins", "E4,H4,D6", "--work-offset", "a=G54")  # fmt: skip
    assert ran.code == 0, ran.err
    document = run("show", "odd", "--kind", "station").out
    start = document.index("format:")
    (shop / "odd.yaml").write_text(
        document[start:].replace("turn: 0", "turn: 0\n  measured_holes: true")
        if "turn: 0" in document
        else document[start:].rstrip() + "\n  measured_holes: true\n",
        encoding="utf-8",
    )
    assert run("load", "odd.yaml").code == 0
    assert "not measured: E4, H4, D6" in run("explain", "odd").out
