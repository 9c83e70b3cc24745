"""What each kiln is doing now: the glass in it counts before closures and bookings."""

import datetime as dt

import pytest
from django.urls import reverse

from firing.firings.services import running
from firing.kiln_time.selectors.kiln_time import booking_href, kiln_states
from firing.models import Booking
from studio.models import Closure
from tests import make
from tests.firing import build
from tests.make import NOW

HOUR = dt.timedelta(hours=1)


@pytest.fixture
def state(strangers):
    """Return what is said of the kiln at an hour from now; the studio is in Lisbon."""

    def said(hours=0.0, kiln=None):
        (found,) = kiln_states(
            [kiln or strangers.kiln],
            viewer=strangers.viewer(),
            now=NOW + hours * HOUR,
        )
        return found

    return said


def close(cast, *, hours, kiln=None, reason="Holiday"):
    Closure.across_studios.create(
        studio=cast.studio,
        kiln=kiln,
        starts_at=NOW,
        ends_at=NOW + hours * HOUR,
        reason=reason,
    )


def test_a_kiln_without_anything_is_free(state):
    found = state()
    assert (found.words, found.kind, found.booking) == ("Free", "planned", None)


def test_a_kiln_is_free_until_what_comes_next(strangers, state):
    coming = build.booking(kiln=strangers.kiln, starts_at=NOW + 2 * HOUR)
    found = state()
    assert found.words == "Free until today 11:00"
    assert found.following == coming


@pytest.mark.parametrize(
    ("kind", "words", "looks"),
    [
        ("rental", "Rented out until today 14:00", "doing"),
        ("maintenance", "Maintenance until today 14:00", "stopped"),
    ],
)
def test_a_booking_holds_it_from_its_first_moment(strangers, state, kind, words, looks):
    held = build.booking(kiln=strangers.kiln, kind=kind)
    found = state()
    assert (found.words, found.kind, found.booking) == (words, looks, held)
    assert state(5).words == "Free"


def test_a_closure_counts_before_a_booking_and_only_for_its_kiln(strangers, state):
    other = make.kiln(studio=strangers.studio)
    build.booking(kiln=strangers.kiln)
    close(strangers, hours=2, kiln=strangers.kiln, reason="New elements")
    found = state()
    assert (found.words, found.kind) == ("New elements, until today 11:00", "stopped")
    assert state(kiln=other).words == "Free"
    assert state(2).words.startswith("Rented out")
    close(strangers, hours=1)
    assert state(kiln=other).words == "Holiday, until today 10:00"


def test_a_firing_is_waited_for_then_closed_then_unloaded(strangers, state):
    firing = build.enamel(kiln=strangers.kiln, glass=strangers.glass, starts_at=NOW)
    assert state().words.startswith("To be loaded and started, held until ")
    running.start_firing(firing=firing, by=None, at=NOW)
    close(strangers, hours=1)
    booking = Booking.owned.for_studio(strangers.studio).get(pk=firing.booking_id)
    lasts = (booking.opens_at - NOW) / HOUR
    hot = state()
    assert hot.kind == "hot"
    assert hot.words.startswith("Closed until ")
    assert hot.words.endswith(f", {round(lasts)} h left")
    late = state(lasts)
    assert late.kind == "waiting"
    assert late.words.endswith(": unload")
    assert state(lasts + 100).booking == booking


def test_a_booking_leads_to_its_firing_if_it_has_one(strangers):
    rental = build.booking(kiln=strangers.kiln, starts_at=NOW + 50 * HOUR)
    firing = build.enamel(kiln=strangers.kiln, glass=strangers.glass, starts_at=NOW)
    assert booking_href(rental) == reverse("firing:booking_detail", args=[rental.pk])
    assert booking_href(firing.booking) == reverse(
        "firing:firing_detail", args=[firing.pk]
    )
