"""The planner's calendar: days and slots, bench hours, and what is in the kilns."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.models import Booking
from firing.planning.problem.problem import SLOTS_PER_DAY, SLOTS_PER_WEEK, joined
from firing.plans.selectors.calendar import (
    PlanCalendar,
    bench_hours,
    calendar_of,
    standing_in,
)
from studio.models import Closure
from tests import make
from tests.firing import build, planned_time
from tests.make import NOW, ZONE

HOUR = dt.timedelta(hours=1)
DAY = 24 * HOUR
UTC = ZoneInfo("UTC")
MONDAY = dt.datetime(2026, 3, 2, tzinfo=UTC)
EIGHT, EIGHTEEN, TWENTY = 16, 36, 40


def calendar(*access, weeks=1, zone=UTC):
    """Return a calendar of bare slots from a Monday at midnight."""
    origin = MONDAY.replace(tzinfo=zone).astimezone(UTC)
    return PlanCalendar(
        zone=zone,
        origin=origin,
        now=origin,
        horizon=weeks * SLOTS_PER_WEEK,
        hours=(),
        access=access,
    )


def on(day, start, end):
    return (day * SLOTS_PER_DAY + start, day * SLOTS_PER_DAY + end)


def test_the_bench_is_used_from_the_mornings_first_slot():
    found = calendar(on(0, EIGHT, TWENTY), on(2, EIGHTEEN, TWENTY))
    assert bench_hours(found, most=12) == (
        on(0, EIGHT, EIGHT + 12),
        on(2, EIGHTEEN, TWENTY),
    )


def test_a_day_with_a_break_is_filled_up_after_it():
    found = calendar(on(0, EIGHT, 20), on(0, 24, TWENTY))
    assert bench_hours(found, most=6) == (on(0, EIGHT, 20), on(0, 24, 26))


def test_where_it_is_open_round_the_clock_the_day_begins_at_eight():
    found = bench_hours(calendar((0, SLOTS_PER_WEEK)), most=12)
    assert found == tuple(on(day, EIGHT, EIGHT + 12) for day in range(7))


def test_who_is_in_only_before_eight_works_then():
    assert bench_hours(calendar(on(0, 0, 10)), most=12) == (on(0, 0, 10),)


def test_a_night_shift_belongs_to_two_days():
    over_midnight = (44, SLOTS_PER_DAY + 4)
    found = bench_hours(calendar(over_midnight), most=12)
    assert found == ((44, SLOTS_PER_DAY), on(1, 0, 4))


def test_the_morning_stays_at_eight_when_the_clock_changes():
    # In New York clocks go forward on Sunday 8 March 2026: that day has 23 hours.
    found = calendar((0, 2 * SLOTS_PER_WEEK), weeks=2, zone=ZONE)
    starts = [found.instant(start) for start, _ in bench_hours(found, most=12)]
    assert [(at.hour, at.minute) for at in starts] == [(8, 0)] * 14


windows = st.lists(
    st.tuples(st.integers(0, SLOTS_PER_WEEK - 1), st.integers(1, 60)), max_size=8
).map(lambda rows: joined(tuple((a, min(a + n, SLOTS_PER_WEEK)) for a, n in rows)))


@given(access=windows, most=st.integers(1, SLOTS_PER_DAY))
def test_bench_hours_lie_within_access_and_never_exceed_a_day(access, most):
    found = bench_hours(calendar(*access), most=most)
    for start, end in found:
        assert start < end
        assert any(a <= start and end <= b for a, b in access)
        assert start // SLOTS_PER_DAY == (end - 1) // SLOTS_PER_DAY
    assert list(found) == sorted(found)
    for day in range(7):
        own = [(a, b) for a, b in found if a // SLOTS_PER_DAY == day]
        assert sum(b - a for a, b in own) <= most
    worked = {a // SLOTS_PER_DAY for a, _ in found}
    open_days = {slot // SLOTS_PER_DAY for a, b in access for slot in range(a, b)}
    assert worked == open_days


@pytest.mark.parametrize("day", [0, 6, 7, 13])
def test_days_and_dates_are_each_others_inverse(day):
    found = calendar(weeks=2, zone=ZONE)
    assert found.date_of(day) == MONDAY.date() + dt.timedelta(days=day)
    assert found.day_of(found.date_of(day)) == day


def test_a_calendar_begins_with_the_week_and_its_access_with_now(cast):
    found = calendar_of(cast.studio, now=NOW, weeks=3)
    assert found.instant(0) == dt.datetime(2026, 3, 2, tzinfo=ZONE)
    assert found.weeks == 3
    assert found.start == 2 * SLOTS_PER_DAY + 8, "Wednesday, 04:00 there"
    assert found.access[0] == on(2, EIGHT, TWENTY)
    assert len(found.access) == 3 * 7 - 2
    # Half an hour that has begun cannot be used any more.
    later = calendar_of(cast.studio, now=NOW + 4.2 * HOUR, weeks=3)
    assert later.access[0] == on(2, EIGHT + 1, TWENTY)


def standing(cast, *kilns, now=NOW):
    found = calendar_of(cast.studio, now=now, weeks=3)
    return found, standing_in(cast.studio, kilns or [cast.kiln], found)


def closed(cast, kiln=None, *, after, hours):
    return Closure.across_studios.create(
        studio=cast.studio,
        kiln=kiln,
        starts_at=NOW + after * HOUR,
        ends_at=NOW + (after + hours) * HOUR,
        reason="New lid",
    )


def test_an_empty_studio_has_nothing_in_its_kilns(cast):
    _, found = standing(cast)
    assert found.fixed == ()
    assert found.closed == {cast.kiln.pk: ()}
    assert found.end_of_booking == {}


def test_what_the_standing_plan_has_only_provisionally_may_move(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    plan = planned_time.standing(cast.studio)
    kept = planned_time.keep(plan, piece, starts_at=NOW + DAY, kiln=cast.kiln)
    assert standing(cast)[1].fixed == ()
    Booking.across_studios.filter(pk=kept.pk).update(is_provisional=False)
    _, found = standing(cast)
    assert len(found.fixed) == 1
    assert set(found.end_of_booking) == {kept.pk}


def test_a_booking_holds_every_slot_that_it_touches(cast):
    build.booking(kiln=cast.kiln, starts_at=NOW + 24.25 * HOUR, hours=2)
    calendar, found = standing(cast)
    (one,) = found.fixed
    assert calendar.instant(one.start) == NOW + 24 * HOUR
    assert calendar.instant(one.end) == NOW + 26.5 * HOUR


def test_a_booking_of_last_week_holds_from_the_calendars_first_slot(cast):
    build.booking(kiln=cast.kiln, starts_at=NOW - 5 * DAY, hours=6 * 24)
    (one,) = standing(cast)[1].fixed
    assert one.start == 0


def test_what_is_over_holds_nothing(cast):
    build.booking(kiln=cast.kiln, starts_at=NOW - DAY, hours=5)
    assert standing(cast)[1].fixed == ()


def test_a_closure_is_cut_by_what_stands_in_the_kiln(cast):
    build.booking(kiln=cast.kiln, starts_at=NOW + 30 * HOUR, hours=4)
    closed(cast, cast.kiln, after=24, hours=20)
    calendar, found = standing(cast)
    assert [
        [calendar.instant(slot) - NOW for slot in window]
        for window in found.closed[cast.kiln.pk]
    ] == [[24 * HOUR, 30 * HOUR], [34 * HOUR, 44 * HOUR]]


def test_the_studio_closes_every_kiln_and_a_kiln_only_itself(cast, strangers):
    other = make.kiln(studio=cast.studio)
    closed(cast, after=24, hours=2)
    closed(cast, other, after=48, hours=2)
    closed(strangers, after=72, hours=2)
    _, found = standing(cast, cast.kiln, other)
    assert [len(found.closed[kiln.pk]) for kiln in (cast.kiln, other)] == [1, 2]
