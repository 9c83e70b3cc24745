"""What a month of shared kilns costs. The worked example is ours, every figure by hand."""

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from commissions.kiln_charges import Used, charge_month
from studio.money import minor_units

D = Decimal


def test_a_month_worked_by_hand():
    """Three firings, 4 h free, electricity at 0.22 a kWh, in dollars.

    1. 2.50 h at 3.00, 2.50 free: 0.00 h paid                              =  0.00
    2. 9.25 h at 2.40, 1.50 free: 7.75 h x 2.40                            = 18.60
    3. 15.50 h at 3.15, none free: 15.50 x 3.15 = 48.825 ->                  48.83
    Electricity: 3.1 + 14.8 + nothing known = 17.9 kWh x 0.22 = 3.938 ->      3.94
    Together                                                               = 71.37
    """
    found = charge_month(
        [
            Used(hours=D("2.5"), rate=D(3), kwh=D("3.1")),
            Used(hours=D("9.25"), rate=D("2.4"), kwh=D("14.8")),
            Used(hours=D("15.5"), rate=D("3.15")),
        ],
        free_hours=D(4),
        kwh_price=D("0.22"),
        currency="USD",
    )
    assert [one.free for one in found.charges] == [D("2.5"), D("1.5"), D(0)]
    assert [one.hours for one in found.charges] == [D(0), D("7.75"), D("15.5")]
    assert [one.amount for one in found.charges] == [D(0), D("18.60"), D("48.83")]
    assert (found.kwh, found.energy) == (D("17.9"), D("3.94"))
    assert not found.is_energy_whole
    assert (found.hours, found.free, found.total) == (D("27.25"), D(4), D("71.37"))


def test_a_rate_that_includes_electricity_charges_none():
    used = Used(hours=D(2), rate=D(5), kwh=D(30))
    found = charge_month([used], free_hours=D(0), kwh_price=None, currency="EUR")
    assert (found.kwh, found.energy, found.total) == (D(30), D(0), D("10.00"))


hours = st.decimals(0, 400, places=2)
used = st.builds(
    Used,
    hours=hours,
    rate=st.decimals(0, 99, places=4),
    kwh=st.none() | st.decimals(0, 900, places=1),
)


@given(st.lists(used, max_size=8), hours, hours, st.sampled_from(["JPY", "EUR", "KWD"]))
def test_more_free_hours_never_cost_more_and_all_is_added_up(
    uses, free, more, currency
):
    found, freer = (
        charge_month(uses, free_hours=f, kwh_price=D("0.3"), currency=currency)
        for f in (free, free + more)
    )
    assert found.total == sum((x.amount for x in found.charges), D(0)) + found.energy
    assert found.free == min(free, found.hours)
    assert found.hours == sum((one.hours for one in uses), D(0))
    assert all(D(0) <= one.free <= one.used.hours for one in found.charges)
    assert freer.total <= found.total
    assert -found.total.as_tuple().exponent <= minor_units(currency)
