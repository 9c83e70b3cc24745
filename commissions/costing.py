"""What work really cost, line by line, and beside what was quoted for it.

Pure decimals. A line of which nothing was recorded counts as quoted, and says so; while
work goes on, less than quoted counts as quoted too. The
studio's own price, before gallery and tax, pays for it:

- cost: recorded or quoted material, kiln time, energy and work, and the quote's
  percentage of overhead on them. The allowance for remakes is no cost: what was lost is
  in the recorded lines, and stands beside the allowance.
- margin: what is left of the studio's price beyond the cost, in per cent of it.
- earned per hour: pay for work and what is left over, by the recorded hours.

Work without a quote has only what was recorded, and the studio's percentage of overhead.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from studio.money import round_money

HUNDRED = Decimal(100)


@dataclass(frozen=True, slots=True, kw_only=True)
class CostLine:
    """One line: what was quoted, what it really cost, and why they differ.

    Attributes
    ----------
    section : str
        As in `pricing.Section`.
    real : Decimal or None
        None where nothing was recorded.
    minutes : Decimal
        Of work, recorded or else quoted; 0 for other lines.
    is_open : bool
        Whether more may come: then at least what was quoted counts.
    reason : str
        Empty where there is nothing to explain.
    """

    section: str
    label: str
    quoted: Decimal
    real: Decimal | None
    minutes: Decimal = Decimal(0)
    is_open: bool = False
    reason: str = ""

    @property
    def counted(self) -> Decimal:
        """Return what counts: what was recorded, else what was quoted."""
        if self.real is None:
            return self.quoted
        return max(self.real, self.quoted) if self.is_open else self.real

    @property
    def difference(self) -> Decimal:
        """Return how much more than quoted it was."""
        return self.counted - self.quoted


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What one work cost beside its quote.

    Attributes
    ----------
    price : Decimal
        What the studio gets for it, before tax.
    quoted_cost, cost : Decimal
        Direct lines and overhead, as quoted and as they were.
    allowance, lost : Decimal
        Priced for remakes, and what was lost and done again.
    minutes : Decimal
        Of work.
    """

    lines: tuple[CostLine, ...]
    currency: str
    price: Decimal
    quoted_cost: Decimal
    cost: Decimal
    allowance: Decimal
    lost: Decimal
    labour: Decimal
    minutes: Decimal

    @property
    def left(self) -> Decimal:
        """Return what is left of the price."""
        return self.price - self.cost

    @property
    def margin_percent(self) -> Decimal:
        """Return what is left, in per cent of the price."""
        return self.left * HUNDRED / self.price if self.price else Decimal(0)

    @property
    def earned_per_hour(self) -> Decimal | None:
        """Return what an hour of work really earned; none without hours."""
        if not self.minutes:
            return None
        return round_money((self.labour + self.left) * 60 / self.minutes, self.currency)

    @property
    def recorded(self) -> int:
        """Return how many of the lines were recorded."""
        return sum(line.real is not None for line in self.lines)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpentLine:
    """One line of what was recorded: what it cost, and in a few words how much it was.

    Attributes
    ----------
    section : str
        As in `pricing.Section`.
    minutes : Decimal
        Of work; 0 for other lines.
    """

    section: str
    label: str
    amount: Decimal
    much: str = ""
    minutes: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spent:
    """What work cost that nobody quoted; `lost` of it was lost and done again."""

    lines: tuple[SpentLine, ...]
    currency: str
    overhead: Decimal
    lost: Decimal

    @property
    def cost(self) -> Decimal:
        """Return what it cost, overhead included."""
        return sum((line.amount for line in self.lines), self.overhead)

    @property
    def minutes(self) -> Decimal:
        """Return the minutes of work."""
        return sum((line.minutes for line in self.lines), Decimal(0))

    def of_section(self, section: str) -> Decimal:
        """Return what the lines of a section cost."""
        own = (line.amount for line in self.lines if line.section == section)
        return sum(own, Decimal(0))


def spent_of(
    lines: Iterable[SpentLine],
    *,
    overhead_percent: Decimal,
    lost: Decimal,
    currency: str,
) -> Spent:
    """Sum up what was recorded.

    References
    ----------
    The rules are ours, stated in the module's docstring.
    """
    every = tuple(lines)
    direct = sum((line.amount for line in every), Decimal(0))
    return Spent(
        lines=every,
        currency=currency,
        overhead=round_money(direct * overhead_percent / HUNDRED, currency),
        lost=lost,
    )


def cost_of(
    lines: Iterable[CostLine],
    *,
    price: Decimal,
    overhead_percent: Decimal,
    allowance: Decimal,
    lost: Decimal,
    currency: str,
) -> Cost:
    """Sum the lines of a work up.

    References
    ----------
    The rules are ours, stated in the module's docstring.
    """
    every = tuple(lines)
    quoted = sum((line.quoted for line in every), Decimal(0))
    real = sum((line.counted for line in every), Decimal(0))
    labour = [line for line in every if line.minutes]
    return Cost(
        lines=every,
        currency=currency,
        price=price,
        quoted_cost=quoted + round_money(quoted * overhead_percent / HUNDRED, currency),
        cost=real + round_money(real * overhead_percent / HUNDRED, currency),
        allowance=allowance,
        lost=lost,
        labour=sum((line.counted for line in labour), Decimal(0)),
        minutes=sum((line.minutes for line in labour), Decimal(0)),
    )
