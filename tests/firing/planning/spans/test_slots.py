"""Slots are real half hours, also in the week in which the clock changes."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from firing.planning.problem.problem import Fuse
from firing.planning.search.improve import Limits
from firing.planning.search.planner import make_plan
from firing.planning.spans.slots import (
    SlotProblem,
    instant_of,
    origin_before,
    slot_from,
    slot_until,
)
from tests.firing.planning.instances import FINISHER, PAINTER, piece, studio

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


CHANGES = [
    # Zone, Friday before the change, hours by which the clock then goes on.
    ("Europe/Berlin", (2026, 3, 27), 1),
    ("Europe/Berlin", (2026, 10, 23), -1),
    ("America/New_York", (2026, 3, 6), 1),
    ("America/New_York", (2026, 10, 30), -1),
]
OPENS, CLOSES = 9, 18


@pytest.mark.parametrize(("zone_name", "friday", "shift"), CHANGES)
def test_a_planned_fuse_of_five_days_runs_real_hours_across_a_clock_change(
    zone_name, friday, shift
):
    zone = ZoneInfo(zone_name)
    origin = origin_before(datetime(*friday, tzinfo=zone), zone)
    local_days = [
        (origin.astimezone(zone) + timedelta(days=n)).date() for n in range(21)
    ]

    def wall(day, hour):
        return datetime(day.year, day.month, day.day, hour, tzinfo=zone)

    access = tuple(
        (slot_from(wall(d, OPENS), origin), slot_until(wall(d, CLOSES), origin))
        for d in local_days
    )
    # Twenty slots before the change and after it, though the clock jumps between.
    assert {end - start for start, end in access} == {2 * (CLOSES - OPENS)}
    run = 5 * 48
    stack = piece(
        release=slot_from(datetime(*friday, 7, tzinfo=zone), origin),
        layers=(),
        assembly=0,
        fuse=Fuse(temp_f=1490, run=run, load=2, unload=2),
    )
    problem = studio(
        stack,
        horizon=21 * 48,
        access=access,
        people=tuple(replace(who, available=access) for who in (PAINTER, FINISHER)),
    )
    result = make_plan(problem, seed=1, limits=Limits(units=100))
    fuse = result.plan.fuses[0]
    loaded = instant_of(fuse.load_start, origin, zone)
    started = instant_of(fuse.load_start + 2, origin, zone)
    opened = instant_of(fuse.unload_start, origin, zone)
    emptied = instant_of(fuse.unload_start + 2, origin, zone)
    assert loaded.date() == datetime(*friday).date()  # noqa: DTZ001
    # Real hours: never less than the programme, and opened as soon as it is over.
    real = opened.astimezone(UTC) - started.astimezone(UTC)
    assert real == timedelta(days=5)
    by_the_clock = opened.replace(tzinfo=None) - started.replace(tzinfo=None)
    assert by_the_clock == timedelta(days=5, hours=shift)
    # Somebody is there by the studio's clock, on both sides of the change.
    for instant in (loaded, started, opened, emptied):
        assert OPENS <= instant.hour + instant.minute / 60 <= CLOSES
    day = local_days[result.plan.delivery["P1"]]
    finished = max(end for task in result.plan.work for _, end in task.segments)
    last = instant_of(finished - 1, origin, zone)
    assert day == last.date() + timedelta(days=stack.ship_days)
