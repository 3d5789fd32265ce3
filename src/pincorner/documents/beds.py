"""Beds with their hole grids, and the pins that stand in the holes."""

from __future__ import annotations

import re
import string
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Annotated, Any, Literal, NamedTuple, Self

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from pincorner.documents.fields import (
    Angle,
    Count,
    Disagreement,
    Document,
    Label,
    Length,
    LengthFromZero,
    Name,
    Note,
    Point,
    Size,
    WholeDocument,
    agree,
    key_of,
    shown,
    twice,
)
from pincorner.geometry.iso286 import clearance_mm
from pincorner.geometry.outline import Box


class Area(Document):
    """An upright rectangle given by two opposite corners."""

    from_: Point = Field(alias="from")
    """`[x, y]` of a corner"""
    to: Point
    """`[x, y]` of the opposite corner"""

    @property
    def box(self) -> Box:
        return box_between(self.from_, self.to)


class NamedArea(Document):
    """An upright rectangle with a name."""

    name: Name
    """its name"""
    from_: Point = Field(alias="from")
    """`[x, y]` of a corner"""
    to: Point
    """`[x, y]` of the opposite corner"""

    @cached_property
    def box(self) -> Box:
        return box_between(self.from_, self.to)


def box_between(first: Point, second: Point) -> Box:
    """The upright box with these opposite corners."""
    (x1, y1), (x2, y2) = first, second
    return Box(min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2))


class Grid(Document):
    """Columns along X, rows along Y, `pitch` apart."""

    columns: Count
    """how many holes along X, 1 to 500"""
    rows: Count
    """how many along Y, 1 to 500"""
    pitch: tuple[Size, Size]
    """`[x, y]` from hole to hole"""
    hole: Size
    """diameter of the holes"""
    hole_position: LengthFromZero | None = None
    """error of a hole's place; left out: not counted, and said so"""
    depth: Size | None = None
    """of the holes; left out: not checked against the pins"""
    play: LengthFromZero | None = None
    """play of the pins in the holes as measured: push a pin both ways with an indicator at the
    surface, the difference is the play; left out: a pin's `fit`, else hole less shank"""


def _letters(value: Any) -> str:
    text = value.upper() if isinstance(value, str) else shown(value)
    if not all("A" <= letter <= "Z" for letter in text) or len(set(text)) > 25:
        raise ValueError(f"expected letters never used for columns, such as IO, got {text}")
    return "".join(sorted(set(text)))


class Labels(Document):
    """Letters that no column carries."""

    skip: Annotated[str, BeforeValidator(_letters)] = ""
    """letters that no column carries, such as `IO`"""


class PoseEntry(Document):
    """Machine coordinates of hole A1 and the angle of row 1."""

    x: Length
    """machine X of hole A1"""
    y: Length
    """machine Y of hole A1"""
    angle: Angle = 0.0
    """of row 1 against the machine's X"""


class Extra(Document):
    """A hole off the grid, or the true place of a grid hole."""

    name: Label
    """its label; with a label of the grid this is that hole's true place"""
    at: Point
    """`[x, y]` of its centre"""


class Track(Document):
    """A metal track for clamps; the metal starts `depth` below the surface."""

    name: Name
    """its name"""
    from_: Point = Field(alias="from")
    """`[x, y]` of one end, on its middle line"""
    to: Point
    """`[x, y]` of the other end"""
    width: Size
    """across"""
    depth: LengthFromZero = 0.0
    """of the metal below the surface"""


class Screw(Document):
    """A screw whose head lies `depth` below the surface."""

    name: Name
    """its name"""
    at: Point
    """`[x, y]` of its centre"""
    diameter: Size
    """of the head"""
    depth: LengthFromZero = 0.0
    """of the head below the surface"""


class Slat(NamedArea):
    """A strip of the top that can be replaced alone; `surface` is machine Z."""

    surface: Length | None = None
    """machine Z of its own top; left out: the bed's surface"""


class Solid(NamedArea):
    """Anything that stands up; `top` above the surface."""

    top: Length
    """height of its top above the bed's surface"""


class Hole(NamedTuple):
    """Where a hole's centre should be, in bed coordinates, and whether it may be used."""

    label: str
    x_mm: float
    y_mm: float
    usable: bool

    @property
    def at_mm(self) -> tuple[float, float]:
        return self.x_mm, self.y_mm


