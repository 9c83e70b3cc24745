"""Records payments and refunds, and takes them back; they are never edited."""

from collections.abc import Collection
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.db.models import Q, Sum
from django.utils.text import capfirst

from commissions.models import Commission, Invoice, Payment
from commissions.selectors.commissions import view_commission
from commissions.selectors.credits import commission_credit
from commissions.selectors.invoices import view_invoice
from commissions.selectors.money import Question, money_currency
from commissions.selectors.quotes import accepted_quote, day_of
from commissions.services.commissions import locked, refuse_closed
from commissions.services.invoices import hold_invoice, tell_of
from commissions.services.notes import note
from commissions.services.receipts import give_receipt
from studio.errors import Refused
from studio.models import Person
from studio.money import format_money, round_money
from studio.services.locks import held
from studio.tenancy import StudioQuerySet
from studio.undo import because, checked_reason

# Within this time the same amount is more likely recorded twice than paid twice.
TWICE_WITHIN = timedelta(minutes=10)


class PaymentQuestion(Refused):
    """A payment that may be a mistake: recorded only once this is confirmed."""

    def __init__(self, message: str, question: Question) -> None:
        super().__init__(message)
        self.question = question


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
    invoice: Invoice | None = None,
    confirmed: Collection[Question] = (),
) -> Payment:
    """Record money that came in, in the accepted quote's currency; it gets a receipt.

    Raises
    ------
    Refused
        When the amount is not above zero or has more decimals than the currency, or the
        invoice is of another commission or no issued one.
    PaymentQuestion
        When the commission is closed, the same amount was recorded minutes ago, or it
        is more than what is still open, and that was not confirmed.
    """
    current = locked(commission)
    quote = accepted_quote(current)
    currency = currency_of(current)
    _refuse_wrong_amount(amount, currency)
    if invoice is not None:
        # Before it is held: another commission's would be held out of turn.
        if invoice.commission_id != current.pk:
            raise Refused(
                f"{capfirst(invoice.name)} is {invoice.client}'s, for "
                f"{invoice.title}. Record the payment on the invoice it is for."
            )
        invoice = _payable(invoice)
    written = format_money(amount, currency)
    asked = {}
    if current.closed_at is not None:
        asked[Question.LATE] = (
            f"{current.title} is closed: {current.closed_reason}. Reopen it first, or "
            "confirm that this money came in late."
        )
    just_now = _standing(current).filter(
        amount=amount, currency=currency, recorded_at__gt=at - TWICE_WITHIN
    )
    if just_now.exists():
        asked[Question.TWICE] = (
            f"{written} was recorded a moment ago. Did it come twice?"
        )
    if quote is not None:
        still_open = max(quote.to_studio - paid_so_far(current, currency), Decimal(0))
        if amount > still_open:
            asked[Question.CREDIT] = (
                f"{written} is more than the {format_money(still_open, currency)} "
                "still to be paid. Check the amount, or confirm that the rest is a "
                "credit."
            )
    for question, words in asked.items():
        if question not in confirmed:
            raise PaymentQuestion(words, question)
    payment: Payment = Payment.across_studios.create(
        studio=current.studio,
        commission=current,
        invoice=invoice,
        recorded_at=at,
        amount=amount,
        currency=currency,
        received_date=received_date,
        method=method,
        note=note_text,
        recorded_by=by,
    )
    give_receipt(payment=payment, at=at)
    late = ", after it was closed" if Question.LATE in asked else ""
    note(current, by=by, at=at, what=f"Received {written} {method}".strip() + late)
    return payment


def _refuse_wrong_amount(amount: Decimal, currency: str) -> None:
    if amount <= 0:
        raise Refused("An amount received is above zero.")
    if round_money(amount, currency) != amount:
        raise Refused(f"{amount} has more decimals than {currency} has.")


def _payable(invoice: Invoice) -> Invoice:
    """Return an invoice as it is now, held, if money can come in for it."""
    current = hold_invoice(invoice)
    if current.is_draft:
        raise Refused("This is a draft. Issue it before its payment is recorded.")
    if current.is_credit:
        raise Refused("A credit note asks for no payment.")
    return current


