"""Writes down the day for which a piece is promised."""

from datetime import date

from django.db import transaction

from studio.models import Piece
from studio.services.locks import held


@transaction.atomic
def set_due_date(*, piece: Piece, day: date | None) -> None:
    """Let a piece be promised for a day, or for none; whoever promises tells the history."""
    current = held(Piece.owned.for_studio(piece.studio)).get(pk=piece.pk)
    if current.due_date == day:
        return
    current.due_date = day
    current.save(update_fields=["due_date"])
