"""What a commission costs, line by line, from amounts and rates to a total.

Pure decimals; no quote, no client, no unit of length (text with lengths in it comes in
already in the reader's units). The order, which quotes and papers follow:

1. Materials: quantity times unit price, one line each.
2. Kiln time: firings times hours times the kiln's hourly rate, one line for each kind. A
   load that is shared counts by its share of the shelf.
3. Energy: kWh times price, one line; none where the kilns' rates include it.
4. Labour: minutes times hourly rate, one line for each task.
5. Overhead: a percentage of lines 1 to 4 together.
6. Risk of remake: a percentage of lines 1 to 5.
7. Mark-up: a percentage of lines 1 to 6.
8. Discount: a percentage of lines 1 to 7, taken off.
9. Rounding: what brings the asked price up to a multiple. Lines 1 to 9 are the studio's
   price.
10. Gallery: what must be added so that the studio still nets its price after the
    gallery has kept its cut of the price before tax: price/(1 - cut) - price. Lines 1 to
    10 are the price before tax.
11. Tax: for each tax a percentage of its part of the price before tax. Parts are in
    proportion to the direct costs (lines 1 to 4) that bear the tax.

The asked price is the one before tax; where prices include tax, it is the total, and the
price before tax is what leaves that total, to the smallest unit.

Who sells decides whose the money is. Where the studio sells, the client pays it the
total, and it owes the gallery its cut. Where the gallery sells, the client pays the
gallery, which collects the tax and owes the studio the studio's price, with tax on that
unless it buys for resale.

Rounding: each line once, halves away from zero, to the currency's smallest unit.
Percentages are taken of lines already rounded, so whoever adds up the printed lines
gets the printed total. A percentage of zero makes no line.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal, localcontext
from enum import StrEnum

from studio.errors import StudioError
from studio.money import (
    MoneyProblem,
    format_unit_price,
    known_currency,
    minor_units,
    plain_number,
    round_money,
    split_money,
)

HUNDRED = Decimal(100)
MINUTES_PER_HOUR = Decimal(60)
LARGEST_QUANTITY = Decimal(10) ** 9
LARGEST_PERCENT = Decimal(1000)
# A gallery that keeps more than this leaves the studio almost nothing: a typing
# mistake.
LARGEST_CUT_PERCENT = Decimal(90)


class PricingProblem(StudioError):
    """A number that cannot be priced; the message names it."""


class Section(StrEnum):
    """The part of a price that a line belongs to."""

    MATERIALS = "materials"
    KILN_TIME = "kiln time"
    ENERGY = "energy"
    LABOUR = "labour"
    OVERHEAD = "overhead"
    REMAKE = "risk of remake"
    MARKUP = "mark-up"
    DISCOUNT = "discount"
    ROUNDING = "rounding"
    GALLERY = "gallery"
    TAX = "tax"


# What the work itself costs, before overhead.
DIRECT = (Section.MATERIALS, Section.KILN_TIME, Section.ENERGY, Section.LABOUR)


class Seller(StrEnum):
    """Who sells the work: whom the client pays, and who collects the tax."""

    STUDIO = "studio"
    GALLERY = "gallery"


@dataclass(frozen=True, slots=True, kw_only=True)
class TaxRate:
    """A tax by its name, in per cent of what bears it."""

    name: str
    percent: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialUse:
    """So much of one material, at a price.

    Attributes
    ----------
    label, explanation : str
        What it is, and in plain words why so much of it.
    quantity : Decimal
        Amount used, in `unit` (sheets, m², g, passes), at least zero.
    unit_price : Decimal
        Price of one unit, as exact as the supplier's list.
    key : str
        Which record the price is of, whatever it is called.
    kind : str
        What it is: glass, enamel, decal.
    """

    label: str
    explanation: str
    quantity: Decimal
    unit: str
    unit_price: Decimal
    key: str = ""
    kind: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnTime:
    """Firings of one kind: how many, hours of kiln each, and the kiln's hourly rate.

    Of a shared load only the share counts, so `firings` need not be whole. `key` is
    which kiln's it is, whatever it is called; `kind` that of the firings;
    `explanation` says how they were counted.
    """

    label: str
    firings: Decimal | int
    hours_each: Decimal
    rate_per_hour: Decimal
    key: str = ""
    kind: str = ""
    explanation: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyUse:
    """Electricity of all firings together [kWh], and the price of one."""

    kwh: Decimal
    price_per_kwh: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class LabourTime:
    """Minutes of one task, and the hourly rate of whoever does it.

    `tax` is the place of its tax among those of the inputs; none where it bears none.
    """

    label: str
    minutes: Decimal
    rate_per_hour: Decimal
    explanation: str = ""
    key: str = ""
    tax: int | None = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceInputs:
    """All that a price is made of. Percentages are 0 to 100 and not fractions.

    Attributes
    ----------
    currency : str
        ISO 4217 code of every price in here.
    overhead_percent, remake_percent, markup_percent, discount_percent : Decimal
        Percentages in the order of the module's rules; 0 to 1000, discount to 100.
    rounding : Decimal
        The asked price is brought up to a multiple of this; 0 leaves it.
    gallery_cut_percent : Decimal
        What the gallery keeps of the price before tax, 0 to 90.
    gallery_bears_tax : bool
        Whether a gallery that sells pays tax on the studio's price: no resale.
    taxes : tuple of TaxRate
        Each below 100; everything but labour that says otherwise bears the first.
    tax_included : bool
        Whether the asked price is the one with tax.
    """

    currency: str
    materials: tuple[MaterialUse, ...] = ()
    kiln_times: tuple[KilnTime, ...] = ()
    energy: EnergyUse | None = None
    labour: tuple[LabourTime, ...] = ()
    overhead_percent: Decimal = Decimal(0)
    remake_percent: Decimal = Decimal(0)
    markup_percent: Decimal = Decimal(0)
    discount_percent: Decimal = Decimal(0)
    discount_reason: str = ""
    rounding: Decimal = Decimal(0)
    seller: Seller = Seller.STUDIO
    gallery_cut_percent: Decimal = Decimal(0)
    gallery_bears_tax: bool = False
    taxes: tuple[TaxRate, ...] = ()
    tax_included: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceLine:
    """One line: so many units at a price; for a percentage, so many per cent of it.

    `key` says of what it is, whatever it is called: a material, a kind of firing, a task.
    """

    section: Section
    label: str
    explanation: str
    quantity: Decimal
    unit: str
    unit_price: Decimal
    amount: Decimal
    key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """A priced commission.

    Attributes
    ----------
    lines : tuple of PriceLine
        In the module's order; their amounts add up to `total` exactly.
    studio_price : Decimal
        What stays with the studio, before a gallery and before tax.
    net, tax, total : Decimal
        Before tax, the tax, and both: what the client pays whoever sells.
    to_studio : Decimal
        What the studio is paid, with the tax that it collects.
    studio_taxes : tuple of PriceLine
        The tax lines that the studio collects, of its own part of the price.
    labour, cost : Decimal
        The labour lines, and all that the work costs: lines 1 to 6.
    minutes : Decimal
        Minutes of labour.
    """

    lines: tuple[PriceLine, ...]
    studio_price: Decimal
    net: Decimal
    tax: Decimal
    total: Decimal
    to_studio: Decimal
    studio_taxes: tuple[PriceLine, ...]
    labour: Decimal
    cost: Decimal
    minutes: Decimal
    currency: str

    @property
    def gallery_keeps(self) -> Decimal:
        """Return the gallery's cut."""
        return self.net - self.studio_price

    @property
    def margin_percent(self) -> Decimal:
        """Return what is left of the studio's price beyond the costs, in per cent of it."""
        if not self.studio_price:
            return Decimal(0)
        return (self.studio_price - self.cost) * HUNDRED / self.studio_price

    @property
    def earned_per_hour(self) -> Decimal | None:
        """Return what an hour of work earns at this price: pay and what is left over."""
        if not self.minutes:
            return None
        left = self.labour + self.studio_price - self.cost
        return round_money(left * MINUTES_PER_HOUR / self.minutes, self.currency)