class Bed(WholeDocument):
    """The surface parts are held on, with its hole grid."""

    machine: Name
    """the machine that it lies in"""
    outline: Area | None = None
    """its edges, from A1; left out: half a pitch around the grid"""
    thickness: Size | None = None
    """of the board; left out: not checked"""
    grid: Grid
    """the hole grid: columns A, B, C along X, rows 1, 2, 3 along Y"""
    labels: Labels = Labels()
    """how columns are lettered"""
    pose: PoseEntry
    """where the grid lies in machine coordinates; an accepted survey supersedes it"""
    surface: Length | None = None
    """machine Z of the surface at the gauge point; left out: not known"""
    spoil: LengthFromZero = 0.0
    """how deep cuts may go into it"""
    missing: tuple[Label, ...] = ()
    """labels of holes that are not there or not to be used, such as `[H5]`"""
    extra: tuple[Extra, ...] = ()
    """holes off the grid, from A1"""
    tracks: tuple[Track, ...] = ()
    """metal tracks for clamps, from A1"""
    screws: tuple[Screw, ...] = ()
    """screws in the board, from A1"""
    slats: tuple[Slat, ...] = ()
    """strips of the top that can be replaced alone, from A1"""
    solids: tuple[Solid, ...] = ()
    """what is fixed on the bed and stands up, from A1"""
    note: Note | None = None
    """text for whoever reads it; where the machine does not home, sheets tell it with the
    reference of the day"""

    @model_validator(mode="after")
    def _names_differ(self) -> Self:
        agree(self._disagreements())
        return self

    def _disagreements(self) -> Iterator[Disagreement]:
        for key in ("extra", "tracks", "screws", "slats", "solids"):
            for name in twice(part.name for part in getattr(self, key)):
                yield Disagreement((key,), f"{key}: two are named {name}")
        for label in self.missing:
            if key_of(label) not in self._extra_places and self._grid_place(label) is None:
                text = f"missing: there is no hole {label} on this grid"
                yield Disagreement(("missing", "extra", "labels", "grid"), text)

    @cached_property
    def _missing_keys(self) -> frozenset[str]:
        return frozenset(map(key_of, self.missing))

    @cached_property
    def _extra_places(self) -> dict[str, Extra]:
        return {key_of(hole.name): hole for hole in self.extra}

    @cached_property
    def letters(self) -> ColumnLetters:
        """How this bed's columns are lettered."""
        return ColumnLetters(self.labels.skip)

    @cached_property
    def box(self) -> Box:
        """The bed's outline: as stated, else half a pitch around the grid."""
        if self.outline is not None:
            return self.outline.box
        pitch_x, pitch_y = self.grid.pitch
        right, back = (self.grid.columns - 0.5) * pitch_x, (self.grid.rows - 0.5) * pitch_y
        return Box(-pitch_x / 2, -pitch_y / 2, right, back)

    @property
    def edge_told(self) -> str:
        """Whose edge that is, in a sentence; an edge that nobody stated is told as such."""
        taken = "" if self.outline is not None else ", taken as half a pitch around its holes"
        return f"bed {self.name}{taken}"

    def _grid_place(self, label: str) -> Point | None:
        cell = self.letters.split(label)
        if cell is None or cell[0] > self.grid.columns or cell[1] > self.grid.rows:
            return None
        return (cell[0] - 1) * self.grid.pitch[0], (cell[1] - 1) * self.grid.pitch[1]

    def hole(self, label: str) -> Hole | None:
        """The hole with this label; None where the bed has none of that name."""
        if label not in self._asked:
            extra = self._extra_places.get(key_of(label))
            at = extra.at if extra else self._grid_place(label)
            usable = key_of(label) not in self._missing_keys
            name = extra.name if extra else label
            self._asked[label] = Hole(name, *at, usable) if at else None
        return self._asked[label]

    @cached_property
    def _asked(self) -> dict[str, Hole | None]:
        """Holes that were asked for: thousands of stations ask for the same few."""
        return {}

    def line_of_holes(self, through: Hole, axis: int, off_line_mm: float) -> list[Hole]:
        """Holes on the row (axis 0) or column (axis 1) of a hole, within `off_line_mm` of it."""
        cell = self.letters.split(through.label)
        place = (axis, None if cell is None else cell[1 - axis])
        if place not in self._lines:
            self._lines[place] = self._line(*place)
        at_mm = through.at_mm[1 - axis]
        return [
            each for each in self._lines[place] if abs(each.at_mm[1 - axis] - at_mm) <= off_line_mm
        ]

    @cached_property
    def _lines(self) -> dict[tuple[int, int | None], list[Hole]]:
        """Rows and columns that were asked for."""
        return {}

    def _line(self, axis: int, number: int | None) -> list[Hole]:
        """The holes off the grid, then those of a row (axis 0) or a column (axis 1)."""
        grid = self.grid
        labels = [hole.name for hole in self.extra if self._grid_place(hole.name) is None]
        if number is not None and axis == 0:
            labels += [f"{self.letters.of(at)}{number}" for at in range(1, grid.columns + 1)]
        elif number is not None:
            labels += [f"{self.letters.of(number)}{at}" for at in range(1, grid.rows + 1)]
        return [place for label in labels if (place := self.hole(label)) is not None]

    def holes(self, within: Box | None = None, every: tuple[int, int] = (1, 1)) -> list[Hole]:
        """Every hole, row by row, then the extra ones that stand off the grid.

        `within`: those with their centre in a box of bed coordinates, found without a look at the
        others. `every`: of usable holes of the grid only those of each so manieth column and row.
        """
        grid, odd, (pitch_x, pitch_y) = self.grid, self._odd_holes, self.grid.pitch
        across, up = (None, None) if within is None else (within[::2], within[1::2])
        columns = _numbers(grid.columns, pitch_x, every[0], across)
        rows = _numbers(grid.rows, pitch_y, every[1], up)
        cells = [(row, column) for row in rows for column in columns]
        if len(cells) < grid.columns * grid.rows:  # an odd one may lie anywhere
            more = (
                (row, column)
                for (row, column), hole in odd.items()
                if not (hole.usable and ((column - 1) % every[0] or (row - 1) % every[1]))
            )
            cells = sorted({*cells, *more})
        letters = ["", *map(self.letters.of, range(1, grid.columns + 1))]
        found = [
            odd.get((row, column))
            or Hole(f"{letters[column]}{row}", (column - 1) * pitch_x, (row - 1) * pitch_y, True)
            for row, column in cells
        ]
        off_grid = [extra.name for extra in self.extra if self._grid_place(extra.name) is None]
        found += [hole for name in off_grid if (hole := self.hole(name)) is not None]
        return [hole for hole in found if within is None or within.holds(hole.at_mm)]

    @cached_property
    def _odd_holes(self) -> dict[tuple[int, int], Hole]:
        """Holes of the grid, by row and column, that are not usable or not where the grid has
        them."""
        found = {}
        for label in (*self.missing, *(extra.name for extra in self.extra)):
            hole, cell = self.hole(label), self.letters.split(label)
            if hole is not None and cell is not None and self._grid_place(label) is not None:
                found[cell[1], cell[0]] = hole
        return found


