"""Words of a line taken out or put in place of others: every other byte of it stays."""

from __future__ import annotations

from pincorner.program.lexer import Word, end_word, words_of
from pincorner.program.modes import GROUP_OF_G, OFFSET_OF_P


def with_code(line: str, code: str) -> str:
    """The line with its selection of a work offset replaced by another."""
    words = words_of(line)
    selection = next((word for word in words if _group(word) == "offset"), None)
    if selection is None:
        return line
    spans = [(selection.start, selection.end, code)]
    p_word = next((word for word in words if word.letter == "P"), None)
    if selection.value == OFFSET_OF_P / 10 and p_word is not None:
        blanks_from = len(line[: p_word.start].rstrip(" \t"))
        spans.append((blanks_from, p_word.end, ""))
    for start, end, text in sorted(spans, reverse=True):
        line = line[:start] + text + line[end:]
    return line


def without_end(line: str) -> str:
    """The line with M2 or M30 taken out; comments stay."""
    end = end_word(words_of(line))
    return line if end is None else line[: end.start] + line[end.end :]


def _group(word: Word) -> str | None:
    tenths = round(word.value * 10)
    is_mode = word.letter == "G" and tenths / 10 == word.value
    return GROUP_OF_G.get(tenths) if is_mode else None
