"""What the studio is owed, worst first, and what the bookkeeper gets of a period."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Q

from commissions.invoicing import totals
from commissions.models import Payment
from commissions.selectors.invoices import (
    InvoiceState,
    InvoiceView,
    invoices,
    nets_of,
    unsettled,
    view_invoices,
)
from studio.models import Studio
from studio.money import round_money

ZERO = Decimal(0)
# The bar of what is owed, in units of its drawing.
BAR_WIDTH = 600


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A part of the bar: what is owed, and since when it should have been paid."""

    label: str
    kind: str
    amount: Decimal
    x: int
    width: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Owed:
    """Everything that is owed in one currency, by how late it is."""

    currency: str
    total: Decimal
    bands: tuple[Band, ...]


# From how many days late, and the shape of the band.
AGES = (
    (31, "Over 30 days late", "late"),
    (1, "Overdue", "overdue"),
    (None, "Not due yet", "due"),
)


def open_invoices(studio: Studio, *, today: date) -> list[InvoiceView]:
    """Return what is still to be paid, the longest overdue first."""
    found = view_invoices(studio, unsettled(studio), today=today)
    waiting = [one for one in found if one.open > 0]
    return sorted(
        waiting, key=lambda one: (one.invoice.due_date or today, one.invoice.pk)
    )


def overdue_invoices(studio: Studio, *, today: date) -> list[InvoiceView]:
    """Return the invoices that were sent and are overdue, the longest first."""
    late = unsettled(studio).filter(due_date__lt=today, sent_at__isnull=False)
    found = view_invoices(studio, late, today=today)
    waiting = [one for one in found if one.state is InvoiceState.OVERDUE]
    return sorted(waiting, key=lambda one: (-one.days_overdue, one.invoice.pk))


def owed_by_age(waiting: Iterable[InvoiceView]) -> list[Owed]:
    """Add up what is still to be paid, by currency and by how late it is."""
    by_age: dict[str, dict[str, Decimal]] = defaultdict(lambda: defaultdict(Decimal))
    for one in waiting:
        late = one.days_overdue
        age = next(label for days, label, _ in AGES if days is None or late >= days)
        by_age[one.invoice.currency][age] += one.open
    return [_owed(currency, ages) for currency, ages in sorted(by_age.items())]


def _owed(currency: str, ages: dict[str, Decimal]) -> Owed:
    total = sum(ages.values(), ZERO)
    bands, x = [], 0
    for _, label, kind in AGES:
        if amount := ages.get(label):
            width = max(round(BAR_WIDTH * amount / total), 4)
            bands.append(Band(label=label, kind=kind, amount=amount, x=x, width=width))
            x += width
    return Owed(currency=currency, total=total, bands=tuple(bands))


INVOICE_HEADINGS = [
    "Date",
    "Number",
    "Kind",
    "Corrects",
    "Client",
    "Client's tax number",
    "For",
    "Tax",
    "Rate in %",
    "Before tax",
    "Tax amount",
    "Rounding",
    "Total",
    "Currency",
    "Due",
]


def invoice_lines(studio: Studio, *, start: date, end: date) -> Iterator[list[object]]:
    """Return headings, then a row for each tax of each invoice issued in a period.

    A credit note's amounts are below zero, so that columns add up. The rounding amount
    stands in an invoice's first row.
    """
    yield list(INVOICE_HEADINGS)
    found = (
        invoices(studio)
        .filter(issued_date__gte=start, issued_date__lte=end)
        .prefetch_related("lines")
        .order_by("year", "serial", "pk")
    )
    for invoice in found:
        sign = -1 if invoice.is_credit else 1
        currency = invoice.currency
        sums = totals(nets_of(invoice.lines.all()), currency, rounding=invoice.rounding)
        for number, one in enumerate(sums.taxes):
            rounding = ZERO if number else sums.rounding
            amounts = (
                one.taxable,
                one.amount,
                rounding,
                one.taxable + one.amount + rounding,
            )
            yield [
                invoice.issued_date,
                invoice.number,
                invoice.get_kind_display(),
                invoice.corrects.number if invoice.corrects else "",
                invoice.client.name,
                invoice.client.tax_number,
                invoice.title,
                one.tax.name,
                f"{one.tax.percent:f}",
                *(round_money(sign * amount, currency) for amount in amounts),
                currency,
                invoice.due_date or "",
            ]


PAYMENT_HEADINGS = [
    "Date",
    "Receipt",
    "Invoice",
    "Client",
    "For",
    "Amount",
    "Currency",
    "How",
    "Note",
]


def payment_lines(studio: Studio, *, start: date, end: date) -> Iterator[list[object]]:
    """Return headings, then the payments of a period that stand; paid back below zero."""
    yield list(PAYMENT_HEADINGS)
    found = (
        Payment.owned.for_studio(studio)
        .filter(
            Q(taken_back_at__isnull=True),
            received_date__gte=start,
            received_date__lte=end,
        )
        .select_related("commission__client", "invoice__client", "receipt")
        .order_by("received_date", "pk")
    )
    for payment in found:
        about = payment.invoice or payment.commission
        yield [
            payment.received_date,
            payment.receipt_number,
            payment.invoice.number if payment.invoice else "",
            payment.payer.name,
            about.title if about is not None else "",
            round_money(payment.amount, payment.currency),
            payment.currency,
            payment.method,
            payment.note,
        ]
