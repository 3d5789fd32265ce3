"""Selections of a work offset in the text of a line, and putting another in their place."""

from __future__ import annotations

import re

from pincorner.program.lines import without_comments

_SELECTION = re.compile(
    r"G[ \t]*0*[ \t]*5[ \t]*(?P<digit>[4-9])(?P<rest>[ \t]*\.(?:[ \t]*\d)*)?(?![ \t]*\d)",
    re.IGNORECASE,
)
_P_WORD = re.compile(r"[ \t]*P(?P<number>(?:[ \t]*\d)+)", re.IGNORECASE)


def selected_code(line: str) -> str | None:
    """The work offset that a line selects, as documents write it; None where it selects none."""
    found = _find(without_comments(line))
    return None if found is None else found[1]


def with_code(line: str, code: str) -> str:
    """The line with its selection replaced by another; everything else stays as it is."""
    plain = without_comments(line)
    found = _find(plain)
    if found is None:
        return line
    spans = [(found[0].span(), code)]
    if found[1].startswith("G54.1"):
        p_word = _P_WORD.search(plain)
        assert p_word is not None
        spans.append((p_word.span(), ""))
    for (start, end), text in sorted(spans, reverse=True):
        line = line[:start] + text + line[end:]
    return line


def _find(plain: str) -> tuple[re.Match[str], str] | None:
    for match in _SELECTION.finditer(plain):
        tenth = "".join((match["rest"] or "").split()).rstrip("0").rstrip(".")
        code = f"G5{match['digit']}{tenth}"
        if code == "G54.1":
            p_word = _P_WORD.search(plain)
            if p_word is not None:
                number = int("".join(p_word["number"].split()))
                return match, f"G54.1 P{number}"
        elif not tenth or code in ("G59.1", "G59.2", "G59.3"):
            return match, code
    return None
