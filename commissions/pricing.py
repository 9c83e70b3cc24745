"""What a commission costs, line by line, from amounts and rates to a total.

Pure decimals; no quote, no client, no unit of length (text with lengths in it comes in
already in the reader's units). The order, which quotes and papers follow:

1. Materials: quantity times unit price, one line each.
2. Kiln time: firings times hours times the kiln's hourly rate, one line for each kind.
3. Energy: kWh times price, one line.
4. Labour: minutes times hourly rate, one line for each task.
5. Overhead: a percentage of lines 1 to 4 together.
6. Risk of remake: a percentage of lines 1 to 5.
7. Margin: a percentage of lines 1 to 6. Lines 1 to 7 are the studio's price.
8. Gallery: what must be added so that the studio still nets its price after the gallery
   has kept its cut of the price before tax: price/(1 - cut) - price.
9. Tax: a percentage of lines 1 to 8, the net price.

Rounding: each line once, halves away from zero, to the currency's smallest unit.
Percentages are taken of lines already rounded, so whoever adds up the printed lines
gets the printed total. A percentage of zero makes no line.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal, localcontext
from enum import StrEnum

from studio.errors import StudioError
from studio.money import (
    MoneyProblem,
    format_unit_price,
    known_currency,
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
    MARGIN = "margin"
    GALLERY = "gallery"
    TAX = "tax"


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
    """

    label: str
    explanation: str
    quantity: Decimal
    unit: str
    unit_price: Decimal
    key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnTime:
    """Firings of one kind: how many, hours of kiln each, and the kiln's hourly rate.

    `key` is which kiln's it is, whatever it is called.
    """

    label: str
    firings: int
    hours_each: Decimal
    rate_per_hour: Decimal
    key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyUse:
    """Electricity of all firings together [kWh], and the price of one."""

    kwh: Decimal
    price_per_kwh: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class LabourTime:
    """Minutes of one task, and the hourly rate of whoever does it."""

    label: str
    minutes: Decimal
    rate_per_hour: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceInputs:
    """All that a price is made of. Percentages are 0 to 100 and not fractions.

    Attributes
    ----------
    currency : str
        ISO 4217 code of every price in here.
    overhead_percent, remake_percent, margin_percent, tax_percent : Decimal
        Percentages in the order of the module's rules; 0 to 1000, tax to 100.
    gallery_cut_percent : Decimal
        What the gallery keeps of the price before tax, 0 to 90.
    """

    currency: str
    materials: tuple[MaterialUse, ...] = ()
    kiln_times: tuple[KilnTime, ...] = ()
    energy: EnergyUse | None = None
    labour: tuple[LabourTime, ...] = ()
    overhead_percent: Decimal = Decimal(0)
    remake_percent: Decimal = Decimal(0)
    margin_percent: Decimal = Decimal(0)
    gallery_cut_percent: Decimal = Decimal(0)
    tax_percent: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceLine:
    """One line: so many units at a price; for a percentage, so many per cent of it."""

    section: Section
    label: str
    explanation: str
    quantity: Decimal
    unit: str
    unit_price: Decimal
    amount: Decimal


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
        Before tax, the tax, and both.
    """

    lines: tuple[PriceLine, ...]
    studio_price: Decimal
    net: Decimal
    tax: Decimal
    total: Decimal
    currency: str


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
    lines = list(_direct_lines(inputs))
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
        (Section.MARGIN, "Margin", inputs.margin_percent, "all costs"),
    ):
        lines += _percent_line(inputs, lines, section, label, percent, of_what)
    studio_price = _sum(lines)
    lines += _gallery_line(inputs, studio_price)
    net = _sum(lines)
    lines += _percent_line(
        inputs,
        lines,
        Section.TAX,
        "Tax",
        inputs.tax_percent,
        "the price before tax",
        highest=HUNDRED,
    )
    total = _sum(lines)
    zero = round_money(0, inputs.currency)
    return Price(
        lines=tuple(lines),
        studio_price=zero + studio_price,
        net=zero + net,
        tax=zero + total - net,
        total=zero + total,
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


def _direct_lines(inputs: PriceInputs) -> Iterator[PriceLine]:
    currency = inputs.currency
    for material in inputs.materials:
        yield _line(
            currency,
            Section.MATERIALS,
            material.label,
            material.explanation,
            (material.quantity, material.unit, material.unit_price),
        )
    for kiln in inputs.kiln_times:
        _check(f"The hours of “{kiln.label}”", kiln.hours_each)
        _check(f"The firings of “{kiln.label}”", kiln.firings)
        _check(f"The price of “{kiln.label}”", kiln.rate_per_hour)
        plural = "firing" if kiln.firings == 1 else "firings"
        yield _line(
            currency,
            Section.KILN_TIME,
            kiln.label,
            f"{kiln.firings} {plural} of {plain_number(kiln.hours_each)} h in the kiln, at "
            f"{format_unit_price(kiln.rate_per_hour, currency)} an hour",
            (kiln.firings * kiln.hours_each, "h", kiln.rate_per_hour),
        )
    if inputs.energy is not None:
        _check("The quantity of “Electricity”", inputs.energy.kwh)
        _check("The price of “Electricity”", inputs.energy.price_per_kwh)
        yield _line(
            currency,
            Section.ENERGY,
            "Electricity",
            f"{plain_number(inputs.energy.kwh)} kWh for all firings, at "
            f"{format_unit_price(inputs.energy.price_per_kwh, currency)} each",
            (inputs.energy.kwh, "kWh", inputs.energy.price_per_kwh),
        )
    for task in inputs.labour:
        _check(f"The minutes of “{task.label}”", task.minutes)
        _check(f"The price of “{task.label}”", task.rate_per_hour)
        yield _line(
            currency,
            Section.LABOUR,
            task.label,
            f"{plain_number(task.minutes)} minutes, at "
            f"{format_unit_price(task.rate_per_hour, currency)} an hour",
            (task.minutes, "min", task.rate_per_hour),
            units_per_price=MINUTES_PER_HOUR,
        )


def _line(
    currency: str,
    section: Section,
    label: str,
    explanation: str,
    amounts: tuple[Decimal, str, Decimal],
    *,
    units_per_price: Decimal = Decimal(1),
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
    )


def _percent_line(
    inputs: PriceInputs,
    lines: list[PriceLine],
    section: Section,
    label: str,
    percent: Decimal,
    of_what: str,
    *,
    highest: Decimal = LARGEST_PERCENT,
) -> list[PriceLine]:
    _check(f"{label} in per cent", percent, highest)
    if percent == 0:
        return []
    base = _sum(lines)
    return [
        PriceLine(
            section=section,
            label=label,
            explanation=f"{plain_number(percent)} % of {format_unit_price(base, inputs.currency)}: {of_what}",
            quantity=percent,
            unit="%",
            unit_price=base,
            amount=round_money(base * percent / HUNDRED, inputs.currency),
        )
    ]


def _gallery_line(inputs: PriceInputs, studio_price: Decimal) -> list[PriceLine]:
    cut = inputs.gallery_cut_percent
    _check("Gallery's share in per cent", cut, LARGEST_CUT_PERCENT)
    if cut == 0:
        return []
    with localcontext(prec=60):
        asked = studio_price * HUNDRED / (HUNDRED - cut)
        amount = round_money(asked - studio_price, inputs.currency)
    return [
        PriceLine(
            section=Section.GALLERY,
            label="Gallery",
            explanation=(
                f"The gallery keeps {plain_number(cut)} % of "
                f"{format_unit_price(studio_price + amount, inputs.currency)}, so that the studio "
                f"nets {format_unit_price(studio_price, inputs.currency)}"
            ),
            quantity=cut,
            unit="%",
            unit_price=studio_price + amount,
            amount=amount,
        )
    ]


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
