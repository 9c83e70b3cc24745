"""Records payments and takes them back; they are never edited."""

from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.db.models import Sum

from commissions.models import Commission, Payment
from commissions.services.commissions import accepted_quote, locked
from commissions.services.notes import note
from studio.errors import Refused
from studio.models import Person
from studio.money import format_money, round_money
from studio.services.locks import held
from studio.tenancy import StudioQuerySet

# The same payment again within this time means that the button was pressed twice.
PRESSED_TWICE = timedelta(minutes=1)


@transaction.atomic
def record_payment(
    *,
    commission: Commission,
    amount: Decimal,
    received_date: date,
    by: Person | None,
    at: datetime,
    method: str = "",
    note_text: str = "",
) -> Payment:
    """Record money that came in, in the accepted quote's currency.

    Raises
    ------
    Refused
        When the amount is not above zero, has more decimals than the currency, is
        more than what is still open, or the very same was recorded a moment ago.
    """
    current = locked(commission)
    quote = accepted_quote(current)
    currency = quote.currency if quote is not None else current.studio.currency
    if amount <= 0:
        raise Refused("An amount received is above zero.")
    if round_money(amount, currency) != amount:
        raise Refused(f"{amount} has more decimals than {currency} has.")
    if quote is not None:
        still_open = quote.total - paid_so_far(current, currency)
        if amount > still_open:
            raise Refused(
                f"{format_money(amount, currency)} is more than the "
                f"{format_money(max(still_open, Decimal(0)), currency)} still to be "
                "paid. Check the amount."
            )
    facts = {
        "amount": amount,
        "currency": currency,
        "received_date": received_date,
        "method": method,
        "note": note_text,
        "recorded_by": by,
    }
    if _standing(current).filter(recorded_at__gt=at - PRESSED_TWICE, **facts).exists():
        raise Refused(
            "This payment was recorded a moment ago. If a second one like it came in, "
            "write in the note how the two differ."
        )
    payment: Payment = Payment.across_studios.create(
        studio=current.studio, commission=current, recorded_at=at, **facts
    )
    note(
        current,
        by=by,
        at=at,
        what=f"Received {format_money(amount, currency)} {method}",
    )
    return payment


@transaction.atomic
def take_back_payment(
    *, payment: Payment, reason: str, by: Person | None, at: datetime
) -> None:
    """Take back a payment that was recorded wrongly; the row stays.

    Raises
    ------
    Refused
        When it is taken back already.
    """
    current = held(Payment.across_studios).get(pk=payment.pk)
    if current.taken_back_at is not None:
        raise Refused("This payment is taken back already.")
    current.taken_back_at = at
    current.taken_back_reason = reason
    current.save()
    amount = format_money(current.amount, current.currency)
    note(payment.commission, by=by, at=at, what=f"Took back {amount}: {reason}")


def paid_so_far(commission: Commission, currency: str) -> Decimal:
    """Return the sum of the valid payments in a currency."""
    found = _standing(commission).filter(currency=currency)
    return found.aggregate(total=Sum("amount"))["total"] or Decimal(0)


def _standing(commission: Commission) -> StudioQuerySet[Payment]:
    """Return the payments that were not taken back."""
    found: StudioQuerySet[Payment] = Payment.owned.for_studio(commission.studio)
    return found.filter(commission=commission, taken_back_at__isnull=True)
