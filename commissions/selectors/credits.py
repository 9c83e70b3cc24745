"""What a client has in credit, and where it came from."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from commissions.models import Client, Commission, Invoice
from commissions.selectors.commissions import (
    CommissionView,
    commissions,
    view_commission,
    view_commissions,
)
from commissions.selectors.invoices import invoices, view_invoices
from commissions.selectors.quotes import day_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Credit:
    """An amount that may be used for another invoice of the same client."""

    source: Commission | Invoice
    amount: Decimal
    currency: str

    @property
    def key(self) -> str:
        """Return how a form names it."""
        kind = "commission" if isinstance(self.source, Commission) else "invoice"
        return f"{kind}-{self.source.pk}"

    @property
    def name(self) -> str:
        """Say where it came from."""
        if isinstance(self.source, Commission):
            return self.source.title
        return self.source.name


def commission_credit(commission: Commission, *, at: datetime) -> Decimal:
    """Return what is over of a commission's money: credited at its end, or overpaid."""
    return _of(view_commission(commission, at=at))


def _of(view: CommissionView) -> Decimal:
    return view.credit_left if view.is_closed else view.money.credit


def credits_of(client: Client, *, currency: str, at: datetime) -> list[Credit]:
    """Return a client's credits in a currency, the oldest first."""
    studio = client.studio
    theirs = commissions(studio).filter(client=client, payments__isnull=False)
    views = view_commissions(studio, theirs.distinct(), at=at)
    found = [
        Credit(source=view.commission, amount=amount, currency=view.money.currency)
        for view in reversed(views)
        if (amount := _of(view)) > 0
    ]
    alone = invoices(studio).filter(
        client=client, commission=None, issued_at__isnull=False, corrects=None
    )
    found += [
        Credit(source=one.invoice, amount=one.left_over, currency=one.invoice.currency)
        for one in reversed(view_invoices(studio, alone, today=day_of(studio, at)))
        if one.left_over > 0
    ]
    return [one for one in found if one.currency == currency]
