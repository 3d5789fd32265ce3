"""Sets of places for a jig, ranked by loading windows, as text."""

from __future__ import annotations

from typing import NamedTuple

from pincorner.characters import visible
from pincorner.places.search import PlaceProposal, Places
from pincorner.render.text.places import listed, unit_of
from pincorner.render.text.runs import CAUTIONS, told_gap, while_runs
from pincorner.render.text.tables import wrapped
from pincorner.runs.gaps import gap_figure
from pincorner.runs.situation import Terms, Turns
from pincorner.setups.setup import Setup
from pincorner.units import clock


class PlacedSet(NamedTuple):
    """Places that can be taken at once, and what it is to work them in turn.

    `names`: of the stations there. `gap_mm`: the smallest of any two jigs. `turns`: in their
    quickest order. `hourly`: parts an hour in an even round; None where a time is not known.
    """

    places: tuple[PlaceProposal, ...]
    names: tuple[str, ...]
    gap_mm: float
    turns: Turns
    hourly: float | None

    @property
    def windows_s(self) -> float:
        """How long all their windows last at least, together."""
        return sum(window.at_least_s for window in self.turns.windows)


class PlacedSets(NamedTuple):
    """Sets, best first.

    `most`: no other set has longer windows, as was shown. `left_out`: places that were not chosen
    from. `told`: what was reckoned with besides the terms.
    """

    places: Places
    sets: tuple[PlacedSet, ...]
    most: bool
    left_out: int
    terms: Terms
    not_given: tuple[str, ...]
    told: str
    around: tuple[Setup, ...]

    @property
    def shown(self) -> tuple[PlaceProposal, ...]:
        """The places of the first set."""
        return self.sets[0].places if self.sets else ()

    @property
    def names(self) -> tuple[str, ...]:
        """Of the stations there."""
        return self.sets[0].names if self.sets else ()


def sets_text(found: PlacedSets) -> str:
    """The sets for a terminal: what each comes to, then the first with its windows."""
    if not found.sets:
        return f"{visible(found.places.why_none)}\n"
    jig, bed = visible(found.places.facts.holder.name), visible(found.places.facts.bed.name)
    unit, first = unit_of(found.places), found.sets[0]
    lines = wrapped(
        f"{len(first.places)} places at once for {jig} on {bed}, by loading windows of "
        f"{told_gap(found.terms.least_gap_mm, unit)} or more ({found.told}), "
        f"{found.terms.override * 100:.6g} % feed. The drawing does not know the machine."
    )
    for number, each in enumerate(found.sets, 1):
        lines += wrapped(f"{number}  {set_told(each, found)}", "   ")
    lines += [text for why in _how_good(found) for text in wrapped(why)]
    for runs in first.turns.order:
        lines += ["", *while_runs(first.turns, runs, unit, found.terms.least_gap_mm)]
    lines.append("")
    lines += [each for text in found.not_given for each in wrapped(f"not given: {text}")]
    body = "".join(f"{line}\n" for line in lines)
    cautions = "".join(f"{each}\n" for text in CAUTIONS[1:] for each in wrapped(text, ""))
    return body + listed(found.places, first.places, first.names) + cautions


def set_told(each: PlacedSet, found: PlacedSets) -> str:
    """A set in a line: its windows, its gap, parts an hour, where its jigs lie."""
    unit = unit_of(found.places)
    where = ", ".join(
        f"{place.where} {place.located.toward or ''}".strip() for place in each.places
    )
    hourly = "" if each.hourly is None else f", {each.hourly:.1f} parts an hour in an even round"
    return (
        f"windows of {clock(each.windows_s // 1)} or longer in a round, jigs "
        f"{gap_figure(each.gap_mm, unit)} {unit} apart{hourly}: {where}"
    )


def _how_good(found: PlacedSets) -> list[str]:
    """What was shown, and what was not tried."""
    known = []
    if found.most:
        known.append("no other set has longer windows")
    else:
        known.append("not every set was tried: others may have longer windows")
    if found.left_out:
        known.append(f"{found.left_out} places were not chosen from")
    return known
