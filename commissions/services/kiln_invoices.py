"""Invoices a month of shared kilns: one invoice a maker, and none twice."""

from datetime import date, datetime

from django.db import transaction

from commissions.models import Invoice, InvoiceKind
from commissions.selectors.kiln_months import (
    UserMonth,
    kiln_month,
    month_message,
)
from commissions.services.invoices import issue_invoice, make_invoice, send_invoice
from studio.errors import Refused
from studio.models import KilnUser, Person, Studio
from studio.services.locks import held


@transaction.atomic
def invoice_kiln_month(
    *,
    studio: Studio,
    month: date,
    by: Person | None,
    at: datetime,
    user: KilnUser | None = None,
) -> list[Invoice]:
    """Make, issue and send the invoices of a month that is over.

    Parameters
    ----------
    user : KilnUser or None
        Only theirs; else of everybody who has something to pay.

    Raises
    ------
    Refused
        When the month is not over, or nothing is to be invoiced.
    """
    # Held first: two who press at once must not both find the month without invoices.
    list(held(KilnUser.owned.for_studio(studio)).order_by("pk"))
    found = kiln_month(studio, month, now=at)
    if not found.is_over:
        raise Refused(f"{month:%B} is not over: more may be fired in it.")
    rows = [row for row in found.to_invoice if user is None or row.user == user]
    if not rows:
        raise Refused(
            f"Nothing of {month:%B %Y} is left to invoice: look at the invoices below."
        )
    return [_invoiced(row, month, by=by, at=at) for row in rows]


def _invoiced(
    row: UserMonth, month: date, *, by: Person | None, at: datetime
) -> Invoice:
    if row.client is None:
        raise Refused(f"Say which client is invoiced for {row.user}'s kiln time.")
    draft = make_invoice(
        client=row.client,
        kind=InvoiceKind.KILN,
        title=f"Kiln time, {month:%B %Y}",
        message=month_message(row),
        lines=row.lines,
        kiln_user=row.user,
        kiln_month=month,
        by=by,
        at=at,
    )
    issued = issue_invoice(invoice=draft, by=by, at=at)
    return send_invoice(invoice=issued, by=by, at=at)
