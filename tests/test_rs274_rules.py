"""Single lines by the rules of NISTIR 6556, case by case from a table worked out by hand.

The table is tests/references/rs274_rules.yaml. Both readers, the product's and the oracle, answer
the same cases.
"""

from __future__ import annotations

import re
from collections import Counter
from typing import Any

import pytest
from oracles.worked import reference
from readers import READERS, STATION, Brief, Reader, U, assert_rows, reader, same

CASES: list[dict[str, Any]] = reference("rs274_rules")["cases"]
FRAMES = {"station": STATION, "inch": STATION._replace(units="in")}
PRINTED = 0.5e-4  # half of the last digit of a printed centre
AFTER = "G90 G21 G0 X77"
"""A line after the case's own: it starts where that left the axes, unless that was the end."""

WORDS = """
    G0 G1 G2 G3 G4 G10 G17 G18 G19 G20 G21 G28 G30 G38.2 G40 G41 G42 G43 G49 G53 G54 G55 G56 G57 G58
    G59 G59.1 G59.2 G59.3 G61 G61.1 G64 G80 G81 G82 G83 G84 G85 G86 G87 G88 G89 G90 G91 G92 G92.1
    G92.2 G92.3 G93 G94 G98 G99 M0 M1 M2 M3 M4 M5 M6 M7 M8 M9 M30 M48 M49 M60
"""
"""All G codes of Table 5 and all M codes of Table 7."""
LETTERS = "DFGHIJKLMNPQRSTXYZ"
SIGNS = ("%", "/", "(", "#", "[")
LEAST = 250


def named(case: dict[str, Any]) -> set[str]:
    """The G and M words on a case's own line, as the tables write them."""
    line = re.sub(r"\([^)]*\)", "", case["line"]).upper()
    found = re.findall(r"([GM]) *0*([0-9]+(?:\.[0-9])?)", line)
    return {letter + number for letter, number in found}


@pytest.fixture(params=READERS)
def read(request: pytest.FixtureRequest) -> Reader:
    """Each of the two readers."""
    return reader(request.param)


@pytest.mark.parametrize(
    "case",
    CASES,
    ids=lambda case: f"{case['section']}: {' | '.join(case['state'][1:])} > {case['line']}",
)
def test_rules(read: Reader, case: dict[str, Any]) -> None:
    """A line moves the axes, ends the program and is remarked as the table says of its rule."""
    lines = [*case["state"], case["line"], AFTER]
    at = len(lines) - 1
    rows, remarks = read("\n".join(lines) + "\n", FRAMES[case.get("frame", "station")])
    own = [row for row in rows if row.line == at]
    ends = [[U if value is None else float(value) for value in row[1:]] for row in case["rows"]]
    kinds = [row[0] for row in case["rows"]]
    assert_rows(own, [Brief(at, kind, *end) for kind, end in zip(kinds, ends, strict=True)])
    assert {code for code, line in remarks if line == at} == set(case["remarks"])
    for column in ("tool", "lengths"):
        if column in case:
            assert {getattr(row, column) for row in own} == {case[column]}
    if "feed" in case:
        feed = U if case["feed"] is None else case["feed"]
        assert own and all(same(row.feed, feed) for row in own)
    if "centre" in case:
        assert own[0].centre is not None
        apart = [abs(a - b) for a, b in zip(own[0].centre, case["centre"], strict=True)]
        assert max(apart) <= PRINTED
    after = [row for row in rows if row.line > at]
    assert len(after) == (not case.get("ended", False))
    if after:
        lost = case.get("lost", "not-read" in case["remarks"])
        stayed = next((row.end for row in reversed(rows) if row.line <= at), (U, U, U))
        assert all(map(same, after[0].start, (U, U, U) if lost else stayed))


def test_the_table_holds_every_word() -> None:
    """Each code of Tables 5 and 7, each letter and sign is on the line of some case."""
    found = set().union(*map(named, CASES))
    assert set(WORDS.split()) - found == set()
    text = "\n".join(case["line"].upper() for case in CASES)
    assert [sign for sign in (*LETTERS, *SIGNS) if sign not in text] == []


def test_the_table_is_no_thinner() -> None:
    """There are many cases, each of its own, and each says its rule in a sentence."""
    assert len(CASES) >= LEAST
    alike = Counter((*case["state"], case["line"], case.get("frame")) for case in CASES)
    assert [lines for lines, count in alike.items() if count > 1] == []
    for case in CASES:
        assert re.fullmatch(r"([0-9A-E]+(\.[0-9]+)*|Table [0-9]+)", case["section"]), case[
            "section"
        ]
        assert (
            case["says"].endswith(".")
            and case["says"].count(".") == len(re.findall(r"\.(?=[0-9])", case["says"])) + 1
        )


def test_the_table_orders_a_line() -> None:
    """Of the order of Table 8 there is a case for at least fifteen of its steps."""
    assert sum(case["section"] == "Table 8" for case in CASES) >= 15