@dataclass(frozen=True, slots=True, kw_only=True)
class Payment:
    """One part of a total: what it is called, its share in per cent, its amount."""

    label: str
    percent: Decimal
    amount: Decimal


def price_commission(inputs: PriceInputs) -> Price:
    """Price a commission by the rules at the top of this module.

    Parameters
    ----------
    inputs : PriceInputs
        Amounts, rates and percentages.

    Returns
    -------
    Price
        Its lines add up to its total.

    Raises
    ------
    PricingProblem
        If a number is negative, none, out of range, or no decimal.
    MoneyProblem
        If the currency is unknown or an amount too large.

    References
    ----------
    The rules are ours, stated in the module's docstring.
    """
    if not known_currency(inputs.currency):
        raise MoneyProblem(
            f"“{inputs.currency[:12]}” is not a currency. Write its three letters, "
            "such as USD, EUR or GBP."
        )
    _check_rates(inputs)
    direct = list(_direct_lines(inputs))
    lines = [line for line, _ in direct]
    for section, label, percent, of_what in (
        (
            Section.OVERHEAD,
            "Overhead",
            inputs.overhead_percent,
            "materials, kiln time, energy and labour",
        ),
        (
            Section.REMAKE,
            "Risk of remake",
            inputs.remake_percent,
            "everything so far, for the piece or layer that has to be made again",
        ),
    ):
        lines += _percent_line(inputs, lines, section, label, percent, of_what)
    cost = _sum(lines)
    lines += _percent_line(
        inputs, lines, Section.MARKUP, "Mark-up", inputs.markup_percent, "all costs"
    )
    lines += _discount_line(inputs, lines)
    shares = _tax_shares(inputs, direct)
    net = _net(inputs, _sum(lines), shares)
    lines += _rounding_line(inputs, lines, net)
    studio_price = _sum(lines)
    lines += _gallery_line(inputs, studio_price, net)
    taxes = _tax_lines(inputs, net, shares)
    lines += taxes
    total = _sum(lines)
    to_studio, studio_taxes = total, taxes
    if inputs.seller is Seller.GALLERY:
        studio_taxes = (
            _tax_lines(inputs, studio_price, shares, exact=True)
            if inputs.gallery_bears_tax
            else []
        )
        to_studio = studio_price + _sum(studio_taxes)
    labour = [line for line in lines if line.section is Section.LABOUR]
    zero = round_money(0, inputs.currency)
    return Price(
        lines=tuple(lines),
        studio_price=zero + studio_price,
        net=zero + net,
        tax=zero + _sum(taxes),
        total=zero + total,
        to_studio=zero + to_studio,
        studio_taxes=tuple(studio_taxes),
        labour=zero + _sum(labour),
        cost=zero + cost,
        minutes=sum((task.minutes for task in inputs.labour), Decimal(0)),
        currency=inputs.currency,
    )


