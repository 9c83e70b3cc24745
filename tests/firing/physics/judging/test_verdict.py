"""Judged firings: perfect, noisy, cut, gapped; and what is refused."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firing.physics.designing.band import Band
from firing.physics.designing.design import design
from firing.physics.designing.request import DesignRequest, Kind
from firing.physics.glass.families import BOROSILICATE, NINETY
from firing.physics.glass.viscosity import joins_c
from firing.physics.judging.plan_following import FaultKind
from firing.physics.judging.verdict import (
    LimitStanding,
    Verdict,
    judge,
    stand,
)
from firing.physics.limits import Limits
from firing.physics.schedule import PhysicsProblem
from firing.physics.slab.input import LooseStack
from firing.physics.slab.surroundings import BOTH_FACES_FILM
from tests.firing.physics.readings import (
    cut_off,
    judge_request,
    power_lost,
    sampled,
    slow_kiln,
    without,
)

HOUR_S = 3600.0


def judged(designed, readings, **changes):
    return judge(judge_request(designed, *readings, **changes))


def test_perfect_firing_is_within(designed):
    found = judged(designed, sampled(designed.curve))
    assert found.verdict is Verdict.WITHIN
    assert (found.temporary, found.residual) == (
        LimitStanding.WITHIN,
        LimitStanding.WITHIN,
    )
    assert found.faults == ()
    assert found.is_frozen
    assert found.is_certain
    assert found.is_joined
    # The same glass through the same curve: what the design said, to the filter.
    planned = designed.band.middle
    assert found.band.middle.residual_max_tension_pa == pytest.approx(
        planned.residual_max_tension_pa, rel=0.01
    )
    assert found.band.cooling_pa.middle == pytest.approx(
        planned.cooling.tension_pa, rel=0.02
    )


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("every_s", [10.0, 60.0, 300.0])
def test_noise_does_not_change_the_verdict(designed, seed, every_s):
    readings = sampled(designed.curve, every_s, noise_k=1.0, seed=seed)
    found = judged(designed, readings)
    assert found.verdict is Verdict.WITHIN
    clean = judged(designed, sampled(designed.curve, every_s))
    for name in ("residual_tension_pa", "cooling_pa"):
        noisy, plain = getattr(found.band, name), getattr(clean.band, name)
        assert noisy.middle == pytest.approx(plain.middle, rel=0.02, abs=0.2e6)
    assert found.band.residual_tension_pa.high == pytest.approx(
        clean.band.residual_tension_pa.high, rel=0.02
    )


def test_whole_degrees_do_not_change_it(designed):
    time_s, kiln_c = sampled(designed.curve, 60.0, noise_k=0.5)
    assert judged(designed, (time_s, np.round(kiln_c))).verdict is Verdict.WITHIN


def test_cut_in_the_annealing_range(designed, ends):
    found = judged(
        designed, cut_off(*sampled(designed.curve, 60.0), ends[2] + 6 * HOUR_S)
    )
    assert found.verdict is Verdict.RE_ANNEAL
    assert found.residual is LimitStanding.OVER
    assert FaultKind.CUT in [fault.kind for fault in found.faults]


def test_cut_below_strain_is_temporary_only(designed, ends):
    whole = judged(designed, sampled(designed.curve, 60.0))
    found = judged(
        designed, cut_off(*sampled(designed.curve, 60.0), ends[4] + 3 * HOUR_S)
    )
    assert found.residual is LimitStanding.WITHIN
    assert found.band.residual_tension_pa.middle == pytest.approx(
        whole.band.residual_tension_pa.middle, rel=0.01
    )
    assert found.band.cooling_pa.middle > 1.3 * whole.band.cooling_pa.middle
    assert found.followed.faults


def test_hard_cut_may_have_cracked(designed, ends):
    readings = cut_off(*sampled(designed.curve, 60.0), ends[4], tau_s=1 * HOUR_S)
    assert judged(designed, readings).verdict is Verdict.MAY_HAVE_CRACKED


def test_tension_over_the_limit(designed):
    strict = Limits(temporary_pa=1e6)
    found = judged(designed, sampled(designed.curve), limits=strict)
    assert (found.temporary, found.verdict) == (
        LimitStanding.OVER,
        Verdict.TENSION_OVER,
    )


def test_perhaps(designed):
    residual = designed.band.residual_tension_pa
    between = Limits(residual_pa=(residual.middle + residual.high) / 2)
    found = judged(designed, sampled(designed.curve), limits=between)
    assert (found.residual, found.verdict) == (LimitStanding.PERHAPS, Verdict.CHECK)


def test_still_running(designed, ends):
    found = judged(designed, sampled(designed.curve, until_s=ends[2]))
    assert found.verdict is Verdict.STILL_HOT
    assert not found.is_frozen
    assert min(found.glass_now_c) > 450
    assert found.ready_s is None


@pytest.mark.parametrize(
    ("kiln_c", "verdict"), [(355, Verdict.STILL_HOT), (335, Verdict.WITHIN)]
)
def test_it_is_over_once_all_of_the_glass_is_frozen(designed, kiln_c, verdict):
    """150 K below the annealing point, at 366 °C; the top is there first."""
    time_s, shown_c = sampled(designed.curve)
    readings = sampled(designed.curve, until_s=time_s[shown_c > kiln_c][-1])
    found = judged(designed, readings)
    assert min(found.glass_now_c) < 366
    assert found.is_frozen is (max(found.glass_now_c) <= 366)
    assert found.verdict is verdict


def test_short_gap_is_bridged_and_a_long_one_flagged(designed, ends):
    start_s = ends[2] + 2 * HOUR_S
    readings = sampled(designed.curve)
    short = judged(designed, without(*readings, start_s, start_s + 1500))
    assert (short.faults, short.verdict) == ((), Verdict.WITHIN)
    long = judged(designed, without(*readings, start_s, start_s + 4 * HOUR_S))
    assert [fault.kind for fault in long.faults] == [FaultKind.GAP]
    assert (long.is_certain, long.verdict) == (False, Verdict.UNSURE)
    cold = judged(
        designed,
        without(*readings, ends[4] + 3600, ends[4] + 9000),
        kiln=slow_kiln(tau_h=12),
    )
    assert [fault.kind for fault in cold.faults] == [FaultKind.GAP]
    assert (cold.is_certain, cold.verdict) == (True, Verdict.WITHIN)


def test_offset_is_a_hotter_kiln(designed):
    readings = sampled(designed.curve)
    moved = readings[0], readings[1] - 6 * np.clip((readings[1] - 20) / 380, 0, 1)
    one = judged(designed, readings)
    other = judged(designed, moved, kiln_offset_k=6.0)
    assert other.band.residual_tension_pa.middle == pytest.approx(
        one.band.residual_tension_pa.middle, rel=0.02
    )


def test_a_kiln_with_an_offset_is_judged_by_what_it_shows_and_by_what_it_is():
    """Typed lower, shown lower, as hot as wanted: no fault, and the same stress."""
    even = design(DesignRequest(glass=NINETY, thickness_m=0.025)).proposed
    off = design(
        DesignRequest(glass=NINETY, thickness_m=0.025, kiln_offset_k=10.0)
    ).proposed
    typed = {one.label: one.target_c for one in off.schedule.segments}
    plain = {one.label: one.target_c for one in even.schedule.segments}
    assert typed["full fuse"] == plain["full fuse"] - 10
    assert typed["anneal soak"] == plain["anneal soak"] - 10
    assert typed["final cooling"] == plain["final cooling"]
    found = judged(off, sampled(off.curve), thickness_m=0.025, kiln_offset_k=10.0)
    one = judged(even, sampled(even.curve), thickness_m=0.025)
    assert found.verdict is Verdict.WITHIN
    assert found.faults == ()
    assert found.shown_now_c == pytest.approx(50.0, abs=1.0)
    assert found.hottest_c == pytest.approx(one.hottest_c, abs=0.5)
    assert found.band.residual_tension_pa.middle == pytest.approx(
        one.band.residual_tension_pa.middle, rel=0.03
    )
    believed = judged(off, sampled(off.curve), thickness_m=0.025)
    assert believed.hottest_c < found.hottest_c - 9.0
    assert believed.band.middle.residual_max_tension_pa != pytest.approx(
        found.band.middle.residual_max_tension_pa, rel=0.01
    )


def test_a_stack_that_never_fused_is_not_within(designed):
    """Power away at the squeeze: cold, unbroken, and still loose sheets."""
    time_s, kiln_c = sampled(designed.curve)
    at_s = time_s[np.argmax(kiln_c > 640.0)]
    found = judged(designed, cut_off(time_s, np.minimum(kiln_c, 645.0), at_s))
    assert found.is_over
    assert not found.is_joined
    assert found.verdict is Verdict.NOT_FUSED


def test_a_slab_that_stayed_below_its_annealing_point_keeps_its_stress():
    planned = design(
        DesignRequest(glass=NINETY, thickness_m=0.02, kind=Kind.RE_ANNEAL)
    ).proposed
    time_s, kiln_c = sampled(planned.curve)
    at_s = time_s[np.argmax(kiln_c > 400.0)]
    found = judged(
        planned,
        cut_off(time_s, kiln_c, at_s),
        thickness_m=0.02,
        stack=None,
        unloaded_s=float(time_s[-1]),
    )
    assert (found.is_over, found.verdict) == (True, Verdict.NOT_HOT)


def test_glass_taken_out_when_it_may_be_is_within_and_sooner_is_not(designed):
    """The verdict goes on into the room: taken out hot, the faces are pulled."""
    time_s, kiln_c = sampled(designed.curve, 60.0)
    in_time = judged(designed, (time_s, kiln_c), unloaded_s=float(time_s[-1]))
    assert in_time.verdict is Verdict.WITHIN
    at = int(np.argmax((kiln_c < 140.0) & (time_s > time_s[np.argmax(kiln_c)])))
    read = (time_s[: at + 1], kiln_c[: at + 1])
    inside = judged(designed, read)
    sooner = judged(designed, read, unloaded_s=float(time_s[at]))
    assert inside.verdict is Verdict.WITHIN
    assert sooner.verdict is Verdict.MAY_HAVE_CRACKED
    assert sooner.band.cooling_pa.middle > 1.5 * inside.band.cooling_pa.middle
    assert sooner.residual is inside.residual


def test_a_kiln_that_was_left_alone_after_its_last_reading_cooled_until_it_was_unloaded(
    designed,
):
    time_s, kiln_c = sampled(designed.curve, 60.0)
    at = int(np.argmax((kiln_c < 140.0) & (time_s > time_s[np.argmax(kiln_c)])))
    read = (time_s[: at + 1], kiln_c[: at + 1])
    days_later = float(time_s[at]) + 5 * 24 * HOUR_S
    found = judged(designed, read, unloaded_s=days_later, kiln=slow_kiln())
    assert found.verdict is Verdict.WITHIN


def test_nobody_is_believed_to_have_emptied_a_hot_kiln(designed, ends):
    time_s, kiln_c = sampled(designed.curve, 60.0)
    read = time_s < ends[4]
    inside = judged(designed, (time_s[read], kiln_c[read]))
    found = judged(
        designed, (time_s[read], kiln_c[read]), unloaded_s=float(time_s[read][-1])
    )
    assert found.band.cooling_pa == inside.band.cooling_pa


def test_the_first_hours_are_not_the_end(designed):
    """Cold glass on its way up is not a piece that was annealed."""
    time_s, kiln_c = sampled(designed.curve)
    start = time_s <= time_s[np.argmax(kiln_c > 150.0)]
    found = judged(designed, (time_s[start], kiln_c[start]))
    assert found.is_frozen
    assert not found.is_over
    assert found.verdict is Verdict.STILL_HOT


def test_a_kiln_that_was_never_warm_is_the_wrong_day(designed):
    time_s = np.arange(0.0, 86_400.0, 600.0)
    with pytest.raises(PhysicsProblem, match="right day"):
        judged(designed, (time_s, np.full(time_s.size, 21.0)))


@pytest.mark.parametrize(
    ("kind", "thickness_m"),
    [
        (Kind.ENAMEL, 0.003),
        (Kind.TACK_FUSE, 0.012),
        (Kind.SLUMP, 0.012),
        (Kind.RE_ANNEAL, 0.03),
        (Kind.TEST, 0.01),
    ],
)
def test_every_kind_as_planned_is_within_and_without_fault(kind, thickness_m):
    planned = design(
        DesignRequest(
            glass=NINETY,
            thickness_m=thickness_m,
            kind=kind,
            boundary=BOTH_FACES_FILM,
        )
    ).proposed
    stack = LooseStack(sheet_m=0.003, joins_c=670.0) if kind is Kind.TACK_FUSE else None
    found = judged(
        planned,
        sampled(planned.curve),
        thickness_m=thickness_m,
        boundary=BOTH_FACES_FILM,
        stack=stack,
    )
    assert (found.verdict, found.faults) == (Verdict.WITHIN, ())


def test_units_never_change_the_result(designed):
    """Fahrenheit and hours in, and out again: the same firing."""
    time_s, kiln_c = sampled(designed.curve)
    one = judged(designed, (time_s, kiln_c))
    fahrenheit, hours = kiln_c * 9 / 5 + 32, time_s / HOUR_S
    other = judged(designed, (hours * HOUR_S, (fahrenheit - 32) * 5 / 9))
    assert other.verdict is one.verdict
    assert other.band.residual_tension_pa.high == pytest.approx(
        one.band.residual_tension_pa.high, rel=1e-6
    )


def test_glass_is_ready_after_the_air(designed):
    time_s, kiln_c = sampled(designed.curve)
    time_s = np.append(time_s, time_s[-1] + np.arange(1, 200) * 600.0)
    kiln_c = np.append(kiln_c, np.full(199, 40.0))
    found = judged(designed, (time_s, kiln_c))
    air_s = time_s[np.flatnonzero(kiln_c <= 50)[0]]
    assert air_s < found.ready_s.low <= found.ready_s.middle <= found.ready_s.high


def test_history_for_a_chart(designed):
    history = judged(designed, sampled(designed.curve)).history
    assert 300 < history.time_s.size <= 1500
    assert np.all(np.diff(history.time_s) > 0)
    assert history.tension_pa.max() == pytest.approx(1.4e6, rel=0.5)
    assert history.bottom_c.max() < history.kiln_c.max() + 0.1


@settings(max_examples=8, deadline=None)
@given(
    noise_k=st.sampled_from([0.0, 0.5, 2.0]),
    seed=st.integers(min_value=0, max_value=99),
    share=st.floats(min_value=0.3, max_value=1.0),
)
def test_the_band_over_time_holds_the_middle_and_ends_at_the_peaks(
    designed, noise_k, seed, share
):
    time_s, kiln_c = sampled(designed.curve, 300.0, noise_k=noise_k, seed=seed)
    so_far = int(time_s.size * share)
    found = judged(designed, (time_s[:so_far], kiln_c[:so_far]))
    over, history = found.envelope, found.history
    assert np.isin(history.time_s, over.time_s).all()
    middle = np.interp(over.time_s, history.time_s, history.tension_pa)
    assert (over.low_pa <= middle).all()
    assert (middle <= over.high_pa).all()
    assert over.high_pa.max() == pytest.approx(
        max(found.band.heating_pa.high, found.band.cooling_pa.high), rel=1e-9
    )


def test_a_hundred_thousand_readings(designed):
    every_s = designed.curve.lasts_s / 100_000
    readings = sampled(designed.curve, every_s, noise_k=1.0)
    found = judged(designed, readings)
    assert found.record.readings >= 100_000
    assert found.record.curve.time_s.size < 1000
    assert found.verdict is Verdict.WITHIN


def test_without_a_plan(designed):
    found = judged(designed, sampled(designed.curve), planned=None)
    assert (found.followed, found.verdict) == (None, Verdict.WITHIN)


def test_a_slab_that_was_one_and_another_boundary(designed):
    found = judged(
        designed, sampled(designed.curve), stack=None, boundary=BOTH_FACES_FILM
    )
    assert found.is_joined
    # One slab of 50 mm at the loose stack's pace: the middle is pulled on the way up.
    assert found.band.heating_pa.middle > 1e6


def test_sheets_that_never_fused(designed):
    time_s, kiln_c = sampled(designed.curve)
    found = judged(designed, (time_s, np.minimum(kiln_c, 640.0)))
    assert not found.is_joined


def test_readings_that_begin_hot(designed, ends):
    time_s, kiln_c = sampled(designed.curve, 60.0)
    at = time_s >= ends[1] - 60
    hot = judged(designed, (time_s[at], kiln_c[at]), planned=None)
    whole = judged(designed, (time_s, kiln_c))
    assert hot.band.residual_tension_pa.middle == pytest.approx(
        whole.band.residual_tension_pa.middle, rel=0.03
    )
    late = time_s >= ends[2]
    with pytest.raises(PhysicsProblem, match="before is not known"):
        judged(designed, (time_s[late], kiln_c[late]))


def test_bad_readings(designed):
    with pytest.raises(PhysicsProblem, match=r"1 reading\(s\)"):
        judged(designed, (np.array([0.0]), np.array([20.0])))
    time_s, kiln_c = sampled(designed.curve)
    with pytest.raises(PhysicsProblem, match="no number"):
        judged(designed, (time_s, np.where(time_s == 1200, np.nan, kiln_c)))
    with pytest.raises(PhysicsProblem, match="thickness"):
        judge(
            replace(
                judge_request(designed, time_s, kiln_c), thickness_m=2.0, stack=None
            )
        )


@pytest.mark.parametrize(
    ("band", "standing"),
    [
        ((0.1, 0.2, 0.5), LimitStanding.WITHIN),
        ((0.1, 0.2, 0.51), LimitStanding.WITHIN),
        ((0.1, 0.2, 0.52), LimitStanding.PERHAPS),
        ((0.1, 0.52, 0.9), LimitStanding.OVER),
        ((0.1, 7.3, 9.0), LimitStanding.WARNING),
    ],
)
def test_standing(band, standing):
    low, middle, high = (value * 1e6 for value in band)
    assert stand(Band(low=low, middle=middle, high=high), 0.5e6, 7e6) is standing


# --- What was read cannot hide what happened -------------------------------------------


@pytest.mark.parametrize("tau_h", [5.0, 8.0, 12.0])
def test_a_logger_that_dies_with_the_power_hides_nothing(designed, ends, tau_h):
    """Three hours without power in the second stage, and no reading of it."""
    kiln = slow_kiln(tau_h=tau_h)
    at_s = ends[4] + 2 * HOUR_S
    time_s, kiln_c = sampled(designed.curve, 60.0)
    truth = power_lost(time_s, kiln_c, at_s, 3 * HOUR_S, kiln)
    known = judged(designed, (time_s, truth), kiln=kiln)
    until_s = at_s + 3 * HOUR_S + 60
    later_s = (
        until_s + np.argmax(truth[time_s >= until_s] >= kiln_c[time_s >= until_s]) * 60
    )
    hidden = judged(designed, without(time_s, truth, at_s, later_s), kiln=kiln)
    assert hidden.band.cooling_pa.high >= 0.97 * known.band.cooling_pa.high
    assert hidden.band.residual_tension_pa.high >= (
        0.97 * known.band.residual_tension_pa.high
    )
    if known.verdict is not Verdict.WITHIN:
        assert hidden.verdict is not Verdict.WITHIN


@settings(max_examples=12)
@given(st.floats(0.05, 0.9), st.floats(0.6, 6), st.sampled_from([5.0, 12.0]))
def test_hiding_readings_never_improves_the_verdict(designed, share, hours, tau_h):
    kiln = slow_kiln(tau_h=tau_h)
    time_s, kiln_c = sampled(designed.curve, 300.0)
    at_s = share * time_s[-1]
    cut = power_lost(time_s, kiln_c, at_s, 2 * HOUR_S, kiln)
    whole = judged(designed, (time_s, cut), kiln=kiln)
    hidden = judged(
        designed, without(time_s, cut, at_s, at_s + hours * HOUR_S), kiln=kiln
    )
    if whole.verdict is not Verdict.WITHIN:
        assert hidden.verdict is not Verdict.WITHIN
    for name in ("heating_pa", "cooling_pa"):
        assert getattr(hidden.band, name).low <= getattr(whole.band, name).high * 1.03


@pytest.mark.parametrize("reads_c", [0.0, 1372.0])
def test_a_broken_thermocouple_is_said_and_nothing_else_is(designed, ends, reads_c):
    time_s, kiln_c = sampled(designed.curve, 60.0)
    wrong = (time_s >= ends[2] - HOUR_S) & (time_s < ends[2] - HOUR_S + 600)
    found = judged(
        designed, (time_s, np.where(wrong, reads_c, kiln_c)), kiln=slow_kiln()
    )
    assert found.verdict is Verdict.WITHIN
    assert [fault.kind for fault in found.faults] == [FaultKind.THERMOCOUPLE]
    assert found.record.broken_readings == 10


def test_one_that_breaks_for_good_while_it_is_hot_leaves_it_open(designed, ends):
    time_s, kiln_c = sampled(designed.curve, 60.0)
    broken = np.where(time_s > ends[2], 0.0, kiln_c)
    found = judged(designed, (time_s, broken), kiln=slow_kiln())
    assert (found.is_over, found.verdict) == (False, Verdict.UNSURE)


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
def test_a_cut_on_the_way_up_is_not_the_end_of_the_firing(designed, ends, share):
    """It is named by the part of the plan that it fell in, and glass below it is whole."""
    at_s = share * ends[0]
    readings = cut_off(*sampled(designed.curve, 60.0), at_s, tau_s=8 * HOUR_S)
    upto = readings[0] <= at_s + 4 * HOUR_S
    found = judged(designed, (readings[0][upto], readings[1][upto]), kiln=slow_kiln())
    assert found.is_on_its_way_up
    assert not found.is_over
    assert found.verdict is Verdict.STILL_HOT
    cuts = [fault for fault in found.faults if fault.kind is FaultKind.CUT]
    assert {fault.segment for fault in cuts} <= {"bubble squeeze"}
    emptied = judged(
        designed,
        (readings[0][upto], readings[1][upto]),
        unloaded_s=float(readings[0][upto][-1]),
    )
    assert emptied.verdict in (Verdict.NOT_FUSED, Verdict.STILL_HOT)


def test_a_full_fuse_that_stayed_far_below_its_plan_is_not_within(designed):
    time_s, kiln_c = sampled(designed.curve, 60.0)
    found = judged(designed, (time_s, np.minimum(kiln_c, 735.0)))
    assert (found.is_joined, found.verdict) == (True, Verdict.NOT_HOT)
    nearly = judged(designed, (time_s, np.minimum(kiln_c, 800.0)))
    assert nearly.verdict is Verdict.WITHIN


def test_a_borosilicate_stack_at_700_degrees_is_loose(designed):
    time_s, kiln_c = sampled(designed.curve, 60.0)
    stack = LooseStack(sheet_m=0.003, joins_c=joins_c(BOROSILICATE))
    found = judged(
        designed,
        (time_s, np.minimum(kiln_c, 700.0)),
        glass=BOROSILICATE,
        stack=stack,
        planned=None,
    )
    assert found.verdict is Verdict.NOT_FUSED


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(
    ("every_s", "noise_k", "step_k"),
    [(600.0, 2.0, 0.0), (60.0, 2.0, 0.0), (600.0, 0.5, 5.0), (60.0, 0.5, 5.0)],
)
def test_noise_and_rounding_are_no_fault(designed, seed, every_s, noise_k, step_k):
    time_s, kiln_c = sampled(designed.curve, every_s, noise_k=noise_k, seed=seed)
    if step_k:
        kiln_c = np.round(kiln_c / step_k) * step_k
    found = judged(designed, (time_s, kiln_c))
    assert {fault.kind for fault in found.faults} <= {FaultKind.OVERSHOOT}
    assert found.verdict in (Verdict.WITHIN, Verdict.CHECK)


def test_twice_the_rate_is_too_fast_in_spite_of_noise(designed, ends):
    time_s, kiln_c = sampled(designed.curve, 600.0, noise_k=2.0)
    clean_c = np.interp(time_s, designed.curve.time_s, designed.curve.temperature_c)
    fast_s = np.where(time_s > ends[2], ends[2] + 2 * (time_s - ends[2]), time_s)
    fast_c = np.interp(fast_s, designed.curve.time_s, designed.curve.temperature_c)
    found = judged(designed, (time_s, fast_c + kiln_c - clean_c))
    assert FaultKind.TOO_FAST in [fault.kind for fault in found.faults]


def test_one_reading_that_falls_away_may_be_an_opened_kiln_or_a_loose_wire(designed):
    time_s, kiln_c = sampled(designed.curve, 300.0)
    at = int(np.argmax(kiln_c)) + 6
    kiln_c[at] -= 250.0
    found = judged(designed, (time_s, kiln_c), kiln=slow_kiln())
    assert FaultKind.DOUBTFUL in [fault.kind for fault in found.faults]
