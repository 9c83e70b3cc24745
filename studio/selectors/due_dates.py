"""Which pieces are promised for which day."""

from datetime import date

from studio.models import Piece, Studio


def due_dates(studio: Studio) -> dict[int, date]:
    """Return the promised days by the pieces' keys; a piece without a promise has none."""
    rows = Piece.owned.for_studio(studio).order_by("pk").values_list("pk", "due_date")
    return {pk: day for pk, day in rows.filter(due_date__isnull=False) if day}
