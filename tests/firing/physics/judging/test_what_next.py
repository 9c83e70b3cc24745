"""What can be done after a fault, and what would come of it."""

import numpy as np
import pytest

from firing.physics.designing.request import Controller
from firing.physics.judging.verdict import LimitStanding, judge
from firing.physics.judging.what_next import Action, remaining_segments, what_next
from firing.physics.schedule import PhysicsProblem
from firing.physics.slab.input import Across
from tests.firing.physics.readings import (
    cut_off,
    judge_request,
    power_lost,
    sampled,
    slow_kiln,
)

HOUR_S = 3600.0


def judged(*given, **changes):
    return judge(judge_request(*given, **changes))


def until(readings, end_s):
    time_s, kiln_c = readings
    return time_s[time_s <= end_s], kiln_c[time_s <= end_s]


def options(judgement, **changes):
    found = what_next(judgement, **changes)
    assert sum(option.is_recommended for option in found) == 1
    return {option.action: option for option in found}


def recommended(found):
    return next(option for option in found.values() if option.is_recommended)


def labels(segments):
    return [segment.label for segment in segments]


def test_on_the_way_up_there_is_nothing_to_anneal_again(designed):
    """Going on is proposed, though a re-anneal would be over sooner."""
    up = until(sampled(designed.curve), 6 * HOUR_S)
    found = options(judged(designed, *up))
    assert set(found) == {Action.GO_ON, Action.HOLD, Action.SLOW_DOWN}
    assert recommended(found).action is Action.GO_ON


def test_what_is_typed_next_is_what_the_kiln_shows(designed, ends):
    """A kiln 10 K hotter than it shows: the re-anneal is typed 10 K lower."""
    readings = cut_off(*sampled(designed.curve, 60.0), ends[2] + 6 * HOUR_S)
    even = options(judged(designed, *readings))[Action.RE_ANNEAL]
    shown = readings[0], readings[1] - 10 * np.clip((readings[1] - 20) / 380, 0, 1)
    off = options(judged(designed, *shown, kiln_offset_k=10.0))[Action.RE_ANNEAL]
    assert off.schedule.segments[0].target_c == pytest.approx(
        even.schedule.segments[0].target_c - 10, abs=1
    )
    assert off.band.residual_tension_pa.middle == pytest.approx(
        even.band.residual_tension_pa.middle, rel=0.05
    )


def test_cut_in_the_annealing_range_is_re_annealed(designed, ends):
    readings = cut_off(*sampled(designed.curve, 60.0), ends[2] + 6 * HOUR_S)
    for end_s in (ends[2] + 10 * HOUR_S, readings[0][-1]):
        found = options(judged(designed, *until(readings, end_s)))
        again = recommended(found)
        assert again.action is Action.RE_ANNEAL
        assert again.is_within
        assert again.band.residual_tension_pa.high <= 0.515e6
        assert again.band.window_pa.high <= 3.09e6
        assert found[Action.GO_ON].residual is not LimitStanding.WITHIN
        assert again.schedule.start_c == pytest.approx(
            np.interp(end_s, *readings), abs=3
        )


def test_cut_below_strain_goes_on(designed, ends):
    readings = cut_off(*sampled(designed.curve, 60.0), ends[4] + 3 * HOUR_S)
    found = options(judged(designed, *until(readings, ends[4] + 5 * HOUR_S)))
    assert recommended(found).action is Action.GO_ON
    assert labels(found[Action.GO_ON].schedule.segments) == ["final cooling"]
    assert {Action.HOLD, Action.SLOW_DOWN, Action.RE_ANNEAL} <= set(found)


@pytest.mark.parametrize("tau_h", [5.0, 8.0, 12.0])
def test_a_late_cut_goes_on(designed, tau_h):
    """What is past counts against no option, and four days of kiln do count."""
    kiln = slow_kiln(tau_h=tau_h)
    time_s, kiln_c = sampled(designed.curve, 300.0)
    at_s = float(time_s[np.flatnonzero(kiln_c > 300.0)[-1]])
    cut_c = power_lost(time_s, kiln_c, at_s, 3 * HOUR_S, kiln)
    readings = until((time_s, cut_c), at_s + 3 * HOUR_S)
    found = options(judged(designed, *readings, kiln=kiln), kiln=kiln)
    assert recommended(found).action is Action.GO_ON


