"""Amounts that are counted in a unit of weight, area or volume, and prices per unit.

Pure decimals. A unit that is not known here, and things that are counted, are the same
for every reader.
"""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal, localcontext
from enum import StrEnum

from studio.money import plain_number
from studio.units import LengthUnit

# Of a printed amount and of a price of one unit; both are multiplied as printed.
AMOUNT_PLACES = Decimal("0.001")
PRICE_PLACES = Decimal("0.0001")

SQUARE_METRE = "m²"
COUNTED = ("sheet", "piece", "roll", "jar", "tube")


class Dimension(StrEnum):
    """What a unit measures."""

    WEIGHT = "weight"
    AREA = "area"
    VOLUME = "volume"


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit, in whose system it is, and how large: in grams, square metres, ml."""

    dimension: Dimension
    system: LengthUnit
    size: Decimal
    other: str
    """The unit that readers of the other system have in its place."""


# Exact: the international inch, pound and US fluid ounce (NIST SP 811, B.8).
UNITS = {
    "g": Unit(Dimension.WEIGHT, LengthUnit.MM, Decimal(1), "oz"),
    "oz": Unit(Dimension.WEIGHT, LengthUnit.IN, Decimal("28.349523125"), "g"),
    "kg": Unit(Dimension.WEIGHT, LengthUnit.MM, Decimal(1000), "lb"),
    "lb": Unit(Dimension.WEIGHT, LengthUnit.IN, Decimal("453.59237"), "kg"),
    "m²": Unit(Dimension.AREA, LengthUnit.MM, Decimal(1), "ft²"),
    "ft²": Unit(Dimension.AREA, LengthUnit.IN, Decimal("0.09290304"), "m²"),
    "ml": Unit(Dimension.VOLUME, LengthUnit.MM, Decimal(1), "fl oz"),
    "fl oz": Unit(Dimension.VOLUME, LengthUnit.IN, Decimal("29.5735295625"), "ml"),
}
ALIASES = {
    **dict.fromkeys(("gr", "gram", "gramme"), "g"),
    **dict.fromkeys(("kilo", "kilogram"), "kg"),
    "ounce": "oz",
    **dict.fromkeys(("pound", "lbs"), "lb"),
    **dict.fromkeys(
        ("m2", "m^2", "sqm", "sq m", "qm", "square metre", "square meter"), "m²"
    ),
    **dict.fromkeys(
        ("ft2", "ft^2", "sqft", "sq ft", "square foot", "square feet"), "ft²"
    ),
    **dict.fromkeys(("millilitre", "milliliter"), "ml"),
    **dict.fromkeys(("floz", "fluid ounce"), "fl oz"),
}
# For labels: "Cost per square foot".
AREA_NAMES = {LengthUnit.MM: "square metre", LengthUnit.IN: "square foot"}


def known_unit(text: str) -> str:
    """Return the unit that was written, as we write it; other words as they are."""
    word = " ".join(text.lower().split())
    for one in (word, word.removesuffix("s")):
        if one in UNITS or one in COUNTED:
            return one
        if one in ALIASES:
            return ALIASES[one]
    return text


def unit_for(text: str, reader: LengthUnit) -> str:
    """Return the unit in which a reader of inches, or of millimetres, has it."""
    unit = known_unit(text)
    found = UNITS.get(unit)
    return unit if found is None or found.system == reader else found.other


def units_of(reader: LengthUnit) -> tuple[str, ...]:
    """Return the units that a reader may choose from, those of counted things last."""
    return (*(name for name, one in UNITS.items() if one.system == reader), *COUNTED)


def convert(amount: Decimal, text: str, to: str) -> Decimal:
    """Return an amount in another unit of the same dimension, as exact as it is."""
    return amount * _ratio(text, to)


def convert_price(price: Decimal, text: str, to: str) -> Decimal:
    """Return what one unit costs, from what one of another costs, to four places."""
    ratio = _ratio(text, to)
    if ratio == 1:
        return price
    with localcontext(prec=40):
        return (price / ratio).quantize(PRICE_PLACES, ROUND_HALF_UP)


def printed(amount: Decimal) -> Decimal:
    """Return an amount rounded as it is printed, so that it multiplies as printed."""
    return amount.quantize(AMOUNT_PLACES, ROUND_HALF_UP)


def in_words(amount: Decimal, unit: str) -> str:
    """Write an amount: "22.6 oz", "30 sheets"."""
    many = f"{unit}s" if unit in COUNTED and amount != 1 else unit
    return f"{plain_number(printed(amount))} {many}".strip()


def _ratio(text: str, to: str) -> Decimal:
    """Return how many units of `to` one of `text` is; 1 where they do not compare."""
    one, other = UNITS.get(known_unit(text)), UNITS.get(known_unit(to))
    if one is None or other is None or one.dimension != other.dimension:
        return Decimal(1)
    if one.size == other.size:
        return Decimal(1)
    with localcontext(prec=40):
        return one.size / other.size
