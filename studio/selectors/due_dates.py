"""Which pieces are promised for which day."""

from datetime import date

from studio.models import Piece, Studio


def due_dates(studio: Studio) -> dict[int, date]:
    """Return the promised days by the pieces' keys; a piece nobody promised has none."""
    promised = Piece.owned.for_studio(studio).filter(due_date__isnull=False)
    return dict(promised.order_by("pk").values_list("pk", "due_date"))
