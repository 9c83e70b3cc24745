"""Closes commissions that will not be made, settles their money, and reopens them."""

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from commissions.models import ClosedMoney, Commission, CommissionedPiece, Payment
from commissions.selectors.money import settled_words
from commissions.services.commissions import locked
from commissions.services.due_dates import tell_due_date
from commissions.services.notes import note
from commissions.services.payments import currency_of, paid_so_far, pay_back
from firing.firings.services.stopping import StoppedWork, stop_work
from studio.errors import Refused
from studio.models import Person, Piece
from studio.money import format_money, round_money
from studio.services.stopping import resume_pieces
from studio.tenancy import StudioQuerySet
from studio.undo import because, checked_reason, needs_reason

STOPPED = "the commission was cancelled"


@transaction.atomic
def close_commission(
    *,
    commission: Commission,
    reason: str,
    by: Person | None,
    at: datetime,
    money: str = "",
    amount: Decimal | None = None,
    money_reason: str = "",
) -> StoppedWork:
    """Close a commission that will not be made: work stops, kilns are given back.

    Parameters
    ----------
    money, amount, money_reason
        What becomes of money that came in, how much of it is paid back or credited
        (none: all of it), and why.

    Raises
    ------
    Refused
        When it is closed already, or money came in and nothing is said about it.
    """
    current = locked(commission)
    if current.closed_at is not None:
        raise Refused(f"{current.title} is closed already: {current.closed_reason}.")
    currency = currency_of(current)
    paid = paid_so_far(current, currency)
    given = _settled(paid, currency, money, amount, money_reason)
    stopped = stop_work(
        studio=current.studio,
        pieces=_pieces(current),
        reason=STOPPED,
        by=by,
        at=at,
    )
    if given and money == ClosedMoney.REFUNDED:
        pay_back(commission=current, amount=given, why=money_reason, by=by, at=at)
    current.closed_at, current.closed_reason = at, reason
    current.reopened_at = None
    current.closed_money = money if paid > 0 else ""
    current.closed_money_amount = given or None
    current.closed_money_reason = money_reason.strip() if paid > 0 else ""
    current.save()
    tell_due_date(current)
    note(current, by=by, at=at, what=f"Closed {current.title}: {reason}")
    if paid > 0:
        note(
            current,
            by=by,
            at=at,
            what=settled_words(current, kept=paid - given, currency=currency),
        )
    return stopped


def _settled(
    paid: Decimal, currency: str, money: str, amount: Decimal | None, why: str
) -> Decimal:
    """Return how much goes back to the client.

    Raises
    ------
    Refused
        When nothing is said about money that came in, or more is given than came in.
    """
    if paid <= 0:
        return Decimal(0)
    written = format_money(paid, currency)
    if money not in ClosedMoney.values:
        raise Refused(
            f"{written} came in. Say whether it is kept, paid back or credited."
        )
    if not why.strip():
        raise Refused(f"Say why the {written} is kept, paid back or credited.")
    if money == ClosedMoney.KEPT:
        return Decimal(0)
    given = paid if amount is None else amount
    if not 0 < given <= paid or round_money(given, currency) != given:
        raise Refused(f"Give back between nothing and the {written} that came in.")
    return given


@transaction.atomic
def reopen_commission(
    *, commission: Commission, by: Person | None, at: datetime, reason: str = ""
) -> None:
    """Reopen a closed commission: the work goes on, kilns are booked anew.

    Soon after, closing it was a mistake, and a refund recorded with it never happened.
    Later a refund stays recorded: that money is gone.

    Raises
    ------
    Refused
        When it is late and no reason is given.
    """
    current = locked(commission)
    closed_at = current.closed_at
    if closed_at is None:
        return
    why = checked_reason(reason, recorded_at=closed_at, now=at)
    if not needs_reason(closed_at, at):
        _refunds(current).filter(recorded_at=closed_at).update(
            taken_back_at=at, taken_back_reason="Closed by mistake"
        )
    current.closed_at, current.reopened_at = None, at
    current.save(update_fields=["closed_at", "reopened_at"])
    resume_pieces(pieces=_pieces(current), by=by, at=at)
    tell_due_date(current)
    note(current, by=by, at=at, what=f"Reopened {current.title}{because(why)}")


@transaction.atomic
def close_again(
    *, commission: Commission, by: Person | None, at: datetime, reason: str = ""
) -> None:
    """Close a commission again, on the terms it had before it was reopened by mistake.

    Raises
    ------
    Refused
        When it was not reopened, money moved since, or it is late and no reason is given.
    """
    current = locked(commission)
    reopened_at = current.reopened_at
    if current.closed_at is not None or reopened_at is None:
        raise Refused(f"{current.title} was not reopened.")
    why = checked_reason(reason, recorded_at=reopened_at, now=at)
    moved = Payment.owned.for_studio(current.studio).filter(commission=current)
    if moved.filter(recorded_at__gte=reopened_at).exists():
        raise Refused("Money was recorded since. Close it with the form below.")
    # What was paid back stays so; only what reopening took back is paid back again.
    _refunds(current, standing=False).filter(taken_back_at=reopened_at).update(
        taken_back_at=None, taken_back_reason="", recorded_at=at
    )
    stop_work(
        studio=current.studio,
        pieces=_pieces(current),
        reason=STOPPED,
        by=by,
        at=at,
    )
    current.closed_at, current.reopened_at = at, None
    current.save(update_fields=["closed_at", "reopened_at"])
    tell_due_date(current)
    note(current, by=by, at=at, what=f"Closed {current.title} again{because(why)}")


def _refunds(
    commission: Commission, *, standing: bool = True
) -> StudioQuerySet[Payment]:
    found: StudioQuerySet[Payment] = Payment.owned.for_studio(commission.studio)
    return found.filter(
        commission=commission, amount__lt=0, taken_back_at__isnull=standing
    )


def _pieces(commission: Commission) -> list[Piece]:
    """Return the pieces that are made for it now, without those replaced."""
    rows = CommissionedPiece.owned.for_studio(commission.studio).filter(
        commission=commission, replaced_at=None
    )
    return [row.piece for row in rows.select_related("piece__studio")]
