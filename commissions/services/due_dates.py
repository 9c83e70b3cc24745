"""Tells the studio the promised day for a commission's piece."""

from datetime import date

from commissions.models import Commission, CommissionedPiece, Quote
from studio.services.due_dates import set_due_date


def tell_due_date(commission: Commission) -> None:
    """Set the day that counts now, or none, on the commission's piece.

    Called in the transaction of whatever changes that day. The maquette has no day of
    its own; a replaced piece has none any more.
    """
    joined = CommissionedPiece.owned.for_studio(commission.studio)
    rows = joined.filter(commission=commission, is_maquette=False)
    for row in rows.select_related("piece"):
        day = None if row.replaced_at else _day(commission)
        set_due_date(piece=row.piece, day=day)


def _day(commission: Commission) -> date | None:
    """Return the day agreed since, else that of the accepted quote; none once closed."""
    if commission.closed_at is not None:
        return None
    quotes = Quote.owned.for_studio(commission.studio).filter(commission=commission)
    accepted: Quote | None = quotes.filter(accepted_at__isnull=False).first()
    if accepted is None:
        return None
    day: date | None = accepted.agreed_date or accepted.promised_date
    return day
