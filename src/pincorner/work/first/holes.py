"""Holes of the grid as people name them: by their label, or by words such as `third across`."""

from __future__ import annotations

import re
from collections.abc import Mapping

from pincorner.documents.beds import ColumnLetters
from pincorner.work.first.plain import (
    ORDINALS,
    Unclear,
    Wanted,
    cleaned,
    with_figures,
    words_of,
)
from pincorner.work.first.typed import Said, hole, labels


def tells_holes(value: list[int], said: Said) -> str:
    """Columns and rows with their labels."""
    columns, rows = value
    letters = ColumnLetters()
    return (
        f"{columns} along X, columns A to {letters.of(columns)}; {rows} along Y, rows 1 to {rows}"
    )


def places(said: Said) -> Mapping[str, tuple[float, float]]:
    """Where each hole of the grid is from A1 as drawn, mm."""
    (columns, rows), (pitch_x, pitch_y) = said["holes"], said["pitch"]
    letters = [ColumnLetters().of(column + 1) for column in range(columns)]
    return {
        f"{letter}{row + 1}": (column * pitch_x.mm, row * pitch_y.mm)
        for column, letter in enumerate(letters)
        for row in range(rows)
    }


def column_and_row(label: str, said: Said) -> tuple[str, ...]:
    """The numbers by which somebody may count to a hole, from either end; nothing where the grid
    has no such hole."""
    if not said["holes"] or not said["pitch"]:
        return ()
    columns, rows = said["holes"]
    found = re.fullmatch("([A-Z]{1,3})([1-9][0-9]{0,2})", label.upper())
    letters = [ColumnLetters().of(column + 1) for column in range(columns)]
    if found is None or found[1] not in letters or int(found[2]) > rows:
        return ()
    column, row = letters.index(found[1]) + 1, int(found[2])
    return tuple(f"{each}" for each in (column, columns + 1 - column, row, rows + 1 - row))


def on_the_grid(label: str, said: Said) -> str:
    """A label of the grid. Raises ValueError where there is no such hole."""
    if label not in places(said):
        raise ValueError(
            f"there is no hole {label} on this grid: it has {tells_holes(said['holes'], said)}"
        )
    if label in (said["missing"] or ()):
        raise ValueError(f"hole {label} was said to be missing (back missing changes that)")
    return label


# ---- words ---------------------------------------------------------------------------------------

_RANK = r"(?:[0-9]{1,2}(?:st|nd|rd|th)?|last|" + "|".join(ORDINALS) + r")"
_RANKED = re.compile(rf"\b(?P<rank>{_RANK})\b(?P<rest>.*?)(?=\b{_RANK}\b|$)")
_ACROSS = frozenset(
    ("across", "over", "right", "sideways", "left", "x", "column", "columns", "col", "along")
)
_UP = frozenset(("up", "back", "away", "deep", "behind", "front", "y", "row", "rows", "down", "in"))
_FROM_THE_END = re.compile(r"\bfrom (?:the |my )?(?:right|back|rear|far|top)\b")
_LINES = (
    ("front", "row", "first"), ("(?:back|rear)", "row", "last"), ("left", "column", "first"),
    ("right", "column", "last"),
)  # fmt: skip
_SMALL = frozenset(
    ("hole", "holes", "the", "of", "from", "and", "in", "a", "one", "to", "it", "is", "at", "my",
     "on", "edge", "counting", "counted", "side", "that", "for", "corner")
)  # fmt: skip


def hole_by_words(text: str, said: Said) -> str | None:
    """The label of `third across, third up`, `the last hole of the first column`; None without such
    words."""
    plain = with_figures(cleaned(text).replace("-", " "))
    for side, line, which in _LINES:
        plain = re.sub(rf"\b{side} {line}\b", f"{which} {line}", plain)
    column = re.search(r"\bcolumn ([a-z]{1,2})\b", plain)
    row = re.search(r"\brow ([0-9]{1,3})\b", plain)
    if column and row and column[1] not in _SMALL:
        return f"{column[1].upper()}{row[1]}"
    ranked = list(_RANKED.finditer(plain))
    if len(ranked) != 2 or set(words_of(plain[: ranked[0].start()])) - _SMALL:
        return None
    ways = [_way(match["rest"]) for match in ranked]
    if None in ways:
        known = next((way for way in ways if way), None)
        if known is None:
            return None
        ways = [way or ("y" if known == "x" else "x") for way in ways]
    if set(ways) != {"x", "y"}:
        return None
    columns, rows = said["holes"]
    found = {}
    for match, way in zip(ranked, ways, strict=True):
        count = columns if way == "x" else rows
        rank = _rank(match["rank"], count)
        found[way] = count + 1 - rank if _FROM_THE_END.search(match["rest"]) else rank
    if not (1 <= found["x"] <= columns and 1 <= found["y"] <= rows):
        raise ValueError(
            f"there is no such hole on this grid: it has {tells_holes(said['holes'], said)}"
        )
    return f"{ColumnLetters().of(found['x'])}{found['y']}"


def _way(rest: str) -> str | None:
    """The axis along which words count; None where they do not say, or say both."""
    words = set(words_of(rest)) - {"in"} if "in the" in rest else set(words_of(rest))
    if words - _ACROSS - _UP - _SMALL:
        return None
    along_x, along_y = words & _ACROSS, words & _UP - _SMALL
    if bool(along_x) == bool(along_y):
        return None
    return "x" if along_x else "y"


def _rank(word: str, count: int) -> int:
    if word == "last":
        return count
    return ORDINALS.get(word) or int(re.sub("[a-z]", "", word))


# ---- answers -------------------------------------------------------------------------------------


def read_corner(text: str, said: Said) -> str:
    """The hole at the inside corner; a corner of the bed is that of its grid.

    Raises Unclear for words of the machine, where somebody stands at another side.
    """
    words = set(words_of(text.replace("-", " ")))
    sides = {"left": 0, "right": 1}.keys() & words, {"front", "back"} & words
    label = hole_by_words(text, said)
    if label is None:
        if not all(len(side) == 1 for side in sides) or re.search("[0-9]", text):
            return on_the_grid(hole(text, said), said)
        columns, rows = said["holes"]
        column = ColumnLetters().of(columns if "right" in words else 1)
        label = f"{column}{rows if 'back' in words else 1}"
    if said["operator"] not in (None, "front") and not {"row", "column"} & words:
        raise Unclear(
            f"hole {label}, columns counted along X and rows along Y? Enter takes it", label
        )
    return on_the_grid(label, said)


def read_missing(text: str, said: Said) -> list[str]:
    """Labels of holes that are not there."""
    try:
        return labels(text, said)
    except Wanted:
        if said["holes"] and (label := hole_by_words(text, said)):
            return [label]
        raise
