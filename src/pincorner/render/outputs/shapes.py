"""What reports share, and how their types are written.

A report is a `TypedDict`: mypy holds its maker to the keys, it is printed as it is, and a class is
made in a seventh of a pydantic model's time (0.26 against 1.8 ms on a busy machine). The string
beside a type says what the key holds; the unit stands in the name, by `UNITS`. Keys are in the
order in which they are printed. A value that is not known is null; no key is ever left out, but
where a class says `total=False`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Literal, NewType, TypedDict

from pincorner.setups.findings import Finding

UNITS = {
    "_mm_per_m": "mm/m",
    "_per_hour": "1/h",
    "_ppm": "ppm",
    "_mm": "mm",
    "_deg": "degree",
    "_s": "s",
}
"""What a key's name ends in, the longest first, and the unit of all numbers in it."""


class Report(TypedDict):
    """The head of every report."""

    format: Annotated[Literal[1], "counts up when keys change their meaning"]


PlainDocument = NewType("PlainDocument", dict[str, Any])
"""A document as `load` takes it, in mm; its schema is the documents'."""


Code = Annotated[str, "for scripts: it stays when the sentence is worded otherwise"]


class FindingEntry(TypedDict):
    """Something noteworthy about a nest or a run."""

    code: Code
    text: Annotated[str, "a sentence with its figure, in the machine's unit"]
    figure_mm: Annotated[float | None, "the figure in the sentence, where it is a length"]


def finding_entries(findings: Sequence[Finding]) -> list[FindingEntry]:
    """Findings as they are printed."""
    return [
        {"code": each.code, "text": each.text, "figure_mm": each.figure_mm} for each in findings
    ]
