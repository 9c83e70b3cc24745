"""Which rows are locked, and in which order: the kiln first, then pieces by their id."""

from collections.abc import Iterable

from studio.models import Kiln, Piece


def lock_kiln(kiln: Kiln) -> None:
    """Make other bookings of the kiln wait until this transaction ends."""
    Kiln.across_studios.select_for_update().get(pk=kiln.pk)


def lock_pieces(pieces: Iterable[Piece]) -> None:
    """Make other work on the pieces and their layers wait."""
    wanted = sorted({piece.pk for piece in pieces})
    locked = Piece.across_studios.select_for_update().filter(pk__in=wanted)
    list(locked.order_by("pk"))
