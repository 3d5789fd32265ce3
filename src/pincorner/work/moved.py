"""What becomes of stations: where they lie otherwise, what they lose. Told before it is written.

A file that is older than the registry would put a station back in silence: papers of now then say
another zero than the registry does.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from pincorner.characters import quoted
from pincorner.documents.fields import key_of
from pincorner.documents.stations import Station, ZRule, hole_of
from pincorner.documents.writing import plain_values
from pincorner.errors import Refused, UnknownName
from pincorner.geometry.outline import bounds
from pincorner.setups.facts import Facts
from pincorner.setups.transform import Zero, make_zeros
from pincorner.units import told
from pincorner.work.session import Library

_STAYS_MM = 0.0005
_STAYS_DEG = 0.00005
_NAMED = 6
"""So many stations that move are named; the others are counted."""


PLACE = ("name", "bed", "jig", "stock", "pin", "pins", "corner", "toward", "measured")
"""Keys that say where a station is; the others say what is done there."""


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
        was, now = _lying(before, old), _lying(after, new)
        zeros = list(_zeros(was, now)) if was and now else []
        clamps = _clamps_left(was.facts, now.facts) if was and now and key not in own else ""
        if clamps:
            others.append(f"station {new.name}: {clamps}")
        if places:
            asked.append(f"station {new.name}: {', '.join([*places, *zeros])}")
        elif zeros:
            others.append(
                f"station {new.name}: {', '.join(zeros)}; what was printed or stamped of it is "
                "void (pincorner status)"
            )
    return Moves(tuple(asked), tuple(others))


def _clamps_left(was: Facts, now: Facts) -> str:
    """Clamps that stay where they were though the edge that they hold has moved; else nothing."""
    before, after = (bounds(each.holder.outline) for each in (was, now))
    found = []
    for clamp in now.station.clamps:
        box = bounds(clamp.box.outline)
        for low, high, edge, edge_now in (
            (box.left, box.right, before.right, after.right),
            (box.left, box.right, before.left, after.left),
            (box.front, box.back, before.back, after.back),
            (box.front, box.back, before.front, after.front),
        ):
            if low < edge < high and abs(edge_now - edge) > _STAYS_MM:
                by = told(abs(edge_now - edge), now.machine.units, 1)
                found.append(f"clamp {clamp.name} stays where it was; the edge there moved by {by}")
                break
    if not found:
        return ""
    return f"{'; '.join(found)}: pincorner edit station {quoted(now.station.name)}"


def _places(old: Station, new: Station) -> Iterator[str]:
    """What says otherwise now where a station lies, and in which code."""
    if key_of(old.bed) != key_of(new.bed):
        yield f"bed {old.bed} becomes {new.bed}"
    if key_of(old.jig or "") != key_of(new.jig or ""):
        yield f"jig {old.jig or 'none'} becomes {new.jig or 'none'}"
    if old.stock and new.stock and old.stock_zero != new.stock_zero:
        yield "its zero on the stock becomes another"
    if old.measured != new.measured and old.measured is not None and new.measured is not None:
        yield "its measured zero becomes another"
    if old.turn != new.turn:
        yield f"turn {old.turn} becomes {new.turn}"
    if _holes(old) != _holes(new):
        yield f"pins in {_holes(old)} become {_holes(new)}"
    codes = {key_of(nest): code for nest, code in new.work_offsets.items()}
    for nest, code in old.work_offsets.items():
        now = codes.get(key_of(nest))
        if now != code:
            yield f"{_offset(nest, code)} becomes {now or 'none'}"


def _offset(nest: str, code: str) -> str:
    return f"work offset {code} of nest {nest}"


def lost(old: Station, new: Station, stated: Mapping[str, Any]) -> Iterator[str]:
    """What was on file of a station and is not any more, although nobody said so, in words.

    `stated`: the keys of its document that were, rules of `z` each for itself. Where it lies on
    another bed or with another jig, pins are others anyway.
    """
    now = plain_values(new)
    if key_of(old.bed) == key_of(new.bed) and key_of(old.jig or "") == key_of(new.jig or ""):
        left = set(map(key_of, _own_pins(new)))
        yield from (each for each in _own_pins(old) if key_of(each) not in left)
    for key in (each for each in plain_values(old) if each not in PLACE):
        if key == "work_offsets":
            codes = old.work_offsets.items()
            yield from (_offset(n, code) for n, code in codes if new.code_of(n) is None)
        elif key == "z":
            yield from _rules_lost(old.z, new.z, stated.get("z", {}))
        elif key not in now and key not in stated:
            yield from _said(old, key)


def _rules_lost(old: ZRule, new: ZRule, stated: Mapping[str, Any]) -> Iterator[str]:
    """Of how Z is zero, and set."""
    if "zero" not in stated and old.zero != new.zero:
        yield f"Z zero at {old.zero}"
    if "set" not in stated and old.set != new.set:
        yield f"Z set by {old.set}"


def _said(station: Station, key: str) -> Iterator[str]:
    """What a station says under a key, in words."""
    if key == "clamps":
        yield from (f"clamp {clamp.name}" for clamp in station.clamps)
    elif key in ("program", "access"):
        yield f"{key} {getattr(station, key)}"
    else:
        yield key.replace("_", " ")


def _own_pins(station: Station) -> Iterator[str]:
    """Pins of a station that are of another kind than its own, each with its hole."""
    for _, _, entry in station.pins_by_role:
        if key_of(station.pin_of(entry)) != key_of(station.pin):
            yield f"pin {station.pin_of(entry)} in hole {hole_of(entry)}"


def _holes(station: Station) -> str:
    """The holes of its pins by their roles, each with another pin than the station's own."""
    if station.pins is None:
        return "none" if station.measured is None else "none, as measured"
    found = []
    for _, role, entry in station.pins_by_role:
        pin = station.pin_of(entry)
        other = "" if key_of(pin) == key_of(station.pin) else f" with pin {pin}"
        found.append(f"{hole_of(entry)} ({role}{other})")
    return " ".join(found)


class _Lying(NamedTuple):
    """How a station lies: its facts, and the zeros of its nests by key."""

    facts: Facts
    zeros: Mapping[str, Zero]


def _lying(library: Library, station: Station) -> _Lying | None:
    """How a station lies; None where it cannot be located."""
    try:
        facts = library.facts(station)
        return _Lying(facts, {key_of(each.nest.name): each for each in make_zeros(facts)})
    except (Refused, UnknownName):
        return None


def _zeros(old: _Lying, new: _Lying) -> Iterator[str]:
    """Program zeros that lie elsewhere, from and to where, and how far that is."""
    unit = new.facts.machine.units
    for key, now in new.zeros.items():
        if key not in old.zeros:
            continue
        was = old.zeros[key]
        (x, y), (to_x, to_y) = (at.in_machine.origin for at in (was, now))
        far_mm = math.hypot(to_x - x, to_y - y)
        if far_mm > _STAYS_MM:
            yield (
                f"program zero of nest {now.nest.name} from X {told(x, unit)} Y {told(y, unit)} "
                f"to X {told(to_x, unit)} Y {told(to_y, unit)}, {told(far_mm, unit)} away"
            )
        turned = math.remainder(now.angle_deg - was.angle_deg, 360)
        if abs(turned) > _STAYS_DEG:
            yield f"nest {now.nest.name} turned by {turned:.4g} degrees"
