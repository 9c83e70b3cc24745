"""Gives each payment that came in its receipt."""

from datetime import datetime

from commissions import invoice_papers
from commissions.models import NumberSeries, Payment, Receipt
from commissions.selectors.quotes import day_of
from commissions.services.numbers import next_number


def give_receipt(*, payment: Payment, at: datetime) -> Receipt:
    """Write the receipt of a payment; called in the transaction that records it."""
    year, serial, number = next_number(
        studio=payment.studio,
        name=NumberSeries.Name.RECEIPT,
        day=day_of(payment.studio, at),
    )
    receipt: Receipt = Receipt.across_studios.create(
        studio=payment.studio,
        payment=payment,
        year=year,
        serial=serial,
        number=number,
        made_at=at,
        paper=invoice_papers.written_receipt(payment, number).as_json(),
    )
    return receipt
