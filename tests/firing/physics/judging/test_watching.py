"""What happens in a firing that runs, told from its readings as they come.

The kiln is its own model, a first-order one as in any text on heat transfer (from
memory); what is read of it has noise, cuts and gaps. The thresholds are own rules.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.physics.judging.watching import (
    Event,
    EventKind,
    WatchRequest,
    longest_gap,
    watch,
)
from firing.physics.kiln.curve import kiln_curve
from firing.physics.schedule import Curve, Programme, Segment
from tests.firing.physics import faults
from tests.firing.physics.readings import power_lost, sampled, slow_kiln, without

HOUR_S = 3600.0
KILN = slow_kiln(tau_h=8.0)
# A full fuse of a thick slab: five days from cold to cold.
FIVE_DAYS = Programme(
    start_c=20.0,
    segments=(
        Segment(label="heating 1", rate_c_per_h=40.0, target_c=560.0, hold_s=HOUR_S),
        Segment(label="heating 2", rate_c_per_h=120.0, target_c=815.0, hold_s=HOUR_S),
        Segment(label="anneal soak", rate_c_per_h=None, target_c=482.0, hold_s=10 * HOUR_S),
        Segment(label="cooling 1", rate_c_per_h=3.0, target_c=427.0),
        Segment(label="cooling 2", rate_c_per_h=5.4, target_c=371.0),
        Segment(label="final cooling", rate_c_per_h=8.0, target_c=60.0),
    ),
)  # fmt: skip
CURVE = kiln_curve(FIVE_DAYS, KILN, until_c=50.0)
EXPECTED = Curve(time_s=CURVE.time_s, temperature_c=CURVE.temperature_c)
TIMES, KILN_C = sampled(CURVE, 60.0, noise_k=0.5)


def asked(time_s=TIMES, temperature_c=KILN_C, **changes) -> WatchRequest:
    values = {
        "time_s": time_s,
        "temperature_c": temperature_c,
        "planned": FIVE_DAYS,
        "typed": (),
        "expected": EXPECTED,
        "kiln": KILN,
        "hottest_c": 900.0,
    }
    return WatchRequest(**(values | changes))


def kinds(events: tuple[Event, ...]) -> list[EventKind]:
    return [one.kind for one in events]


def near_s(value, expected, within_s):
    assert value == pytest.approx(expected, abs=within_s)


def at_hold_of_560() -> float:
    return float(TIMES[np.argmax(KILN_C > 559)])


def delayed(time_s, kiln_c, from_s, lasts_s):
    """Return readings of a kiln that stands still for a while and then goes on."""
    stands_c = float(np.interp(from_s, time_s, kiln_c))
    shifted_c = np.interp(time_s - lasts_s, time_s, kiln_c)
    return np.where(
        time_s <= from_s,
        kiln_c,
        np.where(time_s <= from_s + lasts_s, stands_c, shifted_c),
    )


class TestFiringAsPlanned:
    def test_nothing_happens(self):
        assert watch(asked()) == ()

    @pytest.mark.parametrize("seed", range(30))
    def test_nothing_happens_in_any_flawless_firing(self, seed):
        assert watch(request_of(faults.flawless(seed))) == ()

    @pytest.mark.parametrize("hours", [0.2, 3, 10, 15, 30, 60, 100])
    def test_nothing_has_happened_at_any_hour(self, hours):
        upto = hours * HOUR_S >= TIMES
        assert watch(asked(TIMES[upto], KILN_C[upto])) == ()


def request_of(made: faults.Made) -> WatchRequest:
    curve = kiln_curve(made.request.planned, made.kiln, until_c=50.0)
    return WatchRequest(
        time_s=made.request.time_s,
        temperature_c=made.request.temperature_c,
        planned=made.request.planned,
        typed=made.request.typed,
        expected=Curve(time_s=curve.time_s, temperature_c=curve.temperature_c),
        kiln=made.kiln,
        hottest_c=1000.0,
    )


class TestPowerCut:
    AT_S, LASTS_S = 40 * HOUR_S, 3 * HOUR_S

    CUT_C = power_lost(TIMES, KILN_C, AT_S, LASTS_S, KILN)

    def test_is_one_event_with_beginning_worst_and_end(self):
        (event,) = watch(asked(temperature_c=self.CUT_C))
        assert event.kind is EventKind.CUT
        assert event.segment == "cooling 1"
        near_s(event.begins_s, self.AT_S, 600)
        near_s(event.ends_s, self.AT_S + self.LASTS_S, 60)
        lowest_c = float(np.interp(self.AT_S + self.LASTS_S, TIMES, self.CUT_C))
        assert event.worst_c == pytest.approx(lowest_c, abs=2)

    def test_goes_on_until_the_kiln_rises(self):
        upto = self.AT_S + self.LASTS_S >= TIMES
        (event,) = watch(asked(TIMES[upto], self.CUT_C[upto]))
        assert event.ends_s is None

    def test_is_over_three_minutes_after_the_power_came_back(self):
        upto = self.AT_S + self.LASTS_S + 180 >= TIMES
        (event,) = watch(asked(TIMES[upto], self.CUT_C[upto]))
        near_s(event.ends_s, self.AT_S + self.LASTS_S, 60)

    def test_is_seen_within_a_quarter_of_an_hour(self):
        upto = self.AT_S + 900 >= TIMES
        assert kinds(watch(asked(TIMES[upto], self.CUT_C[upto]))) == [EventKind.CUT]

    def test_that_nobody_read_is_told_once(self):
        times, kiln_c = without(
            TIMES, self.CUT_C, self.AT_S + 300, self.AT_S + self.LASTS_S + 60
        )
        assert kinds(watch(asked(times, kiln_c))) == [EventKind.CUT]


class TestFiveDaysWithCutStallAndGap:
    STALL_S, CUT_S, GAP_S = 8 * HOUR_S, 40 * HOUR_S, 70 * HOUR_S

    READINGS = without(
        TIMES,
        power_lost(
            TIMES, delayed(TIMES, KILN_C, STALL_S, 2 * HOUR_S), CUT_S, 3 * HOUR_S, KILN
        ),
        GAP_S,
        GAP_S + HOUR_S,
    )

    def test_these_are_the_events(self):
        events = watch(asked(*self.READINGS))
        assert kinds(events) == [EventKind.STALLED, EventKind.CUT, EventKind.SILENT]
        stall, cut, gap = events
        near_s(stall.begins_s, self.STALL_S, 900)
        near_s(stall.ends_s, self.STALL_S + 2 * HOUR_S, 900)
        near_s(cut.begins_s, self.CUT_S, 600)
        near_s(cut.ends_s, self.CUT_S + 3 * HOUR_S, 60)
        near_s(gap.begins_s, self.GAP_S, 60)
        near_s(gap.amount, HOUR_S, 120)

    @given(hours=st.floats(1, 110))
    def test_what_is_over_stays_as_it_was_told(self, hours):
        upto = self.READINGS[0] <= hours * HOUR_S
        so_far = watch(asked(self.READINGS[0][upto], self.READINGS[1][upto]))
        whole = watch(asked(*self.READINGS))
        settled = [
            one
            for one in so_far
            if one.ends_s is not None and one.ends_s < hours * HOUR_S - HOUR_S
        ]
        assert kinds(tuple(settled)) == kinds(whole)[: len(settled)]


class TestSilence:
    def test_of_a_logger_that_should_send(self):
        upto = 30 * HOUR_S >= TIMES
        request = asked(TIMES[upto], KILN_C[upto], silent_s=1200.0)
        (event,) = watch(request)
        assert event.kind is EventKind.SILENT
        assert event.ends_s is None
        near_s(event.begins_s, 30 * HOUR_S, 60)

    def test_is_none_while_it_is_short(self):
        assert watch(asked(silent_s=600.0)) == ()

    def test_counts_from_five_times_the_usual_distance(self):
        assert longest_gap(np.arange(0, 9000, 300.0)) == 1500
        assert longest_gap(TIMES) == 900

    def test_is_over_once_the_gap_is_filled(self):
        gap = without(TIMES, KILN_C, 30 * HOUR_S, 31 * HOUR_S)
        assert kinds(watch(asked(*gap))) == [EventKind.SILENT]
        assert watch(asked()) == ()


class TestKilnOutOfStep:
    def test_that_starts_late_and_slow_is_behind(self):
        slow_c = np.interp(TIMES * 0.6, TIMES, KILN_C)
        upto = 12 * HOUR_S >= TIMES
        events = watch(asked(TIMES[upto], slow_c[upto]))
        assert kinds(events) == [EventKind.BEHIND]
        assert events[0].ends_s is None

    def test_that_heats_faster_is_ahead(self):
        fast_c = np.interp(TIMES * 1.4, TIMES, KILN_C)
        upto = 6 * HOUR_S >= TIMES
        assert kinds(watch(asked(TIMES[upto], fast_c[upto]))) == [EventKind.AHEAD]

    def test_above_its_own_limit_is_too_hot(self):
        upto = at_hold_of_560() + 4 * HOUR_S >= TIMES
        hot_c = KILN_C[upto] + np.clip(TIMES[upto] - at_hold_of_560(), 0, None) / 60
        events = watch(asked(TIMES[upto], hot_c, hottest_c=830.0))
        assert EventKind.TOO_HOT in kinds(events)

    def test_with_an_element_that_stays_on_does_not_cool(self):
        stuck_c = delayed(TIMES, KILN_C, 50 * HOUR_S, 40 * HOUR_S)
        upto = 56 * HOUR_S >= TIMES
        # Over a window of half an hour a fall of 1.5 K is within the noise; the final
        # cooling is faster.
        assert watch(asked(TIMES[upto], stuck_c[upto])) == ()
        stuck_c = delayed(TIMES, KILN_C, 85 * HOUR_S, 40 * HOUR_S)
        fast = replace(
            asked(),
            planned=Programme(
                start_c=20.0,
                segments=(
                    *FIVE_DAYS.segments[:-1],
                    Segment(label="final cooling", rate_c_per_h=40.0, target_c=60.0),
                ),
            ),
            temperature_c=stuck_c,
        )
        assert EventKind.STALLED in kinds(watch(fast))

    def test_that_cools_twice_as_fast_is_told(self):
        since = np.clip(TIMES - 45 * HOUR_S, 0, None)
        fast_c = np.interp(np.minimum(TIMES, 45 * HOUR_S) + 2.5 * since, TIMES, KILN_C)
        upto = 50 * HOUR_S >= TIMES
        assert kinds(watch(asked(TIMES[upto], fast_c[upto]))) == [EventKind.TOO_FAST]

    def test_that_left_a_hold_early_is_told(self):
        soak_s = float(TIMES[(KILN_C < 486) & (at_hold_of_560() + 7200 < TIMES)][0])
        after = soak_s + HOUR_S <= TIMES
        early_c = KILN_C.copy()
        early_c[after] = np.interp(TIMES[after] + 6 * HOUR_S, TIMES, KILN_C)
        assert kinds(watch(asked(temperature_c=early_c))) == [EventKind.SHORT_HOLD]


class TestReadingsThatCannotBe:
    def test_at_the_end_of_the_scale_are_an_event(self):
        broken_c = np.where(20 * HOUR_S < TIMES, 1372.0, KILN_C)
        upto = 22 * HOUR_S >= TIMES
        (event,) = watch(asked(TIMES[upto], broken_c[upto]))
        assert event.kind in (EventKind.UNUSABLE, EventKind.THERMOCOUPLE)
        assert event.ends_s is None

    def test_in_the_other_unit_are_an_event(self):
        upto = 20 * HOUR_S >= TIMES
        events = watch(asked(TIMES[upto], KILN_C[upto] * 9 / 5 + 32))
        assert kinds(events) == [EventKind.UNUSABLE]

    def test_of_a_few_minutes_say_nothing(self):
        assert watch(asked(TIMES[:3], KILN_C[:3])) == ()


def deep_cuts() -> list[faults.Made]:
    """Return generated cuts that took the kiln at least 30 K under its plan."""
    made = [faults.made(faults.Kind.CUT, seed) for seed in range(12)]

    def under_k(one: faults.Made) -> float:
        curve = kiln_curve(one.request.planned, one.kiln, until_c=50.0)
        plan_c = np.interp(one.request.time_s, curve.time_s, curve.temperature_c)
        return float((plan_c - one.true_c).max())

    return [one for one in made if under_k(one) > 30]


@pytest.mark.parametrize("made", deep_cuts())
def test_every_generated_cut_is_found_where_it_was(made):
    (event,) = [one for one in watch(request_of(made)) if one.kind is EventKind.CUT]
    assert made.from_s - 1800 <= event.begins_s < made.to_s
    near_s(event.ends_s or made.to_s, made.to_s, 900)