def payment_plan(
    total: Decimal, deposit_percent: Decimal, stage_percent: Decimal, currency: str
) -> tuple[Payment, ...]:
    """Divide a total into deposit, stage payment and balance, to the last cent.

    Parameters
    ----------
    total : Decimal
        Total of the quote, in whole smallest units.
    deposit_percent, stage_percent : Decimal
        Shares in per cent; the balance is what they leave.
    currency : str
        ISO 4217 code.

    Returns
    -------
    tuple of Payment
        Those with a share above zero, in the order in which they fall due.

    Raises
    ------
    PricingProblem
        If a share is negative or both are more than all of it.
    MoneyProblem
        As `studio.money.split_money`.

    References
    ----------
    The rule is ours: largest remainder, by `studio.money.split_money`.
    """
    _check("The deposit", deposit_percent, HUNDRED)
    _check("The stage payment", stage_percent, HUNDRED)
    balance_percent = HUNDRED - deposit_percent - stage_percent
    if balance_percent < 0:
        raise PricingProblem(
            f"Deposit and stage payment are {plain_number(deposit_percent + stage_percent)} % "
            "of the total; together they are at most 100 %."
        )
    shares = (
        ("Deposit", Decimal(deposit_percent)),
        ("Stage payment", Decimal(stage_percent)),
        ("Balance", balance_percent),
    )
    due = [(label, percent) for label, percent in shares if percent > 0]
    amounts = split_money(total, [percent for _, percent in due], currency)
    return tuple(
        Payment(label=label, percent=percent, amount=amount)
        for (label, percent), amount in zip(due, amounts, strict=True)
    )


