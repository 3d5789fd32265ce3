"""Figures that are published, each found again by the second method: README, guide, worked tables.

`python tests/published.py` prints each with what the second method gives and how far apart they
are; it asks the package for nothing. Documents and pages are read as text, places come from
contacts that are closed numerically (`oracles/second_method.py`), spreads from inputs that are
moved one by one. `tests/test_second_method_budget.py` fails where one is off by more than its last
digit allows.
"""

from __future__ import annotations

import math
import re
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import yaml

sys.path.insert(0, str(Path(__file__).resolve().parent))

from oracles.contacts import Point
from oracles.second_method import Case, Floats, moved_by_leans, one_by_one, place_on_dowels
from oracles.worked import clearances_um, rectangle, reference, worked_case

ROOT = Path(__file__).resolve().parent.parent
SIGNS = ((1, 1, 1), (1, 1, -1), (1, -1, 1), (-1, 1, 1))
"""Leans go together or apart: at each place those count that add up most (DEVELOPERS.md)."""


class Figure(NamedTuple):
    """A figure as it is printed, the same by the second method, and by what they may differ."""

    where: str
    what: str
    printed: float
    again: float
    within: float

    @property
    def off(self) -> float:
        return abs(self.printed - self.again)


class Station(NamedTuple):
    """A station by the second method: its offset, and u95 and repeat95 at the worst corner, mm."""

    x_mm: float
    y_mm: float
    lies_mm: float
    back_mm: float


def figures() -> list[Figure]:
    """Every published figure that has a second method."""
    return [*worked_places(), *worked_skew(), *readme(), *guide()]


def worked_places() -> Iterator[Figure]:
    """Places of the worked table, laid and pressed."""
    table = reference("worked_places")
    for name, case in table["cases"].items():
        for column, push_mm in (("offset", 0.0), ("pressed", table["pressed_mm"])):
            again = worked_case(name, push_mm=(push_mm,) * 3).nominal()
            for (key, printed), got in zip(case[column].items(), again, strict=True):
                yield Figure("worked_places", f"{name} {column} {key}", printed, got, 0.51e-6)


def worked_skew() -> Iterator[Figure]:
    """How far the stock's farthest corner moves when case A's angle is not written."""
    table = reference("worked_places")["skew"]
    angle_rad = math.radians(worked_case(table["case"]).nominal()[2])
    corners = [complex(x, y) for x, y in table["stock_corners_mm"]]
    moved = max(abs(each * np.exp(1j * angle_rad) - each) for each in corners)
    yield Figure("worked_places", "skew", table["mm"], float(moved), 0.51e-6)


def readme() -> Iterator[Figure]:
    """The demo's stations as README shows them, and the station of one's own."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    left, bars = demo_station("left"), bars_on_dowels()
    x, y = map(float, re.findall(r"G10 L2 P2 X(\S+) Y(\S+)\n", text)[0])
    yield from place_of("README", "left", (x, y), left)
    row = re.findall(r"end-bars +a +G57 +(\S+) +(\S+) +\S+ +(\S+) +(\S+) ", text)[0]
    yield from place_of("README", "end-bars", tuple(map(float, row[:2])), bars)
    yield from spread_of("README", "end-bars", tuple(map(float, row[2:])), bars)
    (best,) = re.findall(r"lies within (\S+) mm on the bed.*next edge .*: (\S+) mm", text)
    for printed, pins in zip(best, (("B6", "E6", "A7"), ("B6", "E6", "A8")), strict=True):
        what = f"spare on {' '.join(pins)}, lies within"
        lies_mm = demo_station("left", pins).lies_mm
        yield Figure("README", what, float(printed), lies_mm, 0.51e-3)
    x, y = map(float, re.findall(r"floor: pins in D2 G2 C4; G55 X (\S+) Y (\S+) mm", text)[0])
    yield from place_of("README", "floor", (x, y), floor(text, ("D2", "G2", "C4")))


def guide() -> Iterator[Figure]:
    """The offset tables of the guide's page on numbers."""
    page = (ROOT / "src" / "pincorner" / "guide" / "numbers").with_suffix(".md")
    text = page.read_text(encoding="utf-8")
    for name in ("left", "roof"):
        row = re.findall(rf"\n{name} +a +G\d\d +(\S+) +(\S+) +\S+ +(\S+) +(\S+) ", text)[0]
        x, y, back, lies = map(float, row)
        again = demo_station(name)
        yield from place_of("guide", name, (x, y), again)
        yield from spread_of("guide", name, (back, lies), again)


