"""What is paid, due and outstanding for a commission: derived, never stored."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from commissions.models import ClosedMoney, Commission, Instalment, Payment, Quote
from studio.money import format_money
from studio.stages import Stage
from studio.undo import because


class Question(StrEnum):
    """What is asked about a payment before it is recorded; each can be confirmed."""

    TWICE = "came_twice"
    CREDIT = "is_credit"
    LATE = "is_late"


# A stage payment is due when the layers are done, so that it can be paid before the
# stack goes into the kiln.
DUE_STAGES: dict[str, frozenset[Stage]] = {
    Instalment.DueOn.ACCEPTED: frozenset(Stage),
    Instalment.DueOn.STACKED: frozenset(
        {
            Stage.READY_TO_STACK,
            Stage.STACKED,
            Stage.IN_KILN,
            Stage.TACKED,
            Stage.FIRE_AGAIN,
            Stage.CRACKED,
            Stage.TO_INSPECT,
            Stage.FINISHED,
        }
    ),
    Instalment.DueOn.FINISHED: frozenset({Stage.FINISHED}),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class InstalmentView:
    """One part of the total, and how much of it has come in."""

    instalment: Instalment
    paid: Decimal
    is_due: bool

    @property
    def open(self) -> Decimal:
        """Return what is outstanding on it."""
        return self.instalment.amount - self.paid

    @property
    def state_words(self) -> str:
        if self.open <= 0:
            return "Paid"
        return "Due now" if self.is_due else "Later"

    @property
    def state_kind(self) -> str:
        if self.open <= 0:
            return "done"
        return "problem" if self.is_due else "planned"


@dataclass(frozen=True, slots=True, kw_only=True)
class MoneyView:
    """The studio's money of one commission, in one currency."""

    currency: str
    total: Decimal | None
    paid: Decimal
    instalments: tuple[InstalmentView, ...]

    @property
    def due_now(self) -> Decimal:
        """Return what the client should pay now."""
        return sum((i.open for i in self.instalments if i.is_due), Decimal(0))

    @property
    def open(self) -> Decimal:
        """Return what is outstanding, due or not; nothing where too much came in."""
        left = Decimal(0) if self.total is None else self.total - self.paid
        return max(left, Decimal(0))

    @property
    def in_advance(self) -> Decimal:
        """Return what came in beyond what is due so far."""
        due = sum(
            (i.instalment.amount for i in self.instalments if i.is_due), Decimal(0)
        )
        return max(self.paid - due, Decimal(0))

    @property
    def credit(self) -> Decimal:
        """Return what came in beyond the whole price: the client's."""
        return (
            Decimal(0)
            if self.total is None
            else max(self.paid - self.total, Decimal(0))
        )


def payment_words(payment: Payment) -> str:
    """Say how much came in or was paid back, and when."""
    amount = format_money(abs(payment.amount), payment.currency)
    done = "received" if payment.amount > 0 else "paid back"
    return f"{amount} {done} on {payment.received_date:%a %-d %b %Y}"


def settled_words(commission: Commission, *, kept: Decimal, currency: str) -> str:
    """Say what became of the money of a closed commission, and why."""
    given = commission.closed_money_amount or Decimal(0)
    parts = []
    if given:
        is_refund = commission.closed_money == ClosedMoney.REFUNDED
        done = "paid back" if is_refund else "credited to the client"
        parts.append(f"{format_money(given, currency)} {done}")
    if kept > 0:
        parts.append(f"{format_money(kept, currency)} kept")
    return f"{', '.join(parts)}{because(commission.closed_money_reason)}"


def money_currency(
    accepted: Quote | None, payments: Iterable[Payment], usual: str
) -> str:
    """Return the currency of a commission's money.

    It is the accepted quote's, else that of the money that came in first: what came in
    before the studio's currency changed stays what it was. Else it is the usual one.
    """
    if accepted is not None:
        return accepted.currency
    return next((p.currency for p in payments if p.taken_back_at is None), usual)


def view_money(
    *,
    accepted: Quote | None,
    payments: Sequence[Payment],
    stage: Stage | None,
    currency: str,
) -> MoneyView:
    """Set valid payments against the instalments in order.

    Only those in the quote's currency count: there are no exchange rates here.
    """
    counted = money_currency(accepted, payments, currency)
    paid = sum(
        (
            p.amount
            for p in payments
            if p.taken_back_at is None and p.currency == counted
        ),
        Decimal(0),
    )
    if accepted is None:
        return MoneyView(currency=counted, total=None, paid=paid, instalments=())
    left, views = paid, []
    for instalment in accepted.instalments.all():
        part = min(left, instalment.amount)
        left -= part
        views.append(
            InstalmentView(
                instalment=instalment,
                paid=part,
                is_due=stage is not None and stage in DUE_STAGES[instalment.due_on],
            )
        )
    return MoneyView(
        currency=accepted.currency,
        total=accepted.to_studio,
        paid=paid,
        instalments=tuple(views),
    )
