"""Writes the studio's history: who did what and when, in words."""

from collections.abc import Callable
from datetime import datetime

from studio.models import HistoryEntry, Person, Piece, Studio

Listener = Callable[[HistoryEntry], None]

_listeners: list[Listener] = []


def on_record(listener: Listener) -> Listener:
    """Register a function called for every line, inside its transaction.

    This is how a higher app learns that something happened; this app knows none of
    them.
    """
    if listener not in _listeners:
        _listeners.append(listener)
    return listener


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
    """Add one line; called inside the transaction of what it describes."""
    entry: HistoryEntry = HistoryEntry.across_studios.create(
        studio=studio,
        by=by,
        at=at,
        what=what[:400],
        piece=piece,
        subject=subject,
        is_about_money=is_about_money,
    )
    for listener in _listeners:
        listener(entry)
    return entry
