"""Booking other kiln time, and giving it back, on the pages."""

import datetime as dt

import pytest
from django.utils import timezone

from firing.models import Booking
from tests import make
from tests.firing import build, planned_time
from tests.firing.pages import address, assert_doors, text_of

HOUR = dt.timedelta(hours=1)
BOOKERS = ("owner", "maker", "technician")


def filled(cast, **changes):
    day = (timezone.now() + 48 * HOUR).date()
    return {
        "kiln": cast.kiln.pk,
        "kind": "rental",
        "title": "Bronze pour test",
        "starts_at": f"{day}T09:00",
        "ends_at": f"{day}T15:00",
    } | changes


def test_kiln_time_is_booked_by_the_studios_clock(cast, signed_in):
    answer = signed_in("technician").post(address("booking_new"), filled(cast))
    booking = Booking.owned.for_studio(cast.studio).get()
    assert answer["Location"] == address("booking_detail", booking.pk)
    assert booking.booked_by == cast.technician
    assert booking.starts_at.hour in {13, 14}, "09:00 in New York"


def test_a_studio_without_a_kiln_is_asked_for_one(cast, signed_in):
    type(cast.kiln).owned.for_studio(cast.studio).update(is_retired=True)
    page = text_of(signed_in().get(address("booking_new")))
    assert "No kiln yet" in page
    assert "Book the kiln" not in page


def test_a_taken_kiln_keeps_what_was_typed(cast, signed_in):
    browser = signed_in()
    browser.post(address("booking_new"), filled(cast, title="First"))
    answer = browser.post(address("booking_new"), filled(cast, title="Second, please"))
    assert answer.status_code == 409
    page = text_of(answer)
    assert "“First”" in page
    assert "It is free from" in page
    assert 'value="Second, please"' in answer.content.decode()
    assert Booking.owned.for_studio(cast.studio).count() == 1


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"title": ""}, "Fill this in"),
        ({"ends_at": "2001-01-01T00:00"}, "end must come after"),
        ({"starts_at": "soonish"}, "Write a day and a time"),
        ({"starts_at": "0001-01-01T00:00"}, "year between"),
        ({"ends_at": "9999-12-31T23:59"}, "year between"),
        ({"kiln": "999999"}, "choice"),
        ({"kiln": "x" * 500}, "choice"),
        ({"kind": "firing"}, "choice"),
        ({"title": "x" * 900}, "at most 200"),
        ({"title": "nul \x00 byte"}, "Null characters"),
        ({"ends_at": "2199-01-01T00:00"}, "three months"),
    ],
)
def test_bad_input_is_named_and_kept(cast, signed_in, changes, said):
    answer = signed_in().post(address("booking_new"), filled(cast, **changes))
    assert answer.status_code == 422
    assert said in text_of(answer)
    assert not Booking.owned.for_studio(cast.studio).exists()


def test_a_strangers_kiln_is_no_choice(cast, strangers, signed_in):
    data = filled(cast, kiln=strangers.kiln.pk)
    assert signed_in().post(address("booking_new"), data).status_code == 422


def test_a_booking_is_given_back(cast, signed_in):
    booking = build.booking(kiln=cast.kiln, title="Class")
    url = address("booking_cancel", booking.pk)
    browser = signed_in()
    assert browser.post(url, {"reason": ""}).status_code == 422
    assert browser.post(url, {"reason": "Nobody came"}).status_code == 302
    booking.refresh_from_db()
    assert booking.cancelled_reason == "Nobody came"
    assert browser.post(url, {"reason": "Again"}).status_code == 409
    page = text_of(browser.get(address("booking_detail", booking.pk)))
    assert "Nobody came" in page


def test_doors(client, cast, signed_in, strangers):
    booking = build.booking(kiln=cast.kiln)
    common = {"client": client, "signed_in": signed_in, "strangers": strangers}
    assert_doors(url=address("booking_new"), roles=BOOKERS, own=False, **common)
    assert_doors(
        url=address("booking_detail", booking.pk),
        roles=(*BOOKERS, "helper"),
        **common,
    )
    assert_doors(
        url=address("booking_cancel", booking.pk), roles=BOOKERS, post=True, **common
    )
    assert signed_in().get(address("booking_cancel", booking.pk)).status_code == 405


@pytest.fixture
def held(cast):
    """Kiln time that a plan keeps for layers nobody painted, and that was missed."""
    piece = make.piece(studio=cast.studio, glass=cast.glass, title="Reed bed")
    plan = planned_time.standing(cast.studio)
    starts_at = timezone.now() - dt.timedelta(minutes=20)
    return planned_time.keep(plan, piece, starts_at=starts_at, kiln=cast.kiln)


def booked_over(cast, browser, held):
    local = held.starts_at.astimezone(cast.viewer().zone)
    until = local + 30 * HOUR
    typed = filled(
        cast, starts_at=f"{local:%Y-%m-%dT%H:%M}", ends_at=f"{until:%Y-%m-%dT%H:%M}"
    )
    return browser.post(address("booking_new"), typed, follow=True)


def test_what_gives_way_is_said_and_comes_back_with_one_tap(cast, signed_in, held):
    browser = signed_in()
    answer = booked_over(cast, browser, held)
    page = text_of(answer)
    assert f"{cast.kiln} is booked." in page
    assert "Reed bed: Layers 1, 2 lose their planned place" in page
    assert "The kilns are planned again." in page
    booking = Booking.owned.for_studio(cast.studio).get(kind="rental")
    undo = address("booking_undo", booking.pk)
    assert f'action="{undo}"' in answer.content.decode()
    page = text_of(browser.post(undo, follow=True))
    assert "is not booked any more" in page
    held.refresh_from_db()
    assert held.cancelled_at is None
    assert browser.post(undo).status_code == 409, "it is undone once"


def test_a_booking_is_undone_later_only_with_a_reason(cast, signed_in, held):
    browser = signed_in()
    booked_over(cast, browser, held)
    bookings = Booking.owned.for_studio(cast.studio).filter(kind="rental")
    bookings.update(booked_at=timezone.now() - HOUR)
    undo = address("booking_undo", bookings.get().pk)
    assert "Say why" in text_of(browser.post(undo))
    assert bookings.get().cancelled_at is None
    browser.post(undo, {"reason": "Wrong week"})
    assert bookings.get().cancelled_reason == "Wrong week"


def test_a_cancelled_booking_says_what_is_planned_again(cast, signed_in, held):
    browser = signed_in()
    booked_over(cast, browser, held)
    booking = Booking.owned.for_studio(cast.studio).get(kind="rental")
    cancel = address("booking_cancel", booking.pk)
    page = text_of(browser.post(cancel, {"reason": "Not needed"}, follow=True))
    assert f"Planned in {cast.kiln}" in page
    assert "again: layers 1, 2 of Reed bed." in page
