"""What a maker who shares the kilns pays for a month: hours and electricity in, lines out.

Pure. Free hours are taken off in the order of the firings; they cover hours, never
electricity. Each line is rounded once, and the total is the sum of the lines.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from commissions.invoicing import line_net

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """What one firing took: hours of the kiln, kWh where known, and its hourly rate."""

    hours: Decimal
    rate: Decimal
    kwh: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """A firing as it is charged: `free` of its hours cost nothing."""

    used: Used
    free: Decimal
    amount: Decimal

    @property
    def hours(self) -> Decimal:
        """Return the hours that are paid for."""
        return self.used.hours - self.free


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthCharged:
    """A month: its firings, the electricity of all of them, and the total before tax."""

    charges: tuple[Charge, ...]
    kwh: Decimal
    energy: Decimal
    is_energy_whole: bool
    """False where some firing's electricity is not known, and so not charged."""

    @property
    def hours(self) -> Decimal:
        """Return all hours, free or paid."""
        return sum((one.used.hours for one in self.charges), ZERO)

    @property
    def free(self) -> Decimal:
        """Return the hours that cost nothing."""
        return sum((one.free for one in self.charges), ZERO)

    @property
    def total(self) -> Decimal:
        """Return what the month comes to before tax."""
        return sum((one.amount for one in self.charges), self.energy)


def charge_month(
    uses: Sequence[Used],
    *,
    free_hours: Decimal,
    kwh_price: Decimal | None,
    currency: str,
) -> MonthCharged:
    """Return what a month of firings costs.

    Parameters
    ----------
    uses : sequence of Used
        In the order of the firings, which is the order in which free hours are taken.
    free_hours : Decimal
        Of the month; what is left over is not carried into the next.
    kwh_price : Decimal or None
        None where the hourly rates include the electricity.
    """
    left, charges = max(free_hours, ZERO), []
    for used in uses:
        free = min(left, used.hours)
        left -= free
        amount = line_net(used.hours - free, used.rate, currency)
        charges.append(Charge(used=used, free=free, amount=amount))
    kwh = sum((used.kwh or ZERO for used in uses), ZERO)
    return MonthCharged(
        charges=tuple(charges),
        kwh=kwh,
        energy=ZERO if kwh_price is None else line_net(kwh, kwh_price, currency),
        is_energy_whole=all(used.kwh is not None for used in uses),
    )
