"""From answers to documents: commented files, read as `load` would read them, and their setups."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any, NamedTuple

from pincorner.documents.alone import DocumentsAlone
from pincorner.documents.beds import Bed
from pincorner.documents.described import example_values
from pincorner.documents.fields import WholeDocument
from pincorner.documents.machines import Dialect, Machine
from pincorner.documents.reading import read_texts
from pincorner.documents.stations import Station, hole_of
from pincorner.errors import DocumentErrors, Refused
from pincorner.render.blocks.block import word_lines
from pincorner.render.text.commented import commented
from pincorner.render.text.picture import picture
from pincorner.runs.codes import codes_left
from pincorner.setups.choice import Choice, choose_pins
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups
from pincorner.units import Unit, in_unit
from pincorner.work.first.asked.bed import (
    a1_place,
    angle_of,
    as_read_note,
    first_hole,
    grid_mm,
    pitch_of,
    reference_note,
    stays_mm,
    stays_note,
    thickness_of,
)
from pincorner.work.first.asked.clamped import clamps_of_jig, clamps_of_station
from pincorner.work.first.asked.fixed import Fixed
from pincorner.work.first.asked.machine import DIALECTS, SHORT_OF_DIALECT, TABLE_MOVES, turns
from pincorner.work.first.asked.nests import Place, places_of
from pincorner.work.first.asked.piece import is_off_the_corner, turn_of, under_mm, zero_in_jig
from pincorner.work.first.asked.place import USUAL_NAMES, name_said
from pincorner.work.first.asked.question import Question
from pincorner.work.first.asked.typed import Amount, Laid, Said
from pincorner.work.first.questions import QUESTIONS
from pincorner.work.loading import documents_of
from pincorner.work.session import Library

Values = dict[str, Any]
_NAMED = ("jig", "station")


def _pair(found: Sequence[Amount]) -> list[Any]:
    return [_plain(each) for each in found]


def _plain(found: Amount) -> Any:
    """A length as it stands in a document: a bare number stays one."""
    try:
        return float(found.written)
    except ValueError:
        return found.written


def _negated(found: Amount) -> Any:
    """The same length the other way."""
    if not found.mm:
        return 0
    plain = _plain(found)
    if isinstance(plain, float):
        return -plain
    return plain[1:] if plain.startswith("-") else f"-{plain}"


def _with(values: Values, said: Said, **keys: str) -> Values:
    """Values with the answers that there are, by the keys of a document."""
    for key, answer in keys.items():
        found = said[answer]
        if isinstance(found, Amount):
            values[key] = _plain(found)
        elif isinstance(found, list) and found and isinstance(found[0], Amount):
            values[key] = _pair(found)
        elif found not in (None, []):
            values[key] = found
    return values


_NAMES = {key: question for question in QUESTIONS if (key := question.key) in _NAMED}


def name_of(key: str, said: Said) -> str:
    """What something is called: as it was said, or as it is until then."""
    if key in USUAL_NAMES:
        return name_said(key, said)
    return str(said[key] or _NAMES[key].default(said))


def _machine(said: Said) -> Values:
    values: Values = {"name": name_of("machine", said), "dialect": _dialect_name(said)}
    values |= {"units": said["controller_units"] or said.unit}
    if said["homes"] == "no":
        values["homes"] = False
    values = _with(values, said, operator="operator", nose="nose", repeatability="repeatability")
    travel = {axis: said[f"travel_{axis}"] for axis in "xyz"}
    if any(travel.values()):
        values["travel"] = {axis: _pair(span) for axis, span in travel.items() if span}
    moves = said["moves"]
    if moves == "bed" or moves in TABLE_MOVES:
        values["bed_moves"] = True
        if moves in TABLE_MOVES:
            values["beam"] = TABLE_MOVES[moves][1]
    elif moves is not None:
        values["beam"] = {"beam-x": "x", "beam-y": "y", "arm": "none"}[moves]
    if said["carriage"] and "bed_moves" not in values:
        sides = ("left", "right", "front", "back")
        values["carriage"] = dict(zip(sides, _pair(said["carriage"]), strict=True))
    return values


def _bed(said: Said) -> Values:
    columns, rows = said["holes"]
    grid: Values = {"columns": columns, "rows": rows, "pitch": _pair(pitch_of(said))}
    grid = _with(grid, said, hole="hole", hole_position="hole_position")
    grid.setdefault("hole", f"{min(each.mm for each in said['pitch']) / 5:.4f} mm")  # not yet said
    values: Values = {
        "name": name_of("bed", said),
        "machine": name_of("machine", said),
        "grid": grid,
    }
    values["pose"] = _pose(said)
    if said["size"]:
        values["outline"] = _outline(said)
    if thick := thickness_of(said):
        values["thickness"] = _plain(thick)
        if stays_mm(said):
            values["thickness"] = round(in_unit(thick.mm + stays_mm(said), said.unit), 6)
    values = _with(values, said, missing="missing", spoil="spoil")
    if said["fixed"]:
        values["solids"] = list(map(_solid, said["fixed"]))
    told = (reference_note(said), stays_note(said), as_read_note(said))
    if notes := list(filter(None, told)):
        values["note"] = "; ".join(notes)
    return values


def _solid(each: Fixed) -> Values:
    low, high = zip(each.x, each.y, strict=True)
    return {"name": each.name, "from": _pair(low), "to": _pair(high), "top": _plain(each.top)}


def _pose(said: Said) -> Values:
    """Where A1 is and how row 1 lies turned: as it was read off, or reckoned from another hole by
    the angle as it is written, so that this hole comes out where it was read."""
    first, read = first_hole(said)
    angle = round(angle_of(said), 4)
    if first == "A1":
        values: Values = dict(zip("xy", _pair(read), strict=True)) if read else {"x": 0, "y": 0}
    else:
        at = a1_place(said, angle) or (0.0, 0.0)
        values = {
            axis: round(in_unit(each, said.unit), 4) for axis, each in zip("xy", at, strict=True)
        }
    if angle:
        values["angle"] = angle
    return values


def _outline(said: Said) -> Values:
    """The bed's edges from A1, in the shop's unit: with the grid in the middle until it is said."""
    edge = said["edge"]
    if edge is None:
        spare = zip(said["size"][:2], grid_mm(said), strict=True)
        left = [(size.mm - far) / 2 for size, far in spare]
    else:
        left = [each.mm for each in edge]
    ends = [size.mm - at for size, at in zip(said["size"][:2], left, strict=True)]
    written = [[round(in_unit(at, said.unit), 6) for at in each] for each in (left, ends)]
    return {"from": [-at if at else 0 for at in written[0]], "to": written[1]}


def _pin(said: Said) -> Values:
    values: Values = {"name": name_of("pin", said)}
    return _with(values, said, shank="shank", body="body", height="pin_height", in_hole="in_hole")


def _jig(said: Said) -> Values:
    values = _with({"name": name_of("jig", said)}, said, seat="seat", height="height")
    values["footprint"] = _pair(said["footprint"])
    if boxes := clamps_of_jig(said):
        values["solids"] = [_in_unit(box, said.unit) for box in boxes]
    values["nests"] = [_nest(name, at, said) for name, at in places_of(said).items()]
    return values


def _nest(name: str, at: Place, said: Said) -> Values:
    """One of the pieces in the jig, all of which have stock, zero and run-off of the first."""
    nest: Values = {"name": name, "zero": _pair(zero_in_jig(at, said))}
    nest["stock"] = _with({}, said, size="stock")
    if any(each.mm for each in said["zero"]):
        nest["stock"]["from"] = [_negated(each) for each in said["zero"]]
    return _with(nest, said, run_off="run_off")


def codes_behind(said: Said, dialects: Sequence[WholeDocument]) -> list[str]:
    """The work offsets for the pieces behind the first one, as far as the controller has them."""
    first, many = said["work_offset"], len(places_of(said)) - 1
    dialect = DocumentsAlone(dialects).find(Dialect, _dialect_name(said))
    if dialect is None or first is None:
        return []
    return codes_left(dialect, said["homes"] != "no", {first}, {first})[:many]


def _dialect_name(said: Said) -> str:
    return said["controller"] or "keyed"


def _station(said: Said) -> Values:
    values: Values = {"name": name_of("station", said), "bed": name_of("bed", said)}
    if said["holder"] == "jig":
        values["jig"] = name_of("jig", said)
    else:
        off = {"stock_zero": "zero"} if is_off_the_corner(said) else {}
        values = _with(values, said, stock="stock", **off)
    if under_mm(said):
        values = _with(values, said, under="under")
    values |= {"pin": name_of("pin", said), "corner": said["corner"], "toward": said["toward"]}
    if pins := said["pins"]:
        values["pins"] = {"edge": [*map(hole_of, pins.edge)], "stop": hole_of(pins.stop)}
    if turn := turn_of(said):
        values["turn"] = turn
        if said["posted"] == "yes":
            values["program_angle"] = turn
    if boxes := clamps_of_station(said):
        values["clamps"] = [_in_unit(box, said.unit) for box in boxes]
    if said["work_offset"]:
        codes = (said["work_offset"], *said.codes(said))
        values["work_offsets"] = dict(zip(places_of(said), codes, strict=False))
    if said["z_zero"]:
        values["z"] = {"zero": said["z_zero"]}
    return _with(values, said, max_skew="max_skew")


def _in_unit(box: Values, unit: Unit) -> Values:
    """A clamp's lengths in the shop's unit."""
    ends = {key: [round(in_unit(at, unit), 6) for at in box[key]] for key in ("from", "to")}
    return {"name": box["name"], **ends, "top": round(in_unit(box["top"], unit), 6)}


_NEEDS = {
    "machine": ("homes",),
    "bed": ("homes", "pitch", "holes"),
    "pin": ("shank", "body", "pin_height"),
    "jig": ("footprint", "seat", "height", "stock", "lies", "zero"),
    "station": ("homes", "holes", "hole", "pin_height", "holder", "stock", "corner", "toward"),
}
"""The answers without which a document is not drafted."""

_MAKES = {"machine": _machine, "bed": _bed, "pin": _pin, "jig": _jig, "station": _station}

_ABOUT = {
    "machine": "The machine, as it was answered in `pincorner start`.",
    "bed": "The bed with its holes, as it was answered in `pincorner start`.",
    "pin": "The pins, as they were answered in `pincorner start`.",
    "jig": "The first jig, as it was answered in `pincorner start`.",
    "station": "The first station, as it was answered in `pincorner start`.",
}


def texts_of(said: Said) -> dict[str, str]:
    """The documents that the answers make so far: by the word of their kind, a file each."""
    found = {}
    for word, needs in _NEEDS.items():
        if all(said[key] is not None for key in needs):
            found[word] = _text(word, said.unit, json.dumps(_MAKES[word](said)))
    return found


@lru_cache(maxsize=64)
def _text(word: str, unit: Unit, values: str) -> str:
    """A document's text: most answers change one document of five, and each draws a picture."""
    examples = example_values(word, unit)
    return commented(word, json.loads(values), unit, examples, _ABOUT[word])


