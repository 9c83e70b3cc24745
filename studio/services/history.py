"""Writes the studio's history: who did what and when, in words."""

from datetime import datetime

from studio.models import HistoryEntry, Person, Piece, Studio


def record(
    *,
    studio: Studio,
    by: Person | None,
    at: datetime,
    what: str,
    piece: Piece | None = None,
    subject: str = "",
    is_about_money: bool = False,
) -> HistoryEntry:
    """Add one line; called inside the transaction of what it tells of."""
    return HistoryEntry.across_studios.create(
        studio=studio,
        by=by,
        at=at,
        what=what[:400],
        piece=piece,
        subject=subject,
        is_about_money=is_about_money,
    )
