"""Posts and withdraws news for the client."""

import hashlib
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import BinaryIO

from django.core.files.base import File
from django.db import transaction

from commissions.models import Commission, CommissionedPiece, Post
from commissions.services.commissions import locked
from commissions.services.notes import note
from studio.errors import Refused
from studio.models import Person, Picture, Piece
from studio.services.locks import held
from studio.services.photographs import Developed, develop
from studio.services.pictures import keep_picture
from studio.tenancy import same_studio
from studio.undo import because, checked_reason
from studio.whole_files import with_its_files

PRESSED_TWICE_WITHIN = timedelta(minutes=10)


def post_news(
    *,
    commission: Commission,
    text: str,
    by: Person | None,
    at: datetime,
    pictures: Sequence[Picture] = (),
    uploads: Sequence[BinaryIO] = (),
) -> Post:
    """Post words and pictures for the client, new uploads included.

    Pressed twice, it is posted once.

    Raises
    ------
    Refused
        When there is neither, an upload is no picture, or a picture is of another
        commission's piece.
    """
    same_studio(commission.studio, *pictures)
    if not text.strip() and not pictures and not uploads:
        raise Refused("Write a few words or add a picture.")
    _refuse_pictures_of_others(commission, pictures)
    photographs = [
        develop(upload, str(getattr(upload, "name", "The file"))) for upload in uploads
    ]
    return _post(commission, text, pictures, photographs, by, at)


@with_its_files()
def _post(
    commission: Commission,
    text: str,
    pictures: Sequence[Picture],
    photographs: Sequence[Developed],
    by: Person | None,
    at: datetime,
) -> Post:
    locked(commission)
    if (
        posted := _just_posted(commission, text, pictures, photographs, by, at)
    ) is not None:
        return posted
    piece = _piece_of(commission)
    taken_in = [
        keep_picture(
            studio=commission.studio, developed=developed, piece=piece, by=by, at=at
        )
        for developed in photographs
    ]
    post = Post.across_studios.create(
        studio=commission.studio, commission=commission, text=text, at=at, by=by
    )
    post.pictures.set([*pictures, *taken_in])
    note(commission, by=by, at=at, what=f"News for the client: {text[:200]}")
    return post


def _just_posted(
    commission: Commission,
    text: str,
    pictures: Sequence[Picture],
    photographs: Sequence[Developed],
    by: Person | None,
    at: datetime,
) -> Post | None:
    """Return the last news if this is the same, sent by the same person a moment ago.

    A picture that is sent twice is told by its bytes: it has another name and row.
    """
    last: Post | None = (
        Post.owned.for_studio(commission.studio)
        .filter(commission=commission, withdrawn_at=None)
        .first()
    )
    if (
        last is None
        or (last.text, last.by) != (text, by)
        or at - last.at > PRESSED_TWICE_WITHIN
    ):
        return None
    chosen = {picture.pk for picture in pictures}
    sent = [picture for picture in last.pictures.all() if picture.pk not in chosen]
    if len(chosen) + len(sent) != last.pictures.count() or len(sent) != len(
        photographs
    ):
        return None
    is_same = _hashes(one.image for one in sent) == _hashes(
        one.large for one in photographs
    )
    return last if is_same else None


def _hashes(files: "Iterable[File[bytes]]") -> list[str]:
    return sorted(hashlib.sha256(_bytes(file)).hexdigest() for file in files)


def _bytes(file: "File[bytes]") -> bytes:
    with file.open("rb") as opened:
        data: bytes = opened.read()
    return data


@transaction.atomic
def withdraw_post(
    *, post: Post, by: Person | None, at: datetime, reason: str = ""
) -> None:
    """Take news off the client's page; the studio still sees it.

    Raises
    ------
    Refused
        When it is late and no reason is given.
    """
    current = held(Post.across_studios).get(pk=post.pk)
    if current.withdrawn_at is not None:
        return
    why = checked_reason(reason, recorded_at=current.at, now=at)
    current.withdrawn_at = at
    current.save(update_fields=["withdrawn_at"])
    what = f"Took back news{because(why)}: {post.text[:200]}"
    note(post.commission, by=by, at=at, what=what)


@transaction.atomic
def post_again(
    *, post: Post, by: Person | None, at: datetime, reason: str = ""
) -> None:
    """Put withdrawn news back on the client's page.

    Raises
    ------
    Refused
        When it is late and no reason is given.
    """
    current = held(Post.across_studios).get(pk=post.pk)
    if current.withdrawn_at is None:
        return
    why = checked_reason(reason, recorded_at=current.withdrawn_at, now=at)
    current.withdrawn_at = None
    current.save(update_fields=["withdrawn_at"])
    what = f"Posted news again{because(why)}: {post.text[:200]}"
    note(post.commission, by=by, at=at, what=what)


def _refuse_pictures_of_others(
    commission: Commission, pictures: Sequence[Picture]
) -> None:
    own = set(
        CommissionedPiece.owned.for_studio(commission.studio)
        .filter(commission=commission)
        .values_list("piece_id", flat=True)
    )
    if any(p.piece_id not in own and p.pk != commission.reference_id for p in pictures):
        raise Refused("One of these pictures does not show this commission's work.")


def _piece_of(commission: Commission) -> Piece | None:
    """Return the piece for new pictures: the work itself, once it exists."""
    found: CommissionedPiece | None = (
        CommissionedPiece.owned.for_studio(commission.studio)
        .filter(commission=commission, is_maquette=False, replaced_at=None)
        .select_related("piece")
        .first()
    )
    return found.piece if found is not None else None
