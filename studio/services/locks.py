"""How rows are held, and the row that everything done to one piece queues for.

Two people may record at the same moment; whoever comes second must decide on what the
first one left. Inside a transaction only.
"""

from typing import TypeVar

from django.db.models import Manager, Model, QuerySet

from studio.models import Piece
from studio.selectors.pieces import PieceView, fresh

_Record = TypeVar("_Record", bound=Model)


def held(rows: Manager[_Record] | QuerySet[_Record]) -> QuerySet[_Record]:
    """Return a queryset that keeps its rows from others until the transaction ends.

    Rows that point at them may be added all the while. Without that, whoever holds a
    piece and keeps a schedule for a kiln would wait for whoever holds that kiln and
    asks for the piece, and the other for the first.
    """
    return rows.select_for_update(of=("self",), no_key=True)


def lock_piece(piece: Piece) -> PieceView:
    """Hold the piece until the transaction ends and return it as it is now."""
    held(Piece.across_studios).get(pk=piece.pk)
    return fresh(piece)
