"""What is known of a running kiln: readings beat the clock, and the plan fills in."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.firings.services.running import start_firing
from firing.loads.selectors.firings import running_firings
from firing.loads.selectors.known import (
    Planned,
    Shown,
    Source,
    credible,
    known_from,
    known_of,
    known_words,
)
from firing.models import Reading
from tests.firing import build
from tests.make import NOW

HOUR = dt.timedelta(hours=1)
TAU_S = 6 * 3600.0
# Up in 8 h, held for 1 h, at 500 °C for 4 h, then down without power to 50 °C.
FREE_S = TAU_S * np.log(480 / 30)
CURVE = [
    [0, 20],
    [8 * 3600, 800],
    [9 * 3600, 800],
    [10 * 3600, 500],
    [14 * 3600, 500],
    *(
        [14 * 3600 + s, 20 + 480 * np.exp(-s / TAU_S)]
        for s in np.linspace(600, FREE_S, 80)
    ),
]
OPENS_AT = NOW + dt.timedelta(seconds=CURVE[-1][0])


def plan(*, opening_c=50.0, curve=CURVE):
    return Planned(
        starts_at=NOW,
        opens_at=OPENS_AT,
        opening_c=opening_c,
        usual_c=50.0,
        time_constant_s=TAU_S,
        curve=curve,
    )


def shown(hours, celsius):
    return Shown(at=NOW + hours * HOUR, temperature_c=celsius)


def falling(until, celsius, tau_s, count=9):
    """Return two hours of a kiln without power, down to a temperature at a time."""
    return [
        Shown(
            at=until - dt.timedelta(seconds=s),
            temperature_c=20 + (celsius - 20) * np.exp(s / tau_s),
        )
        for s in np.linspace(7200, 0, count)
    ]


hours = st.floats(0, 100)
celsius = st.floats(25, 900)


@given(
    at=hours,
    temperature_c=st.floats(50, 900),
    later=st.floats(0, 1000),
    late=st.lists(celsius, max_size=9),
    has_plan=st.booleans(),
)
def test_no_kiln_is_cold_while_its_newest_reading_is_not(
    at, temperature_c, later, late, has_plan
):
    last = shown(at, temperature_c)
    before = [shown(at - i / 10, one) for i, one in enumerate(late, 1)][::-1]
    known = known_from(
        plan(curve=CURVE if has_plan else []),
        last,
        [*before, last],
        last.at + later * HOUR,
    )
    assert not known.is_cold
    assert known.is_due or known.opens_at > last.at + later * HOUR


@given(at=hours, temperature_c=st.floats(50, 900), first=hours, more=hours)
def test_what_is_expected_does_not_move_while_nothing_is_read(
    at, temperature_c, first, more
):
    last = shown(at, temperature_c)
    one = known_from(plan(), last, [last], last.at + first * HOUR)
    two = known_from(plan(), last, [last], last.at + (first + more) * HOUR)
    assert one.opens_at == two.opens_at
    assert two.is_due >= one.is_due


@given(at=st.floats(15, 60), cooler=celsius, warmer_k=st.floats(0, 400))
def test_a_hotter_kiln_opens_no_sooner(at, cooler, warmer_k):
    def opens(temperature_c):
        last = shown(at, temperature_c)
        return known_from(plan(), last, [last], last.at)

    cool, warm = opens(cooler), opens(min(cooler + warmer_k, 900))
    assert cool.is_cold >= warm.is_cold
    if not cool.is_cold:
        assert warm.opens_at >= cool.opens_at - HOUR / 3600


@given(celsius=st.floats(60, 250), share=st.floats(0.6, 1.9), late=st.floats(1, 20))
def test_a_fall_goes_on_by_newtons_law_of_cooling(celsius, share, late):
    """T(t) = room + (T(0) - room) exp(-t/tau), with the kiln's own tau of today."""
    last_at, tau_s = OPENS_AT + late * HOUR, share * TAU_S
    fall = falling(last_at, celsius, tau_s)
    known = known_from(plan(), fall[-1], fall, last_at)
    left_s = (known.opens_at - last_at).total_seconds()
    assert known.source is Source.COOLING
    assert left_s == pytest.approx(tau_s * np.log((celsius - 20) / 30), rel=1e-3)


def test_a_kiln_on_its_plan_opens_by_the_plan():
    last = shown(12, 498.0)
    known = known_from(plan(), last, [last], last.at)
    assert (known.opens_at, known.source) == (OPENS_AT, Source.PLAN)
    assert not known.is_cold


