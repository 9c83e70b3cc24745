"""Kiln time: half-open spans, first fit, and access hours across clock changes."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.planning.calendar import (
    AccessWindow,
    CalendarProblem,
    Span,
    first_access_after,
    next_free_span,
    overlaps,
)

BERLIN = ZoneInfo("Europe/Berlin")
NEW_YORK = ZoneInfo("America/New_York")
MONDAY = datetime(2026, 3, 2, tzinfo=UTC)
HOUR_S = 3600


def at(hours):
    return MONDAY + timedelta(hours=hours)


def span(start, end):
    return Span(start=at(start), end=at(end))


@pytest.mark.parametrize(
    ("one", "other", "shared"),
    [
        ((0, 2), (2, 4), False),
        ((0, 2), (1, 4), True),
        ((0, 9), (3, 4), True),
        ((3, 4), (3, 4), True),
        ((0, 1), (5, 6), False),
    ],
)
def test_spans_are_half_open(one, other, shared):
    assert overlaps(span(*one), span(*other)) is shared
    assert overlaps(span(*other), span(*one)) is shared


def test_spans_of_two_zones_are_compared_as_instants():
    berlin = Span(
        start=datetime(2026, 3, 2, 1, tzinfo=BERLIN),
        end=datetime(2026, 3, 2, 2, tzinfo=BERLIN),
    )
    assert overlaps(berlin, span(0, 1))
    assert not overlaps(berlin, span(1, 2))


def test_the_hour_that_comes_twice_is_two_hours():
    # Clocks in this zone went back from 03:00 to 02:00 on 25 October 2026 (IANA tzdata).
    first = datetime(2026, 10, 25, 2, 30, tzinfo=BERLIN)
    second = first.replace(fold=1)
    early = Span(start=first, end=second)
    assert early.length_s == HOUR_S
    assert not overlaps(early, Span(start=second, end=second + timedelta(hours=2)))


@pytest.mark.parametrize("length", [0, -1])
def test_a_span_ends_after_it_starts(length):
    with pytest.raises(CalendarProblem, match="ends after it starts"):
        span(0, length)


def test_an_instant_without_a_zone_is_refused():
    naive = datetime(2026, 3, 2)  # noqa: DTZ001
    with pytest.raises(CalendarProblem, match="needs a time zone"):
        Span(start=naive, end=at(1))
    with pytest.raises(CalendarProblem, match="needs a time zone"):
        next_free_span([], 60, naive)


@pytest.mark.parametrize(
    ("busy", "closed", "hours", "start"),
    [
        ([], [], 5, 0),
        ([(5, 8)], [], 5, 0),
        ([(4, 8)], [], 5, 8),
        ([(4, 8), (12, 13)], [], 5, 13),
        ([(12, 13), (4, 8)], [(13, 20)], 5, 20),
        ([(-5, 30), (2, 3)], [], 1, 30),
        ([(-9, -5)], [], 1, 0),
        ([(2, 4)], [(6, 8)], 2, 0),
        ([(1, 4)], [(6, 8)], 2, 4),
    ],
)
def test_the_first_gap_that_is_long_enough(busy, closed, hours, start):
    found = next_free_span(
        [span(*part) for part in busy],
        hours * HOUR_S,
        at(0),
        [span(*part) for part in closed],
    )
    assert found == span(start, start + hours)


SPANS = st.lists(
    st.tuples(st.integers(0, 200), st.integers(1, 30)).map(
        lambda pair: span(pair[0], pair[0] + pair[1])
    ),
    max_size=12,
)


@given(SPANS, SPANS, st.integers(1, 40))
def test_it_is_free_and_nothing_earlier_is(busy, closed, hours):
    found = next_free_span(busy, hours * HOUR_S, at(3), closed)
    taken = [*busy, *closed]
    assert not any(overlaps(found, part) for part in taken)
    assert found.length_s == hours * HOUR_S
    start = (found.start - at(0)).total_seconds() / HOUR_S
    for earlier in range(3, int(start)):
        assert any(overlaps(span(earlier, earlier + hours), part) for part in taken)


def test_a_firing_lasts_its_hours_across_a_clock_change():
    not_before = datetime(2026, 3, 28, 12, tzinfo=BERLIN)
    found = next_free_span([], 24 * HOUR_S, not_before)
    # Clocks went forward on 29 March 2026 at 02:00 (IANA tzdata).
    assert found.end == datetime(2026, 3, 29, 13, tzinfo=BERLIN)
    assert found.end.hour == 13
    assert found.length_s == 24 * HOUR_S


@pytest.mark.parametrize("length_s", [0, -5, float("nan"), 1e9])
def test_a_length_that_is_none_is_refused(length_s):
    with pytest.raises(CalendarProblem, match="above zero"):
        next_free_span([], length_s, at(0))


WEEKDAYS = [
    AccessWindow(weekday=day, opens=time(8), closes=time(18)) for day in range(5)
]


@pytest.mark.parametrize(
    ("ready", "opened"),
    [
        ((2026, 3, 4, 3, 0), (2026, 3, 4, 8, 0)),  # a Wednesday, at night
        ((2026, 3, 4, 9, 30), (2026, 3, 4, 9, 30)),  # while people are there
        ((2026, 3, 4, 8, 0), (2026, 3, 4, 8, 0)),
        ((2026, 3, 4, 18, 0), (2026, 3, 5, 8, 0)),  # the end is not in the window
        ((2026, 3, 6, 19, 0), (2026, 3, 9, 8, 0)),  # Friday evening to Monday
    ],
)
def test_the_first_hours_of_access(ready, opened):
    moment = first_access_after(datetime(*ready, tzinfo=BERLIN), WEEKDAYS, BERLIN)
    assert moment == datetime(*opened, tzinfo=BERLIN)
    assert moment.tzinfo is BERLIN


def test_access_follows_the_studios_clock_not_utc():
    ready = datetime(2026, 7, 1, 12, 30, tzinfo=UTC)
    opens = first_access_after(
        ready, [AccessWindow(weekday=2, opens=time(9), closes=time(17))], NEW_YORK
    )
    assert opens.astimezone(UTC) == datetime(2026, 7, 1, 13, tzinfo=UTC)


@pytest.mark.parametrize(("day", "utc_hour"), [(28, 7), (29, 6)])
def test_eight_o_clock_is_another_instant_after_a_clock_change(day, utc_hour):
    windows = [AccessWindow(weekday=d, opens=time(8), closes=time(9)) for d in range(7)]
    ready = datetime(2026, 3, day, 0, 0, tzinfo=BERLIN)
    opens = first_access_after(ready, windows, BERLIN)
    assert opens.astimezone(UTC) == datetime(2026, 3, day, utc_hour, tzinfo=UTC)


def test_an_opening_that_the_clock_skips_or_repeats():
    sundays = [AccessWindow(weekday=6, opens=time(2, 30), closes=time(6))]
    spring = first_access_after(
        datetime(2026, 3, 29, 0, 0, tzinfo=BERLIN), sundays, BERLIN
    )
    assert (spring.hour, spring.minute) == (3, 30)
    autumn = first_access_after(
        datetime(2026, 10, 25, 0, 0, tzinfo=BERLIN), sundays, BERLIN
    )
    assert autumn.astimezone(UTC) == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)


def test_a_window_may_reach_past_midnight():
    night = [AccessWindow(weekday=4, opens=time(20), closes=time(2))]
    saturday = datetime(2026, 3, 7, 1, 0, tzinfo=BERLIN)
    assert first_access_after(saturday, night, BERLIN) == saturday
    later = first_access_after(saturday.replace(hour=2), night, BERLIN)
    assert later == datetime(2026, 3, 13, 20, tzinfo=BERLIN)


def test_midnight_to_midnight_is_the_whole_day():
    always = [
        AccessWindow(weekday=day, opens=time(0), closes=time(0)) for day in range(7)
    ]
    for hour in (0, 3, 23):
        ready = datetime(2026, 10, 25, hour, 59, tzinfo=BERLIN)
        assert first_access_after(ready, always, BERLIN) == ready


def test_closures_send_people_home():
    ready = datetime(2026, 3, 4, 9, 0, tzinfo=BERLIN)
    week = Span(
        start=datetime(2026, 3, 4, 0, tzinfo=BERLIN),
        end=datetime(2026, 3, 5, 12, tzinfo=BERLIN),
    )
    longer = Span(
        start=datetime(2026, 3, 5, 10, tzinfo=BERLIN),
        end=datetime(2026, 3, 5, 15, tzinfo=BERLIN),
    )
    found = first_access_after(ready, WEEKDAYS, BERLIN, [longer, week])
    assert found == datetime(2026, 3, 5, 15, tzinfo=BERLIN)


def test_no_access_at_all_is_said():
    with pytest.raises(CalendarProblem, match="Set them first"):
        first_access_after(at(0), [], BERLIN)
    ever = Span(start=at(0), end=at(24 * 800))
    with pytest.raises(CalendarProblem, match="more than a year"):
        first_access_after(at(1), WEEKDAYS, BERLIN, [ever])


def test_hours_that_cannot_be_are_refused():
    with pytest.raises(CalendarProblem, match="weekday"):
        AccessWindow(weekday=7, opens=time(8), closes=time(9))
    with pytest.raises(CalendarProblem, match="without a zone"):
        AccessWindow(weekday=1, opens=time(8, tzinfo=UTC), closes=time(9))


@given(
    st.datetimes(datetime(2026, 1, 1), datetime(2027, 1, 1)),  # noqa: DTZ001
    st.lists(
        st.builds(
            AccessWindow,
            weekday=st.integers(0, 6),
            opens=st.times().map(lambda t: t.replace(microsecond=0)),
            closes=st.times().map(lambda t: t.replace(microsecond=0)),
        ),
        min_size=1,
        max_size=5,
    ),
)
def test_access_is_never_before_the_kiln_is_ready_and_within_eight_days(wall, windows):
    ready = wall.replace(tzinfo=UTC)
    moment = first_access_after(ready, windows, BERLIN)
    assert ready <= moment
    assert moment - ready <= timedelta(days=8)
    # Asking again from the answer changes nothing: people are there.
    assert first_access_after(moment, windows, BERLIN) == moment
