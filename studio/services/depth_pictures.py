"""Makes a layer's picture for the depth view: small, and white where the glass is clear.

Twenty of them lie over each other there, so what the light table tints would darken
the whole stack, and together they must load quickly on a phone.
"""

import io
from collections.abc import Sequence
from datetime import datetime

import numpy as np
from django.core.files.base import ContentFile
from django.db.models.fields.files import FieldFile
from PIL import Image, UnidentifiedImageError

from studio import jobs
from studio.jobs import Finish, on_forget
from studio.models import Picture, Piece
from studio.selectors.pictures import depth_pictures_of
from studio.whole_files import remove_after_commit, without_left_files

DEPTH_JOB = "studio.depth_picture"
FACE_JOB = "studio.piece_face"
FACE_PX = 480
LONGEST_PX = 800
# Twenty layers stay under 300 kB.
MOST_BYTES = 14_000
QUALITIES = (78, 62, 46, 30, 15)
# What is clear glass in a photograph: brighter than this share of it, per colour.
CLEAR_PERCENTILE = 97.0
# A picture without anything so bright and so grey has no clear glass on a light table
# in it, and is left as it is.
DARKEST_CLEAR = 170.0
MOST_TINTED = 45.0
# On one day, of those from before there was a depth view.
MOST_AT_ONCE = 500


def order_depth_picture(picture: Picture) -> None:
    """Ask the worker for a picture's version for the depth view."""
    jobs.enqueue(
        studio=picture.studio,
        name=DEPTH_JOB,
        key=f"depth-{picture.pk}",
        picture_id=picture.pk,
    )


def make_depth_picture(*, picture: Picture) -> Finish | None:
    """Write the version for the depth view; return what puts it in place.

    Returns None when the picture's file is gone or cannot be read: the depth view
    then shows the layer by its edge.
    """
    try:
        with picture.image.open("rb") as source:
            made = for_depth(source.read())
    except (FileNotFoundError, UnidentifiedImageError):
        return None
    with without_left_files():
        kept = Picture(studio=picture.studio)
        kept.depth.save("depth.webp", ContentFile(made), save=False)
    name = kept.depth.name

    def finish() -> None:
        Picture.across_studios.filter(pk=picture.pk, depth="").update(depth=name)
        if picture.piece is not None:
            order_face(picture.piece)

    return finish


def order_face(piece: Piece) -> None:
    """Ask the worker to look through a piece's layers anew."""
    jobs.enqueue(
        studio=piece.studio,
        name=FACE_JOB,
        key=f"face-{piece.pk}",
        piece_id=piece.pk,
    )


def make_face(*, piece: Piece) -> Finish:
    """Lay the newest pictures of a piece's layers over each other, small."""
    kept = Piece(studio=piece.studio)
    files = [one.depth for one in depth_pictures_of(piece) if one.depth]
    if files:
        with without_left_files():
            made = ContentFile(looked_through([_bytes_of(file) for file in files]))
            kept.face.save("face.webp", made, save=False)
    name, old = kept.face.name or "", piece.face.name

    def finish() -> None:
        Piece.across_studios.filter(pk=piece.pk).update(face=name)
        if old:
            remove_after_commit(old)

    return finish


def _bytes_of(file: FieldFile) -> bytes:
    with file.open("rb") as source:
        read: bytes = source.read()
    return read


def looked_through(pictures: Sequence[bytes]) -> bytes:
    """Return pictures of layers multiplied with each other, as WebP."""
    seen = np.ones((1, 1, 3))
    size = None
    for data in pictures:
        with Image.open(io.BytesIO(data)) as opened:
            opened.thumbnail((FACE_PX, FACE_PX), Image.Resampling.LANCZOS)
            size = size or opened.size
            seen = seen * (np.asarray(opened.convert("RGB").resize(size)) / 255)
    return _webp(Image.fromarray((seen * 255).astype(np.uint8), "RGB"), 80)


def for_depth(data: bytes) -> bytes:
    """Return a picture as WebP with its clear glass white, at most `MOST_BYTES` long."""
    with Image.open(io.BytesIO(data)) as opened:
        opened.thumbnail((LONGEST_PX, LONGEST_PX), Image.Resampling.LANCZOS)
        seen = np.asarray(opened.convert("RGB")).astype(np.float64)
    clear = np.percentile(seen, CLEAR_PERCENTILE, axis=(0, 1))
    if clear.min() >= DARKEST_CLEAR and np.ptp(clear) <= MOST_TINTED:
        seen *= 255 / clear
    image = Image.fromarray(np.clip(seen, 0, 255).astype(np.uint8), "RGB")
    while True:
        for quality in QUALITIES:
            made = _webp(image, quality)
            if len(made) <= MOST_BYTES:
                return made
        image.thumbnail((max(image.size) * 3 // 4,) * 2, Image.Resampling.LANCZOS)


def _webp(image: Image.Image, quality: int) -> bytes:
    out = io.BytesIO()
    image.save(out, "WEBP", quality=quality, method=6)
    return out.getvalue()


@on_forget
def order_those_missing(now: datetime) -> int:
    """Order the depth view's version of older pictures of layers; remove nothing."""
    missing = Picture.across_studios.filter(layer__isnull=False, depth="")
    for picture in missing.select_related("studio").order_by("-pk")[:MOST_AT_ONCE]:
        order_depth_picture(picture)
    return 0
