"""Makes a layer's picture for the depth view: small, and white where the glass is clear.

Twenty of them lie over each other there, so what the light table tints would darken
the whole stack, and together they must load quickly on a phone.
"""

import io
from datetime import datetime

import numpy as np
from django.core.files.base import ContentFile
from PIL import Image, UnidentifiedImageError

from studio import jobs
from studio.jobs import Finish, on_forget
from studio.models import Picture
from studio.whole_files import without_left_files

DEPTH_JOB = "studio.depth_picture"
LONGEST_PX = 800
# Twenty layers stay under 300 kB.
MOST_BYTES = 14_000
QUALITIES = (78, 62, 46, 30, 15)
# What is clear glass in a photograph: brighter than this share of it, per colour.
CLEAR_PERCENTILE = 97.0
# A picture that is dark all over was not taken on a light table and is left as it is.
DARKEST_CLEAR = 110.0
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

    return finish


def for_depth(data: bytes) -> bytes:
    """Return a picture as WebP with its clear glass white, at most `MOST_BYTES` long."""
    with Image.open(io.BytesIO(data)) as opened:
        opened.thumbnail((LONGEST_PX, LONGEST_PX), Image.Resampling.LANCZOS)
        seen = np.asarray(opened.convert("RGB")).astype(np.float64)
    clear = np.percentile(seen, CLEAR_PERCENTILE, axis=(0, 1))
    if clear.min() >= DARKEST_CLEAR:
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
