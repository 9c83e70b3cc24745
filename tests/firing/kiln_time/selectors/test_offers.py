"""When a programme could run in a kiln, and what follows from another start."""

import datetime as dt

import pytest

from firing.firings.services.firings import book_fuse
from firing.kiln_time.selectors.offers import offer_for
from firing.planning.problem import practice
from studio.models import Closure
from tests import make
from tests.firing import build, planned_time
from tests.make import NOW, ZONE

HOUR = dt.timedelta(hours=1)
DAY = 24 * HOUR


@pytest.fixture
def schedule(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass, layer_count=3)
    return build.schedule(piece=piece, kiln=cast.kiln)


def times(schedule, starts_at=None, now=NOW):
    return offer_for(schedule, starts_at=starts_at, now=now)


def test_it_starts_when_somebody_is_in_to_load_and_is_opened_when_somebody_is(schedule):
    found = times(schedule)
    # 9:00 UTC is 4:00 there, and the studio opens at 8:00.
    assert found.starts_at == found.earliest == NOW + 4 * HOUR
    assert found.opens_at == found.starts_at + dt.timedelta(seconds=found.lasts_s)
    assert found.lasts_s > practice.LOAD_STACK_S
    assert found.kwh > 0
    assert found.opens_at <= found.opened_at
    assert 8 <= found.opened_at.astimezone(ZONE).hour < 20


def test_a_stack_is_not_begun_when_loading_it_would_run_past_the_hours(schedule):
    # Open until 20:00 there, and loading a stack takes an hour.
    evening = NOW + 15 * HOUR
    assert times(schedule, now=evening).starts_at == evening
    later = evening + HOUR / 4
    assert times(schedule, now=later).starts_at == NOW + 28 * HOUR


def test_another_start_moves_the_end_and_leaves_the_proposal(schedule):
    found = times(schedule)
    later = times(schedule, found.starts_at + 3 * DAY)
    assert later.earliest == found.earliest
    assert later.opens_at == found.opens_at + 3 * DAY
    assert later.lasts_s == found.lasts_s


def test_a_taken_kiln_is_waited_for(cast, schedule):
    build.booking(kiln=cast.kiln, starts_at=NOW + 5 * HOUR, hours=50)
    assert times(schedule).starts_at >= NOW + 55 * HOUR


def test_the_time_that_the_plan_keeps_for_it_is_proposed(cast, schedule):
    plan = planned_time.standing(cast.studio)
    kept = planned_time.keep(
        plan,
        schedule.piece,
        starts_at=NOW + 6 * DAY,
        kind="full fuse",
        kiln=cast.kiln,
    )
    assert times(schedule).earliest == kept.starts_at
    kept.kiln = make.kiln(studio=cast.studio)
    kept.save()
    assert times(schedule).earliest == NOW + 4 * HOUR, "kept in another kiln"


def test_without_a_kiln_or_without_room_there_are_no_times(cast, schedule):
    Closure.across_studios.create(
        studio=cast.studio,
        kiln=cast.kiln,
        starts_at=NOW,
        ends_at=NOW + 400 * DAY,
        reason="Rewired",
    )
    assert times(schedule) is None
    schedule.kiln = None
    assert times(schedule) is None


def test_a_planned_load_that_cannot_happen_takes_nothing(cast, schedule):
    unpainted = make.piece(studio=cast.studio, glass=cast.glass, title="Unpainted")
    plan = planned_time.standing(cast.studio)
    morning = NOW + 28 * HOUR
    planned_time.keep(plan, unpainted, starts_at=morning, kiln=cast.kiln)
    assert times(schedule).starts_at > morning, "a day may be enough to paint it"
    nobody_in = morning - HOUR
    assert times(schedule, now=nobody_in).starts_at == morning


def test_the_plans_start_is_proposed_only_where_the_run_has_room(cast, schedule):
    plan = planned_time.standing(cast.studio)
    kept = planned_time.keep(
        plan,
        schedule.piece,
        starts_at=NOW + 6 * DAY,
        kind="full fuse",
        kiln=cast.kiln,
        hours=8,
    )
    build.booking(kiln=cast.kiln, starts_at=kept.ends_at, hours=50)
    found = times(schedule)
    assert found.starts_at != kept.starts_at
    book_fuse(
        piece=schedule.piece,
        kiln=cast.kiln,
        schedule=schedule,
        starts_at=found.starts_at,
        by=None,
        at=NOW,
    )
