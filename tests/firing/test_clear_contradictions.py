"""The migration that clears what its constraints would refuse, on data that breaks them."""

import datetime as dt

import pytest
from django.core.management import call_command
from django.db import connection

from firing.firings.services import running
from firing.models import (
    Booking,
    Firing,
    Judgement,
    PlannedFiring,
    PlannedItem,
    PlannedWork,
)
from studio.models import PieceEvent
from tests import make
from tests.firing import build, plans_build
from tests.make import NOW

BEFORE = "0006_kiln_loggers"
DAY = plans_build.DAY


@pytest.fixture
def unguarded(transactional_db):
    """Take the constraints away; whatever comes of it, they are back afterwards."""
    call_command("migrate", "firing", BEFORE, verbosity=0)
    with connection.cursor() as cursor:
        for name in ("firing_as_booked_on_update", "firing_follows_booking"):
            table = "firing_booking" if "follows" in name else "firing_firing"
            if connection.vendor == "sqlite":
                cursor.execute(f"DROP TRIGGER {name}")
            else:
                name = name.removesuffix("_on_update")
                cursor.execute(f"DROP TRIGGER {name} ON {table}")
    yield
    call_command("migrate", "firing", verbosity=0)


def test_what_contradicts_itself_is_cleared_in_words(unguarded, cast):
    kilns = [make.kiln(studio=cast.studio) for _ in range(4)]
    firings = {
        name: build.enamel(kiln=kiln, glass=cast.glass)
        for name, kiln in zip(("moved", "lost", "gone", "ran"), kilns, strict=True)
    }
    rows = Firing.across_studios
    rows.filter(pk=firings["moved"].pk).update(kiln=cast.kiln)
    rows.filter(pk=firings["lost"].pk).update(cancelled_at=NOW)
    of = {name: one.booking_id for name, one in firings.items()}
    held = Booking.across_studios
    held.filter(pk=of["gone"]).update(cancelled_at=NOW)
    running.start_firing(firing=firings["ran"], by=None, at=NOW)
    held.filter(pk=of["ran"]).update(cancelled_at=NOW)

    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    earlier = build.fuse(piece=piece, kiln=cast.kiln)
    running.start_firing(firing=earlier, by=None, at=NOW)
    later = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=NOW + 20 * DAY)
    rows.filter(pk=later.pk).update(started_at=NOW + 20 * DAY)

    for number in range(4):
        Judgement.across_studios.create(
            studio=cast.studio,
            firing=later,
            inputs_sha256=str(number),
            verdict=Judgement.NOT_JUDGED,
            made_at=NOW + number * dt.timedelta(minutes=1),
        )
    items = broken_items(cast)
    call_command("migrate", "firing", verbosity=0)

    for one in firings.values():
        one.refresh_from_db()
    assert firings["moved"].kiln == kilns[0]
    assert held.get(pk=of["lost"]).cancelled_reason == "Its firing was cancelled"
    assert firings["gone"].cancelled_at == NOW
    assert held.get(pk=of["ran"]).cancelled_at is None
    earlier.refresh_from_db()
    assert earlier.started_at is None
    assert earlier.cancelled_at == held.get(pk=earlier.booking_id).cancelled_at
    assert earlier.cancelled_at is not None
    assert "Another firing was started in its kiln. It was recorded" in earlier.note
    assert not PieceEvent.across_studios.filter(piece=piece, kind="into kiln").exists()
    later.refresh_from_db()
    assert later.started_at is not None
    kept = Judgement.across_studios.filter(firing=later)
    assert {one.inputs_sha256 for one in kept} == {"2", "3"}
    assert not PlannedItem.across_studios.filter(pk=items["empty"].pk).exists()
    named = PlannedItem.across_studios.get(pk=items["pass"].pk)
    assert (named.layer, named.attempt, named.number) == (
        named.of_pass.sheet.layer,
        1,
        1,
    )
    assert set(PlannedWork.across_studios.values_list("task", flat=True)) == {"paint"}


def broken_items(cast):
    piece = plans_build.work(cast, titles=("Weir",))
    plan = plans_build.made(cast)
    row = PlannedFiring.across_studios.create(
        studio=cast.studio,
        plan=plan,
        booking=build.booking(kiln=make.kiln(studio=cast.studio)),
        kind="enamel",
        unload_at=NOW,
    )
    common = {"studio": cast.studio, "piece": piece}
    for task in ("paint", "sweeping"):
        PlannedWork.across_studios.create(
            plan=plan,
            person=cast.owner,
            task=task,
            starts_at=NOW,
            ends_at=NOW,
            **common,
        )
    create = PlannedItem.across_studios.create
    return {
        "empty": create(firing=row, layer=piece.layers.first(), **common),
        "pass": create(firing=row, of_pass=make.passes_of(piece)[0], **common),
    }


def test_what_ran_where_its_time_was_given_away_is_called_off(unguarded, cast):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass)
    running.start_firing(firing=firing, by=None, at=NOW)
    Booking.across_studios.filter(pk=firing.booking_id).update(cancelled_at=NOW)
    build.booking(kiln=cast.kiln, starts_at=NOW + dt.timedelta(hours=1))
    call_command("migrate", "firing", verbosity=0)
    firing.refresh_from_db()
    assert (firing.started_at, firing.cancelled_at) == (None, NOW)
    assert firing.note == (
        "Its kiln time was given back. It was recorded as started 2026-03-04 09:00 UTC."
    )
