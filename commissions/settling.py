"""Which money pays for which invoice.

Pure. Money that names an invoice pays for it. The rest of an account, and what came in
beyond an invoice, pays for the account's other invoices, the oldest first; what is left
over is the client's.
"""

from collections import defaultdict
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from decimal import Decimal

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """An invoice, less its credit notes, in the account that it belongs to."""

    key: int
    account: Hashable
    due: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Money:
    """An amount that came in, or below zero went out, with the invoice it names."""

    account: Hashable
    amount: Decimal
    claim: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """How much of each invoice is paid, and what of each account is left over."""

    paid: dict[int, Decimal]
    left_over: dict[Hashable, Decimal]


def settle(claims: Iterable[Claim], money: Iterable[Money]) -> Settled:
    """Set money against invoices, each account's in the order given."""
    named: dict[int, Decimal] = defaultdict(Decimal)
    free: dict[Hashable, Decimal] = defaultdict(Decimal)
    ordered = list(claims)
    known = {one.key for one in ordered}
    for one in money:
        if one.claim is not None and one.claim in known:
            named[one.claim] += one.amount
        else:
            free[one.account] += one.amount
    paid: dict[int, Decimal] = {}
    for claim in ordered:
        paid[claim.key] = min(max(named[claim.key], ZERO), claim.due)
        free[claim.account] += named[claim.key] - paid[claim.key]
    for claim in ordered:
        more = min(claim.due - paid[claim.key], max(free[claim.account], ZERO))
        paid[claim.key] += more
        free[claim.account] -= more
    # What was paid back without a credit note is owed again, on the newest invoice.
    for claim in reversed(ordered):
        less = min(paid[claim.key], max(-free[claim.account], ZERO))
        paid[claim.key] -= less
        free[claim.account] += less
    return Settled(paid=paid, left_over=dict(free))
