"""Corrects issued invoices by credit notes; issued like any other draft."""

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from commissions.invoicing import left_of, part_of
from commissions.models import Invoice, InvoiceKind
from commissions.selectors.invoices import credited_so_far, nets_of
from commissions.services.invoices import hold_invoice, line_of, save_draft, tell_of
from studio.errors import Refused
from studio.models import Person
from studio.money import format_money, round_money


@transaction.atomic
def make_credit_note(
    *,
    invoice: Invoice,
    amount: Decimal,
    reason: str,
    by: Person | None,
    at: datetime,
) -> Invoice:
    """Draft a credit note over a part of an issued invoice, or all that is left of it.

    Raises
    ------
    Refused
        When there is no reason, it is a draft or a credit note itself, or the amount is
        more than is left of it.
    """
    current = hold_invoice(invoice)
    if current.is_draft or current.is_credit:
        raise Refused("Only an issued invoice is corrected by a credit note.")
    if not reason.strip():
        raise Refused("Say why: it stands on the credit note.")
    notes = Invoice.owned.for_studio(current.studio).filter(corrects=current)
    left = current.total - credited_so_far(current)
    currency = current.currency
    if not 0 < amount <= left or round_money(amount, currency) != amount:
        raise Refused(
            f"{format_money(left, currency)} is left to credit of {current.name}. Write "
            "an amount above zero, up to that."
        )
    issued = notes.filter(issued_at__isnull=False).prefetch_related("lines")
    taken = [one for note in issued for one in nets_of(note.lines.all())]
    part = part_of(
        left_of(nets_of(current.lines.all()), taken),
        amount=amount,
        of=left,
        currency=currency,
    )
    credit = save_draft(
        Invoice(
            studio=current.studio,
            client=current.client,
            commission=current.commission,
            corrects=current,
            kind=InvoiceKind.CREDIT,
            title=current.title,
            message=reason.strip(),
            currency=currency,
            rounding=part.rounding,
            made_at=at,
            made_by=by,
        ),
        [line_of(f"Taken off invoice {current.number}", one) for one in part.nets],
    )
    tell_of(current, by=by, at=at, what=f"Drafted a credit note on {current.name}")
    return credit
