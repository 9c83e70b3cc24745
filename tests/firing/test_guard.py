"""What the database itself enforces: a firing matches its booking, one runs per kiln."""

import pytest
from django.db import IntegrityError, connection, transaction

from firing import guard
from firing.firings.services import running
from firing.kiln_time.services import bookings
from firing.models import Booking, Firing, PlannedFiring, PlannedItem, PlannedTask
from firing.planning.problem.solution import TASK_WORDS
from studio.errors import Refused
from tests import make
from tests.firing import build, plans_build
from tests.make import NOW

DAY = plans_build.DAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def firing(cast):
    return build.enamel(kiln=cast.kiln, glass=cast.glass)


def test_a_firing_goes_with_its_booking_past_every_service(cast, firing):
    other = make.kiln(studio=cast.studio)
    held = Booking.owned.for_studio(cast.studio).filter(pk=firing.booking_id)
    held.update(kiln=other)
    firing.refresh_from_db()
    assert firing.kiln == other
    held.update(cancelled_at=NOW)
    firing.refresh_from_db()
    assert firing.cancelled_at == NOW
    held.update(cancelled_at=None, title="Another name")
    firing.refresh_from_db()
    assert firing.cancelled_at is None


@pytest.mark.parametrize("changed", ["kiln", "cancelled_at"])
def test_a_firing_is_not_let_go_another_way_than_its_booking(cast, firing, changed):
    changes = {"kiln": make.kiln(studio=cast.studio), "cancelled_at": NOW}
    mine = Firing.owned.for_studio(cast.studio)
    with pytest.raises(IntegrityError, match=guard.AS_BOOKED), transaction.atomic():
        mine.update(**{changed: changes[changed]})
    again = Firing.across_studios.get(pk=firing.pk)
    again.pk, again.booking = None, build.booking(kiln=cast.kiln, starts_at=NOW + DAY)
    setattr(again, changed, changes[changed])
    with pytest.raises(IntegrityError, match=guard.AS_BOOKED), transaction.atomic():
        again.save()


def test_the_time_of_a_started_firing_is_not_given_back(cast, firing):
    running.start_firing(firing=firing, by=None, at=NOW)
    held = Booking.owned.for_studio(cast.studio)
    with pytest.raises(IntegrityError, match="only_before_start"), transaction.atomic():
        held.update(cancelled_at=NOW)


def test_the_service_cancels_both_at_once(cast, firing):
    bookings.cancel_booking(booking=firing.booking, reason="", by=None, at=NOW)
    firing.refresh_from_db()
    assert firing.cancelled_at == NOW


def test_one_firing_runs_in_a_kiln(cast, firing, monkeypatch):
    second = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=NOW + DAY)
    running.start_firing(firing=firing, by=None, at=NOW)
    with pytest.raises(IntegrityError), transaction.atomic():
        Firing.across_studios.filter(pk=second.pk).update(started_at=NOW)
    # Where somebody came in between the look and the start, the refusal is in words.
    monkeypatch.setattr(running, "refuse_occupied", lambda firing: None)
    monkeypatch.setattr(running, "hold_true_span", lambda *_, **__: "")
    with pytest.raises(Refused, match="Another firing was started"):
        running.start_firing(firing=second, by=None, at=NOW + DAY)
    assert not Firing.across_studios.get(pk=second.pk).started_at


@pytest.mark.parametrize(
    "wrong",
    [{"number": 1}, {"attempt": 1}, {"layer": True}, {"layer": True, "number": 1}],
)
def test_a_planned_item_is_a_pass_or_a_stack(cast, wrong):
    piece = plans_build.work(cast)
    row = PlannedFiring.across_studios.create(
        studio=cast.studio,
        plan=plans_build.made(cast),
        booking=build.booking(kiln=cast.kiln),
        kind="enamel",
        unload_at=NOW,
    )
    if "layer" in wrong:
        wrong = wrong | {"layer": piece.layers.first()}
    item = PlannedItem(studio=cast.studio, firing=row, piece=piece, **wrong)
    with pytest.raises(IntegrityError, match="one_thing"), transaction.atomic():
        item.save()


def test_planned_work_is_one_of_the_planner_s_tasks(cast):
    assert set(TASK_WORDS.values()) == set(PlannedTask.values)
    plans_build.work(cast)
    work = plans_build.accepted(cast).planned_work
    with pytest.raises(IntegrityError, match="is_a_task"), transaction.atomic():
        work.update(task="sweeping")


def test_readings_have_the_indexes_that_are_read_by_and_no_more(db):
    with connection.cursor() as cursor:
        found = connection.introspection.get_constraints(cursor, "firing_reading")
    indexes = [
        one["columns"]
        for one in found.values()
        if one["index"] and not one["primary_key"]
    ]
    assert sorted(indexes) == [["firing_id", "at"], ["source_id"]]