def test_half_way_goes_on_as_planned(designed, ends):
    running = judged(
        designed, *sampled(designed.curve, 60.0, until_s=ends[2] + 5 * HOUR_S)
    )
    found = options(running)
    go_on = found[Action.GO_ON]
    assert go_on.is_recommended
    assert labels(go_on.schedule.segments) == [
        "cooling 1",
        "cooling 2",
        "final cooling",
    ]
    # Record and rest together are the designed firing again.
    assert go_on.band.residual_tension_pa.middle == pytest.approx(
        designed.band.residual_tension_pa.middle, rel=0.02
    )
    assert go_on.lasts_s == pytest.approx(
        designed.kiln_s - ends[2] - 5 * HOUR_S, rel=0.02
    )


def test_slower_leaves_less_and_takes_longer(designed, ends):
    running = judged(designed, *sampled(designed.curve, 60.0, until_s=ends[2]))
    found = options(running)
    go_on, slow, hold = (
        found[action] for action in (Action.GO_ON, Action.SLOW_DOWN, Action.HOLD)
    )
    assert slow.band.residual_tension_pa.high < go_on.band.residual_tension_pa.high
    # Taken out, it has less compression in its faces against the shock.
    assert slow.band.window_pa.high > go_on.band.window_pa.high
    assert slow.is_within
    assert slow.lasts_s > hold.lasts_s > go_on.lasts_s


def test_cold_and_well_needs_nothing(designed):
    found = options(judged(designed, *sampled(designed.curve)))
    go_on = recommended(found)
    assert (go_on.action, go_on.schedule, go_on.lasts_s) == (Action.GO_ON, None, 0.0)
    assert set(found) == {Action.GO_ON, Action.RE_ANNEAL}


def test_what_is_left_of_a_plan(designed, ends):
    def left(end_s):
        readings = sampled(designed.curve, 60.0, until_s=end_s)
        return remaining_segments(judged(designed, *readings))

    assert labels(left(4 * HOUR_S)) == labels(designed.schedule.segments)
    soaking = left(ends[2] - 3 * HOUR_S)
    assert labels(soaking)[0] == "anneal soak"
    assert soaking[0].hold_s == pytest.approx(3 * HOUR_S, rel=0.05)
    assert labels(left(ends[3] + HOUR_S)) == ["cooling 2", "final cooling"]


def test_without_a_plan_the_table_takes_its_place(designed, ends):
    readings = sampled(designed.curve, 60.0, until_s=ends[2] + HOUR_S)
    rest = remaining_segments(judged(designed, *readings, planned=None))
    assert labels(rest)[-3:] == ["cooling 1", "cooling 2", "final cooling"]


def test_while_heating_sheets_are_not_re_annealed(designed):
    found = options(judged(designed, *sampled(designed.curve, until_s=6 * HOUR_S)))
    assert Action.RE_ANNEAL not in found
    assert found[Action.GO_ON].band.middle.joined_at_s is not None


def test_the_controller_is_kept_to(designed, ends):
    running = judged(designed, *sampled(designed.curve, until_s=ends[2] + HOUR_S))
    coarse = Controller(rate_step=1.0, slowest_c_per_h=1.0)
    for option in options(running, controller=coarse).values():
        for segment in option.schedule.segments:
            rate = segment.rate_c_per_h
            assert rate is None or rate == round(rate)
    with pytest.raises(PhysicsProblem, match="segments"):
        what_next(running, controller=Controller(segments_available=2))


def test_a_slab_that_was_not_as_hot_as_planned_is_not_heated_again(designed, ends):
    """16 K short, one slab all the same, and on its way down."""
    time_s, kiln_c = until(sampled(designed.curve, 300.0), ends[4] + HOUR_S)
    found = judged(designed, time_s, np.minimum(kiln_c, 800.0))
    assert found.is_joined
    assert labels(remaining_segments(found)) == ["final cooling"]


def test_a_kiln_that_is_too_uneven_for_any_schedule_sends_nobody_to_anneal_again(
    designed,
):
    """Annealed once more in the same kiln, it would be as uneven as before."""
    uneven = Across(radius_m=0.25, edge_k=(3.0, 5.0))
    found = judged(designed, *sampled(designed.curve), across=uneven)
    assert found.residual is LimitStanding.OVER
    ways = options(found, kiln=slow_kiln())
    assert not any(way.is_within for way in ways.values())
    assert recommended(ways).action is Action.GO_ON
