"""Changes a piece's title, maker and note, and its size while nothing is made of it.

`studio.services.pieces` is what is done to the piece.
"""

from datetime import datetime

from django.db import transaction

from studio.models import Person, Piece
from studio.services import history
from studio.services.locks import held, lock_piece


@transaction.atomic
def change_details(
    *,
    piece: Piece,
    title: str,
    maker: Person | None,
    note: str,
    by: Person | None,
    at: datetime,
) -> None:
    """Change a piece's details; its history names each one that changed."""
    wanted = {"title": title, "maker": maker, "note": note}
    locked = held(Piece.owned.for_studio(piece.studio)).get(pk=piece.pk)
    changed = [name for name, to in wanted.items() if getattr(locked, name) != to]
    if not changed:
        return
    was = locked.title
    for name in changed:
        setattr(locked, name, wanted[name])
    locked.save(update_fields=changed)
    words = [f"title, before “{was}”" if name == "title" else name for name in changed]
    history.record(
        studio=piece.studio,
        by=by,
        at=at,
        what="Changed " + ", ".join(words),
        piece=locked,
    )


def resize_piece(
    *,
    piece: Piece,
    width_mm: float,
    height_mm: float,
    is_dammed: bool,
    by: Person | None,
    at: datetime,
) -> bool:
    """Set the size that was agreed anew; return whether the piece could take it.

    Once a layer is painted or the stack is touched, it stays what it is.
    """
    view = lock_piece(piece)
    painted = any(one.painted_at for layer in view.layers for one in layer.all_passes)
    if view.events or painted:
        return False
    piece.width_mm, piece.height_mm, piece.is_dammed = width_mm, height_mm, is_dammed
    piece.save(update_fields=["width_mm", "height_mm", "is_dammed"])
    history.record(
        studio=piece.studio,
        by=by,
        at=at,
        what="Changed the size as agreed",
        piece=piece,
    )
    return True
