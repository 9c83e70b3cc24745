"""Takes photographs in: checked, turned upright, re-encoded, stripped of their data."""

import io
import struct
from datetime import datetime
from functools import partial
from typing import BinaryIO

from django.core.files.base import ContentFile
from django.db import transaction
from PIL import Image, ImageOps, UnidentifiedImageError

from studio.errors import Refused
from studio.models import Layer, Pass, Person, Picture, Piece, Studio
from studio.services import history
from studio.tenancy import same_studio

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


def read_image(upload: BinaryIO, name: str) -> Image.Image:
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


def _encoded(image: Image.Image, longest_px: int) -> ContentFile:
    copy = image.copy()
    copy.thumbnail((longest_px, longest_px), Image.Resampling.LANCZOS)
    out = io.BytesIO()
    copy.save(out, "WEBP", quality=82)
    return ContentFile(out.getvalue(), name="picture.webp")


def add_picture(
    *,
    studio: Studio,
    upload: BinaryIO,
    name: str,
    by: Person | None,
    at: datetime,
    piece: Piece | None = None,
    layer: Layer | None = None,
    of_pass: Pass | None = None,
    caption: str = "",
    is_shown_to_client: bool = False,
) -> Picture:
    """Store a photograph as WebP, large and small, without the camera's data.

    Raises
    ------
    Refused
        When the upload is no picture that can be taken.
    """
    same_studio(studio, piece, layer, of_pass)
    if layer is None and of_pass is not None:
        layer = of_pass.sheet.layer
    image = read_image(upload, name)
    large, small = _encoded(image, LARGE_PX), _encoded(image, SMALL_PX)
    with transaction.atomic():
        return Picture.across_studios.create(
            studio=studio,
            piece=piece or (layer.piece if layer else None),
            layer=layer,
            of_pass=of_pass,
            image=large,
            thumbnail=small,
            width_px=image.width,
            height_px=image.height,
            caption=caption[:200],
            at=at,
            by=by,
            is_shown_to_client=is_shown_to_client,
        )


def change_caption(*, picture: Picture, caption: str) -> None:
    """Say what is on the picture."""
    Picture.across_studios.filter(pk=picture.pk).update(caption=caption[:200])


@transaction.atomic
def show_to_client(
    *, picture: Picture, is_shown: bool, by: Person | None, at: datetime
) -> None:
    """Put a picture on the client's page, or take it off."""
    Picture.across_studios.filter(pk=picture.pk).update(is_shown_to_client=is_shown)
    history.record(
        studio=picture.studio,
        by=by,
        at=at,
        what=f"{'Shows' if is_shown else 'No longer shows'} the client: {picture}",
        piece=picture.piece,
    )


@transaction.atomic
def remove_picture(*, picture: Picture, by: Person | None, at: datetime) -> None:
    """Remove a picture and, once that is certain, its files."""
    files = [picture.image, picture.thumbnail]
    history.record(
        studio=picture.studio,
        by=by,
        at=at,
        what=f"Removed a picture: {picture}",
        piece=picture.piece,
    )
    picture.delete()
    for file in files:
        transaction.on_commit(partial(file.storage.delete, file.name))
