"""Moving a booking on its page and from the ribbon: verdicts, refusals, access."""

import datetime as dt

import pytest
from django.utils import timezone

from firing.firings.services.running import start_firing
from firing.models import Booking
from studio.models import AccessHours
from tests import make
from tests.firing import build
from tests.firing.pages import address, assert_doors, text_of

HOUR = dt.timedelta(hours=1)
BOOKERS = ("owner", "maker", "technician")


@pytest.fixture
def now():
    return timezone.now().replace(second=0, microsecond=0)


@pytest.fixture
def booking(cast, now):
    """A load in two days, in a studio that is always open."""
    AccessHours.owned.for_studio(cast.studio).delete()
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=now + 48 * HOUR)
    return firing.booking


def local(cast, instant):
    return f"{instant.astimezone(cast.viewer().zone):%Y-%m-%dT%H:%M}"


def asked(cast, instant, kiln=None):
    return {"kiln": (kiln or cast.kiln).pk, "starts_at": local(cast, instant)}


def placed(instant, kiln):
    return {"kiln": kiln.pk, "starts": int(instant.timestamp())}


def start_of(booking):
    return Booking.across_studios.get(pk=booking.pk).starts_at


def test_the_page_says_what_a_move_changes_and_then_moves(cast, signed_in, booking):
    browser, url = signed_in("technician"), address("booking_move", booking.pk)
    page = text_of(browser.get(url))
    assert "See what that changes" in page
    assert "Move it there" not in page, "nothing was asked yet"
    start = booking.starts_at + 30 * HOUR
    page = text_of(browser.get(url, asked(cast, start)))
    assert "It can go there" in page
    assert "What else changes" in page
    assert start_of(booking) == booking.starts_at, "looking moves nothing"
    answer = browser.post(url, asked(cast, start))
    assert answer["Location"] == address("firing_detail", booking.firing.pk)
    assert start_of(booking) == start
    assert "is moved" in text_of(browser.get(answer["Location"]))


def test_the_page_refuses_with_the_nearest_start_as_a_link(cast, signed_in, booking):
    build.booking(kiln=cast.kiln, starts_at=booking.ends_at, hours=30, title="Class")
    browser, url = signed_in(), address("booking_move", booking.pk)
    wanted = booking.ends_at + HOUR
    answer = browser.get(url, asked(cast, wanted))
    page = text_of(answer)
    assert "It cannot go there" in page
    assert "taken by “Class”" in page
    assert "The nearest start is" in page
    assert f"?kiln={cast.kiln.pk}&amp;starts_at=" in answer.content.decode()
    answer = browser.post(url, asked(cast, wanted))
    assert answer.status_code == 409
    assert "taken by “Class”" in text_of(answer)
    assert f'value="{local(cast, wanted)}"' in answer.content.decode(), "typed stays"
    assert start_of(booking) == booking.starts_at


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"starts_at": "soonish"}, "Write a day and a time"),
        ({"starts_at": ""}, "Fill this in"),
        ({"starts_at": "9999-12-31T00:00"}, "year between"),
        ({"kiln": "99999999"}, "choice"),
        ({"kiln": "x"}, "choice"),
    ],
)
def test_what_cannot_be_read_is_named(cast, signed_in, booking, changes, said):
    browser, url = signed_in(), address("booking_move", booking.pk)
    data = asked(cast, booking.starts_at + HOUR) | changes
    answer = browser.post(url, data)
    assert answer.status_code == 422
    assert said in text_of(answer)
    assert said in text_of(browser.get(url, data))


def test_a_running_firing_offers_no_form(cast, signed_in, booking, now):
    start_firing(firing=booking.firing, by=None, at=now)
    page = text_of(signed_in().get(address("booking_move", booking.pk)))
    assert "A running firing is never moved" in page
    assert "See what that changes" not in page


def test_where_it_is_is_no_move(cast, signed_in, booking):
    url = address("booking_move", booking.pk)
    page = text_of(signed_in().get(url, asked(cast, booking.starts_at)))
    assert "That is where it is" in page
    assert "Move it there" not in page


def test_the_ribbon_asks_and_is_answered_in_words(cast, signed_in, booking):
    other = make.kiln(studio=cast.studio, name="Small", shelf_width_mm=100)
    browser, url = signed_in(), address("booking_place", booking.pk)
    start = booking.starts_at + 5 * HOUR
    told = browser.get(url, placed(start, cast.kiln)).json()
    assert told["permitted"]
    assert told["starts"] == told["snap"] == int(start.timestamp())
    assert told["place"].startswith(f"{cast.kiln}, ")
    told = browser.get(url, placed(start, other)).json()
    assert not told["permitted"]
    assert told["snap"] is None
    assert "fit on the shelf of Small" in told["words"]
    assert start_of(booking) == booking.starts_at


