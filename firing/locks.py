"""Which rows are locked, and in which order: the kiln first, then pieces by id."""

from collections.abc import Iterable

from studio.models import Kiln, Piece, Studio
from studio.services.locks import held


def lock_kiln(kiln: Kiln) -> None:
    """Make other bookings of the kiln wait until this transaction ends."""
    held(Kiln.across_studios).get(pk=kiln.pk)


def lock_all_kilns(studio: Studio) -> None:
    """Make every booking in the studio wait; kilns are locked by id."""
    list(held(Kiln.owned.for_studio(studio)).order_by("pk"))


def lock_pieces(pieces: Iterable[Piece]) -> None:
    """Make other work on the pieces and their layers wait."""
    wanted = sorted({piece.pk for piece in pieces})
    list(held(Piece.across_studios).filter(pk__in=wanted).order_by("pk"))
