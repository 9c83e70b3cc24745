"""Writes a commission's lines in the studio's history; all of them are about money."""

from datetime import datetime

from commissions.models import Client, Commission
from studio.models import Person, Piece
from studio.services import history


def note(
    commission: Commission,
    *,
    by: Person | None,
    at: datetime,
    what: str,
    piece: Piece | None = None,
) -> None:
    """Add one line; only those who may see money are shown it."""
    history.record(
        studio=commission.studio,
        by=by,
        at=at,
        what=what,
        piece=piece,
        subject=subject_of(commission),
        is_about_money=True,
    )


def subject_of(commission: Commission) -> str:
    """Return what history calls the commission."""
    return f"commission {commission.pk}"


def note_client(client: Client, *, by: Person | None, at: datetime, what: str) -> None:
    """Add one line about a client's money that belongs to no commission."""
    history.record(
        studio=client.studio,
        by=by,
        at=at,
        what=what,
        subject=f"client {client.pk}",
        is_about_money=True,
    )
