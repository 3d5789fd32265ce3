"""Printing a page to PDF with a browser that is on the machine."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from pincorner.errors import BadInput
from pincorner.work.places import place_file

_NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge", "microsoft-edge")
_WINDOWS_PLACES = (
    "Microsoft/Edge/Application/msedge.exe",
    "Google/Chrome/Application/chrome.exe",
    "Chromium/Application/chrome.exe",
)
_FLAGS = (
    "--headless", "--disable-gpu", "--no-first-run", "--no-pdf-header-footer",
    "--disable-background-networking", "--disable-sync",
)  # fmt: skip
_SECONDS = 60


def find_browser() -> str | None:
    """A Chromium, Chrome or Edge on this machine; None where there is none."""
    for name in _NAMES:
        found = shutil.which(name)
        if found:
            return found
    for variable in ("PROGRAMFILES", "PROGRAMFILES(X86)", "LOCALAPPDATA"):
        for place in _WINDOWS_PLACES:
            path = Path(os.environ.get(variable, "")) / place
            if os.environ.get(variable) and path.is_file():
                return str(path)
    return None


def print_to_pdf(page: Path, target: Path) -> Path:
    """Print an HTML file to `target`. Raises BadInput where no browser will."""
    browser = find_browser()
    if browser is None:
        raise BadInput(
            "--pdf needs Chromium, Chrome or Edge on this machine; the pages are written as HTML, "
            "open one and print it from there"
        )
    as_root = ["--no-sandbox"] if getattr(os, "geteuid", lambda: 1)() == 0 else []
    staged = target.with_name(f".{target.name}")
    with tempfile.TemporaryDirectory() as profile:
        command = [
            browser, *_FLAGS, *as_root, f"--user-data-dir={profile}",
            f"--print-to-pdf={staged.resolve()}", page.resolve().as_uri(),
        ]  # fmt: skip
        try:
            subprocess.run(command, capture_output=True, timeout=_SECONDS, check=True)
        except (OSError, subprocess.SubprocessError) as error:
            staged.unlink(missing_ok=True)
            raise BadInput(f"{target} could not be printed by {browser}: {error}") from None
    place_file(staged, target)
    return target
