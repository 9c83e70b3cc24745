"""Which rows are locked, and in which order: the kiln first, then pieces by their id."""

from collections.abc import Iterable

from studio.models import Kiln, Piece
from studio.services.locks import held


def lock_kiln(kiln: Kiln) -> None:
    """Make other bookings of the kiln wait until this transaction ends."""
    held(Kiln.across_studios).get(pk=kiln.pk)


def lock_pieces(pieces: Iterable[Piece]) -> None:
    """Make other work on the pieces and their layers wait."""
    wanted = sorted({piece.pk for piece in pieces})
    list(held(Piece.across_studios).filter(pk__in=wanted).order_by("pk"))
