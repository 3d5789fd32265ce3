"""The surface through its life: cuts, slats that were replaced, cover over metal, hole depth."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from conftest import Run
from worlds import BASE, facts, world

from pincorner.bed import check_cut, covers, hole_depth_mm, surface_z
from pincorner.documents.beds import Bed
from pincorner.documents.records import Fit, Plane, Surfacing, Survey
from pincorner.errors import Refused
from pincorner.setups.transform import make_setups

ROUNDING = 1e-9  # sums of a few numbers below 1000


def bed(**changes: Any) -> Bed:
    """A bed with two slats, a screw in each, and a track across both."""
    values = {
        "name": "b",
        "machine": "m",
        "grid": {"columns": 5, "rows": 5, "pitch": [100, 100], "hole": 20, "depth": 20},
        "pose": {"x": 0, "y": 0},
        "surface": -120,
        "slats": [
            {"name": "L1", "from": [-50, -50], "to": [450, 150]},
            {"name": "L2", "from": [-50, 150], "to": [450, 450], "surface": -119.8},
        ],
        "screws": [
            {"name": "S1", "at": [0, 0], "diameter": 9, "depth": 5},
            {"name": "S2", "at": [0, 300], "diameter": 9, "depth": 5},
        ],
        "tracks": [{"name": "T", "from": [50, -50], "to": [50, 450], "width": 19, "depth": 2}],
        **changes,
    }
    return Bed.model_validate(values, context={"units": "mm"})


def cut(name: str, depth: float | None = None, *slats: str, new: float | None = None) -> Surfacing:
    """A surfacing of bed b."""
    return Surfacing(name=name, bed="b", depth=depth, surface=new, slats=slats)


def left(cuts: list[Surfacing]) -> dict[str, float | None]:
    """Cover by name after these cuts."""
    return {each.name: each.cover_mm for each in covers(bed(), cuts)}


def test_cuts_add_up_where_they_were_made() -> None:
    """A cut of the whole surface thins every cover, one of a slat only what lies in that slat."""
    cuts = [cut("1", 0.5), cut("2", 0.25, "l1")]
    assert left(cuts) == pytest.approx({"S1": 4.25, "S2": 4.5, "T": 1.25}, abs=ROUNDING)


def test_a_new_slat_has_its_own_cover() -> None:
    """A slat replaced by a higher one leaves more wood than the old one had; cuts then count."""
    cuts = [cut("1", 0.5), cut("2", None, "L2", new=-119.0), cut("3", 0.1)]
    assert left(cuts) == pytest.approx({"S1": 4.4, "S2": 5.7, "T": 1.4}, abs=ROUNDING)


def test_cover_is_not_invented() -> None:
    """Where the old height is not on file nobody knows the cover under a new slat."""
    unknown = bed(surface=None)
    found = {each.name: each for each in covers(unknown, [cut("1", None, "L1", new=-119.0)])}
    assert found["S1"].cover_mm is None and found["T"].cover_mm is None and found["S1"].thin
    assert found["S2"].cover_mm == 5


@pytest.mark.parametrize(("depth", "reaches"), [(1.9, False), (2.0, True), (2.5, True)])
def test_a_cut_that_reaches_metal_is_refused(depth: float, reaches: bool) -> None:
    """The cover over the track, 2 mm, may be thinned but not used up, and is told."""
    if reaches:
        with pytest.raises(Refused, match=r"track T .* 2\.000 mm of wood"):
            check_cut(bed(), [], cut("1", depth), "mm")
    else:
        thin = check_cut(bed(), [], cut("1", depth), "mm")
        assert [each.name for each in thin] == ["T"]


@pytest.mark.parametrize("kind", ["screws", "tracks"])
@pytest.mark.parametrize("slat", ["L1", "L2"])
def test_metal_below_a_joint_lies_under_both_slats(kind: str, slat: str) -> None:
    """A screw's head reaches 1.5 mm under the slat beside its own: a cut of either counts."""
    metal = {
        "screws": {"name": "M", "at": [0, 153], "diameter": 9, "depth": 5},
        "tracks": {"name": "M", "from": [0, 153], "to": [90, 153], "width": 9, "depth": 5},
    }
    joint = bed(**{"screws": [], "tracks": [], kind: [metal[kind]]})
    assert [each.cover_mm for each in check_cut(joint, [], cut("1", 4.5, slat), "mm")] == [0.5]
    with pytest.raises(Refused, match=r"M of bed b, which has 5\.000 mm"):
        check_cut(joint, [], cut("1", 6.0, slat), "mm")


def test_a_cut_counts_where_the_cover_beside_it_is_not_known() -> None:
    """A track under a new slat of unknown height and an old one: cutting the old one reaches it."""
    unknown, new = bed(surface=None, screws=[]), cut("1", None, "L1", new=-119.0)
    assert [each.cover_mm for each in covers(unknown, [new])] == [None]
    with pytest.raises(Refused, match=r"track T .* 2\.000 mm of wood"):
        check_cut(unknown, [new], cut("2", 3.0, "L2"), "mm")


