"""A person's week laid over the calendar: properties, and the days when clocks change."""

import datetime as dt
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.planning.problem.hours import Hours
from firing.planning.problem.problem import PlannedPerson, Skill, cut_out, joined
from firing.planning.spans.bench import worked_spans

NEW_YORK = ZoneInfo("America/New_York")
HOUR, DAY = dt.timedelta(hours=1), dt.timedelta(days=1)
MONDAY = dt.datetime(2026, 3, 2, tzinfo=NEW_YORK)

times = st.integers(0, 47).map(lambda n: dt.time(n // 2, 30 * (n % 2)))


@st.composite
def weeks(draw):
    rows = draw(st.lists(st.tuples(st.integers(0, 6), times, times), max_size=6))
    return [(day, a, b) for day, a, b in rows if a < b]


@st.composite
def absences(draw):
    rows = draw(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 9)), max_size=3))
    first = MONDAY.date()
    return [(first + a * DAY, first + (a + n) * DAY) for a, n in rows]


def laid(week, away=(), *, zone=NEW_YORK, starts_at=MONDAY, days=42):
    return worked_spans(
        week, away, zone=zone, starts_at=starts_at, ends_at=starts_at + days * DAY
    )


@given(weeks(), absences())
def test_spans_are_in_order_apart_within_the_hours_and_never_on_a_day_away(week, away):
    found = laid(week, away)
    assert all(a.ends_at < b.starts_at for a, b in pairwise(found))
    for span in found:
        assert span.starts_at < span.ends_at
        local = span.starts_at.astimezone(NEW_YORK)
        assert not any(first <= local.date() <= last for first, last in away)
        assert any(day == local.weekday() for day, _, _ in week)


@given(weeks(), absences())
def test_being_away_takes_nothing_but_those_days(week, away):
    there = laid(week)
    found = laid(week, away)
    gone = sum(((s.ends_at - s.starts_at) for s in there), dt.timedelta()) - sum(
        ((s.ends_at - s.starts_at) for s in found), dt.timedelta()
    )
    days = [
        day
        for number in range(42)
        if any(
            first <= (day := MONDAY.date() + number * DAY) <= last
            for first, last in away
        )
    ]
    on_those = [
        laid(week, starts_at=dt.datetime.combine(day, dt.time(), NEW_YORK), days=1)
        for day in days
    ]
    missing = sum(
        (s.ends_at - s.starts_at for row in on_those for s in row), dt.timedelta()
    )
    assert gone == missing


@given(weeks(), st.integers(0, 40 * 24), st.integers(1, 72))
def test_a_cut_of_the_calendar_is_a_cut_of_the_whole(week, start, length):
    begin = MONDAY.astimezone(dt.UTC) + start * HOUR
    end = begin + length * HOUR
    part = worked_spans(week, (), zone=NEW_YORK, starts_at=begin, ends_at=end)
    inside = [
        (max(s.starts_at, begin), min(s.ends_at, end))
        for s in laid(week, days=60)
        if s.starts_at < end and begin < s.ends_at
    ]
    assert [(s.starts_at, s.ends_at) for s in part] == inside


@pytest.mark.parametrize(
    ("day", "starts", "ends", "hours"),
    [
        # Clocks go forward on Sunday 8 March 2026 at 02:00, back on 1 November.
        (dt.date(2026, 3, 8), dt.time(1), dt.time(4), 2),
        (dt.date(2026, 3, 8), dt.time(2), dt.time(3), 0),
        (dt.date(2026, 3, 8), dt.time(9), dt.time(12), 3),
        (dt.date(2026, 11, 1), dt.time(0), dt.time(3), 4),
        (dt.date(2026, 11, 1), dt.time(9), dt.time(12), 3),
    ],
)
def test_hours_are_real_ones_when_clocks_change(day, starts, ends, hours):
    begin = dt.datetime.combine(day, dt.time(), NEW_YORK)
    found = worked_spans(
        [(6, starts, ends)],
        (),
        zone=NEW_YORK,
        starts_at=begin,
        ends_at=dt.datetime.combine(day + DAY, dt.time(), NEW_YORK),
    )
    assert sum((s.ends_at - s.starts_at for s in found), dt.timedelta()) == hours * HOUR


def test_a_night_is_one_span_of_two_rows():
    night = [(0, dt.time(20), dt.time(23, 59)), (1, dt.time(0), dt.time(2))]
    (found,) = laid(night, days=6)
    assert found.ends_at - found.starts_at == 6 * HOUR


windows = st.lists(
    st.tuples(st.integers(0, 600), st.integers(1, 60)).map(lambda w: (w[0], sum(w))),
    max_size=8,
).map(tuple)


def slots(rows):
    return {at for a, b in rows for at in range(a, b)}


@given(windows, windows)
def test_cutting_out_leaves_what_is_in_none_of_the_holes(rows, holes):
    left = cut_out(rows, holes)
    assert slots(left) == slots(rows) - slots(holes)
    assert list(left) == sorted(left)


@given(windows, st.lists(st.integers(1, 30), max_size=6), st.integers(1, 300))
def test_what_is_given_out_can_be_read_and_given_out_again(rows, lengths, cap):
    who = PlannedPerson(
        id="A", skills=frozenset(Skill), available=joined(rows), weekly_cap=cap
    )
    fresh, used = Hours(who, 700), Hours(who, 700)
    for length in lengths:
        used.take(0, length)
    again = Hours(who, 700)
    again.give_booked(used.given(fresh), 700)
    assert again.free == used.free
    assert again.left == used.left
