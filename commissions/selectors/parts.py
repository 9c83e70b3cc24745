"""The parts of an accepted price: what of each is invoiced, sent and paid."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from commissions.invoicing import Charged, Net, nets_of_price
from commissions.models import (
    Commission,
    Instalment,
    Invoice,
    InvoiceKind,
    Quote,
)
from commissions.selectors.invoices import (
    InvoiceState,
    InvoiceView,
    invoices,
    view_invoices,
)
from commissions.selectors.money import InstalmentView, MoneyView
from commissions.selectors.owing import gallery_keeps, gallery_sells
from studio.models import Studio
from studio.tenancy import StudioQuerySet

ZERO = Decimal(0)
KIND_OF = {
    Instalment.DueOn.ACCEPTED: InvoiceKind.DEPOSIT,
    Instalment.DueOn.STACKED: InvoiceKind.STAGE,
    Instalment.DueOn.FINISHED: InvoiceKind.BALANCE,
}


class Step(StrEnum):
    """What to do next about a part of the price."""

    MAKE = "make"
    ISSUE = "issue"
    SEND = "send"
    PAY = "pay"
    DONE = "done"


ORDER = list(Step)
STEP_OF = {
    InvoiceState.DRAFT: Step.ISSUE,
    InvoiceState.UNSENT: Step.SEND,
    InvoiceState.OPEN: Step.PAY,
    InvoiceState.OVERDUE: Step.PAY,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PartView:
    """A part of the price with its invoices."""

    money: InstalmentView
    invoices: tuple[InvoiceView, ...]
    missing: Decimal
    """What of it no invoice asks for yet."""

    @property
    def instalment(self) -> Instalment:
        return self.money.instalment

    @property
    def current(self) -> InvoiceView | None:
        """Return the invoice that something is to be done about, else the last one."""
        standing = [
            one
            for one in self.invoices
            if one.state not in {InvoiceState.CREDITED, InvoiceState.NOTE}
        ]
        todo = [one for one in standing if one.state in STEP_OF]
        return next(iter(todo or standing), None)

    @property
    def step(self) -> Step:
        """Return what is to be done next."""
        current = self.current
        if current is not None and current.state in STEP_OF:
            return STEP_OF[current.state]
        if self.money.open <= 0 or (self.missing <= 0 and self.invoices):
            return Step.DONE
        return Step.MAKE

    @property
    def is_pressing(self) -> bool:
        """Return whether the studio should do it now."""
        return self.step is not Step.DONE and (
            self.money.is_due or self.step in {Step.ISSUE, Step.SEND}
        )

    @property
    def steps(self) -> list[dict[str, str]]:
        """Return invoice, sent and paid for `_steps.html`: done, now or next."""
        is_paid = self.money.open <= 0
        reached = {Step.MAKE: 0, Step.ISSUE: 0, Step.SEND: 1, Step.PAY: 2, Step.DONE: 3}
        at = reached[self.step]
        labels = ("Invoice", "Sent", "Paid")
        return [
            {
                "label": label,
                "state": (
                    "done"
                    if number < at or (number == 2 and is_paid)
                    else "now"
                    if number == at and self.is_pressing
                    else "next"
                ),
            }
            for number, label in enumerate(labels)
            if not (at == 3 and not self.invoices and number < 2)
        ]


def instalments(studio: Studio) -> StudioQuerySet[Instalment]:
    """Return the parts of all prices of the studio."""
    found: StudioQuerySet[Instalment] = Instalment.owned.for_studio(studio)
    return found.select_related(
        "quote__commission__studio", "quote__commission__client"
    )


def commission_invoices(commission: Commission) -> list[Invoice]:
    """Return a commission's invoices, credit notes and drafts with lines, oldest first."""
    found = invoices(commission.studio).filter(commission=commission)
    return list(found.prefetch_related("lines").order_by("made_at", "pk"))


def open_invoices_of(commission: Commission, *, today: date) -> list[InvoiceView]:
    """Return a commission's issued invoices that are still to be paid, oldest first."""
    found = commission_invoices(commission)
    views = view_invoices(commission.studio, found, today=today)
    return [one for one in views if one.open > 0]


def parts_of(
    money: MoneyView, found: Sequence[Invoice], *, today: date
) -> list[PartView]:
    """Return the parts of the accepted price with what was invoiced of each.

    An addendum changes the parts: what was invoiced of a part counts towards the part
    that is due at the same moment, and what was invoiced beyond it towards the next.
    """
    if not money.instalments:
        return []
    studio = money.instalments[0].instalment.studio
    views = view_invoices(studio, found, today=today)
    left = missing_by_part(money.instalments, found)
    return [
        PartView(
            money=part,
            missing=left[part.instalment.pk],
            invoices=tuple(
                view for view in views if moment_of(view.invoice) == part_moment(part)
            ),
        )
        for part in money.instalments
    ]


def part_moment(part: InstalmentView) -> str:
    """Return when a part is due, by which parts of several versions are one."""
    return part.instalment.due_on


def moment_of(invoice: Invoice) -> str:
    """Return the same of the part that an invoice, or what it corrects, asks for."""
    of = invoice.corrects or invoice
    return of.instalment.due_on if of.instalment is not None else ""


def asked_by_moment(found: Iterable[Invoice]) -> dict[str, Decimal]:
    """Return how much issued invoices, less credit notes, ask for of each part."""
    asked: dict[str, Decimal] = {}
    for one in found:
        if one.issued_at is not None:
            sign = -1 if one.is_credit else 1
            moment = moment_of(one)
            asked[moment] = asked.get(moment, ZERO) + sign * one.total
    return asked


def asked_too_much(money: MoneyView, found: Iterable[Invoice]) -> Decimal:
    """Return by how much the invoices ask for more than the accepted price.

    An addendum may lower it after its parts were invoiced.
    """
    if money.total is None:
        return ZERO
    return max(sum(asked_by_moment(found).values(), ZERO) - money.total, ZERO)


def missing_by_part(
    parts: Iterable[InstalmentView], found: Iterable[Invoice]
) -> dict[int, Decimal]:
    """Return what of each part no issued invoice asks for, by the instalment's key."""
    asked = asked_by_moment(found)
    missing, beyond = {}, ZERO
    for part in parts:
        left = part.instalment.amount - asked.get(part_moment(part), ZERO) - beyond
        missing[part.instalment.pk] = max(left, ZERO)
        beyond = max(-left, ZERO)
    return missing


def nets_of_quote(quote: Quote) -> tuple[Net, ...]:
    """Return how what the studio is paid is taxed: by the lines of tax, read as a list.

    Of a sale by a gallery that is the studio's own part, taxed where the gallery is.
    """
    if gallery_sells(quote):
        charged = [
            Charged(
                name=one["name"],
                percent=Decimal(one["percent"]).normalize(),
                base=Decimal(one["base"]),
            )
            for one in quote.inputs["studio_taxes"]
        ]
        return nets_of_price(quote.net - gallery_keeps(quote), charged)
    return nets_of_price(
        quote.net,
        [
            Charged(
                # Quotes of one rate call it by the name that the studio gave it.
                name=quote.tax_name if line.label == "Tax" else line.label,
                percent=line.quantity.normalize(),
                base=line.unit_price,
            )
            for line in quote.lines.all()
            if line.section == "tax"
        ],
    )
