"""The arithmetic of an invoice: nets and taxes in, totals out; a price cut into parts.

Pure. The rules are those of EN 16931-1:2017 (BT is one of its business terms, BR a rule)
with each currency's own decimals where the standard, made for the euro, says two. Here
is the one place where the tax of an invoice is rounded.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal, localcontext
from enum import StrEnum

from studio.errors import StudioError
from studio.money import minor_units, plain_number, round_money

ZERO = Decimal(0)
HUNDRED = Decimal(100)
# How far, in smallest coins, the net of a part is moved to meet its amount.
NUDGES = (0, 1, -1, 2, -2, 3, -3)


class InvoiceProblem(StudioError):
    """Figures that make no invoice; the message says which and what to do."""


class TaxCategory(StrEnum):
    """How a line is taxed: codes of UNTDID 5305, as BT-151 and BT-118 have them."""

    TAXED = "S"
    EXEMPT = "E"
    OUTSIDE = "O"
    """No tax at all on the whole invoice: BR-O-11 lets it stand beside no other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tax:
    """A category, a rate in per cent and what the tax, or its absence, is called."""

    category: TaxCategory
    percent: Decimal = ZERO
    name: str = ""

    def __post_init__(self) -> None:
        percent = Decimal(self.percent)
        if not percent.is_finite() or not ZERO <= percent < HUNDRED:
            raise InvoiceProblem(
                f"A tax is from 0 to under 100 %, not {plain_number(percent)} %."
                if percent.is_finite()
                else "A tax is a number from 0 to under 100 %."
            )
        if (self.category is TaxCategory.TAXED) != (percent > 0):
            # BR-S-05 and BR-E-05.
            raise InvoiceProblem(
                "What is taxed has a rate above 0 %, all else has 0 %."
            )

    @property
    def words(self) -> str:
        """Return "IVA 23 %", or the name alone where nothing is charged."""
        if self.category is not TaxCategory.TAXED:
            return self.name or "No tax"
        return f"{self.name} {plain_number(self.percent)} %".strip()