class Draft(NamedTuple):
    """What the answers come to so far: the bed, if there is one; the first station's setups, one
    for each piece, and how its pins were chosen."""

    machine: Machine | None
    bed: Bed | None
    setups: Sequence[Setup]
    choice: Choice | None

    @property
    def setup(self) -> Setup | None:
        """The first of them, if there is one."""
        return next(iter(self.setups), None)

    @property
    def picture(self) -> str:
        """The bed in characters; nothing where there is none yet. The station, whose name is asked
        for last, has none on it."""
        if self.bed is None:
            return ""
        return picture(self.bed, self.machine, self.setups, named=False)


NOTHING_YET = Draft(None, None, (), None)


def draft(said: Said, dialects: Sequence[WholeDocument]) -> Draft:
    """The documents of the answers, read and located. Raises DocumentErrors, Refused."""
    texts = texts_of(said)
    files = read_texts((f"{word}.yaml", text) for word, text in texts.items())
    documents, chosen = documents_of(files, DocumentsAlone(dialects))
    view = DocumentsAlone([*dialects, *documents])
    machines, beds, stations = view.all(Machine), view.all(Bed), view.all(Station)
    setups: Sequence[Setup] = ()
    if stations:
        facts = Library(view).facts(stations[0])
        if stations[0].pins is None:
            choose_pins(facts)  # it was refused, and says why
        setups = make_setups(facts)
    return Draft(
        machines[0] if machines else None,
        beds[0] if beds else None,
        setups,
        next((choice for _, choice in chosen), None),
    )


