"""The way up: common practice, slowed where the glass would be pulled too hard."""

from dataclasses import replace

import pytest

from firing.physics.designing.band import Uncertainty
from firing.physics.designing.heat_up import CLOSE, SLOWEST_C_PER_H, heat_up, stack_of
from firing.physics.designing.programmes import (
    FULL_FUSE,
    PROCESS_RATE_C_PER_H,
    SQUEEZE_C,
    SQUEEZE_HOLD_PER_MM_S,
    SQUEEZE_HOLD_S,
    STACK_FASTEST_C_PER_H,
    ProcessHold,
    stack_heating_rate_c_per_h,
)
from firing.physics.designing.request import DesignRequest, Kind, process_of
from firing.physics.glass.families import NINETY
from firing.physics.schedule import PhysicsProblem
from firing.physics.slab.surroundings import BOTH_FACES_FILM

SURE = Uncertainty(annealing_point_k=0, conductivity_share=0, thermocouple_k=0)


def wanted(mm, kind=Kind.FULL_FUSE, **changes):
    values = {"glass": NINETY, "thickness_m": mm / 1000, "kind": kind}
    return DesignRequest(**(values | changes))


def slab(mm=50, **changes):
    return wanted(mm, Kind.RE_ANNEAL, **changes)


@pytest.mark.parametrize(
    ("kind", "mm", "is_loose"),
    [
        (Kind.FULL_FUSE, 12, True),
        (Kind.TACK_FUSE, 6, True),
        (Kind.FULL_FUSE, 5.9, False),  # less than two sheets
        (Kind.SLUMP, 12, False),
        (Kind.RE_ANNEAL, 12, False),
        (Kind.ENAMEL, 3, False),
    ],
)
def test_only_a_fuse_of_two_sheets_and_more_begins_loose(kind, mm, is_loose):
    found = stack_of(wanted(mm, kind))
    assert (found is not None) is is_loose
    if found is not None:
        assert found.sheet_m == 0.003


def test_loose_sheets_go_up_by_practice_with_a_squeeze_on_the_way():
    up = heat_up(wanted(12))
    squeeze, fuse = up.segments
    assert up.rate_c_per_h == up.practice_c_per_h == stack_heating_rate_c_per_h(0.012)
    assert (squeeze.rate_c_per_h, squeeze.target_c) == (up.rate_c_per_h, SQUEEZE_C)
    assert squeeze.hold_s == pytest.approx(SQUEEZE_HOLD_S + 12 * SQUEEZE_HOLD_PER_MM_S)
    assert (fuse.label, fuse.rate_c_per_h) == ("full fuse", PROCESS_RATE_C_PER_H)
    assert fuse.target_c == FULL_FUSE.temperature_c
    assert fuse.hold_s == up.practice_hold_s == FULL_FUSE.hold_s


def test_a_slab_goes_up_at_one_rate_slower_than_practice_where_it_is_thick():
    up = heat_up(slab())
    (only,) = up.segments
    assert (only.label, only.rate_c_per_h) == ("heat-up", up.rate_c_per_h)
    assert up.rate_c_per_h < up.practice_c_per_h == STACK_FASTEST_C_PER_H
    assert only.target_c == process_of(slab()).temperature_c
    assert only.hold_s == up.warm_hold_s > up.practice_hold_s == 0
    thin = heat_up(slab(6))
    assert thin.rate_c_per_h == thin.practice_c_per_h


def test_the_rate_falls_with_the_tension_allowed():
    # A steady ramp's tension is proportional to its rate; a thin glass nearly gets there.
    rates = [
        heat_up(slab(25, heating_limit_pa=pa)).rate_c_per_h for pa in (0.5e6, 1e6, 2e6)
    ]
    assert rates == sorted(rates)
    assert rates[1] / rates[0] == pytest.approx(2, rel=4 * CLOSE)


def test_the_smaller_of_the_two_limits_counts():
    usual = heat_up(slab())
    assert heat_up(slab(heating_limit_pa=9e6)) == usual
    limits = replace(slab().limits, temporary_pa=1e6)
    assert heat_up(slab(limits=limits)) == heat_up(slab(heating_limit_pa=1e6))


def test_thicker_glass_and_doubt_make_it_slower():
    rates = [heat_up(slab(mm)).rate_c_per_h for mm in (25, 38, 50, 75)]
    assert rates == sorted(rates, reverse=True)
    assert heat_up(slab(uncertainty=SURE)).rate_c_per_h > rates[2]


def test_a_slab_warmed_from_both_faces_may_go_faster():
    both = heat_up(slab(boundary=BOTH_FACES_FILM))
    assert both.rate_c_per_h > heat_up(slab()).rate_c_per_h
    assert both.warm_hold_s < heat_up(slab()).warm_hold_s


def test_a_kiln_hotter_than_it_shows_is_told_less():
    typed = heat_up(wanted(12, kiln_offset_k=10)).segments
    assert [one.target_c for one in typed] == [
        SQUEEZE_C - 10,
        FULL_FUSE.temperature_c - 10,
    ]


def test_a_fuse_below_its_own_squeeze_is_refused():
    low = ProcessHold(temperature_c=630.0, hold_s=600)
    with pytest.raises(PhysicsProblem, match="squeeze"):
        heat_up(wanted(12, process=low))


def test_where_no_rate_is_slow_enough_it_is_refused():
    with pytest.raises(PhysicsProblem, match="150 mm"):
        heat_up(slab(150, heating_limit_pa=1e3))
    slow = heat_up(slab(150, heating_limit_pa=4e5))
    assert slow.rate_c_per_h >= SLOWEST_C_PER_H
