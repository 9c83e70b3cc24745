"""Provisional bookings are confirmed, and stay where they are from then on."""

import datetime as dt

import pytest

from firing.kiln_time.services import bookings
from firing.models import Booking
from firing.plans.services import acceptance, confirmation, moves
from studio.errors import Refused
from studio.models import HistoryEntry
from tests.firing import plans_build as build

MONDAY = build.MONDAY

pytestmark = pytest.mark.django_db


def test_confirming_a_fuse_confirms_what_must_be_fired_before(cast):
    build.work(cast)
    build.accepted(cast)
    fuse = build.planned(cast)[-1]
    count = confirmation.confirm(
        studio=cast.studio, bookings=[fuse.booking_id], by=cast.owner, at=MONDAY
    )
    assert count == 2
    assert not any(row.booking.is_provisional for row in build.planned(cast))
    with pytest.raises(Refused, match="no provisional booking"):
        confirmation.confirm(
            studio=cast.studio, bookings=None, by=cast.owner, at=MONDAY
        )


def test_what_was_given_back_while_one_waited_is_not_confirmed(cast, monkeypatch):
    build.work(cast)
    build.accepted(cast)

    def waits(studio):
        # As somebody who takes another plan leaves it.
        rows = Booking.owned.for_studio(studio).filter(is_provisional=True)
        rows.update(cancelled_at=MONDAY)

    monkeypatch.setattr(confirmation, "lock_all_kilns", waits)
    before = HistoryEntry.owned.for_studio(cast.studio).count()
    with pytest.raises(Refused, match="no provisional booking"):
        confirmation.confirm(
            studio=cast.studio, bookings=None, by=cast.owner, at=MONDAY
        )
    assert HistoryEntry.owned.for_studio(cast.studio).count() == before


def test_confirmed_firings_are_fixed_for_the_next_plan(cast):
    build.work(cast)
    build.accepted(cast)
    confirmation.confirm(studio=cast.studio, bookings=None, by=cast.owner, at=MONDAY)
    before = {row.booking_id: row.booking.starts_at for row in build.planned(cast)}
    newer = build.again(cast)
    record = newer.options[0]["record"]
    assert record["firings"] == record["fuses"] == []
    assert [row["task"] for row in record["work"]] == ["coldwork"]
    acceptance.accept_plan(
        plan=newer, option=newer.options[0]["name"], by=cast.owner, at=MONDAY
    )
    after = {row.booking_id: row.booking.starts_at for row in build.planned(cast)}
    assert after == before


def test_a_planned_load_that_a_person_moves_stays_where_it_was_put(cast):
    build.work(cast)
    plan = build.accepted(cast)
    enamel, fuse = build.planned(cast)
    bookings.cancel_booking(
        booking=fuse.booking, reason="Later", by=cast.owner, at=MONDAY
    )
    moved = moves.move_booking(
        booking=enamel.booking,
        kiln=cast.kiln,
        starts_at=enamel.booking.starts_at - dt.timedelta(hours=1),
        by=cast.owner,
        at=MONDAY,
    )
    assert not moved.is_provisional
    newer = build.again(cast)
    assert newer.options[0]["record"]["firings"] == []
    assert len(newer.options[0]["record"]["fuses"]) == 1
    assert newer.based_on == plan
