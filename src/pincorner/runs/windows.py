"""Loading windows: from when until when the drawing keeps what moves away from a loading zone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal, NamedTuple

from pincorner.geometry.outline import Box
from pincorner.program.reader.motions import NO_TOOL
from pincorner.runs.gaps import Moving, Zone, gap_to
from pincorner.runs.spans import ATTENDED, NOWHERE, Span, hull
from pincorner.units import clock

Kind = Literal["hard", "waits"]


class Sitting(NamedTuple):
    """One program, for one nest of a station or for several.

    `file`: the one that runs, named. `spans`: as the program has them. `place`: where the axis is
    behind it, `cut_place` behind its last cut, NOWHERE where that is not known. `ended`: the line
    that ends it, and its word. `why_not`: why it has no windows, whatever its spans; empty where
    nothing speaks against them.
    `cycle_s`: as measured. `touched`: the box of the stock, in the machine, that each new tool is
    touched off on; None where it is not. `called`: the station, and the nest where it has several.
    `skipped`: the same without the lines that begin with `/`, which the controller may leave out.
    """

    station: str
    called: str
    nests: tuple[str, ...]
    file: str
    spans: tuple[Span, ...]
    place: Box
    cut_place: Box
    ended: tuple[int, str]
    why_not: str = ""
    cycle_s: float | None = None
    touched: Box | None = None
    skipped: Sitting | None = None

    @property
    def tools(self) -> tuple[int, ...]:
        """The tools in the order in which they come into the spindle."""
        return tuple(span.tool for span in self.spans if span.word == "M6")

    @property
    def feed_s(self) -> float:
        """What its lengths and feeds come to, at 100 %."""
        return sum(span.feed_s for span in self.spans)

    def is_refuted(self, override: float) -> bool:
        """Whether it was measured to take less than its feeds allow, so that these are not so.

        Less than half a second is none: times are measured in whole ones.
        """
        return self.cycle_s is not None and self.cycle_s + 0.5 < self.feed_s / override

    @property
    def is_lost(self) -> bool:
        """Whether it is not known where it stands at the end."""
        skipped_lost = self.skipped is not None and self.skipped.is_lost
        return skipped_lost or any(span.lost for span in self.spans)

    @property
    def ends_at(self) -> tuple[Box, ...]:
        """Where the axis may be behind it, known places alone."""
        places = (self.place, self.place if self.skipped is None else self.skipped.place)
        return tuple(dict.fromkeys(place for place in places if place != NOWHERE))

    @property
    def attendances(self) -> tuple[tuple[str, int], ...]:
        """The words and tools at which it stops or changes, in order."""
        return tuple((span.word, span.tool) for span in self.spans if span.word)


class Visit(NamedTuple):
    """A sitting in its turn: what the spindle does from the start to the end of its program.

    `skipped`: the same without the lines that may be skipped, where there are some.
    """

    sitting: Sitting
    spans: tuple[Span, ...]
    skipped: Visit | None = None


class Window(NamedTuple):
    """While one station runs nothing that moves comes near another's loading zone.

    `sitting`: which of the station's programs; `phase`: how many times the operator has been at
    the machine before, from 0, over all of them. `from_event`, `end_event`: what can be seen, at
    these lines. `at_least_s`: at the largest feed override in use. `nearest_mm`: the smallest gap.
    `stops_at`: the word at which the program waits; empty where it ends, or a motion comes.
    """

    runs: str
    loaded: str
    sitting: int
    phase: int
    from_line: int
    from_event: str
    at_least_s: float
    end_line: int
    end_event: str
    kind: Kind
    nearest_mm: float
    stops_at: str = ""


class NoWindow(NamedTuple):
    """Why there is none. `gap_mm`: at the first cut, None where nothing was measured."""

    runs: str
    loaded: str
    why: str
    gap_mm: float | None = None
    line: int | None = None


def in_turn(
    sitting: Sitting, before: Box | None, tool: int, park: Box | None, first: bool
) -> Visit:
    """The spans of a sitting that begins with the axis there and this tool in the spindle.

    `park`: where M6 takes the spindle; None: anywhere in the travel. `first`: no tool is known
    to be in the spindle.
    """
    without = sitting.skipped
    skipped = None if without is None else in_turn(without, before, tool, park, first)
    spans = [Span("start", None, 0.0, 0.0, before)]
    stands: Box | None = before
    for span in sitting.spans:
        if span.word == "M6" and (span.tool != tool or first or span.tool == NO_TOOL):
            at = stands if span.box == NOWHERE else span.box
            box = None if park is None or at is None else hull(park, at)
            spans.append(span._replace(box=_or_none(box)))
            stands, tool, first = park, span.tool, False
            if sitting.touched is not None and stands is not None:
                stands = hull(stands, sitting.touched)
        elif span.what in ("stop", "change"):
            box = stands if span.box == NOWHERE else span.box
            spans.append(span._replace(what="stop", box=box))
            stands = box
        elif span.what == "approach":
            box = None if stands is None or span.box is None else hull(stands, span.box)
            spans.append(span._replace(box=box))
        elif span.what == "end" and span.box == NOWHERE:
            spans.append(span._replace(box=stands))
        else:
            spans.append(span if span.box != NOWHERE else span._replace(box=None))
    return Visit(sitting, tuple(spans), skipped)


def _or_none(box: Box | None) -> Box | None:
    return None if box is None or box == NOWHERE else box


def attends(span: Span) -> bool:
    """Whether a span holds the program until the operator goes on."""
    return span.what in ("start", "change") or (span.what == "stop" and span.word in ATTENDED[:2])


class _Open(NamedTuple):
    """A window that has begun."""

    phase: int
    line: int
    event: str
    seconds: float
    nearest_mm: float


class _Search:
    """Goes through a visit's spans for the windows of one loading zone.

    `counted_from`: by phase the line from which a window's seconds count; none behind one that
    closes before it.
    """

    def __init__(self, sought: _Sought, visit: Visit, counted_from: Mapping[int, int]) -> None:
        self._sought, self._visit, self._counted_from = sought, visit, counted_from
        self._phase = sought.phase
        self._open: _Open | None = None
        self._may_begin = self._is_lost = False
        self.windows: list[Window] = []
        self.blocked: list[NoWindow] = []

    def go(self) -> None:
        """All spans, in order."""
        for span in self._visit.spans:
            if span.lost:
                self._is_lost = True
            if attends(span):
                if span.what != "start":
                    self._wait(span)
                self._may_begin = not self._is_lost
            elif self._open is not None:
                self._go_on(span)
            elif span.what == "cutting" and self._may_begin:
                self._begin(span)
        line, word = self._visit.sitting.ended
        self._close(line, f"the program ends at {word}" if word else "the program ends", "waits")

    def _gap(self, span: Span) -> float:
        return gap_to(self._sought.moving, self._sought.zone, span.box)

    def _begin(self, span: Span) -> None:
        """The first cut since the operator was at the machine: it can be seen, the tool goes into
        the stock (`entering.py`), and from there seconds and gaps count."""
        self._may_begin = False
        gap, line = self._gap(span), _first_line(span)
        sitting = self._visit.sitting
        tool = "the cutter" if span.tool == NO_TOOL else f"T{span.tool}"
        if not span.lost and gap >= self._sought.least_mm:
            event = f"{tool} is down in {sitting.called}"
            self._open = _Open(self._phase, line, event, self._seconds(span), gap)
        else:
            self.blocked.append(NoWindow(sitting.station, self._sought.zone.station, "", gap, line))

    def _go_on(self, span: Span) -> None:
        assert self._open is not None
        gap = self._gap(span)
        if span.lost:
            self._close(_first_line(span), "it goes where it is not followed", "hard")
        elif gap < self._sought.least_mm:
            event = "it goes away at its end" if span.what == "end" else "it comes nearer"
            self._close(_first_line(span), event, "hard")
        else:
            seconds = self._open.seconds + self._seconds(span)
            nearest = min(self._open.nearest_mm, gap)
            self._open = self._open._replace(seconds=seconds, nearest_mm=nearest)

    def _seconds(self, span: Span) -> float:
        """What a span adds to the window that is open."""
        counts = _first_line(span) >= self._counted_from.get(self._phase, 0)
        return span.feed_s / self._sought.override if counts else 0.0

    def _wait(self, span: Span) -> None:
        """A stop at which the operator comes: with the gap kept on the way there, or not."""
        line = _first_line(span)
        if span.what == "change":
            tool = "M6" if span.tool == NO_TOOL else f"T{span.tool}"
            event = f"{tool} goes to the change place"
        else:
            event = f"{span.word} holds the program"
        kept = self._open is not None and not span.lost and self._gap(span) >= self._sought.least_mm
        if kept and self._open is not None:
            nearest = min(self._open.nearest_mm, self._gap(span))
            self._open = self._open._replace(nearest_mm=nearest)
        self._close(line, event, "waits" if kept else "hard", span.word if kept else "")
        self._phase += 1

    def _close(self, line: int, event: str, kind: Kind, word: str = "") -> None:
        begun, self._open = self._open, None
        if begun is None or begun.seconds <= 0:
            return
        sought = self._sought
        self.windows.append(
            Window(
                self._visit.sitting.station, sought.zone.station, sought.number, begun.phase,
                begun.line, begun.event, begun.seconds, line, event, kind, begun.nearest_mm, word,
            )
        )  # fmt: skip


def _first_line(span: Span) -> int:
    return 1 if span.lines is None else span.lines[0]


def find_windows(
    visits: Sequence[Visit], moving: Moving, zone: Zone, least_mm: float, override: float
) -> tuple[list[Window], NoWindow | None]:
    """The windows of one loading zone while a station's programs run, or why there is none."""
    windows: list[Window] = []
    blocked: list[NoWindow] = []
    why_not, phase = "", 0
    for number, visit in enumerate(visits):
        if why := _why_not(visit.sitting, override):
            why_not = why_not or why
        else:
            sought = _Sought(number, phase, moving, zone, least_mm, override)
            found, without = sought.windows(visit)
            windows += found
            blocked += without
        phase += sum(attends(span) for span in visit.spans)
    if windows:
        return windows, None
    station = visits[0].sitting.station
    if why_not:
        return [], NoWindow(station, zone.station, why_not)
    if blocked:
        return [], min(blocked, key=lambda each: -(each.gap_mm or 0.0))
    why = "it has no cut of which a feed is known"
    if not any(span.what == "cutting" for visit in visits for span in visit.spans):
        why = "no cut goes into the stock (a tool without a diameter cuts on its axis alone)"
    return [], NoWindow(station, zone.station, why)


