"""What is done to photographs: saved, captioned, shown to the client, removed."""

from datetime import datetime
from typing import IO
from uuid import UUID

from django.db import IntegrityError, transaction

from studio.models import Layer, Pass, Person, Picture, Piece, Studio
from studio.services import history
from studio.services.depth_pictures import order_depth_picture, order_face
from studio.services.photographs import Developed, develop
from studio.tenancy import same_studio
from studio.whole_files import remove_after_commit, with_its_files


def add_picture(
    *,
    studio: Studio,
    upload: IO[bytes],
    name: str,
    by: Person | None,
    at: datetime,
    piece: Piece | None = None,
    layer: Layer | None = None,
    of_pass: Pass | None = None,
    caption: str = "",
    is_shown_to_client: bool = False,
) -> Picture:
    """Prepare a photograph and save it.

    Raises
    ------
    Refused
        When the upload is no picture that can be taken.
    """
    return keep_picture(
        studio=studio,
        developed=develop(upload, name),
        by=by,
        at=at,
        piece=piece,
        layer=layer,
        of_pass=of_pass,
        caption=caption,
        is_shown_to_client=is_shown_to_client,
    )


def keep_shot(
    *,
    shot: UUID,
    studio: Studio,
    upload: IO[bytes],
    name: str,
    by: Person | None,
    at: datetime,
    piece: Piece | None = None,
    of_pass: Pass | None = None,
    caption: str = "",
) -> None:
    """Save a shot taken at the bench, once however often a phone sends it.

    Raises
    ------
    Refused
        When the upload is no picture that can be taken.
    """
    taken = Picture.owned.for_studio(studio).filter(shot=shot)
    if taken.exists():
        return
    developed = develop(upload, name)
    try:
        keep_picture(
            studio=studio,
            developed=developed,
            by=by,
            at=at,
            piece=piece,
            of_pass=of_pass,
            caption=caption,
            shot=shot,
        )
    except IntegrityError:
        # Sent twice at the same moment: the other one keeps it.
        if not taken.exists():
            raise


@with_its_files()
def keep_picture(
    *,
    studio: Studio,
    developed: Developed,
    by: Person | None,
    at: datetime,
    piece: Piece | None = None,
    layer: Layer | None = None,
    of_pass: Pass | None = None,
    caption: str = "",
    is_shown_to_client: bool = False,
    shot: UUID | None = None,
) -> Picture:
    """Save a photograph that was prepared before this transaction began."""
    same_studio(studio, piece, layer, of_pass)
    if layer is None and of_pass is not None:
        layer = of_pass.sheet.layer
    kept = Picture(
        studio=studio,
        piece=piece or (layer.piece if layer else None),
        layer=layer,
        of_pass=of_pass,
        image=developed.large,
        thumbnail=developed.small,
        width_px=developed.width_px,
        height_px=developed.height_px,
        caption=caption[:200],
        at=at,
        by=by,
        is_shown_to_client=is_shown_to_client,
        shot=shot,
    )
    for field in (kept.image, kept.thumbnail):
        field.save(str(field.name), field.file, save=False)
    kept.save()
    if layer is not None:
        order_depth_picture(kept)
    return kept


def change_caption(*, picture: Picture, caption: str) -> None:
    """Set the caption of a picture."""
    Picture.across_studios.filter(pk=picture.pk).update(caption=caption[:200])


@transaction.atomic
def show_to_client(
    *, picture: Picture, is_shown: bool, by: Person | None, at: datetime
) -> None:
    """Put a picture on the client's page, or take it off; twice changes nothing."""
    others = Picture.across_studios.filter(is_shown_to_client=not is_shown)
    if not others.filter(pk=picture.pk).update(is_shown_to_client=is_shown):
        return
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
    files = [
        one.name
        for one in (picture.image, picture.thumbnail, picture.depth)
        if one.name
    ]
    history.record(
        studio=picture.studio,
        by=by,
        at=at,
        what=f"Removed a picture: {picture}",
        piece=picture.piece,
    )
    picture.delete()
    remove_after_commit(*files)
    if picture.layer_id is not None and picture.piece is not None:
        order_face(picture.piece)
