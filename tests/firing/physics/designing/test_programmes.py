"""Programmes by rule of thumb, against what the trade commonly does (no source)."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.physics.designing import annealing_table, programmes
from firing.physics.designing.annealing_table import (
    exact_rule,
    next_thicker_row,
    row_at_or_above,
)
from firing.physics.kiln.model import KilnModel, follow
from firing.physics.schedule import PhysicsProblem, duration_s
from studio.units import TemperatureUnit, format_temperature

DAY_S = 86_400
KILN = KilnModel(
    power_w=9000,
    max_temperature_c=950,
    ambient_c=20,
    holding_fraction=0.45,
    cooling_time_constant_s=8 * 3600,
)


def full_fuse(thickness_m, rule=None, **changes):
    rule = rule or next_thicker_row(thickness_m)
    return programmes.full_fuse_schedule(thickness_m, rule, end_c=50, **changes)


# Common practice, no source: 20 layers just over 2 inches are closed in for about five
# days; 9 layers just over an inch for about two.
@pytest.mark.parametrize(
    ("thickness_m", "least_days", "most_days"), [(0.060, 4.3, 5.5), (0.027, 1.4, 2.4)]
)
def test_from_load_to_opening_takes_what_the_trade_is_used_to(
    thickness_m, least_days, most_days
):
    schedule = full_fuse(thickness_m)
    assert least_days <= duration_s(schedule, 300) / DAY_S <= most_days
    run = follow(schedule, KILN, until_c=50)
    assert least_days <= run.ready_s / DAY_S <= most_days


def test_process_temperatures_of_common_practice():
    # Common practice, no source: full fuse 1500 °F, enamel 1100 °F.
    show = format_temperature
    assert show(full_fuse(0.06).peak_c, TemperatureUnit.F) == "1500 °F"
    enamel = programmes.enamel_schedule(0.003, end_c=50)
    assert show(enamel.peak_c, TemperatureUnit.F) == "1100 °F"
    assert round(full_fuse(0.06).peak_c) == 816
    assert round(enamel.peak_c) == 593


def test_a_full_fuse_in_the_workshops_words():
    schedule = full_fuse(0.060)
    assert [part.label for part in schedule.segments] == [
        "bubble squeeze",
        "full fuse",
        "anneal soak",
        "cooling 1",
        "cooling 2",
        "final cooling",
    ]
    squeeze, fuse, soak, *cooling = schedule.segments
    assert squeeze.rate_c_per_h == 50  # 3000/60
    assert squeeze.hold_s == 2 * 3600
    assert fuse.target_c > squeeze.target_c
    assert soak.rate_c_per_h is None
    assert tuple(part.rate_c_per_h for part in cooling) == (1.7, 3.1, 10)


@pytest.mark.parametrize(
    ("thickness_m", "rate"), [(0.006, 150), (0.020, 150), (0.030, 100), (0.1, 40)]
)
def test_a_thicker_stack_is_heated_slower(thickness_m, rate):
    assert programmes.stack_heating_rate_c_per_h(thickness_m) == pytest.approx(rate)


STACKED = [programmes.full_fuse_schedule, programmes.tack_fuse_schedule]
EVERY = [*STACKED, programmes.slump_schedule, programmes.re_anneal_schedule]


@given(st.floats(0.003, 0.12), st.floats(450, 540), st.floats(25, 200))
def test_every_programme_ends_with_the_anneal_of_its_rule(thickness_m, soak_c, end_c):
    for rule in (row_at_or_above(thickness_m), exact_rule(thickness_m)):
        anneal = annealing_table.anneal_segments(rule, soak_c=soak_c, end_c=end_c)
        for make in EVERY:
            schedule = make(thickness_m, rule, soak_c=soak_c, end_c=end_c)
            assert schedule.segments[-3:] == anneal[1:]
            soaks = [s for s in schedule.segments if s.label == "anneal soak"]
            assert [s.hold_s for s in soaks] == [rule.soak_s]
            assert soaks[0].target_c == soak_c
            assert schedule.end_c == end_c


@given(st.floats(0.003, 0.12))
def test_a_fused_slab_is_never_heated_faster_than_it_may_cool(thickness_m):
    rule = exact_rule(thickness_m)
    for make in (programmes.slump_schedule, programmes.re_anneal_schedule):
        heating = make(thickness_m, rule, end_c=50).segments[0]
        assert heating.rate_c_per_h <= rule.rates_c_per_h.final


@given(st.floats(0.003, 0.12), st.floats(0.003, 0.12))
def test_a_thicker_piece_never_takes_less_time(one, other):
    thin, thick = sorted((one, other))
    for make in EVERY:
        times = [
            duration_s(make(size, exact_rule(size), end_c=50), 300)
            for size in (thin, thick)
        ]
        assert times[0] <= times[1] * (1 + 1e-12)


def test_a_re_anneal_never_goes_above_its_soak():
    schedule = programmes.re_anneal_schedule(
        0.060, next_thicker_row(0.060), soak_c=516, end_c=50
    )
    assert schedule.peak_c == 516
    assert schedule.segments[0].rate_c_per_h == 10


def test_the_process_can_be_chosen():
    hold = programmes.ProcessHold(temperature_c=800, hold_s=1200)
    fuse = full_fuse(0.03, process=hold).segments[1]
    assert (fuse.target_c, fuse.hold_s) == (800, 1200)


def test_an_enamel_firing_is_for_single_sheets():
    gentle = programmes.enamel_schedule(0.003, end_c=60)
    assert (
        gentle.segments[-1].rate_c_per_h < annealing_table.ROWS[0].rates_c_per_h.final
    )
    assert 6 < duration_s(gentle, 300) / 3600 < 14
    with pytest.raises(PhysicsProblem, match="more than a single sheet"):
        programmes.enamel_schedule(0.018, end_c=50)
    with pytest.raises(PhysicsProblem, match="below the anneal soak"):
        programmes.enamel_schedule(0.003, end_c=500)


@pytest.mark.parametrize("make", EVERY)
def test_a_rule_for_thinner_glass_is_refused(make):
    with pytest.raises(PhysicsProblem, match="is for 38 mm and the glass is 60 mm"):
        make(0.060, row_at_or_above(0.038), end_c=50)


@pytest.mark.parametrize("thickness_m", [0, -0.01, math.nan])
def test_a_thickness_that_is_none_is_refused(thickness_m):
    with pytest.raises(PhysicsProblem):
        programmes.full_fuse_schedule(thickness_m, row_at_or_above(0.03), end_c=50)


@pytest.mark.parametrize("changes", [{"soak_c": 660}, {"start_c": 500}])
def test_temperatures_out_of_order_are_refused(changes):
    with pytest.raises(PhysicsProblem, match="must rise in this order"):
        full_fuse(0.03, **changes)