def place_of(where: str, name: str, printed: Sequence[float], again: Station) -> Iterator[Figure]:
    """X and Y, printed to a micrometre."""
    for axis, got, value in zip("XY", (again.x_mm, again.y_mm), printed, strict=True):
        yield Figure(where, f"{name} {axis}", value, got, 0.51e-3)


def spread_of(where: str, name: str, printed: Sequence[float], again: Station) -> Iterator[Figure]:
    """`back within` and `lies within`, which are rounded up to 0.01 mm."""
    for what, got, value in zip(
        ("back", "lies"), (again.back_mm, again.lies_mm), printed, strict=True
    ):
        yield Figure(where, f"{name} {what} within", value, math.ceil(got * 100 - 1e-4) / 100, 1e-9)


def hole_at(label: str) -> Point:
    """A hole of a grid with a pitch of 100, from A1."""
    return ((ord(label[0]) - ord("A")) * 100.0, (int(label[1:]) - 1) * 100.0)


def demo() -> dict[str, Any]:
    """The demo's documents, by list and name."""
    read = yaml.safe_load((ROOT / "fixtures_db" / "beehive.yaml").read_text(encoding="utf-8"))
    return {
        key: {each["name"]: each for each in of} for key, of in read.items() if isinstance(of, list)
    }


def demo_station(name: str, pins: Sequence[str] = ()) -> Station:
    """A station of the demo that is pressed against edge pins, on its own or other ones."""
    read = demo()
    station, bed = read["stations"][name], read["beds"]["long-bench"]
    pin, machine, grid = read["pins"][station["pin"]], read["machines"]["gantry-1"], bed["grid"]
    labels = pins or (*station["pins"]["edge"], station["pins"]["stop"])
    low, high = (grid["hole"] - pin["shank"],) * 2
    if "fit" in pin:
        low, high = (each / 1000 for each in clearances_um(pin["shank"], pin["fit"]))
    plays = np.linspace(low, high, 100_001)
    slope = station.get("under", 0) / grid["depth"]
    mean, root = float(plays.mean()), float(np.sqrt(np.mean(plays**2)))
    jig = read["jigs"].get(station.get("jig"), {})
    nest = (jig.get("nests") or [{"zero": [0, 0], "stock": {"size": station.get("stock")}}])[0]
    size = jig.get("footprint") or station["stock"]
    fixed = (0.5 + slope / 2) * float(plays.std())
    case = Case(
        outline=rectangle(size[:2]),
        pins=[(*hole_at(label), pin["body"] / 2) for label in labels],
        toward="+x+y",
        turn_deg=station.get("turn", 0),
        zero=tuple(nest["zero"]),
        bed_pose=tuple(bed["pose"][key] for key in ("x", "y", "angle")),
        hole_sd_mm=grid["hole_position"],
        body_tolerance_mm=pin["body_tolerance"],
        homing_sd_mm=machine["homing"],
        machine_sd_mm=machine["repeatability"],
        push_mm=((0.5 + slope / 2) * mean,) * 3,
        edge_sd_mm=math.hypot(jig.get("edge_straightness", 0.0), fixed),
    )
    lean = root * slope / 2
    return station_of(case, nest["stock"]["size"], lean, lean * max(plays) / root)


def station_of(case: Case, stock: Sequence[float], lean_mm: float, most_mm: float) -> Station:
    """Offset and spread of a case; pins lean by so much more or less, at the most by `most_mm`."""
    parts, (x, y, _) = one_by_one(case), case.nominal()
    fixed = sum(each for name, each in parts.items() if name not in ("homing", "machine"))
    varying = parts["homing"] + parts["machine"]
    lies, back = (
        max(
            reach(rest + leaning(case, lean, signs), stock)
            for signs in (SIGNS if lean else SIGNS[:1])
        )
        for rest, lean in ((fixed + varying, lean_mm), (varying, most_mm))
    )
    return Station(x, y, lies, back)


def leaning(case: Case, lean_mm: float, signs: Sequence[int]) -> Floats:
    """Covariance of the zero from leans that go together in one way: an arc sine of each."""
    move = moved_by_leans(case, [sign * lean_mm for sign in signs])
    found: Floats = np.outer(move, move) / 2
    return found


