"""Reads of where finished pieces went, and what is due back."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from studio.models import Piece, PieceMove, Studio, Whereabouts
from studio.tenancy import StudioQuerySet
from studio.viewer import day_words

OUT = (Whereabouts.SHOW, Whereabouts.GALLERY)
"""Where a piece is still the studio's, and may come back from."""
LEFT = (Whereabouts.SOLD, Whereabouts.GIVEN)


@dataclass(frozen=True, slots=True, kw_only=True)
class Went:
    """Where pieces went, since when, and until when if that is agreed."""

    kind: Whereabouts
    day: date
    place: str = ""
    back_on: date | None = None
    note: str = ""


def moves(studio: Studio) -> StudioQuerySet[PieceMove]:
    """Return where the studio's pieces went, taken back or not."""
    found: StudioQuerySet[PieceMove] = PieceMove.owned.for_studio(studio)
    return found.select_related("piece__studio", "by")


def moves_of(piece: Piece) -> list[PieceMove]:
    """Return where a piece went, the newest first, those taken back too."""
    return list(moves(piece.studio).filter(piece=piece).order_by("-day", "-at", "-pk"))


def last_moves(studio: Studio, pieces: Iterable[int]) -> dict[int, PieceMove]:
    """Return the move that says where each piece is, by its key."""
    standing = moves(studio).filter(piece__in=list(pieces), taken_back_at=None)
    return {one.piece_id: one for one in standing.order_by("day", "at", "pk")}


def back_due(studio: Studio, today: date) -> list[PieceMove]:
    """Return the moves of pieces that are to be back by today and are still out."""
    out = moves(studio).filter(
        taken_back_at=None, back_on__isnull=False, back_on__lte=today
    )
    last = last_moves(studio, [one.piece_id for one in out])
    return sorted(
        (one for one in out if last[one.piece_id].pk == one.pk),
        key=lambda one: (one.back_on, one.pk),
    )


def whereabouts_words(move: PieceMove | None) -> str:
    """Say where a finished piece is: "At a show: Spring fair, back on Sun 14 Mar 2027"."""
    if move is None:
        return Whereabouts.STUDIO.label
    kind = Whereabouts(move.kind)
    words = kind.label
    if move.place and kind is not Whereabouts.STUDIO:
        words += f": {move.place}"
    if move.back_on is not None:
        words += f", back on {day_words(move.back_on)}"
    elif kind is not Whereabouts.STUDIO:
        words += f", since {day_words(move.day)}"
    return words
