"""Makes a layer's picture for the depth view: small, and white where the glass is clear.

Twenty of them lie over each other there, so what the light table tints would darken
the whole stack, and together they must load quickly on a phone.
"""

import io
import logging
from collections.abc import Sequence
from datetime import datetime

import numpy as np
from django.core.files.base import ContentFile
from django.db.models import CharField, Exists, OuterRef, Value
from django.db.models.fields.files import FieldFile
from django.db.models.functions import Cast, Concat
from PIL import Image

from studio import jobs
from studio.jobs import Finish, on_forget
from studio.models import Job, Picture, Piece
from studio.outages import outage_of
from studio.selectors.pictures import depth_pictures_of
from studio.whole_files import remove_after_commit, without_left_files

log = logging.getLogger(__name__)

DEPTH_JOB = "studio.depth_picture"
FACE_JOB = "studio.piece_face"
KEY = "depth-"
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
# Glass is never photographed quite evenly, and what little it darkens is multiplied
# twenty times: from here on a pixel is drawn to white, and from there it is white.
NEARLY_CLEAR, CLEAR = 228.0, 244.0
# On one day, of those from before there was a depth view.
MOST_AT_ONCE = 500


def order_depth_picture(picture: Picture) -> None:
    """Ask the worker for a picture's version for the depth view."""
    jobs.enqueue(
        studio=picture.studio,
        name=DEPTH_JOB,
        key=f"{KEY}{picture.pk}",
        picture_id=picture.pk,
    )


def make_depth_picture(*, picture: Picture) -> Finish | None:
    """Write the version for the depth view; return what puts it in place.

    Returns None when the picture's file is gone or cannot be read: the depth view
    then shows the layer by its edge.
    """
    image = _opened(picture.image, LONGEST_PX)
    if image is None:
        return None
    made = for_depth(image)
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
    images = [one for file in files if (one := _opened(file, FACE_PX)) is not None]
    if images:
        with without_left_files():
            made = ContentFile(_webp(looked_through(images), 80))
            kept.face.save("face.webp", made, save=False)
    name, old = kept.face.name or "", piece.face.name

    def finish() -> None:
        Piece.across_studios.filter(pk=piece.pk).update(face=name)
        if old:
            remove_after_commit(old)

    return finish


def _opened(file: FieldFile, longest_px: int) -> Image.Image | None:
    """Return a picture made small; none, and a line in the log, if it cannot be read.

    An outage of the disk says nothing about the picture, and passes.
    """
    try:
        with file.open("rb") as source, Image.open(source) as opened:
            opened.thumbnail((longest_px, longest_px), Image.Resampling.LANCZOS)
            return opened.convert("RGB")
    # What Pillow raises for damaged files; a missing one is the first of them.
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError) as problem:
        if outage_of(problem) is not None:
            raise
        log.warning("The picture %s cannot be read: %s", file.name, problem)
        return None


def looked_through(images: Sequence[Image.Image]) -> Image.Image:
    """Return pictures of layers multiplied with each other, as large as the first."""
    seen = np.ones((1, 1, 3))
    for image in images:
        seen = seen * (np.asarray(image.resize(images[0].size)) / 255)
    return Image.fromarray(np.rint(seen * 255).astype(np.uint8), "RGB")


def for_depth(image: Image.Image) -> bytes:
    """Return a picture as WebP with its clear glass white, at most `MOST_BYTES` long."""
    seen = np.asarray(image).astype(np.float64)
    clear = np.percentile(seen, CLEAR_PERCENTILE, axis=(0, 1))
    if clear.min() >= DARKEST_CLEAR and np.ptp(clear) <= MOST_TINTED:
        seen = np.minimum(seen * (255 / clear), 255)
        palest = seen.min(axis=2, keepdims=True)
        share = np.clip((palest - NEARLY_CLEAR) / (CLEAR - NEARLY_CLEAR), 0, 1)
        seen += share * (255 - seen)
    white = Image.fromarray(np.rint(seen).astype(np.uint8), "RGB")
    while True:
        for quality in QUALITIES:
            made = _webp(white, quality)
            if len(made) <= MOST_BYTES:
                return made
        smaller = (max(white.size) * 3 // 4,) * 2
        white.thumbnail(smaller, Image.Resampling.LANCZOS)


def _webp(image: Image.Image, quality: int) -> bytes:
    out = io.BytesIO()
    image.save(out, "WEBP", quality=quality, method=6)
    return out.getvalue()


@on_forget
def order_those_missing(now: datetime) -> int:
    """Order the depth view's version of older pictures of layers; remove nothing.

    One that could not be made is ordered again only when its job is forgotten, so that
    those that cannot be read never hold up the others.
    """
    key = Concat(Value(KEY), Cast(OuterRef("pk"), CharField()))
    ordered = Job.across_studios.filter(studio=OuterRef("studio"), key=key)
    missing = Picture.across_studios.filter(
        ~Exists(ordered), layer__isnull=False, depth=""
    )
    for picture in missing.select_related("studio").order_by("-pk")[:MOST_AT_ONCE]:
        order_depth_picture(picture)
    return 0
