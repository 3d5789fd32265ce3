"""The worked examples and tables under `references`, read as cases in plain numbers."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import yaml

from .contacts import Point
from .second_method import Case

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)  # a tenth of the time
REFERENCES = Path(__file__).parent.parent / "references"


@cache
def document(name: str) -> Any:
    """Return all of a file of references; do not change it."""
    text = (REFERENCES / f"{name}.yaml").read_text(encoding="utf-8")
    return yaml.load(text, Loader=_LOADER)


def reference(name: str) -> Any:
    """Return the values of a file of references; do not change them."""
    return document(name)["values"]


def assert_close(got: float, want: float, tolerance: float, because: str) -> None:
    """Fail with both figures and the tolerance's reason unless they agree."""
    difference = abs(got - want)
    assert difference <= tolerance, f"{got!r} is {difference:.3g} off {want!r}; {because}"


def rectangle(size_mm: list[float]) -> list[Point]:
    """Return the outline of a jig with its front-left corner at 0, 0."""
    length, width = size_mm
    return [(0, 0), (length, 0), (length, width), (0, width)]


def worked_case(name: str, **sizes: Any) -> Case:
    """Return a worked place as a case in plain numbers, its jig not pushed unless `sizes` say."""
    table = reference("worked_places")
    case, (pitch_x, pitch_y) = table["cases"][name], table["grid"]["pitch_mm"]
    pins = []
    for label in [*case["pins"]["edge"], case["pins"]["stop"]]:
        on_grid = ((ord(label[0]) - ord("A")) * pitch_x, (int(label[1:]) - 1) * pitch_y)
        x, y = case.get("holes_mm", {}).get(label, on_grid)
        pins.append((x, y, table["body_mm"] / 2))
    bed = case["bed_pose"]
    return Case(
        outline=rectangle(table["jig_mm"]),
        pins=pins,
        toward=case["toward"],
        turn_deg=case["turn_deg"],
        zero=tuple(table["zero_mm"]),
        bed_pose=(bed["x_mm"], bed["y_mm"], bed["angle_deg"]),
        **sizes,
    )


def budget_case(sources: list[str] | None = None) -> Case:
    """Return the worked budget's case, with all its sources or only some."""
    given = reference("worked_budget")["inputs"]
    play = given["hole_mm"] - given["shank_mm"]
    lean = play * min(given["pin_height_mm"], given["jig_height_mm"]) / given["depth_mm"]
    assert_close(play / 2 + lean, given["lie_radius_mm"], 1e-12, "exact but for rounding")
    sizes = {
        "hole position": {"hole_sd_mm": given["hole_position_mm"]},
        "pin fit": {"lie_radius_mm": (given["lie_radius_mm"],) * 2},
        "pin body": {"body_tolerance_mm": given["body_tolerance_mm"]},
        "machine": {"machine_sd_mm": given["repeatability_mm"]},
    }
    chosen: dict[str, Any] = {}
    for source, size in sizes.items():
        if sources is None or source in sources:
            chosen |= size
    return worked_case(reference("worked_budget")["case"], **chosen)


def clearances_um(size_mm: float, fit: str) -> tuple[int, int]:
    """Return the least and largest diametral clearance of a fit (ISO 286-1: limits of size)."""
    iso = document("iso286")
    bands = iso["bands_mm"].items()
    band = next(name for name, (over, to) in bands if over < size_mm <= to)
    hole, shaft = (iso["values"]["deviations_um"][part][band] for part in fit.split("/"))
    return hole[1] - shaft[0], hole[0] - shaft[1]