def laid(found: Draft, said: Said) -> Laid:
    """How the first station lies; not askew where it is turned by quarters that nothing writes."""
    if found.setup is None or (turn_of(said) and said["posted"] != "yes" and not turns(said)):
        return Laid(0.0, found.choice)
    return Laid(found.setup.skew_mm, found.choice, found.setup.reach_mm)


def filled(said: Said, given: Mapping[str, str] | None = None, *, openly: bool = True) -> Said:
    """The answers with those that are given, and to what is not yet said the default, or one that
    would do; `openly`: what may be left open is, else it is answered as in its example."""
    said = replace(said, laid=Said.laid)  # that would take a draft
    for question in QUESTIONS:
        if question.key in said.values or not question.asked(said):
            continue
        if (text := (given or {}).get(question.key)) is not None:
            try:
                said = said.with_answer(question.key, text, question.answer(text, said).value)
                continue
            except ValueError:  # it is asked about, as if it were not given
                pass
        if question.waits(said):
            continue
        is_open = openly and question.optional
        text = None if question.optional and not openly else question.default(said)
        text = text or question.example(said)
        said = said.with_answer(
            question.key, text, None if is_open else _read(question, text, said)
        )
    return said


def _read(question: Question, text: str, said: Said) -> Any:
    """What is read from an answer that would do, or else from another one; None from neither."""
    for each in (text, question.sample):
        try:
            return question.read(each, said).value
        except ValueError:
            continue
    return None