def _check_rates(inputs: PriceInputs) -> None:
    _check("The discount in per cent", inputs.discount_percent, HUNDRED)
    _check("The rounding", inputs.rounding)
    _check(
        "Gallery's share in per cent", inputs.gallery_cut_percent, LARGEST_CUT_PERCENT
    )
    if round_money(inputs.rounding, inputs.currency) != inputs.rounding:
        raise PricingProblem(
            f"Prices cannot be rounded to {plain_number(inputs.rounding)}: "
            f"{inputs.currency} has no coin that small."
        )
    for tax in inputs.taxes:
        _check(f"{tax.name} in per cent", tax.percent)
        if tax.percent >= HUNDRED:
            raise PricingProblem(
                f"{tax.name} is {plain_number(tax.percent)} %; a tax is below 100 %."
            )


def _direct_lines(inputs: PriceInputs) -> Iterator[tuple[PriceLine, int | None]]:
    """Yield materials, kiln time, energy and labour, each with the tax that it bears."""
    currency = inputs.currency
    for material in inputs.materials:
        yield (
            _line(
                currency,
                Section.MATERIALS,
                material.label,
                material.explanation,
                (material.quantity, material.unit, material.unit_price),
                key=material.key,
            ),
            0,
        )
    for kiln in inputs.kiln_times:
        _check(f"The hours of “{kiln.label}”", kiln.hours_each)
        _check(f"The firings of “{kiln.label}”", kiln.firings)
        _check(f"The price of “{kiln.label}”", kiln.rate_per_hour)
        plural = "firing" if kiln.firings == 1 else "firings"
        counted = (
            f"{plain_number(Decimal(kiln.firings))} {plural} of "
            f"{plain_number(kiln.hours_each)} h in the kiln, at "
            f"{format_unit_price(kiln.rate_per_hour, currency)} an hour"
        )
        how = f". {kiln.explanation}" if kiln.explanation else ""
        yield (
            _line(
                currency,
                Section.KILN_TIME,
                kiln.label,
                counted + how,
                (kiln.firings * kiln.hours_each, "h", kiln.rate_per_hour),
                key=kiln.kind,
            ),
            0,
        )
    if inputs.energy is not None:
        _check("The quantity of “Electricity”", inputs.energy.kwh)
        _check("The price of “Electricity”", inputs.energy.price_per_kwh)
        yield (
            _line(
                currency,
                Section.ENERGY,
                "Electricity",
                f"{plain_number(inputs.energy.kwh)} kWh for all firings, at "
                f"{format_unit_price(inputs.energy.price_per_kwh, currency)} each",
                (inputs.energy.kwh, "kWh", inputs.energy.price_per_kwh),
            ),
            0,
        )
    for task in inputs.labour:
        _check(f"The minutes of “{task.label}”", task.minutes)
        _check(f"The price of “{task.label}”", task.rate_per_hour)
        yield (
            _line(
                currency,
                Section.LABOUR,
                task.label,
                task.explanation
                or f"{plain_number(task.minutes)} minutes, at "
                f"{format_unit_price(task.rate_per_hour, currency)} an hour",
                (task.minutes, "min", task.rate_per_hour),
                units_per_price=MINUTES_PER_HOUR,
                key=task.key,
            ),
            task.tax,
        )


