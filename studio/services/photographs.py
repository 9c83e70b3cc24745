"""Prepares photographs: checked, turned upright, re-encoded, stripped of their data.

Nothing is stored here. Each takes a second, so it is done before a transaction begins:
on SQLite nobody else could write meanwhile.
"""

import io
import re
import struct
import threading
import warnings
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from typing import IO

from django.core.files.base import ContentFile
from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError
from PIL.TiffImagePlugin import TILELENGTH, TILEWIDTH, TiffImageFile

from studio.errors import Refused

MAX_BYTES = 25 * 1024 * 1024
MILLION = 1_000_000
# A JPEG in one scan is reduced while it is decoded. Everything else is decoded whole, at
# four bytes a pixel; a WebP and a JPEG in many scans are held twice meanwhile.
MOST_PIXELS_REDUCED = 110 * MILLION
MOST_PIXELS_WHOLE = 24 * MILLION
MOST_PIXELS_TWICE = 16 * MILLION
# Each scan passes over the whole picture again; cameras and editors write ten or so.
MOST_SCANS = 40
# Pillow remembers each part; a PNG of 25 MB has some 3,000 from a usual writer.
MOST_PARTS = 10_000
LARGE_PX = 2048
SMALL_PX = 480
# The version in the head of a TIFF whose numbers have eight bytes.
BIG_TIFF = 43
FORMATS = ("JPEG", "PNG", "WEBP", "TIFF")
# Modes that are made smaller as they are, so that no second copy has the full size.
SMALLER_AS_THEY_ARE = {"RGB", "L", "CMYK", "YCbCr", "RGBA", "LA"}
TURNED_ON_THEIR_SIDE = {5, 6, 7, 8}
START_OF_IMAGE, END_OF_IMAGE, START_OF_SCAN = b"\xff\xd8", b"\xff\xd9", 0xDA
START_OF_PNG = b"\x89PNG\r\n\x1a\n"
# What begins the parts of a JPEG that say how long they are, or ends it. Pillow and the
# decoder pass over all else, or stop there.
MARKER = re.compile(rb"\xff[\xc0-\xc7\xc9-\xcf\xd9-\xef\xfe]")
# One picture is decoded at a time, and only so many requests wait for it: the others
# keep their threads for people who do something else.
MOST_IN_LINE = 4
JOIN_WITHIN_S = 1.0
TURN_WITHIN_S = 10.0
_line = threading.BoundedSemaphore(MOST_IN_LINE)
_desk = threading.Lock()
# Always the same thread: the memory of each would keep what a picture took of it.
_one_thread = ThreadPoolExecutor(max_workers=1)
# A second guard, where Pillow opens a picture inside another one.
Image.MAX_IMAGE_PIXELS = MOST_PIXELS_REDUCED
warnings.simplefilter("error", Image.DecompressionBombWarning)
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


def _opened(data: bytes, name: str) -> Image.Image:
    """Read what the file says of itself; nothing is decoded yet."""
    is_jpeg = data.startswith(START_OF_IMAGE)
    bands_of_scans = _checked_parts(data, name)
    if is_jpeg and not bands_of_scans:
        raise UnidentifiedImageError
    try:
        image = Image.open(io.BytesIO(data), formats=FORMATS)
    except (Image.DecompressionBombWarning, Image.DecompressionBombError) as problem:
        raise _too_many_pixels(name, MOST_PIXELS_REDUCED) from problem
    if isinstance(image, TiffImageFile) and _is_in_tiles(data, image.tag_v2.offset):
        raise Refused(f"{name} is a TIFF in tiles. Save it as an ordinary JPEG.")
    is_in_one_scan = bands_of_scans[:1] == [len(image.getbands())]
    if is_in_one_scan and "progressive" not in image.info:
        most = MOST_PIXELS_REDUCED
    elif is_jpeg or image.format == "WEBP":
        most = MOST_PIXELS_TWICE
    else:
        most = MOST_PIXELS_WHOLE
    if image.width * image.height > most:
        raise _too_many_pixels(name, most)
    return image


def _too_many_pixels(name: str, most: int) -> Refused:
    what = f"{name} has more than {most // MILLION} million pixels."
    if most == MOST_PIXELS_REDUCED:
        return Refused(f"{what} Send a smaller copy.")
    return Refused(f"{what} Save it as an ordinary JPEG, or send a smaller copy.")


