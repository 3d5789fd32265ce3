"""The one rule of which characters hide themselves or turn their neighbours.

They are those of Unicode's general categories C: controls (C0, DEL, C1), formats (bidirectional
marks among them), lone surrogates, private use, not assigned (The Unicode Standard, 4.5).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable


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
