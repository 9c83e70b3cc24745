"""Whether the standing plan still works."""

import datetime as dt

import pytest

from firing.firings.services import firings, running
from firing.kiln_time.services import bookings
from firing.loads.selectors.planned import GRACE
from firing.plans.selectors.holding import holding_of
from firing.plans.services import acceptance
from studio.services import layers
from studio.services.bench_times import set_tasks
from tests import make, plain
from tests.firing import plans_build as build
from tests.firing.build import READ_COLD

MONDAY = build.MONDAY

pytestmark = pytest.mark.django_db


def test_painting_as_planned_and_starting_on_time_break_nothing(cast):
    piece = build.work(cast)
    plan = build.accepted(cast)
    for of_pass in make.passes_of(piece):
        layers.record_painted(passes=[of_pass], by=cast.owner, at=MONDAY, minutes=60)
    assert holding_of(plan, now=MONDAY).holds


def test_a_loading_that_nobody_did_breaks_the_plan(cast):
    build.work(cast)
    plan = build.accepted(cast)
    later = build.planned(cast)[0].booking.starts_at + dt.timedelta(hours=1)
    found = holding_of(plan, now=later)
    assert not found.holds
    assert "was to be loaded" in found.sentences[0]


def test_a_cancelled_booking_breaks_the_plan(cast):
    build.work(cast)
    plan = build.accepted(cast)
    enamel = build.planned(cast)[0]
    bookings.cancel_booking(
        booking=enamel.booking, reason="Kiln wash", by=cast.owner, at=MONDAY
    )
    found = holding_of(plan, now=MONDAY)
    assert not found.holds
    assert "no longer stands" in found.sentences[0]


MINUTE = dt.timedelta(minutes=1)


@pytest.fixture
def loaded(cast):
    """A standing plan, and its first load made up when it was planned.

    Stacking takes so long that the fuse is on another day: no hour's delay reaches it.
    """
    tasks = plain.tasks(painting=90, cutting=10, stacking=180, edges=240)
    set_tasks(studio=cast.studio, tasks=tasks)
    piece = build.work(cast)
    plan = build.accepted(cast)
    enamel = build.planned(cast)[0]
    passes = make.passes_of(piece)
    layers.record_painted(passes=passes, by=cast.owner, at=MONDAY, minutes=60)
    firing = firings.make_up_enamel_firing(
        studio=cast.studio,
        kiln=enamel.booking.kiln,
        passes=passes,
        starts_at=enamel.booking.starts_at,
        by=cast.owner,
        at=MONDAY,
    )
    return plan, firing


def started(cast, firing, *, late):
    return running.start_firing(
        firing=firing, by=cast.owner, at=firing.booking.starts_at + late
    )


def unloaded(cast, firing, *, at):
    outcomes = {item.pk: ("fine", "") for item in firing.items.all()}
    running.finish_firing(
        firing=firing, outcomes=outcomes, by=cast.owner, at=at, hand=READ_COLD
    )


def test_a_ready_load_keeps_its_place_until_it_is_plainly_missed(cast):
    piece = build.work(cast)
    plan = build.accepted(cast)
    layers.record_painted(
        passes=make.passes_of(piece), by=cast.owner, at=MONDAY, minutes=60
    )
    starts_at = build.planned(cast)[0].booking.starts_at
    for late in (MINUTE, 59 * MINUTE):
        assert holding_of(plan, now=starts_at + late).holds
    # One made in that time leaves the load where it is.
    other = build.again(cast, at=starts_at + MINUTE)
    taken = acceptance.accept_plan(
        plan=other,
        option=other.options[0]["name"],
        by=cast.owner,
        at=starts_at + 2 * MINUTE,
    )
    (first, *_) = build.planned(cast)
    assert (first.booking.starts_at, first.plan) == (starts_at, taken)
    found = holding_of(taken, now=starts_at + GRACE)
    assert not found.holds
    assert "was to be loaded" in found.sentences[0]


@pytest.mark.parametrize("minutes", [0, 1, 20, 59])
def test_a_firing_started_within_its_grace_is_no_event(cast, loaded, minutes):
    plan, firing = loaded
    current = started(cast, firing, late=minutes * MINUTE)
    found = holding_of(plan, now=current.started_at)
    assert (found.holds, found.sentences) == (True, ())


@pytest.mark.parametrize("hours", [-3, -1, 0.2])
def test_a_firing_that_is_unloaded_breaks_nothing(cast, loaded, hours):
    plan, firing = loaded
    current = started(cast, firing, late=MINUTE)
    at = current.booking.ends_at + dt.timedelta(hours=hours)
    unloaded(cast, current, at=at)
    found = holding_of(plan, now=at)
    assert (found.holds, found.sentences) == (True, ())


def test_a_firing_started_hours_late_is_told_with_both_times(cast, loaded):
    plan, firing = loaded
    current = started(cast, firing, late=180 * MINUTE)
    (told,) = holding_of(plan, now=current.started_at).sentences
    assert " instead of " in told
