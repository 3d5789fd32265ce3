"""One browser for all pages of a test run: it is started once and asked page by page.

It is spoken to as Chromium's DevTools protocol has it (JSON in WebSocket messages, RFC 6455), which
Chrome and Edge take too. It prints with the same engine as `--print-to-pdf`, the page's own size.
"""

from __future__ import annotations

import base64
import itertools
import json
import os
import socket
import struct
import subprocess
import tempfile
import time
from pathlib import Path
from typing import Any, NamedTuple
from xml.etree import ElementTree

import numpy as np

_WAIT_S = 60


class Browser:
    """A browser without a window; close it when done."""

    def __init__(self, program: str) -> None:
        self._profile = tempfile.TemporaryDirectory(prefix="browser-", ignore_cleanup_errors=True)
        as_root = ["--no-sandbox"] if getattr(os, "geteuid", lambda: 1)() == 0 else []
        self._process = subprocess.Popen(
            [program, "--headless", "--disable-gpu", "--no-first-run", *as_root,
             "--disable-background-networking", "--disable-sync",
             f"--user-data-dir={self._profile.name}", "--remote-debugging-port=0", "about:blank"],
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        port, path = self._told_port()
        self._socket = socket.create_connection(("127.0.0.1", int(port)), _WAIT_S)
        self._buffer = b""
        self._shake_hands(port, path)
        self._numbers = itertools.count(1)
        self.asked = []
        (page,) = (
            each for each in self._ask("Target.getTargets")["targetInfos"] if each["type"] == "page"
        )
        target = {"targetId": page["targetId"], "flatten": True}
        self._session = self._ask("Target.attachToTarget", **target)["sessionId"]
        self._ask("Page.enable")

    _session: str | None = None
    asked: list[str]
    """What the page that is shown has asked for."""
    _opened: str | None = None

    def screen(self, width: int, height: int = 900, *, dark: bool = False) -> None:
        """What the following pages are shown on, in CSS pixels."""
        size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
        self._ask("Emulation.setDeviceMetricsOverride", **size)
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        still = {"name": "prefers-reduced-motion", "value": "reduce"}
        self._ask("Emulation.setEmulatedMedia", features=[scheme, still])

    def screen_of_its_own(self) -> None:
        """Take back what was said of the screen."""
        self._ask("Emulation.clearDeviceMetricsOverride")
        self._ask("Emulation.setEmulatedMedia", features=[])

    def show(self, page: Path, address: str = "") -> list[str]:
        """Open a page at an address inside it; everything that it asked for."""
        self._ask("Network.enable")
        if page.resolve().as_uri() == self._opened:  # another address of it would not load it again
            self._ask("Page.navigate", until="Page.loadEventFired", url="about:blank")
        self.asked.clear()
        self._open(page, address)
        return self.asked

    def value(self, expression: str) -> Any:
        """What JavaScript makes of an expression on the page; a promise is waited for."""
        given = {"expression": expression, "returnByValue": True, "awaitPromise": True}
        told = self._ask("Runtime.evaluate", **given)
        assert "exceptionDetails" not in told, told
        return told["result"].get("value")

    def press(self, key: str) -> None:
        """A key of the keyboard, down and up; a single letter is written."""
        text = {"text": key} if len(key) == 1 else {}
        self._ask("Input.dispatchKeyEvent", type="keyDown", key=key, **text)
        self._ask("Input.dispatchKeyEvent", type="keyUp", key=key)

    def tap(self, selector: str) -> None:
        """The middle of the first element of a selector, pressed as with a mouse."""
        box = self.value(
            f"(e => {{ e.scrollIntoView({{block: 'center'}}); const b = e.getBoundingClientRect();"
            f" return [b.left + b.width / 2, b.top + b.height / 2]; }})"
            f"(document.querySelector({json.dumps(selector)}))"
        )
        at = {"x": box[0], "y": box[1], "button": "left", "clickCount": 1}
        self._ask("Input.dispatchMouseEvent", type="mousePressed", **at)
        self._ask("Input.dispatchMouseEvent", type="mouseReleased", **at)

    def processor_s(self) -> float:
        """Processor time that the page's own thread has taken, which others do not add to."""
        self._ask("Performance.enable", timeDomain="threadTicks")
        metrics = self._ask("Performance.getMetrics")["metrics"]
        return float(next(m["value"] for m in metrics if m["name"] == "TaskDuration"))

    def picture(self) -> bytes:
        """What is on the screen now, as a PNG."""
        return base64.b64decode(self._ask("Page.captureScreenshot", format="png")["data"])

    def print(self, page: Path) -> bytes:
        """A page as a PDF: it is laid into the one that is open, in a third of the time."""
        if self._opened is None:
            self._open(page)
        frame = self._ask("Page.getFrameTree")["frameTree"]["frame"]["id"]
        self._ask("Page.setDocumentContent", frameId=frame, html=page.read_text("utf-8"))
        return self.print_shown()

    def print_shown(self, paper_in: tuple[float, float] = (8.5, 11.0)) -> bytes:
        """The page that is open as a PDF, without what reads it aloud: a sixth of the time.

        `paper_in`: what lies in the printer, in inches; a page may name another.
        """
        given = {
            "printBackground": True, "preferCSSPageSize": True, "generateTaggedPDF": False,
            "paperWidth": paper_in[0], "paperHeight": paper_in[1],
        }  # fmt: skip
        return base64.b64decode(self._ask("Page.printToPDF", **given)["data"])

    def title(self, page: Path) -> str:
        """The title that a page has when its scripts are through."""
        self._open(page)
        told = self._ask("Runtime.evaluate", expression="document.title", returnByValue=True)
        return str(told["result"]["value"])

    def told(self, page: Path, script: str, asked: str) -> str:
        """What a promise of a page comes to, a text, once a script has run in it."""
        self._open(page)
        self._ask("Runtime.evaluate", expression=script)
        given = {"awaitPromise": True, "returnByValue": True}
        return str(self._ask("Runtime.evaluate", expression=asked, **given)["result"]["value"])

    def close(self) -> None:
        """End the browser."""
        self._session = None
        self._ask("Browser.close")
        self._socket.close()
        self._process.wait(_WAIT_S)
        self._profile.cleanup()

    def _open(self, page: Path, address: str = "") -> None:
        self._opened = page.resolve().as_uri()
        url = self._opened + address
        self._ask("Page.navigate", until="Page.loadEventFired", url=url)

    def _ask(self, method: str, until: str | None = None, **given: Any) -> dict[str, Any]:
        """The answer to a request; `until`: an event that is waited for as well."""
        number = next(self._numbers)
        request = {"id": number, "method": method, "params": given}
        if self._session is not None:
            request["sessionId"] = self._session
        self._send(json.dumps(request).encode())
        answer, due = None, until
        while answer is None or due is not None:
            said = json.loads(self._receive())
            if said.get("id") == number:
                assert "error" not in said, said
                answer = said["result"]
            elif said.get("method") == due:
                due = None
            elif said.get("method") == "Network.requestWillBeSent":
                self.asked.append(said["params"]["request"]["url"])
        return dict(answer)

    # WebSocket, as far as it is needed here

    def _told_port(self) -> tuple[str, str]:
        told, until = Path(self._profile.name) / "DevToolsActivePort", time.monotonic() + _WAIT_S
        while not told.exists() or told.read_text("utf-8").count("\n") < 1:
            assert time.monotonic() < until and self._process.poll() is None, "no browser came up"
            time.sleep(0.02)
        port, path = told.read_text("utf-8").split("\n")
        return port, path

    def _shake_hands(self, port: str, path: str) -> None:
        key = base64.b64encode(os.urandom(16)).decode()
        self._socket.sendall(
            f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nUpgrade: websocket\r\n"
            f"Connection: Upgrade\r\nSec-WebSocket-Key: {key}\r\nSec-WebSocket-Version: 13\r\n"
            "\r\n".encode()
        )
        while b"\r\n\r\n" not in self._buffer:
            self._more()
        head, _, self._buffer = self._buffer.partition(b"\r\n\r\n")
        assert b" 101 " in head.splitlines()[0], head

    def _send(self, data: bytes) -> None:
        # one text frame, "masked" with noughts: RFC 6455, 5.2 and 5.3
        size = len(data)
        long = struct.pack("!BH", 126, size) if size < 65536 else struct.pack("!BQ", 127, size)
        length = struct.pack("!B", size) if size < 126 else long
        head = bytes([0x81, length[0] | 0x80]) + length[1:]
        self._socket.sendall(head + bytes(4) + data)

    def _receive(self) -> bytes:
        message = b""
        while True:
            first, second = self._take(2)
            size = second & 0x7F
            if size == 126:
                (size,) = struct.unpack("!H", self._take(2))
            elif size == 127:
                (size,) = struct.unpack("!Q", self._take(8))
            data = self._take(size)
            if first & 0x0F <= 2:  # text, or what goes on; pings need no answer in so short a time
                message += data
                if first & 0x80:
                    return message

    def _take(self, count: int) -> bytes:
        while len(self._buffer) < count:
            self._more()
        taken, self._buffer = self._buffer[:count], self._buffer[count:]
        return taken

    def _more(self) -> None:
        more = self._socket.recv(1 << 20)
        assert more, "the browser has gone"
        self._buffer += more


# Papers, as poppler's programs read them (Debian's poppler-utils)


def _poppler(program: str, *arguments: str, data: bytes) -> bytes:
    """What one of its programs says of a PDF."""
    with tempfile.TemporaryDirectory(prefix="paper-") as folder:
        path = Path(folder) / "page.pdf"
        path.write_bytes(data)
        line = [program, *arguments, str(path), "-"]
        return subprocess.run(line, check=True, capture_output=True, timeout=_WAIT_S).stdout


def pages_of(pdf: bytes) -> list[str]:
    """The text of each page as it is laid out."""
    text = _poppler("pdftotext", "-layout", data=pdf).decode("utf-8")
    return text.removesuffix("\f").split("\f")


class Word(NamedTuple):
    """A word of a page, and its box in points from the page's left upper corner."""

    page: int
    text: str
    left: float
    top: float
    right: float
    bottom: float


def words_of(pdf: bytes) -> list[Word]:
    """Every word of a PDF with its box: as wide as it is, as high as its letters' line."""
    root = ElementTree.fromstring(_poppler("pdftotext", "-bbox", data=pdf))
    found = []
    for number, page in enumerate(root.iter("{http://www.w3.org/1999/xhtml}page"), 1):
        for each in page.iter("{http://www.w3.org/1999/xhtml}word"):
            box = (float(each.attrib[side]) for side in ("xMin", "yMin", "xMax", "yMax"))
            found.append(Word(number, each.text or "", *box))
    return found


def sizes_of(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height of every page of a PDF, in points."""
    root = ElementTree.fromstring(_poppler("pdftotext", "-bbox", data=pdf))
    pages = root.iter("{http://www.w3.org/1999/xhtml}page")
    return [(float(each.attrib["width"]), float(each.attrib["height"])) for each in pages]


def overlapping_words(pdf: bytes) -> list[tuple[str, str]]:
    """Pairs of words of which one lies on the other; a line's leading is no ink."""
    over = []
    for _, words in itertools.groupby(words_of(pdf), lambda word: word.page):
        page = list(words)
        left, top, right, bottom = np.array([word[2:] for word in page]).T
        wide = np.minimum.outer(right, right) - np.maximum.outer(left, left)
        deep = np.minimum.outer(bottom, bottom) - np.maximum.outer(top, top)
        least = np.minimum.outer(bottom - top, bottom - top)
        pairs = np.argwhere(np.triu((wide > 0.5) & (deep > 0.3 * least), 1))
        over += [(page[one].text, page[other].text) for one, other in pairs]
    return over


CAPITALS_MM = 0.716 * 25.4 / 72
"""Height of capitals for a point of size: Arial's and Liberation Sans' cap height, from memory."""
LINE = 1.117
"""Height of a word's box for its size, as poppler takes it from those typefaces."""


def least_letters_mm(pdf: bytes) -> float:
    """Height of the smallest capitals of a PDF, as its words' boxes tell it; turned words apart."""
    heights = [
        word.bottom - word.top
        for word in words_of(pdf)
        if word.right - word.left > 0.2 * (word.bottom - word.top) * len(word.text)
    ]
    return min(heights) / LINE * CAPITALS_MM
