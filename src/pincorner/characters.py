"""Characters that hide themselves, turn their neighbours or part words: which, texts without them.

They are those of Unicode's general categories C: controls (C0, DEL, C1), formats (bidirectional
marks among them), lone surrogates, private use, not assigned (The Unicode Standard, 4.5). Text from
a registry may hold any of them; on paper and on a terminal none of them acts.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable

_NEEDS_NO_QUOTES = re.compile(r"[A-Za-z0-9._+/-]+")


def quoted(word: str) -> str:
    """In double quotes where a shell would split it; names hold nothing that acts inside them."""
    return word if _NEEDS_NO_QUOTES.fullmatch(word) else f'"{word}"'


def is_hidden(character: str) -> bool:
    """Whether a character does something else than show itself."""
    return unicodedata.category(character)[0] == "C"


def hidden_in(text: str, but: str = "") -> set[str]:
    """The hidden characters of a text, without those of `but`."""
    if text.isascii() and text.isprintable():
        return set()
    return {character for character in set(text) if character not in but and is_hidden(character)}


def without_hidden(text: str, becomes: Callable[[str], str], but: str = "") -> str:
    """The text with each hidden character, but for those of `but`, as `becomes` says."""
    found = hidden_in(text, but)
    return text.translate({ord(each): becomes(each) for each in found}) if found else text


def visible(text: str) -> str:
    """Without control and format characters (bidirectional marks among them), tabs as spaces."""
    return without_hidden(text, _on_paper)


def visible_lines(text: str) -> str:
    """The same of a text of lines, which stay."""
    return without_hidden(text, _on_paper, "\n")


def _on_paper(character: str) -> str:
    return " " if character in "\t\n" else ""


def escaped_json(text: str) -> str:
    r"""JSON text with what is hidden in its strings as \u and digits (RFC 8259, 7): still the same
    values, and nothing that acts on a terminal.
    """
    return without_hidden(text, _in_json, "\n")


def _in_json(character: str) -> str:
    digits = character.encode("utf-16-be", "surrogatepass").hex()
    return "".join(f"\\u{digits[at : at + 4]}" for at in range(0, len(digits), 4))
