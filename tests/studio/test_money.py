"""Money: the published minor units, one rounding rule, shares that add up."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio import money
from studio.money import MoneyProblem

# ISO 4217:2015, table A.1 (the maintenance agency's published list), minor units.
ISO_4217 = {
    "USD": 2,
    "EUR": 2,
    "GBP": 2,
    "CAD": 2,
    "AUD": 2,
    "CHF": 2,
    "SEK": 2,
    "INR": 2,
    "JPY": 0,
    "KRW": 0,
    "CLP": 0,
    "VND": 0,
    "XOF": 0,
    "KWD": 3,
    "BHD": 3,
    "OMR": 3,
    "JOD": 3,
    "TND": 3,
}
CURRENCIES = st.sampled_from(sorted(ISO_4217))


@pytest.mark.parametrize(("code", "digits"), ISO_4217.items())
def test_minor_units_as_published(code, digits):
    assert money.minor_units(code) == digits
    assert money.known_currency(code)


def test_what_is_no_tender_today():
    # DEM ended in 2002; XAU is gold, XXX no currency (ISO 4217, same table).
    for code in ("DEM", "XAU", "XXX", "usd", "", "US", "ABCDEFG"):
        assert not money.known_currency(code)


def test_an_old_currency_keeps_its_digits_for_old_papers():
    assert money.minor_units("DEM") == 2


@pytest.mark.parametrize("code", ["", "usd", "ZZZ", "dollars and cents"])
def test_an_unknown_currency_is_refused(code):
    with pytest.raises(MoneyProblem, match="such as USD"):
        money.round_money(Decimal(1), code)


@pytest.mark.parametrize(
    ("amount", "currency", "rounded"),
    [
        ("1.005", "USD", "1.01"),
        ("1.004999", "USD", "1.00"),
        ("2.675", "EUR", "2.68"),
        ("-1.005", "USD", "-1.01"),
        ("0.5", "JPY", "1"),
        ("2.5", "JPY", "3"),
        ("1.0005", "KWD", "1.001"),
        ("-0.001", "USD", "0.00"),
    ],
)
def test_halves_go_away_from_zero(amount, currency, rounded):
    result = money.round_money(Decimal(amount), currency)
    assert str(result) == rounded


@pytest.mark.parametrize("amount", [1.005, True, "1.00", None])
def test_only_exact_numbers_are_money(amount):
    with pytest.raises(TypeError, match="Decimal or int"):
        money.round_money(amount, "USD")


@pytest.mark.parametrize("amount", ["NaN", "Infinity", "-Infinity", "1e15", "1e999"])
def test_nonsense_amounts_are_refused(amount):
    with pytest.raises(MoneyProblem, match="not a number"):
        money.round_money(Decimal(amount), "USD")


@given(st.decimals(-(10**9), 10**9, places=6), CURRENCIES)
def test_rounding_is_near_and_settles(amount, currency):
    rounded = money.round_money(amount, currency)
    assert abs(rounded - amount) <= Decimal(5).scaleb(-money.minor_units(currency) - 1)
    assert money.round_money(rounded, currency) == rounded


@given(
    st.integers(-(10**12), 10**12),
    st.lists(st.decimals(0, 1000, places=3), min_size=1, max_size=12).filter(any),
    CURRENCIES,
)
def test_shares_add_up_exactly_and_are_fair(units, weights, currency):
    digits = money.minor_units(currency)
    total = Decimal(units).scaleb(-digits)
    shares = money.split_money(total, weights, currency)
    assert sum(shares) == total
    for share, weight in zip(shares, weights, strict=True):
        ideal = total * weight / sum(weights)
        assert abs(share - ideal) < Decimal(1).scaleb(-digits)
        assert share == money.round_money(share, currency)


def test_the_odd_cent_goes_to_the_largest_remainder_then_the_first():
    split = money.split_money
    third = [1, 1, 1]
    assert split(Decimal("100.00"), third, "USD") == [
        Decimal("33.34"),
        Decimal("33.33"),
        Decimal("33.33"),
    ]
    assert split(Decimal(100), [1, 2, 3], "JPY") == [17, 33, 50]
    assert split(Decimal("-0.01"), [1, 1], "USD") == [Decimal("-0.01"), 0]


@pytest.mark.parametrize("weights", [[], [0, 0], [Decimal(2), Decimal(-1)]])
def test_weights_that_share_nothing_are_refused(weights):
    with pytest.raises(MoneyProblem, match="weights"):
        money.split_money(Decimal("10.00"), weights, "USD")


def test_a_total_finer_than_the_currency_is_refused():
    with pytest.raises(MoneyProblem, match="more decimals"):
        money.split_money(Decimal("10.005"), [1, 1], "USD")


def test_money_as_written_in_two_languages():
    assert money.format_money(Decimal("1250"), "USD") == "$1,250.00"
    assert money.format_money(Decimal("1250.5"), "EUR", "de-DE") == (
        "1.250,50\N{NO-BREAK SPACE}€"
    )
    assert money.format_money(Decimal("1250.5"), "JPY") == "¥1,251"
    assert money.format_money(Decimal("1.0005"), "KWD").endswith("1.001")
    with pytest.raises(MoneyProblem, match="language"):
        money.format_money(Decimal(1), "USD", "xx-nowhere")


@pytest.mark.parametrize(
    ("amount", "currency", "written"),
    [
        ("2.5000", "USD", "$2.50"),
        ("0.1200", "EUR", "€0.12"),
        ("0.0125", "EUR", "0.0125 EUR"),
        ("1.5", "JPY", "1.5 JPY"),
    ],
)
def test_a_price_of_one_unit_keeps_what_is_finer_than_a_coin(amount, currency, written):
    assert money.format_unit_price(Decimal(amount), currency) == written
