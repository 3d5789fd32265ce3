"""Pages in a browser that is on the machine: shown, or printed to PDF."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path

from pincorner.errors import BadInput, NotPrinted
from pincorner.render.text.tables import first_named
from pincorner.work.files.outputs import Outputs

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


def show_page(page: Path) -> bool:
    """Open an HTML file in the browser of whoever is there; whether there is one with a screen."""
    import webbrowser

    on_a_screen = os.name == "nt" or sys.platform == "darwin"
    if not on_a_screen and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        return False
    try:
        return webbrowser.open(page.resolve().as_uri())
    except (webbrowser.Error, OSError):
        return False


def older_pdfs(pages: Iterable[Path]) -> list[Path]:
    """PDFs beside pages which were there before the pages."""
    found = []
    for page in pages:
        printed = page.with_suffix(".pdf")
        with contextlib.suppress(OSError):
            if page != printed and printed.stat().st_mtime_ns < page.stat().st_mtime_ns:
                found.append(printed)
    return found


def older_told(pdfs: Sequence[str]) -> str:
    """What is told of such ones; empty where there are none."""
    if not pdfs:
        return ""
    than = "is older than its page" if len(pdfs) == 1 else "are older than their pages"
    named = first_named(pdfs, 3)
    return f"{named} {than}: print anew, or throw away what was printed before"


def print_pages(pages: Sequence[Path], outputs: Outputs) -> list[Path]:
    """Print HTML files, each to the PDF beside it; the PDFs. Raises NotPrinted."""
    printed = [page.with_suffix(".pdf") for page in pages]
    for page, target in zip(pages, printed, strict=True):
        try:
            print_to_pdf(page, target, outputs)
        except NotPrinted as error:
            raise NotPrinted(str(error), pages) from None
    return printed


def print_to_pdf(page: Path, target: Path, outputs: Outputs) -> None:
    """Print an HTML file to `target`. Raises NotPrinted."""
    browser = find_browser()
    if browser is None:
        raise NotPrinted(
            "--pdf needs Chromium, Chrome or Edge on this machine; the pages are written as HTML, "
            "open one and print it from there"
        )
    as_root = ["--no-sandbox"] if getattr(os, "geteuid", lambda: 1)() == 0 else []

    def print_as(staged: Path) -> None:
        with tempfile.TemporaryDirectory() as profile:
            command = [
                browser, *_FLAGS, *as_root, f"--user-data-dir={profile}",
                f"--print-to-pdf={staged.resolve()}", page.resolve().as_uri(),
            ]  # fmt: skip
            try:
                subprocess.run(command, capture_output=True, timeout=_SECONDS, check=True)
            except subprocess.TimeoutExpired:
                raise NotPrinted(
                    f"{target} could not be printed by {browser} in {_SECONDS} s"
                ) from None
            except (OSError, subprocess.SubprocessError) as error:
                raise NotPrinted(
                    f"{target} could not be printed by {browser}: {_why(error)}"
                ) from None

    try:
        outputs.write_by(target, print_as)
    except BadInput as error:
        raise NotPrinted(str(error)) from None


def _why(error: Exception) -> str:
    """What went wrong in a word: the command line that ran names files under way."""
    code = getattr(error, "returncode", None)
    return f"it ended with {code}" if code is not None else getattr(error, "strerror", "") or "?"
