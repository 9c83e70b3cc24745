"""Records the day for which a piece is promised."""

from datetime import date

from django.db import transaction

from studio.models import Piece
from studio.services.locks import held


@transaction.atomic
def set_due_date(*, piece: Piece, day: date | None) -> None:
    """Set the promised day of a piece, or none; the caller writes the history."""
    current = held(Piece.owned.for_studio(piece.studio)).get(pk=piece.pk)
    if current.due_date == day:
        return
    current.due_date = day
    current.save(update_fields=["due_date"])
