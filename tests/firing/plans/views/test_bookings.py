"""Booking other kiln time, and giving it back, on the pages."""

import datetime as dt

import pytest
from django.utils import timezone

from firing.models import Booking
from tests.firing import build
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
