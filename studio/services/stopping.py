"""Stops the work on pieces, and gives it back; told by whoever ordered them."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from studio.errors import Refused
from studio.models import Person, Piece
from studio.selectors.pieces import fresh, remake_of
from studio.services import history
from studio.services.locks import held
from studio.stages import CLOSED_STAGES


@transaction.atomic
def stop_pieces(
    *, pieces: Sequence[Piece], reason: str, by: Person | None, at: datetime
) -> None:
    """Stop pieces; those finished, lost or stopped already stay as they are.

    A piece inside a kiln comes out of it first and is stopped then.
    """
    for piece in _held(pieces):
        if fresh(piece).stage in CLOSED_STAGES:
            continue
        piece.stopped_at, piece.stopped_reason = at, reason[:120]
        piece.save(update_fields=["stopped_at", "stopped_reason"])
        history.record(
            studio=piece.studio, by=by, at=at, what=f"Stopped: {reason}", piece=piece
        )


@transaction.atomic
def resume_pieces(*, pieces: Sequence[Piece], by: Person | None, at: datetime) -> None:
    """Give stopped pieces back to the bench, as they were left."""
    for piece in _held(pieces):
        if piece.stopped_at is None:
            continue
        piece.stopped_at, piece.stopped_reason = None, ""
        piece.save(update_fields=["stopped_at", "stopped_reason"])
        history.record(studio=piece.studio, by=by, at=at, what="Goes on", piece=piece)


def give_up_remake(piece: Piece) -> None:
    """Let a lost piece be made again by another piece than this one."""
    Piece.across_studios.filter(pk=piece.pk).update(remake_of=None)


def refuse_remade(lost: Piece) -> None:
    """Refuse to find a lost piece again while it is being made anew.

    Raises
    ------
    Refused
        Naming the remake.
    """
    again = remake_of(lost)
    if again is not None:
        raise Refused(
            f"{lost.title} is being made again as “{again.title}”. Take that remake "
            "back first, on the commission's page."
        )


def _held(pieces: Sequence[Piece]) -> list[Piece]:
    wanted = held(Piece.across_studios).filter(pk__in=[piece.pk for piece in pieces])
    return list(wanted.select_related("studio").order_by("pk"))
