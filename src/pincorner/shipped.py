"""Files that come with the program: the demo world, the dialects, the templates."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def shipped_folder(name: str) -> Path:
    """`fixtures_db` or `templates`: inside an installed package, else at the top of a checkout."""
    installed = _PACKAGE / "shipped" / name
    return installed if installed.is_dir() else _PACKAGE.parent.parent / name