def _line(
    currency: str,
    section: Section,
    label: str,
    explanation: str,
    amounts: tuple[Decimal, str, Decimal],
    *,
    units_per_price: Decimal = Decimal(1),
    key: str = "",
) -> PriceLine:
    """Make a line; the price may be for several units, as for an hour of minutes."""
    quantity, unit, unit_price = amounts
    _check(f"The quantity of “{label}”", quantity)
    _check(f"The price of “{label}”", unit_price)
    with localcontext(prec=60):
        exact = quantity * unit_price / units_per_price
        if units_per_price != 1:  # a line reads as hours times the price of an hour
            quantity, unit = quantity / units_per_price, "h"
    return PriceLine(
        section=section,
        label=label,
        explanation=explanation,
        quantity=quantity,
        unit=unit,
        unit_price=unit_price,
        amount=round_money(exact, currency),
        key=key,
    )


def _percent_line(
    inputs: PriceInputs,
    lines: list[PriceLine],
    section: Section,
    label: str,
    percent: Decimal,
    of_what: str,
) -> list[PriceLine]:
    _check(f"{label} in per cent", percent, LARGEST_PERCENT)
    if percent == 0:
        return []
    base = _sum(lines)
    return [
        PriceLine(
            section=section,
            label=label,
            explanation=_of(percent, base, inputs.currency, of_what),
            quantity=percent,
            unit="%",
            unit_price=base,
            amount=round_money(base * percent / HUNDRED, inputs.currency),
        )
    ]


def _of(percent: Decimal, base: Decimal, currency: str, what: str) -> str:
    return f"{plain_number(percent)} % of {format_unit_price(base, currency)}: {what}"


def _discount_line(inputs: PriceInputs, lines: list[PriceLine]) -> list[PriceLine]:
    percent, base = inputs.discount_percent, _sum(lines)
    if percent == 0:
        return []
    why = inputs.discount_reason or "taken off"
    return [
        PriceLine(
            section=Section.DISCOUNT,
            label="Discount",
            explanation=_of(percent, base, inputs.currency, why),
            quantity=-percent,
            unit="%",
            unit_price=base,
            amount=-round_money(base * percent / HUNDRED, inputs.currency),
        )
    ]


def _tax_shares(
    inputs: PriceInputs, direct: list[tuple[PriceLine, int | None]]
) -> list[Decimal]:
    """Return how much direct cost bears each tax, that which bears none last."""
    shares = [Decimal(0)] * (len(inputs.taxes) + 1)
    for line, tax in direct:
        shares[-1 if tax is None or tax >= len(inputs.taxes) else tax] += line.amount
    if not any(shares):  # nothing costs anything: all of nothing bears the first
        shares[0] = Decimal(1)
    return shares


def _net(inputs: PriceInputs, before: Decimal, shares: list[Decimal]) -> Decimal:
    """Return the price before tax from the studio's price, by the rounding asked for."""
    currency = inputs.currency
    with localcontext(prec=60):
        left = HUNDRED - inputs.gallery_cut_percent
        net = round_money(before * HUNDRED / left, currency)
        if not inputs.rounding:
            return net
        if not inputs.tax_included:
            return _up(net, inputs.rounding)
        gross = net + _sum(_tax_lines(inputs, net, shares, exact=True))
        asked = _up(gross, inputs.rounding)
        rates = (tax.percent for tax in inputs.taxes)
        rate = sum((s * r for s, r in zip(shares, rates, strict=False)), Decimal(0))
        first = round_money(asked * HUNDRED / (HUNDRED + rate / sum(shares)), currency)
    # The cents of its parts may take a net beside it; where none does, see the taxes.
    smallest = Decimal(1).scaleb(-minor_units(currency))
    beside = (first + steps * smallest for steps in (0, -1, 1, -2, 2))
    return next(
        (
            one
            for one in beside
            if one + _sum(_tax_lines(inputs, one, shares, exact=True)) == asked
        ),
        first,
    )