def test_a_drop_takes_the_place_or_the_nearest_or_goes_back(cast, signed_in, booking):
    browser, url = signed_in("maker"), address("booking_place", booking.pk)
    start = booking.starts_at + 5 * HOUR
    answer = browser.post(url, placed(start, cast.kiln))
    assert answer.status_code == 200
    assert "is moved" in answer.json()["place"]
    assert start_of(booking) == start
    moved = Booking.across_studios.get(pk=booking.pk)
    build.booking(kiln=cast.kiln, starts_at=moved.ends_at + HOUR, title="Class")
    late = start + 4 * HOUR
    answer = browser.post(url, placed(late, cast.kiln))
    assert answer.status_code == 200
    assert "taken by “Class”" in answer.json()["words"]
    assert start < start_of(booking) < late
    now_at = start_of(booking)
    build.booking(
        kiln=cast.kiln, starts_at=now_at + 20 * 24 * HOUR, hours=500, title="Closed"
    )
    answer = browser.post(url, placed(now_at + 30 * 24 * HOUR, cast.kiln))
    assert answer.status_code == 409
    assert "It stays where it was" in answer.json()["words"]
    assert start_of(booking) == now_at


@pytest.mark.parametrize(
    "asked_for",
    [
        {},
        {"kiln": "x", "starts": "1"},
        {"starts": "1e9"},
        {"starts": "-5"},
        {"starts": "9" * 30},
        {"kiln": "9" * 30, "starts": "1780000000"},
    ],
)
def test_nonsense_from_a_script_moves_nothing(cast, signed_in, booking, asked_for):
    browser, url = signed_in(), address("booking_place", booking.pk)
    data = {"kiln": cast.kiln.pk} | asked_for
    for answer in (browser.get(url, data), browser.post(url, data)):
        assert answer.status_code == 422
        assert "The booking stays" in answer.json()["words"]


def test_only_what_may_move_can_be_dragged_and_only_by_bookers(
    cast, signed_in, booking, now
):
    running = build.enamel(
        kiln=make.kiln(studio=cast.studio),
        glass=cast.glass,
        starts_at=now,
        title="Flood",
    )
    start_firing(firing=running, by=None, at=now)
    hook = f'data-move="{address("booking_place", booking.pk)}"'
    page = signed_in("technician").get(address("kiln_list")).content.decode()
    assert page.count(hook) == 2, "on the wide and on the narrow ribbon"
    assert page.count("data-move=") == 2
    assert "data-move-panel" in page
    page = signed_in("helper").get(address("kiln_list")).content.decode()
    assert "data-move=" not in page
    assert "data-move-panel" not in page


def test_pages_of_bookings_lead_to_it(cast, signed_in, booking):
    link = f'href="{address("booking_move", booking.pk)}"'
    page = address("firing_detail", booking.firing.pk)
    assert link in signed_in("maker").get(page).content.decode()
    assert link not in signed_in("helper").get(page).content.decode()
    rental = build.booking(
        kiln=make.kiln(studio=cast.studio), starts_at=booking.starts_at
    )
    page = address("booking_detail", rental.pk)
    link = f'href="{address("booking_move", rental.pk)}"'
    assert link in signed_in("maker").get(page).content.decode()
    assert link not in signed_in("helper").get(page).content.decode()


def test_a_verdict_asks_no_more_often_because_more_stands(
    cast, signed_in, booking, django_assert_max_num_queries
):
    browser, url = signed_in(), address("booking_place", booking.pk)
    data = placed(booking.starts_at + 3 * HOUR, cast.kiln)
    build.enamel(
        kiln=cast.kiln, glass=cast.glass, starts_at=booking.starts_at + 72 * HOUR
    )
    browser.get(url, data)
    with django_assert_max_num_queries(60) as first:
        browser.get(url, data)
    for day in range(4, 12):
        build.enamel(
            kiln=cast.kiln,
            glass=cast.glass,
            starts_at=booking.starts_at + 24 * day * HOUR,
            title=f"Piece {day}",
        )
    with django_assert_max_num_queries(len(first)):
        browser.get(url, data)


@pytest.mark.parametrize("name", ["booking_move", "booking_place"])
def test_doors(client, cast, signed_in, strangers, name):
    booking = build.booking(kiln=cast.kiln, starts_at=timezone.now() + 9 * HOUR)
    common = {"client": client, "signed_in": signed_in, "strangers": strangers}
    for post in (False, True):
        assert_doors(url=address(name, booking.pk), roles=BOOKERS, post=post, **common)
