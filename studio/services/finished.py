"""Keeps finished work's records, and where it went."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from studio.errors import Refused
from studio.models import Person, Piece, PieceMove, PieceRecord
from studio.selectors.whereabouts import OUT, Went, last_moves, whereabouts_words
from studio.services import history
from studio.services.locks import held, lock_piece
from studio.services.photographs import Developed
from studio.services.pictures import keep_picture
from studio.stages import Stage
from studio.undo import because, checked_reason

CALLED = {
    "edition": "edition",
    "width_mm": "measured width",
    "height_mm": "measured height",
    "thickness_mm": "measured thickness",
    "weight_kg": "weight",
    "cold_work": "cold work",
    "seen": "what polarisers showed",
    "seen_nm_cm": "measured retardation",
    "hanging": "hanging",
    "care": "care",
}
SEEN_CAPTION = "Between crossed polarisers"


@transaction.atomic
def save_record(
    *,
    piece: Piece,
    told: Mapping[str, object],
    by: Person | None,
    at: datetime,
    seen: Developed | None = None,
) -> PieceRecord:
    """Keep what a piece's record says; the history names what changed.

    `told` has some of the fields in `CALLED`, and `value` from those who see money.
    `seen` is a picture between crossed polarisers, prepared before.
    """
    held(Piece.owned.for_studio(piece.studio)).get(pk=piece.pk)
    record = PieceRecord.owned.for_studio(piece.studio).filter(piece=piece).first()
    record = record or PieceRecord(studio=piece.studio, piece=piece)
    changed = [name for name, to in told.items() if getattr(record, name) != to]
    for name in changed:
        setattr(record, name, told[name])
    if seen is not None:
        record.seen_picture = keep_picture(
            studio=piece.studio,
            developed=seen,
            by=by,
            at=at,
            piece=piece,
            caption=SEEN_CAPTION,
        )
    if not changed and seen is None:
        return record
    record.changed_at = at
    record.save()
    words = [CALLED[name] for name in CALLED if name in changed]
    words += ["picture between polarisers"] if seen is not None else []
    if words:
        _note(piece, by, at, f"Changed the record: {', '.join(words)}")
    if "value" in changed:
        value: Decimal | None = record.value
        told_value = "taken away" if value is None else f"{value:,.2f}"
        history.record(
            studio=piece.studio,
            by=by,
            at=at,
            what=f"Value: {told_value}",
            piece=piece,
            is_about_money=True,
        )
    return record


@transaction.atomic
def move_works(
    *, pieces: Sequence[Piece], went: Went, by: Person | None, at: datetime
) -> list[PieceMove]:
    """Record where some finished pieces went, all or none.

    Raises
    ------
    Refused
        When one is not finished, a place or its name is missing, or the days are in
        the wrong order.
    """
    _check(went)
    made = []
    for piece in sorted(pieces, key=lambda one: one.pk):
        view = lock_piece(piece)
        if view.stage is not Stage.FINISHED:
            raise Refused(
                f"{piece.title} is not finished yet: {view.stage_words.lower()}."
            )
        before = last_moves(piece.studio, [piece.pk]).get(piece.pk)
        if before is not None and before.day > went.day:
            raise Refused(
                f"{piece.title} went somewhere later than that: "
                f"{whereabouts_words(before)}. Undo that first, or write a later day."
            )
        move = PieceMove.across_studios.create(
            studio=piece.studio,
            piece=piece,
            kind=went.kind,
            place=went.place.strip(),
            day=went.day,
            back_on=went.back_on,
            note=went.note.strip(),
            at=at,
            by=by,
        )
        made.append(move)
        _note(piece, by, at, whereabouts_words(move))
    return made


@transaction.atomic
def take_back_move(
    *, move: PieceMove, reason: str, by: Person | None, at: datetime
) -> None:
    """Take a move back: the piece is where it was before. Twice changes nothing.

    Raises
    ------
    Refused
        When it is late and no reason is given.
    """
    current = held(PieceMove.owned.for_studio(move.studio)).get(pk=move.pk)
    if current.taken_back_at is not None:
        return
    given = checked_reason(reason, recorded_at=current.at, now=at)
    current.taken_back_at, current.taken_back_by = at, by
    current.taken_back_reason = given
    current.save()
    words = whereabouts_words(current)
    _note(current.piece, by, at, f"Took back: {words}{because(given)}")


def _check(went: Went) -> None:
    if went.kind in OUT and not went.place.strip():
        raise Refused("Write where: the name of the show or the gallery.")
    if went.back_on is not None and went.kind not in OUT:
        raise Refused("Only what is at a show or with a gallery comes back.")
    if went.back_on is not None and went.back_on < went.day:
        raise Refused("It would come back before it went. Write a later day.")


def _note(piece: Piece, by: Person | None, at: datetime, what: str) -> None:
    history.record(studio=piece.studio, by=by, at=at, what=what, piece=piece)
