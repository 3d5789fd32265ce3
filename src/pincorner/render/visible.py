"""Text from a registry as it may stand on paper or on a terminal: nothing in it turns or hides its
neighbours.
"""

from __future__ import annotations

from pincorner.characters import without_hidden


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