def test_a_hole_across_a_joint_is_as_deep_as_its_shallow_side() -> None:
    """A hole 20 mm wide, 5 mm behind the joint of two slats, is cut down with either."""
    for slat in ("L1", "L2"):
        depth_mm = hole_depth_mm(bed(), [cut("1", 2.0, slat)], (0, 155))
        assert depth_mm == pytest.approx(18.0, abs=ROUNDING)


def test_a_cut_may_not_use_up_the_holes() -> None:
    """Holes 20 mm deep do not outlive a bed cut down by 20 mm."""
    plain = bed(screws=[], tracks=[])
    with pytest.raises(Refused, match="no depth"):
        check_cut(plain, [], cut("1", 20.0), "mm")


def test_holes_get_shallower() -> None:
    """A hole's depth shrinks with the surface around it, a new slat's grows with it."""
    cuts = [cut("1", 0.5), cut("2", None, "L2", new=-119.0)]
    assert hole_depth_mm(bed(), cuts, (0, 0)) == pytest.approx(19.5, abs=ROUNDING)
    assert hole_depth_mm(bed(), cuts, (0, 300)) == pytest.approx(20.8, abs=ROUNDING)


def test_shallower_holes_let_pins_lean() -> None:
    """The budget's pin fit grows (guide, Budget): R = c/2 + c e/d, d the depth that is left."""
    cuts = tuple(Surfacing(name="1", bed="long-bench", depth=each) for each in (4.0,))
    before = make_setups(facts(world(BASE)))[0].budget
    after = make_setups(facts(world(BASE))._replace(surfacings=cuts))[0].budget
    fit = {row.source: row for row in before.rows}["pin fit"].x_mm
    leaning = {row.source: row for row in after.rows}["pin fit"].x_mm
    # c = 0.02, e = 22, d = 20 and then 16
    assert leaning / fit == pytest.approx((0.5 + 22 / 16) / (0.5 + 22 / 20), abs=1e-12)


def survey_with_plane(name: str) -> Survey:
    """A survey whose surface rises by 1 mm per m along X, -121 at the centroid (200, 200)."""
    plane = Plane(height=-121.0, slope=(0.001, 0.0), rms=0.01, points=9)
    fit = Fit(pose={"x": 0, "y": 0}, points=9, s=0.02, dof=15, centroid=(200, 200), spread=1e5,
              plane=plane)  # fmt: skip
    return Survey(name=name, bed="b", readings=(("A1", 0.0, 0.0, -121.0),), fit=fit)


@pytest.mark.parametrize(
    ("slat", "at", "cuts", "z"),
    [
        (None, (200, 200), [], -121.0),
        (None, (700, 200), [], -120.5),
        ("L1", (200, 200), [cut("2026-01", 0.5)], -121.0),
        ("L1", (200, 200), [cut("2026-03", 0.5)], -121.5),
        ("L2", (200, 200), [cut("2026-01", 0.5)], -120.3),
        ("L2", (200, 200), [cut("2026-03", None, "L2", new=-118.0), cut("2026-04", 0.1)], -118.1),
    ],
    ids=["plane", "slope", "cut before", "cut after", "own height", "new slat"],
)
def test_surface_height(
    slat: str | None, at: tuple[int, int], cuts: list[Surfacing], z: float
) -> None:
    """The plane less cuts after its survey; a slat's height less every cut (guide, Heights)."""
    got = surface_z(bed(), survey_with_plane("2026-02"), cuts, slat, at)
    assert got == pytest.approx(z, abs=ROUNDING)


def test_command_records_and_warns(shop: Path, run: Run) -> None:
    """`resurface` writes a dated record, tells the cover that is left, and is in the history."""
    ran = run("resurface", "long-bench", "--depth", "0.4", "--note", "cupped", "--by", "berta")
    assert ran.code == 0 and "! track T1 has 0.600 mm of wood left over it" in ran.out
    told = json.loads(run("history", "--json").out)["events"][-1]
    assert (told["command"], told["who"], told["why"]) == ("resurface", "berta", "cupped")
    again = json.loads(run("resurface", "long-bench", "--depth", "0.1", "--json").out)
    assert again["kind"] == "resurface" and again["name"].endswith(".02")
    left_over = [each["cover_mm"] for each in again["covers"] if each["over"] == "track"]
    assert left_over == pytest.approx([0.5] * 3, abs=ROUNDING)


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--depth", "1"), "reach track T1"),
        (("--depth", "0"), "more than nothing"),
        (("--depth", "x"), "--depth"),
        ((), "one of the two"),
        (("--depth", "1", "--surface", "-121"), "one of the two"),
        (("--surface", "-121"), "--slat"),
        (("--depth", "0.1", "--slat", "L9"), "no slat"),
    ],
)
def test_command_refuses(shop: Path, run: Run, options: tuple[str, ...], told: str) -> None:
    """Bad values are one line and exit code 2, and nothing is recorded."""
    before = run("history").out
    ran = run("resurface", "long-bench", *options)
    assert ran.code == 2 and told in ran.err and ran.err.count("\n") == 1
    assert run("history").out == before