def left_to_ask(extent: str, given: Mapping[str, str]) -> tuple[int, int]:
    """How many questions a way of asking leaves, with these answers: where what may be left open
    is, and where all is answered."""
    begun = Said().with_answer("extent", extent, extent)
    least, most = (filled(begun, given, openly=openly).texts for openly in (True, False))
    return _unlike(least, given), _unlike(most, given)


def _unlike(texts: Mapping[str, str], given: Mapping[str, str]) -> int:
    """To how many questions the answers are not those that are given; the way is one of them."""
    return sum(text != given.get(key) for key, text in texts.items() if key != "extent")


class SampleBlock(NamedTuple):
    """A shipped dialect: its name, what tells it apart, and the lines that its block would hold."""

    dialect: str
    tells: str
    lines: tuple[str, ...]


def sample_blocks(said: Said, dialects: Sequence[WholeDocument]) -> list[SampleBlock]:
    """What each shipped dialect's block looks like, for a station that would do."""
    whole, found = filled(said), []
    for name in DIALECTS:
        is_sum = said["homes"] == "no" or name == "rs274"  # counted from the G54 of the day
        homes = "no" if is_sum else "yes"
        as_if = whole.with_answer("homes", homes, homes).with_answer("controller", name, name)
        try:
            setup = draft(as_if, dialects).setup
        except (DocumentErrors, Refused):
            setup = None
        if setup is not None:
            found.append(SampleBlock(name, SHORT_OF_DIALECT[name], _lines_of(setup)))
    return found


def _lines_of(setup: Setup) -> tuple[str, ...]:
    """The lines of a block that write the offset or turn the axes; of what is keyed in, that."""
    code = setup.work_offset or ""
    keyed = [word for word in setup.printed.words if word.by_hand]
    if keyed:
        plus = " =" if any(each.counts_from for each in keyed) else ""
        return (f"{code}: " + ", ".join(f"{each.axis}{plus} {each.word}" for each in keyed),)
    return tuple(line for line in word_lines([setup]) if _TELLING & set(line.split()))


_TELLING = {"G10", "G68"}
