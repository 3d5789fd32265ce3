"""How soon a large bed map opens and answers a tap: python tests/benchmarks/map_page.py

A bed of 30 x 20 holes with 200 stations, in a browser. Prints what it takes to make, how large it
is, how long it takes to open, and how long from a tap on a button until its station is lit up and
painted: the median and the longest of 40, then the processor time of the first tap on a page just
opened, and of those after it.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from contextlib import closing
from itertools import pairwise
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[1])]

from browsing import Browser  # noqa: E402
from test_map_page import many, rows_of  # noqa: E402

from pincorner.render.pages.maps import render_map_page  # noqa: E402
from pincorner.work.files.browser import find_browser  # noqa: E402

TAPS = """(async () => {
  const painted = () => new Promise(done => requestAnimationFrame(() => setTimeout(done)));
  const took = [];
  for (let at = 0; at < 40; at += 1) {
    const button = document.querySelectorAll('#stations button')[at * 5];
    const start = performance.now();
    button.click();
    await painted();
    took.push(performance.now() - start);
  }
  return took;
})()"""
TAP = """(async () => {{
  document.querySelectorAll('#stations button')[{at}].click();
  await new Promise(done => requestAnimationFrame(() => setTimeout(done)));
}})()"""
OPENED = "performance.getEntriesByType('navigation')[0].loadEventEnd"


def main() -> int:
    """Print the figures."""
    found = find_browser()
    if found is None:
        print("no Chromium, Chrome or Edge was found on this machine", file=sys.stderr)
        return 1
    bed, rows = rows_of(many(200))
    start = time.perf_counter()
    text = render_map_page(bed, rows, None)
    made = time.perf_counter() - start
    with tempfile.TemporaryDirectory() as folder, closing(Browser(found)) as browser:
        page = Path(folder) / "map.html"
        page.write_text(text, encoding="utf-8")
        browser.screen(800, 1200)
        browser.show(page)
        opened, took = browser.value(OPENED), browser.value(TAPS)
        browser.show(page)
        spent = [browser.processor_s()]
        for at in range(20):
            browser.value(TAP.format(at=9 * at))
            spent.append(browser.processor_s())
    first, *others = ((b - a) * 1000 for a, b in pairwise(spent))
    print(f"made in {made:.2f} s, {len(text.encode('utf-8')) / 1000:.0f} KB")
    print(f"opened in {opened:.0f} ms")
    print(f"tap answered in {statistics.median(took):.0f} ms, the longest of 40 in {max(took):.0f}")
    print(
        f"processor: {first:.0f} ms for the first tap, {statistics.median(others):.0f} for others"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