UNTAXED = Tax(category=TaxCategory.OUTSIDE, name="No tax")
EXEMPT = Tax(category=TaxCategory.EXEMPT, name="Not taxed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Net:
    """An amount before tax (BT-131), and its tax."""

    tax: Tax
    net: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class TaxTotal:
    """All that is taxed alike: a group BG-23."""

    tax: Tax
    taxable: Decimal
    """BT-116."""
    amount: Decimal
    """BT-117."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """What an invoice adds up to: a group BG-22."""

    net: Decimal
    """BT-106, and BT-109 too, as there are no allowances on the whole."""
    taxes: tuple[TaxTotal, ...]
    tax: Decimal
    """BT-110."""
    total: Decimal
    """BT-112."""
    paid: Decimal
    """BT-113."""
    rounding: Decimal
    """BT-114."""
    due: Decimal
    """BT-115."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Charged:
    """A tax as a price charges it: on which amount, and how much."""

    name: str
    percent: Decimal
    base: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of a price: its nets, and the coins by which they miss its amount."""

    nets: tuple[Net, ...]
    rounding: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class LineAsked:
    """A line as somebody writes it: an amount of something at a price, and its tax."""

    label: str
    quantity: Decimal
    unit_price: Decimal
    unit: str = ""
    tax_name: str = ""
    tax_percent: Decimal = Decimal(0)


def line_net(quantity: Decimal, unit_price: Decimal, currency: str) -> Decimal:
    """Return what a line comes to before tax (BT-131), rounded once."""
    with localcontext(prec=40):
        return round_money(quantity * unit_price, currency)


def totals(
    nets: Iterable[Net],
    currency: str,
    *,
    paid: Decimal = ZERO,
    rounding: Decimal = ZERO,
) -> Totals:
    """Add up an invoice.

    BR-CO-10: BT-106 is the sum of the lines' nets. BR-S-08: the taxable amount of a rate
    is the sum of the lines that have it; two taxes of one rate but other names stay
    apart. BR-CO-17: its tax is taxable x rate / 100, rounded. BR-CO-14: BT-110 is the sum
    of the taxes, none of it rounded again. BR-CO-15: BT-112 = BT-109 + BT-110. BR-CO-16:
    BT-115 = BT-112 - BT-113 + BT-114.

    Raises
    ------
    InvoiceProblem
        When there is no line, a net has more decimals than the currency (BR-DEC-09 for
        two), or an untaxed invoice also has a tax (BR-O-11).
    """
    by_tax: dict[Tax, Decimal] = defaultdict(Decimal)
    for one in nets:
        if round_money(one.net, currency) != one.net:
            raise InvoiceProblem(
                f"{plain_number(one.net)} has more decimals than {currency} has."
            )
        by_tax[one.tax] += one.net
    if not by_tax:
        raise InvoiceProblem("An invoice has at least one line.")  # BR-16
    is_outside = any(tax.category is TaxCategory.OUTSIDE for tax in by_tax)
    if is_outside and any(tax.category is not TaxCategory.OUTSIDE for tax in by_tax):
        raise InvoiceProblem(
            "A line outside all tax stands beside no taxed one. Call it not taxed."
        )
    taxes = tuple(
        TaxTotal(tax=tax, taxable=taxable, amount=tax_on(taxable, tax, currency))
        for tax, taxable in sorted(
            by_tax.items(), key=lambda row: (-row[0].percent, row[0].name)
        )
    )
    net = sum((one.taxable for one in taxes), ZERO)
    tax = sum((one.amount for one in taxes), ZERO)
    total = net + tax
    return Totals(
        net=net,
        taxes=taxes,
        tax=tax,
        total=total,
        paid=paid,
        rounding=rounding,
        due=total - paid + rounding,
    )


def tax_on(taxable: Decimal, tax: Tax, currency: str) -> Decimal:
    """Return the tax on an amount (BT-117), rounded once (BR-CO-17)."""
    with localcontext(prec=40):
        return round_money(taxable * tax.percent / HUNDRED, currency)


def nets_of_price(net: Decimal, charged: Sequence[Charged]) -> tuple[Net, ...]:
    """Return how the net of a price is taxed; what no tax covers is untaxed.

    Taxes on the same amount, such as a state's and a city's, are one group of both
    rates where they could not be of different parts of the price.

    Raises
    ------
    InvoiceProblem
        When the taxes are on more than the price.
    """
    rows = [one for one in charged if one.percent and one.base]
    if sum((one.base for one in rows), ZERO) > net:
        rows = _stacked(rows)
    covered = sum((one.base for one in rows), ZERO)
    if covered > net:
        raise InvoiceProblem(
            f"The taxes of this price are on {plain_number(covered)}, which is more "
            f"than its {plain_number(net)} before tax."
        )
    found = [
        Net(
            tax=Tax(
                category=TaxCategory.TAXED, percent=one.percent, name=one.name[:40]
            ),
            net=one.base,
        )
        for one in rows
    ]
    if covered < net:
        found.append(Net(tax=EXEMPT if found else UNTAXED, net=net - covered))
    return tuple(found)


def _stacked(rows: Sequence[Charged]) -> list[Charged]:
    by_base: dict[Decimal, list[Charged]] = defaultdict(list)
    for one in rows:
        by_base[one.base].append(one)
    return [
        Charged(
            name=" and ".join(one.name for one in alike),
            percent=sum((one.percent for one in alike), ZERO),
            base=base,
        )
        for base, alike in by_base.items()
    ]


def left_of(whole: Iterable[Net], taken: Iterable[Net]) -> tuple[Net, ...]:
    """Return what is left of a price's nets once some were invoiced.

    A net below zero was invoiced under a tax that the price has no longer, or less of.
    """
    gone = [Net(tax=one.tax, net=-one.net) for one in taken]
    left: dict[Tax, Decimal] = defaultdict(Decimal)
    for one in _beside_taxes([*whole, *gone]):
        left[one.tax] += one.net
    return tuple(Net(tax=tax, net=net) for tax, net in left.items() if net)


def part_of(
    left: Sequence[Net], *, amount: Decimal, of: Decimal, currency: str
) -> Part:
    """Return one part of a price, tax included, as nets by tax.

    Each net has the same share of the amount as of the whole, moved by a coin or two so
    that net and tax meet the amount; where no net does, the rest is its rounding amount
    (BT-114). The last part takes what is left of every net. So the parts' amounts and
    nets add up to the price's, to the coin.

    Parameters
    ----------
    left : sequence of Net
        What is left of the price before tax.
    amount, of : Decimal
        The part, and all that is left, both with tax.

    Raises
    ------
    InvoiceProblem
        When the part is not above zero, is more than what is left, or has more decimals
        than the currency.
    """
    if not ZERO < amount <= of or round_money(amount, currency) != amount:
        raise InvoiceProblem(
            f"Give an amount above zero and at most {plain_number(of)} {currency}."
        )
    if amount == of:
        return _with_rounding(list(left), amount, currency)
    with localcontext(prec=60):
        shares = [
            Net(tax=one.tax, net=round_money(one.net * amount / of, currency))
            for one in left
        ]
    coin = Decimal(1).scaleb(-minor_units(currency))
    largest = max(range(len(shares)), key=lambda number: shares[number].net)
    found = [
        _with_rounding(_moved(shares, largest, step * coin), amount, currency)
        for step in NUDGES
    ]
    return min(found, key=lambda one: abs(one.rounding))


def _moved(shares: Sequence[Net], number: int, by: Decimal) -> list[Net]:
    moved = list(shares)
    moved[number] = Net(tax=shares[number].tax, net=shares[number].net + by)
    return moved


def _with_rounding(nets: Sequence[Net], amount: Decimal, currency: str) -> Part:
    kept = tuple(one for one in nets if one.net) or tuple(nets[:1])
    return Part(nets=kept, rounding=amount - totals(kept, currency).total)


def _beside_taxes(nets: Sequence[Net]) -> list[Net]:
    """Call what is outside all tax exempt where it stands beside a tax (BR-O-11)."""
    if all(one.tax.category is TaxCategory.OUTSIDE for one in nets):
        return list(nets)
    return [
        Net(tax=EXEMPT, net=one.net) if one.tax.category is TaxCategory.OUTSIDE else one
        for one in nets
    ]