def _up(amount: Decimal, multiple: Decimal) -> Decimal:
    return (amount / multiple).to_integral_value(ROUND_CEILING) * multiple


def _rounding_line(
    inputs: PriceInputs, lines: list[PriceLine], net: Decimal
) -> list[PriceLine]:
    """Return what rounding adds to the studio's price; nothing without it."""
    if not inputs.rounding:
        return []
    before = _sum(lines)
    with localcontext(prec=60):
        left = HUNDRED - inputs.gallery_cut_percent
        amount = round_money(net * left / HUNDRED, inputs.currency) - before
    if amount == 0:
        return []
    what = "the price with tax" if inputs.tax_included else "the price before tax"
    multiple = format_unit_price(inputs.rounding, inputs.currency)
    return [
        PriceLine(
            section=Section.ROUNDING,
            label="Rounding",
            explanation=f"Brings {what} up to a multiple of {multiple}",
            quantity=Decimal(1),
            unit="",
            unit_price=amount,
            amount=amount,
        )
    ]


def _gallery_line(
    inputs: PriceInputs, studio_price: Decimal, net: Decimal
) -> list[PriceLine]:
    cut = inputs.gallery_cut_percent
    if cut == 0:
        return []
    return [
        PriceLine(
            section=Section.GALLERY,
            label="Gallery",
            explanation=(
                f"The gallery keeps {plain_number(cut)} % of "
                f"{format_unit_price(net, inputs.currency)}, so that the studio "
                f"nets {format_unit_price(studio_price, inputs.currency)}"
            ),
            quantity=cut,
            unit="%",
            unit_price=net,
            amount=net - studio_price,
        )
    ]


def _tax_lines(
    inputs: PriceInputs, net: Decimal, shares: list[Decimal], *, exact: bool = False
) -> list[PriceLine]:
    """Return a line for each tax of the price before tax.

    Unless `exact`, a rounded price with tax takes what the cents of its parts leave
    open: 19 % of no whole cent makes just 150.01 of it.
    """
    currency = inputs.currency
    bases = split_money(net, shares, currency)
    lines = [
        PriceLine(
            section=Section.TAX,
            label=tax.name,
            explanation=_of(tax.percent, base, currency, "the price before tax")
            if base == net
            else _of(tax.percent, base, currency, "its part of the price before tax"),
            quantity=tax.percent,
            unit="%",
            unit_price=base,
            amount=round_money(base * tax.percent / HUNDRED, currency),
        )
        for tax, base in zip(inputs.taxes, bases, strict=False)
        if tax.percent and base
    ]
    if exact or not (lines and inputs.tax_included and inputs.rounding):
        return lines
    with localcontext(prec=60):
        total = net + _sum(lines)
        asked = (total / inputs.rounding).to_integral_value(ROUND_HALF_UP)
        left = asked * inputs.rounding - total
    return [replace(lines[0], amount=lines[0].amount + left), *lines[1:]]


def _sum(lines: list[PriceLine]) -> Decimal:
    return sum((line.amount for line in lines), Decimal(0))


def _check(
    what: str, number: Decimal | int, highest: Decimal = LARGEST_QUANTITY
) -> None:
    # Callers are typed, but a stray float would silently be inexact.
    exact: object = number
    if not isinstance(exact, Decimal | int) or isinstance(exact, bool):
        raise PricingProblem(f"{what} is not an exact decimal.")
    if not Decimal(exact).is_finite() or not 0 <= exact <= highest:
        raise PricingProblem(
            f"{what} is {number}; write a number from 0 to {highest:f}."
        )
