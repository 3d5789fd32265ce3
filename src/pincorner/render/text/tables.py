"""Plain-text tables. A table library measures and wraps every cell, which took longer for 10,000
offsets than computing them; columns of short cells need only padding.
"""

from __future__ import annotations

from collections.abc import Sequence


def table(heads: Sequence[str], rows: Sequence[Sequence[str]], right: str = "") -> str:
    """Columns padded to their widest cell, two spaces apart; ends with a newline.

    `right` holds an `r` at the place of each column that is aligned to the right.
    """
    widths = [max(map(len, column)) for column in zip(heads, *rows, strict=True)]
    aligned = [
        (width if at < len(right) and right[at] == "r" else -width)
        for at, width in enumerate(widths)
    ]
    form = "  ".join(f"%{width}s" for width in aligned)
    lines = [form % tuple(row) for row in (heads, *rows)]
    return "".join(f"{line.rstrip()}\n" for line in lines)
