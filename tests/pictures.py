"""Draw README's pictures anew from the demo, as a browser shows its pages: python tests/pictures.py

They are written to .docs. Needs a Chromium, Chrome or Edge.
"""

from __future__ import annotations

import sys
import tempfile
from contextlib import closing
from pathlib import Path

from browsing import Browser

from pincorner.work.files.browser import find_browser
from pincorner.work.shops import demo

PICTURES = Path(__file__).resolve().parent.parent / ".docs"
PAGES = {
    "sheet-left.png": ("sheets/left.html", "", (860, 1160)),
    "map-left.png": ("long-bench.html", "#left", (1180, 1340)),
}
"""File, page of the demo, station in its address, and the window in CSS pixels."""


def main() -> int:
    """Draw them all."""
    found = find_browser()
    if found is None:
        print("no Chromium, Chrome or Edge was found on this machine", file=sys.stderr)
        return 1
    with tempfile.TemporaryDirectory() as folder, closing(Browser(found)) as browser:
        shop = demo(Path(folder) / "shop", lambda _: None).folder
        for name, (page, address, (width, height)) in PAGES.items():
            browser.screen(width, height)
            browser.show(shop / page, address)
            (PICTURES / name).write_bytes(browser.picture())
            print(f".docs/{name}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
