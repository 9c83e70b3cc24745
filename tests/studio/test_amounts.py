"""Amounts in units: known names, the other system's unit, and prices that go along."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio import amounts
from studio.amounts import UNITS, convert, convert_price, in_words, known_unit, unit_for
from studio.units import LengthUnit

MM, IN = LengthUnit.MM, LengthUnit.IN


@pytest.mark.parametrize(
    ("typed", "unit"),
    [
        ("Grams", "g"),
        ("sq m", "m²"),
        ("lbs", "lb"),
        ("sheets", "sheet"),
        ("bag", "bag"),
    ],
)
def test_a_unit_is_known_by_its_usual_names(typed, unit):
    assert known_unit(typed) == unit


def test_each_reader_has_their_own_unit():
    assert [unit_for("g", one) for one in (MM, IN)] == ["g", "oz"]
    assert [unit_for("ft2", one) for one in (MM, IN)] == ["m²", "ft²"]
    assert unit_for("sheet", IN) == "sheet"
    for name, unit in UNITS.items():
        assert UNITS[unit.other].other == name
        assert UNITS[unit.other].dimension == unit.dimension
        assert UNITS[unit.other].system != unit.system


def test_amounts_by_hand():
    """NIST SP 811, B.8: a pound is 453.59237 g, a square foot 0.09290304 m²."""
    assert convert(Decimal(1), "lb", "g") == Decimal("453.59237")
    assert in_words(convert(Decimal("1.7884"), "m²", "ft²"), "ft²") == "19.25 ft²"
    assert convert_price(Decimal(118), "m²", "ft²") == Decimal("10.9626")
    assert convert(Decimal(5), "g", "m²") == 5, "what does not compare stays"
    assert in_words(Decimal(30), "sheet") == "30 sheets"
    assert in_words(Decimal(1), "sheet") == "1 sheet"


@given(
    st.decimals(min_value="0.01", max_value=10**6, places=3),
    st.sampled_from(sorted(UNITS)),
)
def test_there_and_back_is_the_same_amount(amount, unit):
    other = UNITS[unit].other
    again = convert(convert(amount, unit, other), other, unit)
    assert amounts.printed(again) == amount
