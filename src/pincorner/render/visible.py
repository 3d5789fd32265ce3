"""Text from a registry as it may stand on paper: nothing in it turns or hides its neighbours."""

from __future__ import annotations

import unicodedata


def visible(text: str) -> str:
    """Without control and format characters (bidirectional marks among them), tabs as spaces."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        " " if character in "\t\n" else character
        for character in text
        if character in "\t\n" or unicodedata.category(character)[0] != "C"
    )
