"""The arithmetic of invoices, by the calculation rules of EN 16931-1:2017.

The rules (BR-...) and terms (BT-...) are quoted by their published numbers; their texts
are those of the norm's business rules as the CEN artefacts print them, from memory. The
worked examples are ours, every figure by hand.
"""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commissions.invoicing import (
    EXEMPT,
    UNTAXED,
    Charged,
    InvoiceProblem,
    Net,
    Tax,
    TaxCategory,
    left_of,
    line_net,
    nets_of_price,
    part_of,
    totals,
)
from studio.money import minor_units, round_money

D = Decimal

HIGH = Tax(category=TaxCategory.TAXED, percent=D(23), name="IVA")
LOW = Tax(category=TaxCategory.TAXED, percent=D(6), name="IVA")


def test_an_invoice_with_two_rates_worked_by_hand():
    """Three lines, two rates, in euro.

    1. Glass panel, 1 x 1234.55          = 1234.55   at 23 %
    2. Hanging fittings, 3 x 33.335      =  100.005 -> 100.01   at 23 %
    3. Printed book on it, 4 x 12.49     =   49.96   at 6 %

    BT-106 (BR-CO-10) = 1234.55 + 100.01 + 49.96                       = 1384.52
    BT-116 at 23 % (BR-S-08) = 1234.55 + 100.01                        = 1334.56
    BT-117 at 23 % (BR-CO-17) = 1334.56 x 0.23 = 306.9488 ->             306.95
    BT-116 at 6 % = 49.96;  BT-117 = 49.96 x 0.06 = 2.9976 ->              3.00
    BT-110 (BR-CO-14) = 306.95 + 3.00                                  =  309.95
    BT-112 (BR-CO-15) = 1384.52 + 309.95                               = 1694.47
    BT-115 (BR-CO-16) = 1694.47 - 500.00 (BT-113) + 0.03 (BT-114)      = 1194.50
    """
    nets = [
        Net(tax=HIGH, net=line_net(D(1), D("1234.55"), "EUR")),
        Net(tax=HIGH, net=line_net(D(3), D("33.335"), "EUR")),
        Net(tax=LOW, net=line_net(D(4), D("12.49"), "EUR")),
    ]
    assert [one.net for one in nets] == [D("1234.55"), D("100.01"), D("49.96")]
    found = totals(nets, "EUR", paid=D(500), rounding=D("0.03"))
    assert found.net == D("1384.52")
    assert [(one.tax, one.taxable, one.amount) for one in found.taxes] == [
        (HIGH, D("1334.56"), D("306.95")),
        (LOW, D("49.96"), D("3.00")),
    ]
    assert found.tax == D("309.95")
    assert found.total == D("1694.47")
    assert found.due == D("1194.50")


def test_tax_is_rounded_once_a_rate_and_not_once_a_line():
    # 0.10 x 23 % is 0.023 a line, 0.02 rounded; of three it is 0.069, 0.07 (BR-CO-17).
    found = totals([Net(tax=HIGH, net=D("0.10"))] * 3, "EUR")
    assert found.tax == D("0.07")


@pytest.mark.parametrize(
    ("currency", "net", "tax"),
    [
        ("JPY", D(1005), D(231)),
        ("EUR", D("10.05"), D("2.31")),
        ("KWD", D("10.005"), D("2.301")),
    ],
)
def test_a_tax_has_the_currencys_own_decimals(currency, net, tax):
    # ISO 4217: no decimals for JPY, three for KWD. 23 % is 231.15, 2.3115, 2.30115.
    assert totals([Net(tax=HIGH, net=net)], currency).tax == tax


@pytest.mark.parametrize(
    ("currency", "net"), [("JPY", "1.5"), ("EUR", "1.005"), ("KWD", "1.0005")]
)
def test_a_net_with_more_decimals_than_the_currency_is_refused(currency, net):
    with pytest.raises(InvoiceProblem, match="more decimals"):
        totals([Net(tax=HIGH, net=D(net))], currency)


@pytest.mark.parametrize("percent", [D(100), D(250), D(-1), D("NaN"), D("Infinity")])
def test_a_tax_of_a_hundred_per_cent_and_more_is_refused(percent):
    with pytest.raises(InvoiceProblem, match="under 100 %"):
        Tax(category=TaxCategory.TAXED, percent=percent, name="Tax")


def test_only_what_is_taxed_has_a_rate():
    # BR-S-05: a rate above zero; BR-E-05: a rate of zero.
    for category, percent in ((TaxCategory.TAXED, D(0)), (TaxCategory.EXEMPT, D(5))):
        with pytest.raises(InvoiceProblem, match="has a rate"):
            Tax(category=category, percent=percent)


def test_an_invoice_has_a_line():  # BR-16
    with pytest.raises(InvoiceProblem, match="at least one line"):
        totals([], "EUR")


