"""The row that everything done to one piece queues for.

Two people may record at the same moment; whoever comes second must decide on what the
first one left. Inside a transaction only.
"""

from studio.models import Piece
from studio.selectors.pieces import PieceView, fresh


def lock_piece(piece: Piece) -> PieceView:
    """Hold the piece until the transaction ends and return it as it is now."""
    Piece.across_studios.select_for_update().get(pk=piece.pk)
    return fresh(piece)
