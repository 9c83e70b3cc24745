"""Money: exact decimals, one rounding rule, and what a currency's smallest coin is.

Pure. Names, signs and digits come from the Unicode CLDR through babel. Where people
stopped using the small coin, CLDR follows them; here the digits are those of ISO 4217.
"""

from collections.abc import Sequence
from copy import copy
from decimal import ROUND_HALF_UP, Decimal, localcontext
from functools import cache

from babel.core import Locale, UnknownLocaleError, get_global
from babel.numbers import get_currency_precision, is_currency

from studio.errors import StudioError

# Past this an amount is a typing mistake, and Decimal's 28 digits run short.
LARGEST = Decimal(10) ** 15

# Where the digits of CLDR (babel 2.18) are not those of ISO 4217, and a currency that
# ended since. List one of the standard's maintenance agency, published 2026-01-01.
ISO_DIGITS = {
    "AFN": 2,
    "ALL": 2,
    "IQD": 3,
    "IRR": 2,
    "KPW": 2,
    "LAK": 2,
    "LBP": 2,
    "MGA": 2,
    "MMK": 2,
    "RSD": 2,
    "SOS": 2,
    "SYP": 2,
    "YER": 2,
}
ENDED = frozenset({"BGN"})


class MoneyProblem(StudioError):
    """An amount or a currency that cannot be used; the message says why."""


@cache
def minor_units(currency: str) -> int:
    """Return how many decimals the currency has: USD 2, JPY 0, KWD 3.

    Raises
    ------
    MoneyProblem
        If no currency has this code.
    """
    if not is_currency(currency):
        raise MoneyProblem(
            f"“{currency[:12]}” is not a currency. Write its three letters, "
            "such as USD, EUR or GBP."
        )
    return ISO_DIGITS.get(currency, get_currency_precision(currency))


def known_currency(code: str) -> bool:
    """Return whether the currency is legal tender somewhere today (capitals, ISO 4217)."""
    return code in _tender_today()


@cache
def _tender_today() -> frozenset[str]:
    spans = get_global("territory_currencies").values()
    return frozenset(
        code
        for territory in spans
        for code, _start, end, is_tender in territory
        if is_tender and end is None and code not in ENDED
    )


def round_money(amount: Decimal | int, currency: str) -> Decimal:
    """Round to the currency's smallest unit, halves away from zero.

    Parameters
    ----------
    amount : Decimal or int
        Exact; a float is refused, because 1.005 is not one thousand and five
        thousandths in a float.
    currency : str
        ISO 4217 code.

    Raises
    ------
    TypeError
        For a float (a fault of the program, not of a person).
    MoneyProblem
        For an unknown currency, a number that is none, or one past 10^15.
    """
    exact = _exact(amount)
    with localcontext(prec=40):
        rounded = exact.quantize(
            Decimal(1).scaleb(-minor_units(currency)), rounding=ROUND_HALF_UP
        )
    return rounded + 0  # Turns a negative zero into zero.


def split_money(
    total: Decimal, weights: Sequence[Decimal | int], currency: str
) -> list[Decimal]:
    """Divide a rounded total by weights so that the shares add up to it exactly.

    Each share is cut off at the smallest unit; what is left over goes, one unit each,
    to the largest remainders, the earlier share first where they are equal.

    Raises
    ------
    MoneyProblem
        If the total has more decimals than the currency, a weight is negative, or
        no weight is above zero.
    """
    if round_money(total, currency) != total:
        raise MoneyProblem(f"{total} {currency} has more decimals than the currency.")
    exact_weights = [_exact(weight) for weight in weights]
    weight_sum = sum(exact_weights, Decimal(0))
    if weight_sum <= 0 or min(exact_weights) < 0:
        raise MoneyProblem("Shares need weights of zero or more, and one above zero.")
    digits = minor_units(currency)
    with localcontext(prec=80):
        units = int(abs(total).scaleb(digits))
        ideal = [weight * units / weight_sum for weight in exact_weights]
    shares = [int(share) for share in ideal]
    by_remainder = sorted(
        range(len(ideal)), key=lambda index: (shares[index] - ideal[index], index)
    )
    for index in by_remainder[: units - sum(shares)]:
        shares[index] += 1
    sign = -1 if total < 0 else 1
    return [
        round_money(Decimal(sign * share).scaleb(-digits), currency) for share in shares
    ]


def format_money(amount: Decimal | int, currency: str, locale: str = "en") -> str:
    """Return the amount as the locale writes it: "$1,250.00", "1.250,00 €".

    Raises
    ------
    MoneyProblem
        As `round_money`, or for a locale that is none.
    """
    try:
        parsed = Locale.parse(locale.replace("-", "_"))
    except (UnknownLocaleError, ValueError) as problem:
        raise MoneyProblem(
            f"“{locale[:12]}” is not a language we can write money in; try en or de."
        ) from problem
    rounded = round_money(amount, currency)
    pattern = copy(parsed.currency_formats["standard"])
    pattern.frac_prec = (minor_units(currency),) * 2
    written: str = pattern.apply(
        rounded, parsed, currency=currency, currency_digits=False
    )
    return written


def format_unit_price(amount: Decimal, currency: str) -> str:
    """Return a price of one unit; one finer than the smallest coin keeps its digits.

    Raises
    ------
    MoneyProblem
        As `round_money`.
    """
    if round_money(amount, currency) != amount:
        return f"{plain_number(amount)} {currency}"
    return format_money(amount, currency)


def plain_number(amount: Decimal) -> str:
    """Return a number without trailing zeros: 340.500 is 340.5, 2.000 is 2."""
    text = f"{amount:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _exact(amount: Decimal | int) -> Decimal:
    if isinstance(amount, bool) or not isinstance(amount, Decimal | int):
        raise TypeError(f"Money is Decimal or int, not {type(amount).__name__}.")
    exact = Decimal(amount)
    if not exact.is_finite() or abs(exact) >= LARGEST:
        raise MoneyProblem("This amount is not a number below 10^15.")
    return exact