def _why_not(sitting: Sitting, override: float) -> str:
    """Why a sitting has no windows, whatever its spans; empty where nothing speaks against them."""
    if sitting.why_not or sitting.cycle_s is None or not sitting.is_refuted(override):
        return sitting.why_not
    helps = "say the largest feed override in use"
    if sitting.skipped is not None:
        helps += ", or measure it with its lines behind / run"
    return (
        f"{sitting.file} takes {clock(sitting.cycle_s)} as measured, less than its lengths and "
        f"feeds come to, {clock(sitting.feed_s / override)}: {helps}"
    )


class _Sought(NamedTuple):
    """Windows of one loading zone that are looked for in the visit of a number; `phase`: how often
    the operator was at the machine before it."""

    number: int
    phase: int
    moving: Moving
    zone: Zone
    least_mm: float
    override: float

    def windows(self, visit: Visit) -> tuple[list[Window], list[NoWindow]]:
        """Those that there are, and first cuts that open none.

        Where lines may be skipped, what holds either way: the lesser window of each attendance. It
        begins at the later of the two first cuts, so that the seconds of both count from there.
        """
        found, blocked = self._through(visit, {})
        if visit.skipped is None:
            return found, blocked
        without, more = self._through(visit.skipped, {})
        begun = {each.phase: each.from_line for each in found}
        later = {each.phase: max(each.from_line, begun.get(each.phase, 0)) for each in without}
        others = {each.phase: each for each in self._through(visit.skipped, later)[0]}
        run, _ = self._through(visit, later)
        both = [_lesser(each, others[each.phase]) for each in run if each.phase in others]
        return both, [*more, *blocked]

    def _through(
        self, visit: Visit, counted_from: Mapping[int, int]
    ) -> tuple[list[Window], list[NoWindow]]:
        search = _Search(self, visit, counted_from)
        search.go()
        return search.windows, search.blocked


