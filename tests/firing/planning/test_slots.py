"""Slots are real half hours, also in the week in which the clock changes."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from firing.planning.slots import (
    SlotProblem,
    instant_of,
    origin_before,
    slot_from,
    slot_until,
)

LISBON = ZoneInfo("Europe/Lisbon")


def test_slot_0_is_monday_midnight_by_the_studio_clock():
    origin = origin_before(datetime(2026, 7, 9, 15, 0, tzinfo=UTC), LISBON)
    local = origin.astimezone(LISBON)
    assert (local.weekday(), local.hour, local.day) == (0, 0, 6)
    assert slot_from(origin, origin) == 0


def test_what_begins_is_rounded_up_and_what_ends_down():
    origin = datetime(2026, 7, 6, tzinfo=UTC)
    late = origin + timedelta(minutes=40)
    assert (slot_from(late, origin), slot_until(late, origin)) == (2, 1)


@pytest.mark.parametrize(
    ("day", "hours"), [((2026, 3, 27), 121), ((2026, 10, 23), 119)]
)
def test_five_days_across_a_clock_change_are_five_real_days(day, hours):
    # Fridays before the last Sundays of March and October 2026.
    start = datetime(*day, 18, 0, tzinfo=LISBON)
    origin = origin_before(start, LISBON)
    slot = slot_from(start, origin)
    end = instant_of(slot + 5 * 48, origin, LISBON)
    assert end.astimezone(UTC) - start.astimezone(UTC) == timedelta(days=5)
    assert end.replace(tzinfo=None) - start.replace(tzinfo=None) == timedelta(
        hours=hours
    )
    assert slot_from(end, origin) == slot + 240


def test_an_instant_without_zone_is_refused():
    with pytest.raises(SlotProblem):
        slot_from(datetime(2026, 7, 6), datetime(2026, 7, 6, tzinfo=UTC))  # noqa: DTZ001