def test_a_kiln_that_was_held_has_the_rest_of_its_plan_before_it():
    last = shown(20, 500.0)
    late = [shown(18 + i / 4, 500.0) for i in range(9)]
    known = known_from(plan(), last, late, last.at)
    rest_s = CURVE[-1][0] - 14 * 3600
    assert known.opens_at == pytest.approx(
        last.at + dt.timedelta(seconds=rest_s), abs=dt.timedelta(minutes=1)
    )


def test_a_kiln_late_on_its_way_up_has_its_soak_before_it():
    last = shown(8, 410.0)
    known = known_from(plan(), last, [last], last.at)
    assert known.opens_at == pytest.approx(
        OPENS_AT + 4 * HOUR, abs=dt.timedelta(minutes=1)
    )


def test_without_readings_the_clock_and_the_plan_decide():
    early = known_from(plan(), None, [], OPENS_AT - HOUR)
    late = known_from(plan(), None, [], OPENS_AT)
    assert (early.is_cold, late.is_cold) == (False, True)
    assert early.source is late.source is Source.PLAN


def test_read_cold_beats_the_plan_but_not_for_thick_glass():
    """Thick glass is hours behind its kiln: common practice, no source for how many."""
    last = shown(20, 30.0)
    assert known_from(plan(), last, [], last.at).is_cold
    thick = known_from(plan(opening_c=40.0), last, [], last.at)
    assert not thick.is_cold
    assert thick.opens_at == OPENS_AT
    assert known_from(plan(opening_c=40.0), last, [], OPENS_AT).is_cold


def test_a_cold_reading_before_any_heat_says_nothing():
    assert credible(plan(), shown(0.1, 22.0), None) is None


def test_a_thermocouple_that_broke_does_not_open_a_kiln():
    hot = shown(12, 500.0)
    assert credible(plan(), shown(12.1, 22.0), hot) == hot
    assert credible(plan(), shown(16, 22.0), hot) == hot
    cold = shown(12 + FREE_S / 3600, 49.0)
    assert credible(plan(), cold, hot) == cold


def test_many_kilns_are_asked_in_two_queries(cast, django_assert_num_queries):
    for celsius in (57.0, 120.0, None):
        kiln = build.make.kiln(studio=cast.studio)
        one = build.enamel(kiln=kiln, glass=cast.glass)
        start_firing(firing=one, by=None, at=NOW)
        if celsius is not None:
            read(one, NOW + 60 * HOUR, celsius)
    rows = sorted(running_firings(cast.studio), key=lambda one: one.pk)
    with django_assert_num_queries(2):
        known = known_of(cast.studio, rows, now=NOW + 61 * HOUR)
    assert [known[one.pk].is_cold for one in rows] == [False, False, True]
    with django_assert_num_queries(0):
        assert known_of(cast.studio, [], now=NOW) == {}


def test_absurd_and_future_readings_are_passed_over(cast):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass)
    firing = start_firing(firing=firing, by=None, at=NOW)
    read(firing, NOW + 60 * HOUR, 57.0)
    read(firing, NOW + 60.1 * HOUR, 0.0)
    read(firing, NOW + 60.2 * HOUR, 1372.0)
    read(firing, NOW + 70 * HOUR, 30.0)
    known = known_of(cast.studio, [firing], now=NOW + 61 * HOUR)[firing.pk]
    assert known.last == Shown(at=NOW + 60 * HOUR, temperature_c=57.0)


def test_the_words_say_what_they_rest_on(cast):
    viewer, now = cast.viewer(), OPENS_AT + HOUR
    fall = falling(now, 57.2, TAU_S)
    told = known_words(known_from(plan(), fall[-1], fall, now), viewer, now)
    assert told.startswith(f"135 °F at {viewer.clock(now)}, opens about ")
    assert told[-2:] in {"00", "15", "30", "45"}
    nobody = known_words(known_from(plan(), None, [], now), viewer, now)
    assert nobody.endswith(", nothing was read")
    early = known_words(
        known_from(plan(), None, [], OPENS_AT - HOUR), viewer, OPENS_AT - HOUR
    )
    assert early.startswith("Closed until about ")
    assert early.endswith(", 60 min left")
    late = now + 100 * HOUR
    old = known_words(known_from(plan(), fall[-1], fall, late), viewer, late)
    assert "perhaps cold by now: read the kiln" in old
    cold = known_words(known_from(plan(), shown(60, 40.0), [], late), viewer, late)
    assert cold.endswith(", may be opened")


def read(firing, at, temperature_c):
    Reading.across_studios.create(
        studio=firing.studio, firing=firing, at=at, temperature_c=temperature_c
    )
