"""Where stations lie by a load, against where they lay: told before it is written.

A file that is older than the registry would put a station back in silence: papers of now then say
another zero than the registry does.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from pincorner.documents.fields import key_of
from pincorner.documents.stations import Station, hole_of
from pincorner.errors import Refused, UnknownName
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups
from pincorner.units import told
from pincorner.work.session import Library

_STAYS_MM = 0.0005
_STAYS_DEG = 0.00005
_NAMED = 6
"""So many stations that move are named; the others are counted."""


class Moves(NamedTuple):
    """What a load moves, in sentences.

    `asked`: stations whose own documents put them elsewhere, which the person is asked about.
    `carried`: stations that move with what they lie on: a jig, a bed, a kind of pin.
    """

    asked: tuple[str, ...] = ()
    carried: tuple[str, ...] = ()

    @property
    def doubt(self) -> str | None:
        """What is asked before anything is written; None where nothing is to be asked."""
        return "; ".join(self.asked) or None

    @property
    def sentences(self) -> tuple[str, ...]:
        """All of it, the first few by name."""
        rest = len(self.carried) - _NAMED
        more = (f"{rest} more stations move as well: pincorner status names them",)
        return (*self.asked, *self.carried[:_NAMED], *(more if rest > 0 else ()))


def moves(before: Library, after: Library, keys: Iterable[str], own: Iterable[str]) -> Moves:
    """What becomes of the stations of those keys; `own`: those whose own documents change."""
    asked, others, own = [], [], set(own)
    for key in keys:
        old, new = before.find(Station, key), after.find(Station, key)
        if old is None or new is None:
            continue
        places = list(_places(old, new)) if key in own else []
        zeros = list(_zeros(_setups(before, old), _setups(after, new)))
        if places:
            asked.append(f"station {new.name}: {', '.join([*places, *zeros])}")
        elif zeros:
            others.append(
                f"station {new.name}: {', '.join(zeros)}; what was printed or stamped of it is "
                "void (pincorner status)"
            )
    return Moves(tuple(asked), tuple(others))


def _places(old: Station, new: Station) -> Iterator[str]:
    """What says otherwise now where a station lies, and in which code."""
    if key_of(old.bed) != key_of(new.bed):
        yield f"bed {old.bed} becomes {new.bed}"
    if key_of(old.jig or "") != key_of(new.jig or ""):
        yield f"jig {old.jig or 'none'} becomes {new.jig or 'none'}"
    if old.turn != new.turn:
        yield f"turn {old.turn} becomes {new.turn}"
    if _holes(old) != _holes(new):
        yield f"pins in {_holes(old)} become {_holes(new)}"
    codes = {key_of(nest): code for nest, code in new.work_offsets.items()}
    for nest, code in old.work_offsets.items():
        now = codes.get(key_of(nest))
        if now != code:
            yield f"work offset {code} of nest {nest} becomes {now or 'none'}"


def _holes(station: Station) -> str:
    """The holes of its pins by their roles, each with another pin than the station's own."""
    if station.pins is None:
        return "none"
    found = []
    for _, role, entry in station.pins.by_role():
        pin = station.pin_of(entry)
        other = "" if key_of(pin) == key_of(station.pin) else f" with pin {pin}"
        found.append(f"{hole_of(entry)} ({role}{other})")
    return " ".join(found)


def _setups(library: Library, station: Station) -> dict[str, Setup]:
    """A station's setups by nest; none where it cannot be located."""
    try:
        return {key_of(each.nest.name): each for each in make_setups(library.facts(station))}
    except (Refused, UnknownName):
        return {}


def _zeros(old: dict[str, Setup], new: dict[str, Setup]) -> Iterator[str]:
    """Program zeros that lie elsewhere, from and to where, and how far that is."""
    for key, now in new.items():
        if key not in old:
            continue
        (x, y), (to_x, to_y) = (
            (s.zero_in_machine.x_mm, s.zero_in_machine.y_mm) for s in (old[key], now)
        )
        unit, far_mm = now.facts.machine.units, math.hypot(to_x - x, to_y - y)
        if far_mm > _STAYS_MM:
            yield (
                f"program zero of nest {now.nest.name} from X {told(x, unit)} Y {told(y, unit)} "
                f"to X {told(to_x, unit)} Y {told(to_y, unit)}, {told(far_mm, unit)} away"
            )
        turned = math.remainder(now.angle_deg - old[key].angle_deg, 360)
        if abs(turned) > _STAYS_DEG:
            yield f"nest {now.nest.name} turned by {turned:.4g} degrees"