def _is_in_tiles(data: bytes, at: int) -> bool:
    """Return whether a TIFF has tiles, by its directory at this place.

    A tile is decoded whole, and the file says how large it is. Pillow passes over an entry
    of a type it does not know, but the decoder does not: so only the tags are looked at.
    """
    order = "<" if data.startswith(b"II") else ">"
    count, step = ("Q", 20) if BIG_TIFF in data[2:4] else ("H", 12)
    (entries,) = struct.unpack_from(order + count, data, at)
    first = at + struct.calcsize(order + count)
    return any(
        struct.unpack_from(order + "H", data, entry)[0] in {TILEWIDTH, TILELENGTH}
        for entry in range(first, first + entries * step, step)
    )


def _checked_parts(data: bytes, name: str) -> list[int]:
    """Count the parts of a JPEG or PNG; return how many bands each scan has."""
    parts = list(islice(_parts(data), MOST_PARTS + 1))
    is_jpeg = data.startswith(START_OF_IMAGE)
    scans = [data[at + 2] for at in parts if is_jpeg and data[at - 1] == START_OF_SCAN]
    if len(parts) > MOST_PARTS or len(scans) > MOST_SCANS:
        kind = "JPEG" if is_jpeg else "PNG"
        raise Refused(
            f"{name} is a {kind} of too many parts. Save it again and send that."
        )
    return scans


def _parts(data: bytes) -> Iterator[int]:
    """Yield where each part of a JPEG or PNG says how long it is.

    Films and maps that phones append behind the end of a JPEG are no part of it.
    """
    if data.startswith(START_OF_IMAGE):
        at = len(START_OF_IMAGE)
        while (found := MARKER.search(data, at)) and found[0] != END_OF_IMAGE:
            at = found.end()
            yield at
            at += int.from_bytes(data[at : at + 2])
    elif data.startswith(START_OF_PNG):
        at = len(START_OF_PNG)
        while at < len(data):
            yield at
            # Its name and its checksum are not counted in its length.
            at += 12 + int.from_bytes(data[at : at + 4])


def _on_white(image: Image.Image) -> Image.Image:
    """Return the picture without transparency, which would turn black."""
    if not image.has_transparency_data:
        return image.convert("RGB")
    layer = image.convert("RGBA")
    paper = Image.new("RGBA", layer.size, "white")
    return Image.alpha_composite(paper, layer).convert("RGB")


def _reduced(image: Image.Image) -> Image.Image:
    """Decode a picture no larger than it will be stored, upright, without transparency."""
    # The decoder leaves out what it can while neither side gets smaller than this.
    longest = max(image.size)
    width_px, height_px = (side * LARGE_PX // longest for side in image.size)
    image.draft(None, (width_px, height_px))
    image.load()
    if image.mode not in SMALLER_AS_THEY_ARE or "transparency" in image.info:
        image = image.convert("RGBA" if image.has_transparency_data else "RGB")
    image.thumbnail((LARGE_PX, LARGE_PX), Image.Resampling.LANCZOS)
    return _on_white(ImageOps.exif_transpose(image))


def _encoded(image: Image.Image) -> "ContentFile[bytes]":
    out = io.BytesIO()
    image.save(out, "WEBP", quality=82)
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
        When the upload is no picture that can be taken, or too many wait already.
    """
    with _turn(name):
        return _one_thread.submit(_taken, upload, name).result()


def _taken(upload: IO[bytes], name: str) -> Developed:
    data = upload.read(MAX_BYTES + 1)
    if len(data) > MAX_BYTES:
        raise Refused(f"{name} is larger than 25 MB. Send a smaller copy.")
    try:
        return _developed(_opened(data, name))
    except UNREADABLE as problem:
        raise Refused(
            f"{name} is not a picture that can be read. Send a JPEG, PNG or WebP."
        ) from problem


def _developed(image: Image.Image) -> Developed:
    width_px, height_px = image.size
    # A TIFF already says the size it has once it is turned.
    if (
        image.format != "TIFF"
        and image.getexif().get(ExifTags.Base.Orientation) in TURNED_ON_THEIR_SIDE
    ):
        width_px, height_px = height_px, width_px
    picture = _reduced(image)
    large = _encoded(picture)
    picture.thumbnail((SMALL_PX, SMALL_PX), Image.Resampling.LANCZOS)
    return Developed(
        large=large, small=_encoded(picture), width_px=width_px, height_px=height_px
    )


@contextmanager
def _turn(name: str) -> Iterator[None]:
    """Wait for the one place where pictures are decoded, but not for long."""
    busy = Refused(
        f"{name} was not taken: others are sending pictures just now. "
        "Send it again in a few seconds."
    )
    if not _line.acquire(timeout=JOIN_WITHIN_S):
        raise busy
    try:
        if not _desk.acquire(timeout=TURN_WITHIN_S):
            raise busy
        try:
            yield
        finally:
            _desk.release()
    finally:
        _line.release()
