"""Prepares photographs: checked, turned upright, re-encoded, stripped of their data.

Nothing is stored here. Each takes a second, so it is done before a transaction begins:
on SQLite nobody else could write meanwhile.
"""

import io
import struct
from dataclasses import dataclass
from typing import IO

from django.core.files.base import ContentFile
from PIL import Image, ImageOps, UnidentifiedImageError

from studio.errors import Refused

MAX_BYTES = 25 * 1024 * 1024
MAX_PIXELS = 60_000_000
LARGE_PX = 2048
SMALL_PX = 480
FORMATS = ("JPEG", "PNG", "WEBP", "TIFF")
# What Pillow raises, depending on the format, on a file that is broken inside.
UNREADABLE = (
    UnidentifiedImageError,
    OSError,
    SyntaxError,
    ValueError,
    TypeError,
    KeyError,
    IndexError,
    EOFError,
    struct.error,
)


def read_image(upload: IO[bytes], name: str) -> Image.Image:
    """Open an upload by its content and turn it upright.

    Raises
    ------
    Refused
        When it is too large, no picture, or of a kind that is not taken.
    """
    data = upload.read(MAX_BYTES + 1)
    if len(data) > MAX_BYTES:
        raise Refused(f"{name} is larger than 25 MB. Send a smaller copy.")
    try:
        image = Image.open(io.BytesIO(data), formats=FORMATS)
        if image.width * image.height > MAX_PIXELS:
            raise _too_many_pixels(name)
        image.load()
        return _on_white(ImageOps.exif_transpose(image))
    except Image.DecompressionBombError as problem:
        raise _too_many_pixels(name) from problem
    except UNREADABLE as problem:
        raise Refused(
            f"{name} is not a picture that can be read. Send a JPEG, PNG or WebP."
        ) from problem


def _too_many_pixels(name: str) -> Refused:
    return Refused(f"{name} has more than 60 million pixels. Send a smaller copy.")


def _on_white(image: Image.Image) -> Image.Image:
    """Return the picture without transparency, which would turn black."""
    if not image.has_transparency_data:
        return image.convert("RGB")
    layer = image.convert("RGBA")
    paper = Image.new("RGBA", layer.size, "white")
    return Image.alpha_composite(paper, layer).convert("RGB")


def _encoded(image: Image.Image, longest_px: int) -> "ContentFile[bytes]":
    copy = image.copy()
    copy.thumbnail((longest_px, longest_px), Image.Resampling.LANCZOS)
    out = io.BytesIO()
    copy.save(out, "WEBP", quality=82)
    return ContentFile(out.getvalue(), name="picture.webp")


@dataclass(frozen=True, slots=True, kw_only=True)
class Developed:
    """A photograph ready to be stored, large and small, and its original size."""

    large: "ContentFile[bytes]"
    small: "ContentFile[bytes]"
    width_px: int
    height_px: int


def develop(upload: IO[bytes], name: str) -> Developed:
    """Prepare an upload for storing.

    Raises
    ------
    Refused
        When the upload is no picture that can be taken.
    """
    image = read_image(upload, name)
    return Developed(
        large=_encoded(image, LARGE_PX),
        small=_encoded(image, SMALL_PX),
        width_px=image.width,
        height_px=image.height,
    )
