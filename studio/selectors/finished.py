"""Reads of finished work: each piece with its record, by where it is."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import OuterRef, Q, Subquery, Value
from django.db.models.functions import Coalesce

from studio.models import (
    Piece,
    PieceMove,
    PieceRecord,
    Studio,
    Whereabouts,
)
from studio.selectors.pictures import looks_of_pieces
from studio.selectors.pieces import finished_pieces
from studio.selectors.whereabouts import LEFT, last_moves
from studio.tenancy import StudioQuerySet

_HAS_LEFT = Q(where__in=LEFT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """A finished piece, its record and where it is; `move` is none while at home."""

    piece: Piece
    record: PieceRecord
    move: PieceMove | None
    picture: str = ""

    @property
    def kind(self) -> Whereabouts:
        """Return the kind of place it is at."""
        return Whereabouts(self.move.kind) if self.move else Whereabouts.STUDIO

    @property
    def place(self) -> str:
        """Return the name of the place, if it has one."""
        return self.move.place if self.move else ""

    @property
    def back_on(self) -> date | None:
        """Return the day on which it is to come back, if one is agreed."""
        return self.move.back_on if self.move else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where some finished pieces are, and the pieces."""

    kind: Whereabouts
    name: str
    works: tuple[Work, ...]

    @property
    def title(self) -> str:
        """Return what the place is called on a page."""
        if self.kind is Whereabouts.STUDIO or not self.name:
            return self.kind.label
        return self.name

    @property
    def note(self) -> str:
        """Say what kind of place it is, where the title does not."""
        return "" if self.title == self.kind.label else self.kind.label

    @property
    def value(self) -> Decimal:
        """Return the sum of the values that are known."""
        return sum((one.record.value or Decimal(0) for one in self.works), Decimal(0))


def pieces_at_hand(studio: Studio, also: Iterable[str] = ()) -> StudioQuerySet[Piece]:
    """Return the finished pieces that are the studio's still, and those of some keys."""
    return _with_where(studio).filter(~_HAS_LEFT | Q(pk__in=list(also)))


def pieces_that_left(studio: Studio) -> StudioQuerySet[Piece]:
    """Return the finished pieces that were sold or given away."""
    return _with_where(studio).filter(_HAS_LEFT)


def _with_where(studio: Studio) -> StudioQuerySet[Piece]:
    last = PieceMove.across_studios.filter(piece=OuterRef("pk"), taken_back_at=None)
    where = last.order_by("-day", "-at", "-pk").values("kind")[:1]
    # "" for one that never went anywhere: SQL leaves no value out of both lists.
    return finished_pieces(studio).annotate(where=Coalesce(Subquery(where), Value("")))


def works(studio: Studio, found: Iterable[Piece]) -> list[Work]:
    """Return finished pieces with their records and where they are, in their order."""
    pieces = list(found)
    keys = [piece.pk for piece in pieces]
    at, looks = last_moves(studio, keys), looks_of_pieces(studio, keys)
    records = {
        one.piece_id: one
        for one in PieceRecord.owned.for_studio(studio).filter(piece__in=keys)
    }
    return [
        Work(
            piece=piece,
            record=records.get(piece.pk) or PieceRecord(studio=studio, piece=piece),
            move=at.get(piece.pk),
            picture=looks.get(piece.pk, ""),
        )
        for piece in pieces
    ]


def places(found: Iterable[Work]) -> list[Place]:
    """Return finished work by where it is: home first, what left for good last."""
    groups: dict[tuple[Whereabouts, str], list[Work]] = {}
    for one in found:
        name = "" if one.kind in (Whereabouts.STUDIO, *LEFT) else one.place
        groups.setdefault((one.kind, name.casefold()), []).append(one)
    order = list(Whereabouts)
    return [
        Place(kind=kind, name=group[0].place if name else "", works=tuple(group))
        for (kind, name), group in sorted(
            groups.items(), key=lambda one: (order.index(one[0][0]), one[0][1])
        )
    ]


def coming_back(found: Iterable[Work]) -> list[Work]:
    """Return the pieces with a day on which they come back, the earliest first."""
    dated = [(one.back_on, one.piece.pk, one) for one in found if one.back_on]
    return [one for _, _, one in sorted(dated, key=lambda each: each[:2])]


def likely_kind(found: Iterable[Work], ticked: Iterable[str]) -> Whereabouts:
    """Return where some pieces likely go: home if one of them is out, else to a show."""
    keys = set(ticked)
    is_out = any(one.move for one in found if str(one.piece.pk) in keys)
    return Whereabouts.STUDIO if is_out else Whereabouts.SHOW
