"""How rows are locked, and the row that everything done to one piece waits for.

Two people may record something at the same moment; the second must decide on what the
first left. Use these only inside a transaction.
"""

from typing import TypeVar

from django.db.models import Manager, Model, QuerySet

from studio.models import Piece
from studio.selectors.pieces import PieceView, fresh

_Record = TypeVar("_Record", bound=Model)


def held(rows: Manager[_Record] | QuerySet[_Record]) -> QuerySet[_Record]:
    """Return a queryset that locks its rows until the transaction ends.

    Rows that point at them may still be added. Otherwise whoever holds a piece and
    saves a schedule for a kiln would wait for whoever holds that kiln and asks for the
    piece, and the other for the first.
    """
    return rows.select_for_update(of=("self",), no_key=True)


def free(rows: Manager[_Record] | QuerySet[_Record]) -> QuerySet[_Record]:
    """Return the same without the rows that somebody else holds: it never waits."""
    return rows.select_for_update(of=("self",), no_key=True, skip_locked=True)


def hold_piece(piece: Piece) -> None:
    """Lock the piece until the transaction ends."""
    held(Piece.across_studios).get(pk=piece.pk)


def lock_piece(piece: Piece) -> PieceView:
    """Lock the piece until the transaction ends and return it as it is now."""
    hold_piece(piece)
    return fresh(piece)