def test_what_is_outside_tax_stands_alone():  # BR-O-11
    with pytest.raises(InvoiceProblem, match="outside all tax"):
        totals([Net(tax=UNTAXED, net=D(1)), Net(tax=HIGH, net=D(1))], "EUR")
    beside = totals([Net(tax=EXEMPT, net=D(1)), Net(tax=HIGH, net=D(1))], "EUR")
    assert beside.total == D("2.23")


# --- How a price is taxed ---


def test_what_no_tax_covers_is_untaxed():
    charged = [Charged(name="IVA", percent=D(23), base=D(600))]
    assert nets_of_price(D(1000), charged) == (
        Net(tax=HIGH, net=D(600)),
        Net(tax=EXEMPT, net=D(400)),
    )
    assert nets_of_price(D(1000), []) == (Net(tax=UNTAXED, net=D(1000)),)


def test_two_taxes_on_the_same_amount_are_one_group():
    charged = [
        Charged(name="State", percent=D("6.25"), base=D(1000)),
        Charged(name="City", percent=D("1.5"), base=D(1000)),
    ]
    (one,) = nets_of_price(D(1000), charged)
    assert one.tax.words == "State and City 7.75 %"
    assert one.net == 1000


def test_taxes_on_more_than_the_price_are_refused():
    with pytest.raises(InvoiceProblem, match="more than its 100 before tax"):
        nets_of_price(D(100), [Charged(name="Tax", percent=D(5), base=D(120))])


# --- Parts ---


def test_a_deposit_of_forty_per_cent_worked_by_hand():
    """1000.00 at 23 % and 200.00 untaxed: 1230 + 200 = 1430.00; the deposit is 572.00.

    Of either net 572/1430 = 0.4: 400.00 and 80.00; 400 x 1.23 + 80 = 572.00 exactly.
    """
    left = [Net(tax=HIGH, net=D(1000)), Net(tax=EXEMPT, net=D(200))]
    part = part_of(left, amount=D(572), of=D(1430), currency="EUR")
    assert [one.net for one in part.nets] == [D(400), D(80)]
    assert part.rounding == 0


def test_an_amount_that_no_net_meets_is_rounded():
    """8.13 x 1.23 = 9.9999 -> 8.13 + 1.87 = 10.00, so 10.00 is met, but 10.01 is not.

    8.13 gives 10.00 and 8.14 gives 8.14 + 1.8722 -> 1.87 = 10.01. 10.02: 8.15 + 1.8745
    -> 1.87 = 10.02; 10.03: 8.15 is 10.02, 8.16 is 8.16 + 1.8768 -> 1.88 = 10.04, so a
    cent of rounding (BT-114) is left.
    """
    left = [Net(tax=HIGH, net=D(1000))]
    for amount, rounding in (("10.00", 0), ("10.01", 0), ("10.02", 0), ("10.03", 1)):
        part = part_of(left, amount=D(amount), of=D(1230), currency="EUR")
        sums = totals(part.nets, "EUR", rounding=part.rounding)
        assert sums.due == D(amount)
        assert abs(part.rounding) == rounding * D("0.01"), amount


@pytest.mark.parametrize("amount", ["0", "-1", "1230.01", "1.005"])
def test_a_part_beyond_what_is_left_is_refused(amount):
    with pytest.raises(InvoiceProblem, match="at most 1230 EUR"):
        part_of(
            [Net(tax=HIGH, net=D(1000))], amount=D(amount), of=D(1230), currency="EUR"
        )


@given(
    nets=st.lists(st.integers(1, 10**7), min_size=1, max_size=3),
    percents=st.lists(st.integers(1, 2500), min_size=3, max_size=3),
    cuts=st.lists(st.integers(1, 9), min_size=1, max_size=6),
    currency=st.sampled_from(["EUR", "JPY", "KWD"]),
)
def test_the_parts_of_a_price_add_up_to_it_to_the_coin(nets, percents, cuts, currency):
    coin = D(1).scaleb(-minor_units(currency))
    whole = [
        Net(
            tax=Tax(category=TaxCategory.TAXED, percent=D(percent) / 100, name=f"T{n}"),
            net=net * coin,
        )
        for n, (net, percent) in enumerate(zip(nets, percents, strict=False))
    ]
    price = totals(whole, currency)
    open_, taken, asked = price.total, [], []
    for cut in cuts:
        amount = round_money(open_ * cut / 10, currency)
        if not 0 < amount < open_:
            continue
        part = part_of(
            left_of(whole, taken), amount=amount, of=open_, currency=currency
        )
        assert totals(part.nets, currency, rounding=part.rounding).due == amount
        assert abs(part.rounding) <= (len(whole) + 1) * coin
        taken += part.nets
        asked.append(amount)
        open_ -= amount
    last = part_of(left_of(whole, taken), amount=open_, of=open_, currency=currency)
    assert (
        sum(asked) + totals(last.nets, currency, rounding=last.rounding).due
        == price.total
    )
    assert sum(one.net for one in [*taken, *last.nets]) == price.net
