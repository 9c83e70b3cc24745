"""Changes a piece's title, maker and note.

`studio.services.pieces` is what is done to the piece; its size and layers stay as
planned.
"""

from datetime import datetime

from django.db import transaction

from studio.models import Person, Piece
from studio.services import history
from studio.services.locks import held


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
