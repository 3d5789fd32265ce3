"""A jig's photo for its sheet: scaled down, in greys, as data that the page carries itself.

Whatever the file is, the page stays whole: what cannot be shown is said in a sentence. Pillow is an
extra; without it the sheet says how to get it.
"""

from __future__ import annotations

import base64
import io
import warnings
from collections.abc import Iterable
from pathlib import Path

from pincorner.documents.jigs import Jig
from pincorner.render.pages.sheet import Photo

LARGEST_BYTES = 60_000_000
"""Of a file that is read at all."""
MOST_PIXELS = 80_000_000
"""Of a picture that is unpacked: a small file may hold an endless one."""
FORMATS = ("JPEG", "PNG", "WEBP", "GIF", "BMP", "TIFF")
SHOWN_PIXELS = (720, 560)
"""Wide and high: some 300 dots an inch in its place on the sheet."""
_QUALITY = 80


def photo_of(shop: Path, jig: Jig) -> Photo | None:
    """The photo of a jig, from the shop folder; None where its document names none."""
    if jig.photo is None:
        return None
    whose = f"photo {jig.photo} of jig {jig.name}"
    try:
        path = shop / jig.photo
        if not path.is_file():
            return Photo("", f"No {whose}: there is no such file.")
        if path.stat().st_size > LARGEST_BYTES:
            return Photo("", f"No {whose}: it has more than {LARGEST_BYTES // 1_000_000} MB.")
        return Photo(_as_url(path.read_bytes()))
    except ImportError:
        return Photo(
            "", f"No {whose}: pictures need one more library: pip install 'pincorner[photo]'."
        )
    except _TooLarge:
        return Photo("", f"No {whose}: it has more than {MOST_PIXELS // 1_000_000} million dots.")
    except OSError as error:
        return Photo("", f"No {whose}: {error.strerror or 'it is no picture that can be read'}.")
    except Exception:
        # a broken picture may bring up any fault of the library that reads it
        return Photo("", f"No {whose}: it is no picture that can be read.")


def photos_of(shop: Path, jigs: Iterable[Jig]) -> dict[str, Photo]:
    """The photos of jigs by their names, each read once."""
    by_name = {jig.name: jig for jig in jigs}
    found = {name: photo_of(shop, jig) for name, jig in by_name.items()}
    return {name: photo for name, photo in found.items() if photo is not None}


class _TooLarge(Exception):
    """More dots than are unpacked."""


def _as_url(data: bytes) -> str:
    """The picture upright, small and in greys, as a data URL. Raises what Pillow raises."""
    from PIL import Image, ImageOps

    with warnings.catch_warnings():
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        try:
            opened = Image.open(fp=io.BytesIO(data), formats=FORMATS)
        except (Image.DecompressionBombWarning, Image.DecompressionBombError):
            raise _TooLarge from None
    with opened as found:
        if found.width * found.height > MOST_PIXELS:
            raise _TooLarge
        found.draft("L", (2 * SHOWN_PIXELS[0], 2 * SHOWN_PIXELS[1]))
        upright = ImageOps.exif_transpose(found)
        if upright.mode in ("RGBA", "LA", "PA") or "transparency" in upright.info:
            clear = upright.convert("RGBA")
            upright = Image.alpha_composite(Image.new("RGBA", clear.size, "white"), clear)
        grey = upright.convert("L")
        grey.thumbnail(SHOWN_PIXELS)
        kept = io.BytesIO()
        grey.save(kept, "JPEG", quality=_QUALITY, optimize=True)
    return "data:image/jpeg;base64," + base64.b64encode(kept.getvalue()).decode("ascii")