def reach(covariance: Floats, stock: Sequence[float], turned_rad: float = 0.0) -> float:
    """Twice the standard deviation in the worst direction at the stock's worst corner."""
    found = []
    for corner in rectangle(list(stock[:2])):
        arm = complex(*corner) * np.exp(1j * turned_rad)
        moves = np.array([[1, 0, -arm.imag], [0, 1, arm.real]])
        found.append(2 * math.sqrt(np.linalg.eigvalsh(moves @ covariance @ moves.T)[-1]))
    return max(found)


def bars_on_dowels() -> Station:
    """The demo's end bars: round hole and slot over pins that may stand at any side of their play.

    At the surface no lean shows; each hole's middle lies at the rim of a disc (JCGM 101, 6.4.6).
    """
    read = demo()
    station, bed, jig = (
        read["stations"]["end-bars"],
        read["beds"]["long-bench"],
        read["jigs"]["end-bar-cradle"],
    )
    pin, machine, grid = read["pins"]["peg-20"], read["machines"]["gantry-1"], bed["grid"]
    pins = [hole_at(station["pins"][role]) for role in ("round", "slot")]
    holes = [tuple(jig["locate"][role]["at"]) for role in ("round", "slot")]
    in_bed = (grid["hole"] - pin["shank"]) / 2
    rims = [
        in_bed + (jig["locate"][role][size] - pin["body"]) / 2
        for role, size in (("round", "hole"), ("slot", "width"))
    ]
    nest = jig["nests"][0]

    def zero(at: Sequence[Sequence[float]]) -> Floats:
        x, y, angle = place_on_dowels(tuple(at[0]), tuple(at[1]), *holes)
        put = complex(*nest["zero"]) * np.exp(1j * angle)
        return np.array([x + put.real, y + put.imag, angle])

    def spread(sds: Sequence[float]) -> Floats:
        moves = []
        for which, axis in ((0, 0), (0, 1), (1, 1)):  # at the slot across only
            ends = []
            for sign in (1, -1):
                at = np.array(pins, dtype=float)
                at[which, axis] += sign * sds[which]
                ends.append(zero(at))
            moves.append((ends[0] - ends[1]) / 2)
        found: Floats = np.array(moves).T @ np.array(moves)
        return found

    own = machine["homing"] ** 2 + machine["repeatability"] ** 2
    varying = spread([rim / math.sqrt(2) for rim in rims]) + np.diag([own, own, 0.0])
    x, y, _ = zero(pins) + np.array([bed["pose"]["x"], bed["pose"]["y"], 0.0])
    size = nest["stock"]["size"]
    fixed = spread([grid["hole_position"]] * 2)
    return Station(float(x), float(y), reach(varying + fixed, size), reach(varying, size))


def floor(text: str, pins: Sequence[str]) -> Station:
    """README's station of one's own, from its answers; what is not stated there counts nothing."""
    answers = yaml.safe_load(re.findall(r"```yaml answers.yaml\n(.*?)```", text, re.DOTALL)[0])
    size = {key: [float(each) for each in re.findall(r"[\d.]+", str(value))]
            for key, value in answers.items()}  # fmt: skip
    play = answers["hole"] - answers["shank"]
    case = Case(
        outline=rectangle(size["footprint"][:2]),
        pins=[(*hole_at(label), answers["shank"] / 2) for label in pins],
        toward="+x+y",
        turn_deg=0,
        zero=(size["lies"][0], size["lies"][1]),
        bed_pose=(*size["a1"], 0.0),
        hole_sd_mm=answers["hole_position"],
        push_mm=(play / 2,) * 3,
    )
    return station_of(case, size["stock"], 0.0, 0.0)


def table() -> str:
    """All figures in print, and the worst of them."""
    found = figures()
    lines = ["| where | what | printed | by the second method | apart |", "| --- " * 5 + "|"]
    lines += [
        f"| {each.where} | {each.what} | {each.printed:.9g} | {each.again:.9g} | {each.off:.1e} |"
        for each in found
    ]
    beyond = [each for each in found if each.off > each.within]
    return "\n".join([*lines, f"\n{len(found)} figures, {len(beyond)} beyond their last digit"])


if __name__ == "__main__":
    print(table())
