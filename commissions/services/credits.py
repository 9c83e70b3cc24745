"""Uses what a client has in credit for an invoice, and pays it back."""

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from commissions.models import Commission, Invoice, Payment
from commissions.selectors.credits import Credit, credits_of
from commissions.selectors.invoices import view_invoice
from commissions.selectors.quotes import day_of
from commissions.services.commissions import locked
from commissions.services.invoices import hold_invoice, tell_of
from commissions.services.payments import pay_back
from studio.errors import Refused
from studio.models import Person
from studio.money import format_money, round_money
from studio.services.locks import held
from studio.undo import because


@transaction.atomic
def use_credit_on(
    *, invoice: Invoice, key: str, by: Person | None, at: datetime
) -> Payment:
    """Pay for an invoice from a credit of the same client: as much as is open.

    Raises
    ------
    Refused
        When the credit is used up or another client's, or nothing is to be paid.
    """
    _hold_both(invoice, key, at)
    current = hold_invoice(invoice)
    studio, currency = current.studio, current.currency
    still_open = view_invoice(current, today=day_of(studio, at)).open
    credit = _credit(current, key, at)
    if credit is None or still_open <= 0:
        raise Refused("This credit is used up, or nothing is to be paid.")
    amount = min(credit.amount, still_open)
    used = _take(credit, amount, why=f"Used for {current.name}", by=by, at=at)
    payment: Payment = Payment.across_studios.create(
        studio=studio,
        commission=current.commission,
        invoice=current,
        amount=amount,
        currency=currency,
        received_date=day_of(studio, at),
        method="Credit",
        note=f"From {credit.name}"[:200],
        from_credit=used,
        recorded_at=at,
        recorded_by=by,
    )
    written = format_money(amount, currency)
    what = f"Used {written} of the credit from {credit.name} for {current.name}"
    tell_of(current, by=by, at=at, what=what)
    return payment


def _credit(invoice: Invoice, key: str, at: datetime) -> Credit | None:
    found = credits_of(invoice.client, currency=invoice.currency, at=at)
    return next(
        (one for one in found if one.key == key and not _is_own(one, invoice)), None
    )


def _is_own(credit: Credit, invoice: Invoice) -> bool:
    """Return whether a credit is of the invoice's own account, which counts already."""
    if isinstance(credit.source, Commission):
        return credit.source.pk == invoice.commission_id
    return credit.source.pk == invoice.pk


def _hold_both(invoice: Invoice, key: str, at: datetime) -> None:
    """Hold the commissions of both sides by their keys, then lone invoices by theirs."""
    credit = _credit(invoice, key, at)
    commissions = {invoice.commission} - {None}
    alone = {invoice.pk} if invoice.commission is None else set()
    if credit is not None and isinstance(credit.source, Commission):
        commissions.add(credit.source)
    elif credit is not None:
        alone.add(credit.source.pk)
    for one in sorted(filter(None, commissions), key=lambda one: one.pk):
        locked(one)
    list(held(Invoice.across_studios).filter(pk__in=alone).order_by("pk"))


def _take(
    credit: Credit, amount: Decimal, *, why: str, by: Person | None, at: datetime
) -> Payment:
    if isinstance(credit.source, Commission):
        return pay_back(
            commission=credit.source, amount=amount, why=why[:200], by=by, at=at
        )
    return _pay_back_alone(credit.source, amount, why=why, by=by, at=at)


def _pay_back_alone(
    invoice: Invoice, amount: Decimal, *, why: str, by: Person | None, at: datetime
) -> Payment:
    payment: Payment = Payment.across_studios.create(
        studio=invoice.studio,
        invoice=invoice,
        amount=-amount,
        currency=invoice.currency,
        received_date=day_of(invoice.studio, at),
        note=why[:200],
        recorded_at=at,
        recorded_by=by,
    )
    written = format_money(amount, invoice.currency)
    tell_of(invoice, by=by, at=at, what=f"Paid back {written}{because(why)}")
    return payment


@transaction.atomic
def refund(
    *, invoice: Invoice, amount: Decimal, reason: str, by: Person | None, at: datetime
) -> Payment:
    """Pay back what came in beyond what an invoice, or its commission's invoices, ask.

    Raises
    ------
    Refused
        When that is less than the amount, or no reason is given.
    """
    current = hold_invoice(invoice)
    currency = current.currency
    left = view_invoice(current, today=day_of(current.studio, at)).left_over
    if not reason.strip():
        raise Refused("Say why it is paid back.")
    if amount <= 0 or round_money(amount, currency) != amount:
        raise Refused(f"Write an amount above zero in {currency}.")
    if amount > left:
        raise Refused(
            f"{format_money(left, currency)} was paid beyond what is asked for, so no "
            "more can be paid back. Make a credit note first, if less is owed."
        )
    if current.commission is not None:
        return pay_back(
            commission=current.commission,
            amount=amount,
            why=reason.strip()[:200],
            by=by,
            at=at,
        )
    return _pay_back_alone(current, amount, why=reason.strip(), by=by, at=at)
