"""Reads invoices: what of each is paid, credited, open and overdue; derived, not stored."""

from collections import defaultdict
from collections.abc import Collection, Hashable, Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from django.db.models import (
    DecimalField,
    Exists,
    F,
    OuterRef,
    Q,
    Subquery,
    Sum,
    Value,
)
from django.db.models.functions import Coalesce

from commissions.invoicing import Net, Tax, TaxCategory
from commissions.models import Invoice, InvoiceKind, InvoiceLine, Payment, Receipt
from commissions.settling import Claim, Money, Settled, settle
from studio.models import Studio
from studio.money import format_money
from studio.tenancy import StudioQuerySet
from studio.viewer import count_words

ZERO = Decimal(0)
# SQLite adds decimals as binary fractions: less than a stored step is no difference.
HALF_A_STEP = Decimal("0.00005")


class InvoiceState(StrEnum):
    """The state of an invoice."""

    DRAFT = "draft"
    UNSENT = "unsent"
    OPEN = "open"
    OVERDUE = "overdue"
    PAID = "paid"
    CREDITED = "credited"
    NOTE = "note"


KINDS = {
    InvoiceState.DRAFT: "planned",
    InvoiceState.UNSENT: "doing",
    InvoiceState.OPEN: "waiting",
    InvoiceState.OVERDUE: "problem",
    InvoiceState.PAID: "done",
    InvoiceState.CREDITED: "stopped",
    InvoiceState.NOTE: "clear",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class InvoiceView:
    """An invoice with the money that came in for it."""

    invoice: Invoice
    paid: Decimal = ZERO
    credited: Decimal = ZERO
    left_over: Decimal = ZERO
    """What its account holds beyond all its invoices: may be paid back or used."""
    today: date
    reminded: str = ""
    """When the client was last reminded of it; read by `with_reminders` alone."""

    @property
    def due(self) -> Decimal:
        """Return what is asked for, less its credit notes."""
        return self.invoice.total - self.credited

    @property
    def open(self) -> Decimal:
        """Return what is still to be paid."""
        if self.invoice.is_credit or self.invoice.is_draft:
            return ZERO
        return self.due - self.paid

    @property
    def days_overdue(self) -> int:
        day = self.invoice.due_date
        return 0 if day is None else max((self.today - day).days, 0)

    @property
    def state(self) -> InvoiceState:
        if self.invoice.is_draft:
            return InvoiceState.DRAFT
        if self.invoice.is_credit:
            return InvoiceState.NOTE
        if self.open <= 0:
            is_credited = self.due <= 0
            return InvoiceState.CREDITED if is_credited else InvoiceState.PAID
        if self.invoice.sent_at is None:
            return InvoiceState.UNSENT
        return InvoiceState.OVERDUE if self.days_overdue else InvoiceState.OPEN

    @property
    def state_words(self) -> str:
        """Say the state in a few words."""
        if self.state is InvoiceState.OVERDUE:
            return f"{count_words(self.days_overdue, 'day')} overdue"
        if self.state is InvoiceState.OPEN:
            day = f"{self.invoice.due_date:%-d %b}"
            return f"Part paid, due {day}" if self.paid else f"Due {day}"
        is_sent = self.invoice.sent_at is not None
        return {
            InvoiceState.DRAFT: "Draft",
            InvoiceState.UNSENT: "Not sent yet",
            InvoiceState.PAID: "Paid",
            InvoiceState.CREDITED: "Credited",
            InvoiceState.NOTE: "Sent" if is_sent else "Not sent yet",
        }[self.state]

    @property
    def client_words(self) -> str:
        """Say the state to the client, once nothing is to be paid."""
        if self.state is InvoiceState.NOTE:
            amount = format_money(self.invoice.total, self.invoice.currency)
            return f"{amount} taken off"
        return "Credited" if self.state is InvoiceState.CREDITED else "Paid, thank you"

    @property
    def state_kind(self) -> str:
        """Return the state's shape for `_status.html`."""
        return KINDS[self.state]

    @property
    def may_be_sent(self) -> bool:
        return not self.invoice.is_draft and self.invoice.sent_at is None

    @property
    def may_be_credited(self) -> bool:
        """Return whether something of it is left to take off."""
        is_issued = not self.invoice.is_draft and not self.invoice.is_credit
        return is_issued and self.due > 0

    @property
    def words(self) -> str:
        """Say what came in of what was asked for."""
        invoice = self.invoice
        parts = [f"{format_money(invoice.total, invoice.currency)} invoiced"]
        if self.credited:
            parts.append(f"{format_money(self.credited, invoice.currency)} credited")
        parts.append(f"{format_money(self.paid, invoice.currency)} paid")
        return ", ".join(parts)


def invoices(studio: Studio) -> StudioQuerySet[Invoice]:
    """Return the studio's invoices and drafts, newest first."""
    return (
        Invoice.owned.for_studio(studio)
        .select_related(
            "client", "commission__client", "instalment", "corrects", "studio"
        )
        .order_by("-made_at", "-pk")
    )


def receipts(studio: Studio) -> StudioQuerySet[Receipt]:
    """Return the studio's receipts, newest first."""
    return (
        Receipt.owned.for_studio(studio)
        .select_related(
            "studio", "payment__commission__client", "payment__invoice__client"
        )
        .order_by("-made_at", "-pk")
    )


def unsettled(studio: Studio) -> StudioQuerySet[Invoice]:
    """Return the issued invoices that may still be open, by the database's own sums.

    It leaves out what payments in its name pay for, which is most of a studio's years;
    `view_invoices` says what is open of the others.
    """
    # By the invoice's key alone, so that SQLite takes that index and not the studio's.
    paid = (
        Payment.across_studios.filter(
            invoice=OuterRef("pk"), taken_back_at__isnull=True
        )
        .order_by()
        .values("invoice")
        .values_list(Sum("amount"))
    )
    # What was paid back in nobody's name may have been an invoice's.
    back = Payment.across_studios.filter(
        commission=OuterRef("commission"),
        invoice=None,
        amount__lt=0,
        taken_back_at__isnull=True,
    )
    return (
        invoices(studio)
        .filter(issued_at__isnull=False)
        .exclude(kind=InvoiceKind.CREDIT)
        .annotate(
            named=Coalesce(
                Subquery(paid),
                Value(ZERO),
                output_field=DecimalField(max_digits=14, decimal_places=4),
            )
        )
        .filter(Q(named__lt=F("total") - Value(HALF_A_STEP)) | Exists(back))
    )


def view_invoices(
    studio: Studio, found: Iterable[Invoice], *, today: date
) -> list[InvoiceView]:
    """Return invoices with their money, in a fixed number of queries."""
    rows = list(found)
    commissions = {one.commission_id for one in rows if one.commission_id}
    own = {one.pk for one in rows if not one.commission_id}
    money = read_money(studio, commissions=commissions, standing_alone=own)
    return [view_of(one, money, today=today) for one in rows]


def view_invoice(invoice: Invoice, *, today: date) -> InvoiceView:
    """Return one invoice with its money."""
    return view_invoices(invoice.studio, [invoice], today=today)[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class InvoiceMoney:
    """What some accounts' money pays for."""

    settled: Settled
    credited: dict[int, Decimal]


def account_of(commission_id: int | None, invoice_id: int | None) -> Hashable:
    """Return whose money pays for an invoice: its commission's, or its own."""
    return ("commission", commission_id) if commission_id else ("invoice", invoice_id)


def view_of(invoice: Invoice, money: InvoiceMoney, *, today: date) -> InvoiceView:
    """Return an invoice with money that was read before."""
    account = account_of(invoice.commission_id, invoice.pk)
    return InvoiceView(
        invoice=invoice,
        paid=money.settled.paid.get(invoice.pk, ZERO),
        credited=money.credited.get(invoice.pk, ZERO),
        left_over=max(money.settled.left_over.get(account, ZERO), ZERO),
        today=today,
    )


def read_money(
    studio: Studio,
    *,
    commissions: Collection[int] | None = None,
    standing_alone: Collection[int] = (),
) -> InvoiceMoney:
    """Set the money of some accounts, or of the whole studio, against their invoices."""
    issued = Invoice.owned.for_studio(studio).filter(issued_at__isnull=False)
    paid = Payment.owned.for_studio(studio).filter(taken_back_at__isnull=True)
    notes = issued.filter(kind=InvoiceKind.CREDIT)
    if commissions is not None:
        of_them = Q(commission__in=commissions)
        issued = issued.filter(of_them | Q(pk__in=standing_alone))
        paid = paid.filter(of_them | Q(invoice__in=standing_alone))
        notes = notes.filter(of_them | Q(corrects__in=standing_alone))
    credited: dict[int, Decimal] = defaultdict(Decimal)
    for corrects, total in notes.values_list("corrects", "total"):
        credited[corrects or 0] += total
    rows = (
        issued.exclude(kind=InvoiceKind.CREDIT)
        .order_by("issued_at", "pk")
        .values_list("pk", "commission", "currency", "total")
    )
    claims, currencies = [], dict[Hashable, str]()
    for pk, commission, currency, total in rows:
        account = account_of(commission, pk)
        currencies[account] = currency
        claims.append(Claim(key=pk, account=account, due=total - credited[pk]))
    money = [
        Money(account=account, amount=amount, claim=invoice)
        for commission, invoice, currency, amount in paid.order_by(
            "received_date", "pk"
        ).values_list("commission", "invoice", "currency", "amount")
        # What came in in another currency pays for nothing here.
        if currencies.get(account := account_of(commission, invoice), currency)
        == currency
    ]
    return InvoiceMoney(settled=settle(claims, money), credited=dict(credited))


def nets_of(lines: Iterable[InvoiceLine]) -> list[Net]:
    """Return lines as the arithmetic takes them."""
    return [
        Net(
            tax=Tax(
                category=TaxCategory(line.tax_category),
                percent=line.tax_percent.normalize(),
                name=line.tax_name,
            ),
            net=line.net,
        )
        for line in lines
    ]


def issued_nets(invoices: Iterable[Invoice]) -> list[Net]:
    """Return the nets of issued invoices, those of credit notes below zero.

    Reads their lines, which should be prefetched.
    """
    found = []
    for invoice in invoices:
        sign = -1 if invoice.is_credit else 1
        found += [
            Net(tax=one.tax, net=sign * one.net) for one in nets_of(invoice.lines.all())
        ]
    return found


def credited_so_far(invoice: Invoice) -> Decimal:
    """Return the sum of an invoice's issued credit notes."""
    found = Invoice.owned.for_studio(invoice.studio).filter(
        corrects=invoice, issued_at__isnull=False
    )
    return found.aggregate(total=Sum("total"))["total"] or ZERO
