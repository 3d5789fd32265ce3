"""Sets of nodes of which every two agree: one of a size, or the one that weighs most.

A search may be given up, so an answer says whether it is certain.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pincorner.geometry.clearances import Array, Indices

STEPS = 1_000_000
"""So many nodes are sorted into classes before a search is given up: about a second."""

_OF_A_QUESTION = 200
"""So many steps count for asking whether some nodes will do together."""

SAME = 1e-6
"""Weights that differ less are the same: rounding of sums."""

Flags = NDArray[np.bool_]
Will = Callable[[Sequence[int]], bool]
"""Whether some nodes, of which every two agree, will do together."""


class Answer(NamedTuple):
    """found: nodes of a clique in ascending order, empty where none was found.

    complete: whether that is certain; a search that was given up proves nothing.
    """

    found: tuple[int, ...]
    complete: bool


class GivenUp(Exception):
    """The search took more steps than allowed; never leaves this module."""


def any_will(_nodes: Sequence[int]) -> bool:
    """Nodes that agree two by two will do together."""
    return True


class _Search:
    """Sets of nodes are the bits of an integer: 3,000 of them are met or split in a microsecond."""

    def __init__(self, agrees: Flags, steps: int, may: Will, will: Will) -> None:
        packed = np.packbits(agrees, axis=1, bitorder="little")
        self.near = [int.from_bytes(row.tobytes(), "little") for row in packed]
        self.left = steps
        self._may, self._will = may, will

    def extend(self, nodes: int, size: int, chosen: tuple[int, ...] = ()) -> tuple[int, ...] | None:
        """A clique of `size` nodes more out of a set; None where there is none.

        A clique has at most one node of each class of nodes that do not agree with each other, so
        one of `size` has a node outside the first `size` - 1 classes: only those are tried.
        """
        if size == 0:
            return chosen if self._asked(self._will, chosen) else None
        if len(chosen) > 2 and not self._asked(self._may, chosen):
            return None
        for node in self._beyond(nodes, size - 1):
            nodes ^= 1 << node
            more = self.extend(nodes & self.near[node], size - 1, (*chosen, node))
            if more is not None:
                return more
        return None

    def _asked(self, question: Will, chosen: tuple[int, ...]) -> bool:
        if question is not any_will:
            self.left -= _OF_A_QUESTION
            if self.left < 0:
                raise GivenUp
        return question(chosen)

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


def find_clique(
    agrees: Flags, size: int, steps: int = STEPS, may: Will = any_will, will: Will = any_will
) -> Answer:
    """`size` nodes of which every two agree, in a symmetric matrix (n, n) without a diagonal.

    `will`: what they must answer together as well. `may`: the same of some of them, quickly; where
    it says no, no more of them will do.
    """
    rest = np.arange(len(agrees))
    while True:  # nodes that agree with too few are in no such clique
        degrees = agrees[np.ix_(rest, rest)].sum(axis=1)
        if degrees.min(initial=size - 1) >= size - 1:
            break
        rest = rest[degrees >= size - 1]

    def asked(question: Will) -> Will:
        if question is any_will:
            return any_will
        return lambda nodes: question([int(rest[at]) for at in nodes])

    search = _Search(agrees[np.ix_(rest, rest)], steps, asked(may), asked(will))
    try:
        found = search.extend((1 << len(rest)) - 1, size)
    except GivenUp:
        return Answer((), False)
    return Answer(tuple(sorted(int(rest[at]) for at in found or ())), True)


class _Heaviest:
    """Goes down the sets that may still weigh more than the best (branch and bound)."""

    def __init__(self, weights: Array, agrees: Flags, may: Will, will: Will) -> None:
        self._weights, self._agrees, self._may, self._will = weights, agrees, may, will
        self._most = np.where(agrees, weights, 0.0).max(axis=1, initial=0.0)
        self.best, self.found = -np.inf, tuple[int, ...]()
        self.steps, self.first = 0, False

    def go(
        self, nodes: Indices, sums: Array, weight: float, size: int, chosen: tuple[int, ...]
    ) -> None:
        """Sets of `size` nodes more; `sums`: what each of `nodes` weighs with those chosen.

        What two further nodes weigh together is no more than half of the most of either.
        """
        if size == 0:
            if weight > self.best + SAME and self._asked(self._will, chosen):
                self.best, self.found = weight, chosen
            return
        if len(chosen) > 2 and not self._asked(self._may, chosen):
            return
        self._count(len(nodes))
        scores = sums + (size - 1) / 2 * self._most[nodes]
        order = np.argsort(-scores, kind="stable")
        nodes, sums, scores = nodes[order], sums[order], scores[order]
        for at in range(len(nodes) - size + 1):
            if weight + scores[at : at + size].sum() <= self.best + SAME:
                return
            node, behind = int(nodes[at]), nodes[at + 1 :]
            near = self._agrees[node, behind]
            left = behind[near]
            more = sums[at + 1 :][near] + self._weights[node, left]
            self.go(left, more, weight + float(sums[at]), size - 1, (*chosen, node))
            if self.first and self.found:
                return

    def _asked(self, question: Will, chosen: tuple[int, ...]) -> bool:
        self._count(_OF_A_QUESTION)
        return question(chosen)

    def _count(self, steps: int) -> None:
        self.steps -= steps
        if self.steps < 0:
            raise GivenUp


def heaviest_clique(
    weights: Array, agrees: Flags, size: int, steps: int = STEPS,
    may: Will = any_will, will: Will = any_will, at_least: float | None = None,
) -> Answer:  # fmt: skip
    """`size` nodes of which every two agree that weigh most together, two by two.

    weights: (n, n), symmetric, not negative. `may`, `will`: as for `find_clique`. `at_least`: any
    that weigh so much will do. Where it is not complete others may weigh more.
    """
    search = _Heaviest(weights, agrees, may, will)
    search.steps = steps
    if at_least is not None:
        search.best, search.first = at_least - 2 * SAME, True
    complete = True
    try:
        search.go(np.arange(len(agrees)), np.zeros(len(agrees)), 0.0, size, ())
    except GivenUp:
        complete = False
    return Answer(tuple(sorted(search.found)), complete)
