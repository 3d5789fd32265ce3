"""The quickest run of small cases with whole seconds, by going through every second of every way.

Written from the rules alone: an operator, a spindle, loads in windows or while the spindle stands.
Nothing is taken for granted about which decisions are worth a look.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache

from pincorner.runs.timeline import Work


def least_seconds(works: Sequence[Work], visits: int, leave_s: int) -> float:
    """From the first load to the end of the last visit; all times of `works` whole seconds."""
    count = len(works)

    def has_visit(station: int, behind: int) -> bool:
        return any(visit % count == station for visit in range(behind, visits))

    @cache
    def standing(visit: int, mask: int, busy: int, what: int) -> float:
        """The spindle stands; the operator is busy loading `what` for so long."""
        if visit == visits:
            return 0.0
        if busy:
            done = mask | 1 << what if busy == 1 else mask
            return 1 + standing(visit, done, busy - 1, what)
        found, station = math.inf, visit % count
        if mask >> station & 1:
            found = running(visit, 0, 0, mask & ~(1 << station), 0, 0)
        for each in range(count):
            if not mask >> each & 1 and has_visit(each, visit):
                found = min(found, standing(visit, mask, int(works[each].load_s), each))
        return found

    @cache
    def running(visit: int, number: int, tau: int, mask: int, busy: int, what: int) -> float:
        """`tau` seconds into a phase, spent by the spindle."""
        station = visit % count
        phase = works[station].phases[number]
        first_cut = int(phase.attended_s + phase.approach_s)
        ends = first_cut + int(phase.cut_s)
        loading = mask | 1 << what if busy == 1 else mask
        if tau == ends:
            if number + 1 == len(works[station].phases):
                return standing(visit + 1, mask, busy, what)
            if not busy:
                return running(visit, number + 1, 0, mask, 0, 0)
            return 1 + running(visit, number, tau, loading, busy - 1, what)
        found = 1 + running(visit, number, tau + 1, loading, max(busy - 1, 0), what)
        if busy or tau < first_cut:
            return found
        for name, opening in phase.openings.items():
            each = next(at for at, work in enumerate(works) if work.name == name)
            if each == station or mask >> each & 1 or not has_visit(each, visit + 1):
                continue
            now, load = tau - first_cut, int(works[each].load_s)
            if opening.waits:
                may = now < opening.at_least_s
            else:
                may = now + load + leave_s <= opening.at_least_s
            if may:
                found = min(found, running(visit, number, tau, mask, load, each))
        return found

    return standing(0, 0, 0, 0)
