"""Pricing: an example worked by hand, sums that add up, and nothing gets cheaper."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commissions.pricing import (
    EnergyUse,
    KilnTime,
    LabourTime,
    MaterialUse,
    PriceInputs,
    PricingProblem,
    Section,
    Seller,
    TaxRate,
    payment_plan,
    price_commission,
)
from studio.money import MoneyProblem, minor_units, round_money

D = Decimal

EXAMPLE = PriceInputs(
    currency="USD",
    materials=(
        MaterialUse(
            label="Clear sheet glass",
            explanation="20 sheets of 12 × 8 in with 10 % cutting waste",
            quantity=D("1.364"),
            unit="m²",
            unit_price=D("92.50"),
        ),
        MaterialUse(
            label="Enamel",
            explanation="24 passes",
            quantity=D(24),
            unit="passes",
            unit_price=D("1.35"),
        ),
    ),
    kiln_times=(
        KilnTime(
            label="Enamel firings",
            firings=6,
            hours_each=D("10.5"),
            rate_per_hour=D("1.25"),
        ),
        KilnTime(
            label="Full fuse and anneal",
            firings=1,
            hours_each=D(117),
            rate_per_hour=D("2.10"),
        ),
    ),
    energy=EnergyUse(kwh=D("412.6"), price_per_kwh=D("0.1834")),
    labour=(
        LabourTime(label="Painting", minutes=D(1450), rate_per_hour=D(38)),
        LabourTime(label="Assembly and damming", minutes=D(95), rate_per_hour=D(38)),
    ),
    overhead_percent=D(12),
    remake_percent=D(8),
    markup_percent=D(20),
    gallery_cut_percent=D(40),
    taxes=(TaxRate(name="Tax", percent=D("8.25")),),
)


def test_an_example_worked_by_hand():
    price = price_commission(EXAMPLE)
    # 1.364 × 92.50 = 126.17; 24 × 1.35 = 32.40
    # 63 h × 1.25 = 78.75; 117 × 2.10 = 245.70; 412.6 × 0.1834 = 75.67084
    # 1450/60 × 38 = 918.33…; 95/60 × 38 = 60.1666…
    # direct 1537.19; 12 % = 184.4628; 1721.65; 8 % = 137.732; 1859.38; 20 % = 371.876
    # studio 2231.26; /0.6 = 3718.7666…, less 2231.26 = 1487.5066…
    # net 3718.77; 8.25 % = 306.798525
    assert [(line.section, str(line.amount)) for line in price.lines] == [
        (Section.MATERIALS, "126.17"),
        (Section.MATERIALS, "32.40"),
        (Section.KILN_TIME, "78.75"),
        (Section.KILN_TIME, "245.70"),
        (Section.ENERGY, "75.67"),
        (Section.LABOUR, "918.33"),
        (Section.LABOUR, "60.17"),
        (Section.OVERHEAD, "184.46"),
        (Section.REMAKE, "137.73"),
        (Section.MARKUP, "371.88"),
        (Section.GALLERY, "1487.51"),
        (Section.TAX, "306.80"),
    ]
    assert price.studio_price == D("2231.26")
    assert price.net == D("3718.77")
    assert price.tax == D("306.80")
    assert price.total == D("4025.57")
    assert price.currency == "USD"


def test_each_line_says_where_its_number_comes_from():
    explained = {
        line.label: line.explanation for line in price_commission(EXAMPLE).lines
    }
    assert explained == {
        "Clear sheet glass": "20 sheets of 12 × 8 in with 10 % cutting waste",
        "Enamel": "24 passes",
        "Enamel firings": "6 firings of 10.5 h in the kiln, at $1.25 an hour",
        "Full fuse and anneal": "1 firing of 117 h in the kiln, at $2.10 an hour",
        "Electricity": "412.6 kWh for all firings, at 0.1834 USD each",
        "Painting": "1450 minutes, at $38.00 an hour",
        "Assembly and damming": "95 minutes, at $38.00 an hour",
        "Overhead": ("12 % of $1,537.19: materials, kiln time, energy and labour"),
        "Risk of remake": (
            "8 % of $1,721.65: everything so far, for the piece or layer that has to "
            "be made again"
        ),
        "Mark-up": "20 % of $1,859.38: all costs",
        "Gallery": (
            "The gallery keeps 40 % of $3,718.77, so that the studio nets $2,231.26"
        ),
        "Tax": "8.25 % of $3,718.77: the price before tax",
    }


def test_each_line_multiplies_as_it_reads():
    lines = price_commission(EXAMPLE).lines
    shown = [(line.quantity, line.unit, line.unit_price) for line in lines]
    hours = [quantity for quantity, unit, _ in shown if unit == "h"]
    # 6 x 10.5 and 117 of kiln; 1450 and 95 minutes of work.
    assert hours == [63, 117, pytest.approx(D(1450) / 60), pytest.approx(D(95) / 60)]
    assert shown[0] == (D("1.364"), "m²", D("92.50"))
    assert shown[4] == (D("412.6"), "kWh", D("0.1834"))
    assert [price for _, unit, price in shown if unit == "h"][2:] == [38, 38]
    assert shown[-5:] == [
        (12, "%", D("1537.19")),
        (8, "%", D("1721.65")),
        (20, "%", D("1859.38")),
        (40, "%", D("3718.77")),
        (D("8.25"), "%", D("3718.77")),
    ]


@pytest.mark.parametrize(
    ("currency", "total"),
    # By hand, as above: 1 × 999.5 → 1000 yen; 10 % 100; tax 8 % of 1100 is 88.
    # 999.5 dinars stay; 10 % 99.95; 8 % of 1099.45 is 87.956.
    [("JPY", "1188"), ("KWD", "1187.406")],
)
def test_the_smallest_unit_is_the_currencys(currency, total):
    glass = MaterialUse(
        label="Glass", explanation="", quantity=D(1), unit="m²", unit_price=D("999.5")
    )
    inputs = PriceInputs(
        currency=currency,
        materials=(glass,),
        markup_percent=D(10),
        taxes=(TaxRate(name="Tax", percent=D(8)),),
    )
    assert str(price_commission(inputs).total) == total


AMOUNT = st.decimals(0, 5000, places=4)
PERCENT = st.decimals(0, 60, places=2)
INPUTS = st.builds(
    PriceInputs,
    currency=st.sampled_from(["USD", "EUR", "JPY", "KWD"]),
    materials=st.lists(
        st.builds(
            MaterialUse,
            label=st.just("Glass"),
            explanation=st.just("sheets"),
            quantity=AMOUNT,
            unit=st.just("m²"),
            unit_price=AMOUNT,
        ),
        min_size=1,
        max_size=4,
    ).map(tuple),
    kiln_times=st.lists(
        st.builds(
            KilnTime,
            label=st.just("Fuse"),
            firings=st.integers(0, 30),
            hours_each=AMOUNT,
            rate_per_hour=AMOUNT,
        ),
        min_size=1,
        max_size=3,
    ).map(tuple),
    energy=st.builds(EnergyUse, kwh=AMOUNT, price_per_kwh=AMOUNT),
    labour=st.lists(
        st.builds(
            LabourTime,
            label=st.just("Painting"),
            minutes=AMOUNT,
            rate_per_hour=AMOUNT,
            tax=st.sampled_from([0, 1, None]),
        ),
        min_size=1,
        max_size=3,
    ).map(tuple),
    overhead_percent=PERCENT,
    remake_percent=PERCENT,
    markup_percent=PERCENT,
    gallery_cut_percent=PERCENT,
    discount_percent=PERCENT,
    taxes=st.lists(
        st.builds(TaxRate, name=st.just("Tax"), percent=PERCENT), max_size=2
    ).map(tuple),
    rounding=st.sampled_from([0, 1, 5, 10, 50]).map(D),
    tax_included=st.booleans(),
    seller=st.sampled_from(Seller),
    gallery_bears_tax=st.booleans(),
)


@given(INPUTS)
def test_lines_add_up_exactly_and_each_is_whole_units(inputs):
    price = price_commission(inputs)
    assert sum(line.amount for line in price.lines) == price.total
    assert price.net + price.tax == price.total
    for line in price.lines:
        assert line.amount == round_money(line.amount, inputs.currency)
        assert line.amount.as_tuple().exponent == -minor_units(inputs.currency)
        if line.section not in {Section.DISCOUNT, Section.ROUNDING}:
            assert line.amount >= 0


@given(INPUTS)
def test_the_studio_nets_its_price_after_the_gallerys_cut(inputs):
    price = price_commission(inputs)
    kept = price.net * (1 - inputs.gallery_cut_percent / 100)
    smallest = D(1).scaleb(-minor_units(inputs.currency))
    assert abs(kept - price.studio_price) <= smallest / 2
    assert price.gallery_keeps == price.net - price.studio_price


@given(INPUTS)
def test_a_rounded_price_is_a_multiple_and_never_less(inputs):
    price = price_commission(inputs)
    plain = price_commission(replace(inputs, rounding=D(0)))
    smallest = D(1).scaleb(-minor_units(inputs.currency))
    # To a cent: a price with tax that is round already may lose one from its net.
    assert price.studio_price >= plain.studio_price - smallest
    if inputs.rounding:
        asked = price.total if inputs.tax_included else price.net
        assert asked % inputs.rounding == 0


@given(INPUTS)
def test_each_tax_is_its_percentage_of_its_part_and_parts_are_no_more_than_the_net(
    inputs,
):
    price = price_commission(inputs)
    smallest = D(1).scaleb(-minor_units(inputs.currency))
    taxes = [line for line in price.lines if line.section is Section.TAX]
    assert sum(line.unit_price for line in taxes) <= price.net
    for line in taxes:
        exact = line.unit_price * line.quantity / 100
        # Half a unit, and what makes a price with tax round.
        assert abs(line.amount - exact) <= smallest * 3


@given(INPUTS)
def test_whoever_sells_the_studio_is_paid_its_price_and_the_tax_it_collects(inputs):
    price = price_commission(inputs)
    if inputs.seller is Seller.STUDIO:
        assert price.to_studio == price.total
    elif not inputs.gallery_bears_tax:
        assert price.to_studio == price.studio_price
    else:
        assert price.to_studio >= price.studio_price


WITH_TAX = PriceInputs(
    currency="EUR",
    materials=(
        MaterialUse(
            label="Glass", explanation="", quantity=D(2), unit="m²", unit_price=D(90)
        ),
    ),
    kiln_times=(
        KilnTime(
            label="Enamel", firings=D("3.17"), hours_each=D(9), rate_per_hour=D(4)
        ),
    ),
    labour=(
        LabourTime(label="Painting", minutes=D(600), rate_per_hour=D(40)),
        LabourTime(label="Workshop talk", minutes=D(60), rate_per_hour=D(40), tax=1),
        LabourTime(label="Insurance", minutes=D(30), rate_per_hour=D(40), tax=None),
    ),
    overhead_percent=D(10),
    markup_percent=D(25),
    discount_percent=D(5),
    discount_reason="third piece",
    taxes=(TaxRate(name="VAT", percent=D(19)), TaxRate(name="VAT", percent=D(7))),
    tax_included=True,
    rounding=D(10),
)


def test_a_price_with_two_taxes_worked_by_hand():
    price = price_commission(WITH_TAX)
    # 2 x 90 = 180; 3.17 x 9 x 4 = 114.12; 10 h x 40 = 400; 40; 20: direct 754.12
    # 10 % 75.412; 829.53; 25 % 207.3825; 1036.91; less 5 % 51.8455: 985.06
    # Of 754.12 bear 694.12 the first tax, 40 the second, 20 none:
    # 985.06 parts into 906.69, 52.25, 26.12; taxes 172.2711 and 3.6575: 1160.99
    # asked 1170. (694.12 x 19 + 40 x 7) / 754.12 = 17.859731...; net 992.70
    # 992.70 parts into 913.72, 52.65, 26.33; taxes 173.6068 and 3.6855: 1170.00
    assert [(line.section, str(line.amount)) for line in price.lines] == [
        (Section.MATERIALS, "180.00"),
        (Section.KILN_TIME, "114.12"),
        (Section.LABOUR, "400.00"),
        (Section.LABOUR, "40.00"),
        (Section.LABOUR, "20.00"),
        (Section.OVERHEAD, "75.41"),
        (Section.MARKUP, "207.38"),
        (Section.DISCOUNT, "-51.85"),
        (Section.ROUNDING, "7.64"),
        (Section.TAX, "173.61"),
        (Section.TAX, "3.69"),
    ]
    assert [str(line.unit_price) for line in price.lines[-2:]] == ["913.72", "52.65"]
    assert (str(price.net), str(price.total)) == ("992.70", "1170.00")
    assert str(price.cost) == "829.53"
    # (992.70 - 829.53) / 992.70; (460 + 163.17) in 11.5 h
    assert round(price.margin_percent, 2) == D("16.44")
    assert str(price.earned_per_hour) == "54.19"


def test_a_mark_up_of_twenty_per_cent_is_a_margin_of_a_sixth():
    price = price_commission(
        PriceInputs(currency="USD", materials=WITH_TAX.materials, markup_percent=D(20))
    )
    assert round(price.margin_percent, 4) == D("16.6667")


def test_a_gallery_that_sells_collects_the_tax_and_owes_the_studio_its_price():
    sold = replace(EXAMPLE, seller=Seller.GALLERY)
    price = price_commission(sold)
    assert (price.total, price.to_studio) == (D("4025.57"), D("2231.26"))
    taxed = price_commission(replace(sold, gallery_bears_tax=True))
    # 8.25 % of 2231.26 is 184.07895.
    assert (taxed.total, taxed.to_studio) == (D("4025.57"), D("2415.34"))


def test_a_tax_of_all_and_a_rounding_below_a_coin_are_refused():
    whole = (TaxRate(name="VAT", percent=D(100)),)
    with pytest.raises(PricingProblem, match="VAT is 100 %; a tax is below 100 %"):
        price_commission(replace(EXAMPLE, taxes=whole))
    with pytest.raises(PricingProblem, match="no coin that small"):
        price_commission(replace(EXAMPLE, rounding=D("0.001")))


def dearer(inputs, more):
    """Yield the inputs with one cost after the other raised."""
    material, kiln, labour = (
        inputs.materials[0],
        inputs.kiln_times[0],
        inputs.labour[0],
    )
    for name in ("quantity", "unit_price"):
        raised = replace(material, **{name: getattr(material, name) + more})
        yield replace(inputs, materials=(raised, *inputs.materials[1:]))
    for name, step in (("firings", 1), ("hours_each", more), ("rate_per_hour", more)):
        raised = replace(kiln, **{name: getattr(kiln, name) + step})
        yield replace(inputs, kiln_times=(raised, *inputs.kiln_times[1:]))
    for name in ("kwh", "price_per_kwh"):
        raised = replace(inputs.energy, **{name: getattr(inputs.energy, name) + more})
        yield replace(inputs, energy=raised)
    for name in ("minutes", "rate_per_hour"):
        raised = replace(labour, **{name: getattr(labour, name) + more})
        yield replace(inputs, labour=(raised, *inputs.labour[1:]))
    for name in (
        "overhead_percent",
        "remake_percent",
        "markup_percent",
        "gallery_cut_percent",
    ):
        yield replace(inputs, **{name: getattr(inputs, name) + more})


@given(INPUTS, st.decimals("0.01", 20, places=2))
def test_no_cost_that_rises_makes_the_price_fall(inputs, more):
    before = price_commission(inputs)
    for raised in dearer(inputs, more):
        after = price_commission(raised)
        # Parts of a total with several taxes are rounded apart: a cent each.
        cents = D(3).scaleb(-minor_units(inputs.currency))
        same_tax = all(task.tax == 0 for task in inputs.labour)
        # A price that is round with its tax stays as it is where more of it is taxed:
        # 50.00 without tax, and 49.09 before tax once half of it bears 3.69 %.
        if same_tax or not (inputs.rounding and inputs.tax_included):
            assert after.net >= before.net - cents
        # More work that bears a lower tax, or none, leaves less to be taxed.
        if same_tax:
            assert after.total >= before.total - cents


def test_nothing_costs_nothing():
    price = price_commission(PriceInputs(currency="EUR"))
    assert price.lines == ()
    assert str(price.total) == "0.00"


BAD = [D("-0.01"), D("NaN"), D("Infinity"), D("1e999"), 1.5, True, "12"]


@pytest.mark.parametrize("bad", BAD, ids=str)
def test_a_number_that_is_none_is_named(bad):
    material = EXAMPLE.materials[0]
    kiln, labour, energy = EXAMPLE.kiln_times[0], EXAMPLE.labour[0], EXAMPLE.energy
    broken = {
        "quantity of “Clear": {"materials": (replace(material, quantity=bad),)},
        "price of “Clear": {"materials": (replace(material, unit_price=bad),)},
        "hours of “Enamel": {"kiln_times": (replace(kiln, hours_each=bad),)},
        "price of “Enamel": {"kiln_times": (replace(kiln, rate_per_hour=bad),)},
        "quantity of “Elec": {"energy": replace(energy, kwh=bad)},
        "price of “Elec": {"energy": replace(energy, price_per_kwh=bad)},
        "minutes of “Paint": {"labour": (replace(labour, minutes=bad),)},
        "price of “Paint": {"labour": (replace(labour, rate_per_hour=bad),)},
        "Overhead in per cent": {"overhead_percent": bad},
        "Risk of remake in per cent": {"remake_percent": bad},
        "Mark-up in per cent": {"markup_percent": bad},
        "Gallery's share": {"gallery_cut_percent": bad},
        "Tax in per cent": {"taxes": (TaxRate(name="Tax", percent=bad),)},
        "discount in per cent": {"discount_percent": bad},
        "rounding is": {"rounding": bad},
    }
    for words, change in broken.items():
        with pytest.raises(PricingProblem, match=words):
            price_commission(replace(EXAMPLE, **change))


MILLIONS = replace(EXAMPLE.materials[0], quantity=D(10**9), unit_price=D("0.01"))


@pytest.mark.parametrize(
    ("name", "most"),
    [
        ("overhead_percent", 1000),
        ("remake_percent", 1000),
        ("markup_percent", 1000),
        ("gallery_cut_percent", 90),
        ("discount_percent", 100),
    ],
)
def test_a_percentage_goes_up_to_its_limit_and_no_further(name, most):
    assert price_commission(replace(EXAMPLE, **{name: D(most)})).total >= 0
    with pytest.raises(PricingProblem, match=f"write a number from 0 to {most}\\."):
        price_commission(replace(EXAMPLE, **{name: D(most) + D("0.01")}))


def test_a_quantity_goes_up_to_a_thousand_million():
    price = price_commission(PriceInputs(currency="EUR", materials=(MILLIONS,)))
    assert price.total == 10**7
    more = replace(MILLIONS, quantity=MILLIONS.quantity + 1)
    with pytest.raises(PricingProblem, match="write a number from 0 to 1000000000"):
        price_commission(PriceInputs(currency="EUR", materials=(more,)))


def test_firings_that_are_no_number_of_firings_are_named():
    kiln = replace(EXAMPLE.kiln_times[0], firings=-1)
    with pytest.raises(PricingProblem, match="firings of “Enamel firings” is -1"):
        price_commission(replace(EXAMPLE, kiln_times=(kiln,)))


def test_an_unknown_currency_is_refused():
    with pytest.raises(MoneyProblem, match="such as USD"):
        price_commission(replace(EXAMPLE, currency="DEM"))


def test_a_total_in_three_parts():
    plan = payment_plan(D("4025.57"), D(30), D(40), "USD")
    # 1207.671, 1610.228, 1207.671: the odd cent goes to the largest remainder.
    assert [(part.label, str(part.amount)) for part in plan] == [
        ("Deposit", "1207.67"),
        ("Stage payment", "1610.23"),
        ("Balance", "1207.67"),
    ]
    assert [part.percent for part in plan] == [30, 40, 30]


@pytest.mark.parametrize(
    ("deposit", "stage", "labels"),
    [
        (50, 0, ["Deposit", "Balance"]),
        (100, 0, ["Deposit"]),
        (0, 0, ["Balance"]),
        (60, 40, ["Deposit", "Stage payment"]),
    ],
)
def test_a_part_of_nothing_is_left_out(deposit, stage, labels):
    plan = payment_plan(D("99.99"), D(deposit), D(stage), "EUR")
    assert [part.label for part in plan] == labels
    assert sum(part.amount for part in plan) == D("99.99")


@given(st.integers(0, 10**9), PERCENT, st.decimals(0, 40, places=2))
def test_parts_add_up_to_the_total(yen, deposit, stage):
    plan = payment_plan(D(yen), deposit, stage, "JPY")
    assert sum(part.amount for part in plan) == yen
    for part in plan:
        assert abs(part.amount - D(yen) * part.percent / 100) < 1


@pytest.mark.parametrize(("deposit", "stage"), [(60, 41), (-1, 50), (50, -1), (101, 0)])
def test_parts_of_more_than_all_are_refused(deposit, stage):
    with pytest.raises(PricingProblem):
        payment_plan(D(100), D(deposit), D(stage), "JPY")
