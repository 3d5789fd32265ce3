"""Sections of a program: motions in a row with one tool under one work offset, with their boxes."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from pincorner.program.motions import Motions
from pincorner.program.path.boxes import Boxes, Rapids, boxes_of, in_blocks


class Section(NamedTuple):
    """At least one motion. `tool` and `code` as in Motions, of all of them."""

    motions: Motions
    boxes: Boxes
    tool: int
    code: int


def sections_of(motions: Motions, rapids: Rapids) -> Iterator[Section]:
    """A piece of a program, cut where the tool or the work offset changes."""
    low, high = boxes_of(motions, rapids)
    tool, code = motions.tool, motions.code
    changes = np.flatnonzero((tool[1:] != tool[:-1]) | (code[1:] != code[:-1])) + 1
    bounds = [0, *changes.tolist(), len(tool)]
    for first, last in pairwise(bounds):
        mine = slice(first, last)
        yield Section(
            motions.rows(mine),
            in_blocks(low[:, mine], high[:, mine]),
            int(tool[first]),
            int(code[first]),
        )
