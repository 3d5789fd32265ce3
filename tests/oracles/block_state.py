"""What a controller remembers, and where that puts program zero (NISTIR 6556, 3.2).

Written from the report alone, used by tests only; "from memory" marks what is not in
references/rs274ngc.yaml.
"""

import math
from dataclasses import dataclass, field

from oracles.block_rules import CANNED
from oracles.block_words import AXES

MM_PER_INCH = 25.4  # exact
EXTENDED = 100  # MachineState.system of G54.1 P1 is 101


@dataclass
class MachineState:
    """What a controller remembers. Lengths are plain numbers in the unit that is active.

    `parameters` holds the stored numbers, which a change of units leaves alone; `origin` and `g92`
    are what acts: the active system's origin and the G92 offsets, which keep their place then.
    `position` is in machine coordinates, None once this reader cannot tell it.
    """

    parameters: dict[int, float] = field(default_factory=dict)
    unit: str = "mm"
    system: int = 1
    distance: str = "G90"
    plane: str = "G17"
    motion: str = "G1"  # where M2 and M30 leave the machine, 3.6.1: bare axis words move it
    cutter_comp: str = "G40"
    tool_length: str = "G49"
    retract: str = "G98"
    feed_mode: str = "G94"
    path: str = "G64"
    block_delete: bool = False
    position: dict[str, float] | None = field(default_factory=lambda: dict.fromkeys(AXES, 0.0))
    origin: dict[str, float] = field(default_factory=dict)
    g92: dict[str, float] = field(default_factory=dict)
    g52: dict[str, float] = field(default_factory=lambda: dict.fromkeys(AXES, 0.0))
    rotations_deg: dict[int, float] = field(default_factory=dict)
    g68: tuple[float, float, float] | None = None  # x, y of the centre, degrees
    settings: dict[str, float] = field(default_factory=dict)  # last F, S and T
    comments: list[str] = field(default_factory=list)
    messages: list[str] = field(default_factory=list)
    codes: list[str] = field(default_factory=list)  # G and M codes as written, line by line
    moves: list[str] = field(default_factory=list)
    ended: bool = False
    extensions: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        self.parameters.setdefault(5220, float(self.system))
        self.origin = stored(self, first_parameter(self.system)) | self.origin
        self.g92 = stored(self, 5211) | self.g92

    @property
    def moved(self) -> bool:
        """Whether any line could have moved an axis."""
        return bool(self.moves)

    @property
    def canned_cycle(self) -> str | None:
        """The canned cycle that is active, if any."""
        return self.motion if self.motion in CANNED else None


def program_origin(state: MachineState, units: str) -> tuple[float, float, float]:
    """Place of program zero in machine coordinates from the stored numbers and the G92 offsets.

    Stored numbers are read in the active unit (3.5.7), so asking for another one ("mm", "in")
    raises ValueError, except under the extension "converts", where the result is converted.
    """
    if units != state.unit and "converts" not in state.extensions:
        raise ValueError(f"the stored numbers are read in {state.unit} now, not in {units}")
    base = stored(state, first_parameter(state.system))
    return _in_units(state, _place(state, base, (0.0, 0.0, 0.0)), units)


def machine_point(
    state: MachineState, units: str, point: tuple[float, float, float] = (0.0, 0.0, 0.0)
) -> tuple[float, float, float]:
    """Where a point of program coordinates lies on the machine, by the offsets that act now.

    `point` is in the active unit, the result in `units`; tool length is not counted.
    """
    return _in_units(state, _place(state, state.origin, point), units)


def program_angle_deg(state: MachineState) -> float:
    """Angle of program X from machine X, counter-clockwise; 0 without extensions."""
    return state.rotations_deg.get(state.system, 0.0) + (state.g68[2] if state.g68 else 0.0)


def _in_units(
    s: MachineState, point: tuple[float, float, float], units: str
) -> tuple[float, float, float]:
    if units not in ("mm", "in"):
        raise ValueError(f"units are mm or in, not {units}")
    factor = {("mm", "in"): 1 / MM_PER_INCH, ("in", "mm"): MM_PER_INCH}.get((s.unit, units), 1.0)
    x, y, z = point
    return x * factor, y * factor, z * factor


def _place(
    s: MachineState, base: dict[str, float], point: tuple[float, float, float]
) -> tuple[float, float, float]:
    """G68 first, then G92 and G52, then the system's own turn and origin (order from memory)."""
    x, y, z = point
    if s.g68:
        centre_x, centre_y, angle_deg = s.g68
        turned_x, turned_y = _turn(x - centre_x, y - centre_y, angle_deg)
        x, y = centre_x + turned_x, centre_y + turned_y
    shift = {axis: s.g92[axis] + s.g52[axis] for axis in "XYZ"}
    x, y = _turn(x + shift["X"], y + shift["Y"], s.rotations_deg.get(s.system, 0.0))
    return base["X"] + x, base["Y"] + y, base["Z"] + z + shift["Z"]


def _turn(x: float, y: float, angle_deg: float) -> tuple[float, float]:
    cos, sin = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return x * cos - y * sin, x * sin + y * cos


def first_parameter(system: int) -> int:
    """Number of a system's X: 5201 + 20 n (3.2.1); 7001 on for G54.1, from memory."""
    return 5201 + 20 * system if system < EXTENDED else 7001 + 20 * (system - EXTENDED - 1)


def stored(s: MachineState, first: int) -> dict[str, float]:
    """Six parameters from number `first` on, by axis; those never set are 0."""
    return {axis: s.parameters.get(first + i, 0.0) for i, axis in enumerate(AXES)}
