"""Whether the standing plan still works."""

import datetime as dt

import pytest

from firing.kiln_time.services import bookings
from firing.plans.selectors.holding import holding_of
from studio.services import layers
from tests import make
from tests.firing import plans_build as build

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