def _lesser(one: Window, other: Window) -> Window:
    """It begins with the later of two first cuts and ends at the earlier line, or hard."""
    first = min((one, other), key=lambda each: (each.end_line, each.kind == "waits"))
    begun = max((one, other), key=lambda each: each.from_line)
    return first._replace(
        from_line=begun.from_line,
        from_event=begun.from_event,
        at_least_s=min(one.at_least_s, other.at_least_s),
        nearest_mm=min(one.nearest_mm, other.nearest_mm),
        kind="hard" if "hard" in (one.kind, other.kind) else "waits",
        stops_at=first.stops_at if one.kind == other.kind else "",
    )


def merged(visit: Visit, moving: Moving | None, zones: Sequence[Zone], least_mm: float) -> Visit:
    """A visit with spans in a row taken together, where that changes no gap and no window."""
    spans: list[Span] = []
    gaps: list[list[float]] = []
    for span in visit.spans:
        mine = [] if moving is None else [gap_to(moving, zone, span.box) for zone in zones]
        if spans and _alike(spans[-1], span):
            box = hull(spans[-1].box or NOWHERE, span.box or NOWHERE)
            both = [] if moving is None else [gap_to(moving, zone, box) for zone in zones]
            before = gaps[-1]
            same = all(
                whole >= min(one, other) - 1e-6 and (one >= least_mm) == (other >= least_mm)
                for whole, one, other in zip(both, before, mine, strict=True)
            )
            if same:
                spans[-1], gaps[-1] = _joined(spans[-1], span, box), both
                continue
        spans.append(span)
        gaps.append(mine)
    return visit._replace(spans=tuple(spans))


def _alike(first: Span, second: Span) -> bool:
    """Whether two spans may be one: cuts, or ways at the end, of one tool, that are followed."""
    followed = not first.lost and not second.lost and first.box is not None
    joins = first.what == second.what and first.what in ("cutting", "end")
    return joins and followed and second.box is not None and first.tool == second.tool


def _joined(first: Span, second: Span, box: Box) -> Span:
    return first._replace(
        lines=(_first_line(first), second.lines[1] if second.lines else _first_line(first)),
        feed_s=first.feed_s + second.feed_s,
        rapid_mm=first.rapid_mm + second.rapid_mm,
        box=box,
    )
