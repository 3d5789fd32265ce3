"""A jig's photo on its sheet: scaled, grey, carried by the page; what is no picture is told."""

from __future__ import annotations

import base64
import io
import re
import sys
import zlib
from pathlib import Path

import pytest
from conftest import Run
from PIL import Image
from plans import change
from test_sheet import Page, sheet_of
from worlds import BASE, facts, setups, world

from pincorner.documents.jigs import Jig
from pincorner.render.pages.sheet import Photo, render_sheet
from pincorner.work.files.photos import SHOWN_PIXELS, photo_of


def jig_with(photo: str) -> Jig:
    """The tray with a photo."""
    jig = facts(world(BASE)).holder
    return jig.model_copy(update={"photo": photo})


def picture(**kept: object) -> bytes:
    """A picture of 2000 x 1000 dots, red at the left and blue at the right."""
    made = Image.new("RGB", (2000, 1000), (255, 0, 0))
    made.paste((0, 0, 255), (1000, 0, 2000, 1000))
    data = io.BytesIO()
    made.save(data, **{"format": "JPEG", **kept})
    return data.getvalue()


def shown(photo: Photo | None) -> Image.Image:
    """The picture that a page would show."""
    assert photo is not None and photo.told == ""
    head, _, data = photo.data.partition(",")
    assert head == "data:image/jpeg;base64"
    return Image.open(io.BytesIO(base64.b64decode(data)))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "GIF", "TIFF", "BMP"])
def test_a_photo_is_scaled_and_grey(tmp_path: Path, kind: str) -> None:
    """Whatever its format, the page's copy is a small grey JPEG in the same proportions."""
    (tmp_path / "tray").write_bytes(picture(format=kind))
    found = shown(photo_of(tmp_path, jig_with("tray")))
    assert (found.format, found.mode) == ("JPEG", "L")
    assert found.size == (SHOWN_PIXELS[0], SHOWN_PIXELS[0] // 2)
    # ITU-R BT.601 luma: 0.299 of red, 0.114 of blue
    assert abs(found.getpixel((10, 180)) - 76) <= 4 and abs(found.getpixel((700, 180)) - 29) <= 4


def test_a_photo_stands_upright(tmp_path: Path) -> None:
    """A camera's note that it was turned (Exif, tag 274) is followed."""
    turned = Image.Exif()
    turned[274] = 6  # the row at the top is the picture's right side
    (tmp_path / "tray.jpg").write_bytes(picture(exif=turned))
    found = shown(photo_of(tmp_path, jig_with("tray.jpg")))
    assert found.size == (SHOWN_PIXELS[1] // 2, SHOWN_PIXELS[1])


def test_what_lets_light_through_lies_on_white(tmp_path: Path) -> None:
    """A picture with nothing in it but transparency is white on paper, not black."""
    Image.new("RGBA", (40, 40), (0, 0, 0, 0)).save(tmp_path / "clear.png")
    assert shown(photo_of(tmp_path, jig_with("clear.png"))).getpixel((5, 5)) >= 250


def chunk(kind: bytes, data: bytes) -> bytes:
    """A part of a PNG (PNG 1.2, 3.2): length, kind, data, and their sum."""
    return len(data).to_bytes(4, "big") + kind + data + zlib.crc32(kind + data).to_bytes(4, "big")


def bomb() -> bytes:
    """A PNG of a few bytes that says it has 60,000 x 60,000 dots."""
    head = (60_000).to_bytes(4, "big") * 2 + b"\x08\x00\x00\x00\x00"
    parts = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(bytes(900))) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + parts


HOSTILE = {
    "text": (b"no picture", "it is no picture that can be read"),
    "nothing": (b"", "it is no picture that can be read"),
    "cut off": (picture()[:900], "it is no picture that can be read|truncated"),
    "a page": (b"<svg onload='alert(1)'/>", "it is no picture that can be read"),
    "a bomb": (bomb(), "it has more than 80 million dots"),
}


@pytest.mark.parametrize("kind", HOSTILE)
def test_what_is_no_picture_is_told(tmp_path: Path, kind: str) -> None:
    """A file that is no picture, or too large a one, gives a sentence and no picture."""
    data, why = HOSTILE[kind]
    (tmp_path / "tray.jpg").write_bytes(data)
    found = photo_of(tmp_path, jig_with("tray.jpg"))
    assert found is not None and found.data == ""
    assert re.fullmatch(rf"No photo tray\.jpg of jig panel-tray: .*({why}).*\.", found.told)


def test_no_file_and_no_library_are_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A missing file, a folder, and Pillow that is not installed are told each in its words."""
    for name in ("gone.jpg", "."):
        found = photo_of(tmp_path, jig_with(name))
        assert found is not None and found.told.endswith("there is no such file.")
    (tmp_path / "tray.jpg").write_bytes(picture())
    monkeypatch.setitem(sys.modules, "PIL", None)
    found = photo_of(tmp_path, jig_with("tray.jpg"))
    assert found is not None and "pip install 'pincorner[photo]'" in found.told
    assert photo_of(tmp_path, jig_with("x").model_copy(update={"photo": None})) is None


def test_the_sheet_carries_the_photo(shop: Path, run: Run) -> None:
    """The sheet has the picture in itself with words for who cannot see it; once the file is
    another, status tells; a broken one is told, and the page is whole."""
    (shop / "tray.jpg").write_bytes(picture())
    change(shop, "jig", "panel-tray", photo="tray.jpg")
    assert run("sheet", "left", "-o", "new").code == 0
    text = (shop / "new" / "left.html").read_text(encoding="utf-8")
    (image,) = [has for tag, has in Page(text).tags if tag == "img"]
    assert str(image["src"]).startswith("data:image/jpeg;base64,")
    assert image["alt"] == "Photo of jig panel-tray"
    assert "left.html" not in run("status").out
    (shop / "tray.jpg").write_bytes(b"broken")
    assert "stale-sheet: new/left.html: picture tray.jpg" in run("status").out
    assert run("sheet", "left", "-o", "newer").code == 0
    page = Page((shop / "newer" / "left.html").read_text(encoding="utf-8"))
    assert "No photo tray.jpg of jig panel-tray: it is no picture" in page.words
    assert "img" not in {tag for tag, _ in page.tags}


def test_hostile_words_about_a_photo_stay_words() -> None:
    """What is said of a photo is escaped like every other text."""
    found = setups()
    page = render_sheet(found, (), "a4", None, None, Photo("", "<b>No</b> photo \u202e"))
    assert "&lt;b&gt;No&lt;/b&gt; photo" in page and "\u202e" not in page
    assert "img" not in {tag for tag, _ in Page(sheet_of(found)).tags}
