"""A client's account: what was invoiced, credited and paid, and what is left."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Q
from django.utils.text import capfirst

from commissions.models import Client, Payment
from commissions.selectors.invoices import InvoiceView, invoices, view_invoices

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class StatementLine:
    """One entry of an account; `amount` is owed by the client, or below zero paid."""

    day: date
    words: str
    invoice_id: int | None
    amount: Decimal
    balance: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """A client's account in one currency."""

    currency: str
    lines: tuple[StatementLine, ...]
    open: tuple[InvoiceView, ...]
    """Its invoices that are still to be paid, the first due first."""

    @property
    def balance(self) -> Decimal:
        """Return what the client owes, or below zero has in credit."""
        return self.lines[-1].balance if self.lines else ZERO

    @property
    def credit(self) -> Decimal:
        """Return what the client has in credit."""
        return max(-self.balance, ZERO)

    @property
    def unused(self) -> Decimal:
        """Return what came in and pays for none of the open invoices."""
        return sum((one.open for one in self.open), ZERO) - max(self.balance, ZERO)


def statements(client: Client, *, today: date) -> list[Statement]:
    """Return a client's accounts, one a currency; drafts are left out."""
    studio = client.studio
    entries: dict[str, list[tuple[date, int, str, int | None, Decimal]]] = defaultdict(
        list
    )
    waiting: dict[str, list[InvoiceView]] = defaultdict(list)
    issued = invoices(studio).filter(client=client, issued_at__isnull=False)
    rows = issued.order_by("issued_date", "year", "serial")
    for view in view_invoices(studio, rows, today=today):
        invoice = view.invoice
        if invoice.issued_date is None:
            continue
        sign = -1 if invoice.is_credit else 1
        words = f"{capfirst(invoice.name)}, {invoice.title}"
        entries[invoice.currency].append(
            (invoice.issued_date, 0, words, invoice.pk, sign * invoice.total)
        )
        if view.open > 0:
            waiting[invoice.currency].append(view)
    # A credit used for another invoice of theirs moves no money of the account.
    paid = Payment.owned.for_studio(studio).filter(
        Q(invoice__client=client) | Q(invoice=None) & _pays(client),
        taken_back_at=None,
        from_credit=None,
        credited_to=None,
    )
    for payment in paid.select_related("invoice").order_by("received_date", "pk"):
        words = "Payment" if payment.amount > 0 else "Paid back"
        if payment.invoice is not None:
            words += f", {payment.invoice.name}"
        entries[payment.currency].append(
            (payment.received_date, 1, words, payment.invoice_id, -payment.amount)
        )
    return [
        Statement(
            currency=currency,
            lines=_balanced(entered),
            open=tuple(
                sorted(
                    waiting[currency],
                    key=lambda one: (one.invoice.due_date or today, one.invoice.pk),
                )
            ),
        )
        for currency, entered in sorted(entries.items())
    ]


def _pays(client: Client) -> Q:
    """Return which payments of commissions are a client's: `payer_of`, for a query."""
    by_gallery = Q(commission__gallery_sells=True, commission__gallery__isnull=False)
    return (by_gallery & Q(commission__gallery=client)) | (
        ~by_gallery & Q(commission__client=client)
    )


def _balanced(
    rows: list[tuple[date, int, str, int | None, Decimal]],
) -> tuple[StatementLine, ...]:
    lines, balance = [], ZERO
    for day, _, words, invoice_id, amount in sorted(rows, key=lambda row: row[:2]):
        balance += amount
        lines.append(
            StatementLine(
                day=day,
                words=words,
                invoice_id=invoice_id,
                amount=amount,
                balance=balance,
            )
        )
    return tuple(lines)
