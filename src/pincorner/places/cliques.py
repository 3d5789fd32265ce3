"""Groups of which every two agree: cliques of a given size in a graph, by branch and bound."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

STEPS = 1_000_000
"""So many nodes are sorted into classes before a search is given up: about a second."""


class Answer(NamedTuple):
    """found: nodes of a clique in ascending order, empty where none was found.

    complete: whether that is certain; a search that was given up proves nothing.
    """

    found: tuple[int, ...]
    complete: bool


class GivenUp(Exception):
    """The search took more steps than allowed; never leaves this module."""


class _Search:
    """Sets of nodes are the bits of an integer: 3,000 of them are met or split in a microsecond."""

    def __init__(self, agrees: NDArray[np.bool_], steps: int) -> None:
        packed = np.packbits(agrees, axis=1, bitorder="little")
        self.near = [int.from_bytes(row.tobytes(), "little") for row in packed]
        self.left = steps

    def extend(self, nodes: int, size: int) -> tuple[int, ...] | None:
        """A clique of `size` nodes out of a set; None where there is none.

        A clique has at most one node of each class of nodes that do not agree with each other, so
        one of `size` has a node outside the first `size` - 1 classes: only those are tried.
        """
        if size == 0:
            return ()
        for node in self._beyond(nodes, size - 1):
            nodes ^= 1 << node
            more = self.extend(nodes & self.near[node], size - 1)
            if more is not None:
                return (node, *more)
        return None

    def _beyond(self, nodes: int, classes: int) -> list[int]:
        """The nodes left when `classes` classes of nodes that do not agree were taken out."""
        self.left -= nodes.bit_count()
        if self.left < 0:
            raise GivenUp
        for _ in range(classes):
            apart = nodes
            while apart:
                bit = apart & -apart
                nodes ^= bit
                apart &= ~self.near[bit.bit_length() - 1] & ~bit
        found = []
        while nodes:
            bit = nodes & -nodes
            found.append(bit.bit_length() - 1)
            nodes ^= bit
        return found


def find_clique(agrees: NDArray[np.bool_], size: int, steps: int = STEPS) -> Answer:
    """`size` nodes of which every two agree, in a symmetric matrix (n, n) without a diagonal."""
    rest = np.arange(len(agrees))
    while True:  # nodes that agree with too few are in no such clique
        degrees = agrees[np.ix_(rest, rest)].sum(axis=1)
        if degrees.min(initial=size - 1) >= size - 1:
            break
        rest = rest[degrees >= size - 1]
    search = _Search(agrees[np.ix_(rest, rest)], steps)
    try:
        found = search.extend((1 << len(rest)) - 1, size)
    except GivenUp:
        return Answer((), False)
    return Answer(tuple(sorted(int(rest[at]) for at in found or ())), True)
