"""JSON of `map`: what the bed's map shows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Literal, TypedDict

from pincorner.documents.beds import Bed
from pincorner.documents.fields import key_of
from pincorner.render.outputs.shapes import Report
from pincorner.render.outputs.stations import Offset, offset_entry
from pincorner.render.pages.maps import MapFacts
from pincorner.setups.setup import OffsetRow, Setup, by_station, setups_in


class HoleEntry(TypedDict):
    """A hole of the bed, and what the stations on it want of it."""

    hole: Annotated[str, "its label"]
    x_mm: Annotated[float, "its middle in bed coordinates, along X"]
    y_mm: Annotated[float, "its middle in bed coordinates, along Y"]
    state: Annotated[
        Literal["free", "used", "unusable"],
        "used: a station has a pin there or keeps it empty; unusable: missing, or under a solid",
    ]
    pins_of: Annotated[list[str], "stations that have a pin in it"]
    empty_for: Annotated[list[str], "stations at whose inside corner it stays empty"]


class PinEntry(TypedDict):
    """A pin of a station, in the order of use."""

    hole: Annotated[str, "its hole"]
    role: Annotated[str, "edge, stop, round or slot"]
    pin: Annotated[str, "its kind"]


class PlacedStation(TypedDict):
    """A station on the bed."""

    station: Annotated[str, "its name"]
    jig: Annotated[str | None, "its jig; null: bare stock"]
    outline_mm: Annotated[list[tuple[float, float]], "corners of where it lies, bed coordinates"]
    pins: Annotated[list[PinEntry], "in the order of use; empty where it cannot be located now"]
    empty: Annotated[str | None, "the hole at its inside corner, which stays empty"]
    take_out: Annotated[list[str], "holes near it with pins of other stations"]
    runs: Annotated[list[str], "runs in which it is worked"]
    sheet: Annotated[str | None, "its newest setup sheet on record"]
    sheet_void: Annotated[bool | None, "that sheet shows another setup; null: there is none"]
    nests: Annotated[list[Offset], "its nests, as the offset table has them"]
    no_block: Annotated[list[str], "why there is no setup block; empty: there is one"]


class BedMap(Report):
    """The bed, its holes and its stations, as the map shows them."""

    kind: Literal["map"]
    bed: Annotated[str, "the bed"]
    machine: Annotated[str, "its machine"]
    change: Annotated[int, "number of the newest change; 0: none yet"]
    survey: Annotated[str | None, "the survey in force; null: none, or no station on the bed"]
    surfacing: Annotated[str | None, "the newest surfacing; null: none, or no station on the bed"]
    columns: Annotated[int, "of its grid"]
    rows: Annotated[int, "of its grid"]
    holes: Annotated[list[HoleEntry], "all of them, row by row"]
    stations: Annotated[list[PlacedStation], "by name"]


def map_json(bed: Bed, rows: Sequence[OffsetRow], told: MapFacts) -> BedMap:
    """What the map of a bed with the rows of its stations shows."""
    stations = by_station(rows)
    firsts = {name: located[0] for name, mine in stations.items() if (located := setups_in(mine))}
    facts = rows[0].facts if rows else None
    return {
        "format": 1,
        "kind": "map",
        "bed": bed.name,
        "machine": bed.machine,
        "change": told.state.change if told.state else 0,
        "survey": facts.survey.name if facts and facts.survey else None,
        "surfacing": facts.surfacings[-1].name if facts and facts.surfacings else None,
        "columns": bed.grid.columns,
        "rows": bed.grid.rows,
        "holes": _holes(bed, firsts),
        "stations": [
            _station(name, mine, firsts.get(name), told) for name, mine in stations.items()
        ],
    }


def _holes(bed: Bed, firsts: Mapping[str, Setup]) -> list[HoleEntry]:
    pins: dict[str, list[str]] = {}
    empty: dict[str, list[str]] = {}
    for name, setup in firsts.items():
        for pin in setup.located.pins:
            pins.setdefault(pin.hole, []).append(name)
        if setup.located.corner_hole:
            empty.setdefault(setup.located.corner_hole, []).append(name)
    found: list[HoleEntry] = []
    for place in bed.holes():
        used = place.label in pins or place.label in empty
        found.append(
            {
                "hole": place.label,
                "x_mm": place.x_mm,
                "y_mm": place.y_mm,
                "state": "unusable" if not place.usable else "used" if used else "free",
                "pins_of": pins.get(place.label, []),
                "empty_for": empty.get(place.label, []),
            }
        )
    return found


def _station(
    name: str, rows: Sequence[OffsetRow], setup: Setup | None, told: MapFacts
) -> PlacedStation:
    key, located = key_of(name), setup.located if setup else None
    sheet = told.sheets.get(key)
    located_nests = setups_in(rows)
    reasons = [reason.told for each in located_nests for reason in each.no_block]
    refused = [row.refused for row in rows if row.refused is not None]
    return {
        "station": name,
        "jig": rows[0].facts.station.jig,
        "outline_mm": [(x, y) for x, y in setup.footprint_in_bed()] if setup else [],
        "pins": [
            {"hole": pin.hole, "role": pin.role, "pin": pin.pin.name}
            for pin in (located.pins if located else ())
        ],
        "empty": located.corner_hole if located else None,
        "take_out": list(told.take_out.get(key, ())),
        "runs": [run.name for run in told.runs if key in map(key_of, run.stations)],
        "sheet": sheet.path if sheet else None,
        "sheet_void": not sheet.shows(located_nests) if sheet else None,
        "nests": [offset_entry(row) for row in rows],
        "no_block": list(dict.fromkeys([*refused, *reasons])),
    }