@transaction.atomic
def record_invoice_payment(
    *,
    invoice: Invoice,
    amount: Decimal,
    received_date: date,
    by: Person | None,
    at: datetime,
    method: str = "",
    note_text: str = "",
    confirmed: Collection[Question] = (),
) -> Payment:
    """Record money that came in for an invoice, whether a commission's or not.

    Raises
    ------
    Refused, PaymentQuestion
        As `record_payment`.
    """
    if invoice.commission is not None:
        return record_payment(
            commission=invoice.commission,
            amount=amount,
            received_date=received_date,
            by=by,
            at=at,
            method=method,
            note_text=note_text,
            invoice=invoice,
            confirmed=confirmed,
        )
    current = _payable(invoice)
    currency = current.currency
    _refuse_wrong_amount(amount, currency)
    written = format_money(amount, currency)
    just_now = Payment.owned.for_studio(current.studio).filter(
        invoice=current,
        taken_back_at=None,
        amount=amount,
        recorded_at__gt=at - TWICE_WITHIN,
    )
    still_open = view_invoice(current, today=day_of(current.studio, at)).open
    asked = {}
    if just_now.exists():
        asked[Question.TWICE] = (
            f"{written} was recorded a moment ago. Did it come twice?"
        )
    if amount > still_open:
        asked[Question.CREDIT] = (
            f"{written} is more than the {format_money(still_open, currency)} still to "
            "be paid. Check the amount, or confirm that the rest is a credit."
        )
    for question, words in asked.items():
        if question not in confirmed:
            raise PaymentQuestion(words, question)
    payment: Payment = Payment.across_studios.create(
        studio=current.studio,
        invoice=current,
        recorded_at=at,
        amount=amount,
        currency=currency,
        received_date=received_date,
        method=method,
        note=note_text,
        recorded_by=by,
    )
    give_receipt(payment=payment, at=at)
    what = f"Received {written} for {current.name} {method}".strip()
    tell_of(current, by=by, at=at, what=what)
    return payment


@transaction.atomic
def use_credit(
    *, commission: Commission, source: Commission, by: Person | None, at: datetime
) -> Payment:
    """Pay for a commission from what was credited when another one was closed.

    As much as is still to be paid, or before a quote is accepted all of it.

    Raises
    ------
    Refused
        When nothing is left of the credit or nothing is to be paid, it is of another
        client or currency, or this commission is closed.
    """
    both = {one.pk: one for one in sorted((commission, source), key=lambda c: c.pk)}
    held_now = {pk: locked(one) for pk, one in both.items()}
    current, other = held_now[commission.pk], held_now[source.pk]
    refuse_closed(current)
    quote, currency = accepted_quote(current), currency_of(current)
    if other.client_id != current.client_id or currency_of(other) != currency:
        raise Refused(
            "This credit belongs to another client or is in another currency."
        )
    amount = view_commission(other, at=at).credit_left
    if quote is not None:
        amount = min(amount, quote.to_studio - paid_so_far(current, currency))
    if amount <= 0:
        raise Refused("This credit is used up, or nothing is due.")
    used = pay_back(
        commission=other, amount=amount, why=f"Used for {current.title}", by=by, at=at
    )
    payment: Payment = Payment.across_studios.create(
        studio=current.studio,
        commission=current,
        amount=amount,
        currency=currency,
        received_date=day_of(current.studio, at),
        method="Credit",
        note=f"From {other.title}"[:200],
        from_credit=used,
        recorded_at=at,
        recorded_by=by,
    )
    written = format_money(amount, currency)
    note(current, by=by, at=at, what=f"Used {written} of the credit from {other.title}")
    return payment


def pay_back(
    *,
    commission: Commission,
    amount: Decimal,
    why: str,
    by: Person | None,
    at: datetime,
) -> Payment:
    """Record money paid back; called in the transaction that holds the commission."""
    currency = currency_of(commission)
    payment: Payment = Payment.across_studios.create(
        studio=commission.studio,
        commission=commission,
        amount=-amount,
        currency=currency,
        received_date=day_of(commission.studio, at),
        note=why,
        recorded_at=at,
        recorded_by=by,
    )
    written = format_money(amount, currency)
    note(commission, by=by, at=at, what=f"Paid back {written}{because(why)}")
    return payment


