"""Money: the published minor units, one rounding rule, shares that add up."""

from decimal import Decimal

import pytest
from babel.numbers import get_currency_precision
from hypothesis import given
from hypothesis import strategies as st

from studio import money
from studio.money import MoneyProblem

# ISO 4217, list one as its maintenance agency (SIX) published it on 2026-01-01, read
# from the copy in the package iso4217 1.16.20260101: all that are money with a minor
# unit, but for fund and accounting codes.
TWO = """AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BRL BSD BTN BWP BYN BZD
CAD CDF CHF CNY COP CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP
GMD GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD
LSL MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD PAB
PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SYP
SZL THB TJS TMT TOP TRY TTD TWD TZS UAH USD UYU UZS VES WST XCD XCG YER ZAR ZMW ZWG"""
NONE = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF"
THREE = "BHD IQD JOD KWD LYD OMR TND"
ISO_4217 = {
    code: digits
    for digits, codes in ((2, TWO), (0, NONE), (3, THREE))
    for code in codes.split()
}
CURRENCIES = st.sampled_from(sorted(ISO_4217))


@pytest.mark.parametrize(("code", "digits"), ISO_4217.items())
def test_minor_units_as_published(code, digits):
    assert money.minor_units(code) == digits
    assert money.known_currency(code)


def test_no_tender_is_missing_from_the_published_list():
    assert money._tender_today() - set(ISO_4217) == set()


def test_only_currencies_that_differ_from_cldr_are_corrected():
    for code, digits in money.ISO_DIGITS.items():
        assert get_currency_precision(code) != digits, f"{code}: take the line out"


def test_what_is_no_tender_today():
    # DEM ended in 2002, BGN with 2025; XAU is gold, XXX no currency (ISO 4217, same table).
    for code in ("DEM", "BGN", "XAU", "XXX", "usd", "", "US", "ABCDEFG"):
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
    # ISO 4217 counts para and fils, which custom has dropped.
    assert money.format_money(Decimal("12.5"), "RSD").endswith("12.50")
    assert money.format_money(Decimal("1.5"), "IQD").endswith("1.500")
    assert money.format_money(Decimal("-1250"), "USD") == "-$1,250.00"
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