def _numbers(
    count: int, pitch_mm: float, every: int, between_mm: Sequence[float] | None
) -> list[int]:
    """Every so manieth column (or row) from 1 on; those between two places, and one more."""
    numbers = list(range(1, count + 1, every))
    if between_mm is None:
        return numbers
    first, last = (at / pitch_mm + 1 for at in between_mm)
    return [each for each in numbers if first - 1 < each < last + 1]


def _known_fit(value: str) -> str:
    clearance_mm(value, 20.0)
    return value


class Pin(WholeDocument):
    """A locating pin: its shank in the hole, its body above the surface."""

    shank: Size
    """diameter in the hole"""
    body: Size
    """diameter above the surface"""
    height: Size
    """how high it stands above the surface"""
    body_tolerance: LengthFromZero | None = None
    """how far the body's diameter may be off, either way; left out: not counted, and said so"""
    fit: Annotated[str, AfterValidator(_known_fit)] | None = None
    """an ISO 286 fit such as `H8/g6`, from which the play in the hole follows; left out: hole less
    shank"""
    in_hole: Size | None = None
    """length of its shank in the hole; left out: the hole's depth"""
    held: Literal["loose", "screwed", "tapered"] = "loose"
    """`loose`: it gives way by its play when a jig is pushed against it; `screwed`: it stands where
    it was set within its play; `tapered`: it has no play"""
    note: Note | None = None
    """text for whoever reads it"""

    @model_validator(mode="after")
    def _fit_is_on_file(self) -> Self:
        if self.fit is not None:
            try:
                clearance_mm(self.fit, self.shank)
            except ValueError as error:
                agree([Disagreement(("fit", "shank"), str(error))])
        return self


_LABEL = re.compile(r"([A-Z]+)([1-9][0-9]{0,2})")


@dataclass(frozen=True)
class ColumnLetters:
    """Columns A..Z, AA, AB.. without the letters in `skip`."""

    skip: str = ""

    @cached_property
    def alphabet(self) -> str:
        return "".join(c for c in string.ascii_uppercase if c not in self.skip)

    def of(self, index: int) -> str:
        """The letters of column `index`, counted from 1 (a number without a zero, in letters)."""
        alphabet, letters = self.alphabet, ""
        while index > 0:
            index, rest = divmod(index - 1, len(alphabet))
            letters = alphabet[rest] + letters
        return letters

    def index(self, letters: str) -> int | None:
        """The column's number from 1; None where a letter is not used."""
        alphabet, index = self.alphabet, 0
        for letter in letters:
            if letter not in alphabet:
                return None
            index = index * len(alphabet) + alphabet.index(letter) + 1
        return index

    def split(self, label: str) -> tuple[int, int] | None:
        """Column and row, from 1, of a grid label; None where it is not one."""
        match = _LABEL.fullmatch(label)
        column = self.index(match[1]) if match else None
        return (column, int(match[2])) if match and column else None