@transaction.atomic
def take_back_payment(
    *, payment: Payment, reason: str, by: Person | None, at: datetime
) -> None:
    """Take back a payment that was recorded wrongly; the row stays.

    Raises
    ------
    Refused
        When it is taken back already, or it is late and no reason is given.
    """
    sides = _sides(payment)
    if sides[0].taken_back_at is not None:
        raise Refused("This payment is taken back already.")
    why = checked_reason(reason, recorded_at=sides[0].recorded_at, now=at)
    for one in sides:
        one.taken_back_at, one.taken_back_reason = at, why
        one.save()
        amount = format_money(one.amount, one.currency)
        _tell(one, by=by, at=at, what=f"Took back {amount}{because(why)}")


@transaction.atomic
def put_back_payment(
    *, payment: Payment, reason: str, by: Person | None, at: datetime
) -> None:
    """Let a payment count again that was taken back by mistake.

    Raises
    ------
    Refused
        When it counts already, or it is late and no reason is given.
    """
    sides = _sides(payment)
    if sides[0].taken_back_at is None:
        raise Refused("This payment counts already.")
    why = checked_reason(reason, recorded_at=sides[0].taken_back_at, now=at)
    for one in sides:
        if len(sides) > 1 and one.amount < 0:
            _refuse_used_up(one, at)
        one.taken_back_at, one.taken_back_reason = None, ""
        one.save()
        amount = format_money(one.amount, one.currency)
        _tell(one, by=by, at=at, what=f"{amount} counts again{because(why)}")


def _tell(payment: Payment, *, by: Person | None, at: datetime, what: str) -> None:
    if payment.commission is not None:
        note(payment.commission, by=by, at=at, what=what)
    elif payment.invoice is not None:
        tell_of(payment.invoice, by=by, at=at, what=what)


def _refuse_used_up(used: Payment, at: datetime) -> None:
    """Refuse to use a credit again of which too little is left by now."""
    if used.commission is not None:
        name = used.commission.title
        left = commission_credit(used.commission, at=at)
    else:
        assert used.invoice is not None  # noqa: S101 - held by a constraint
        name = used.invoice.name
        today = day_of(used.studio, at)
        left = view_invoice(used.invoice, today=today).left_over
    if left < -used.amount:
        raise Refused(f"The credit from {name} has been used for other work.")


def _sides(payment: Payment) -> list[Payment]:
    """Hold a payment, and where a credit was used its other side with it.

    Their commissions are held first, so that a credit is not used twice meanwhile.
    """
    found = Payment.across_studios.filter(
        Q(pk=payment.pk) | Q(from_credit=payment.pk) | Q(credited_to=payment.pk)
    )
    commissions = {one.commission for one in found.select_related("commission")}
    for one in sorted(filter(None, commissions), key=lambda one: one.pk):
        locked(one)
    alone = found.filter(commission=None).values("invoice")
    list(held(Invoice.across_studios).filter(pk__in=alone).order_by("pk"))
    return list(held(Payment.across_studios).filter(pk__in=found).order_by("pk"))


def currency_of(commission: Commission) -> str:
    """Return the currency its payments are in, as `MoneyView` has it."""
    return money_currency(
        accepted_quote(commission), _standing(commission), commission.studio.currency
    )


def paid_so_far(commission: Commission, currency: str) -> Decimal:
    """Return the sum of the valid payments in a currency."""
    found = _standing(commission).filter(currency=currency)
    return found.aggregate(total=Sum("amount"))["total"] or Decimal(0)


def _standing(commission: Commission) -> StudioQuerySet[Payment]:
    """Return the payments that were not taken back."""
    found: StudioQuerySet[Payment] = Payment.owned.for_studio(commission.studio)
    return found.filter(commission=commission, taken_back_at__isnull=True)
