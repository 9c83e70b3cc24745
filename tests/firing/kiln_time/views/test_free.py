"""Finding free kiln time, and going on to the booking form."""

import datetime as dt
from html import unescape
from urllib.parse import parse_qs, urlsplit

import pytest
from django.utils import timezone

from studio.models import AccessHours, Closure
from tests import make
from tests.firing import build
from tests.firing.pages import address, assert_doors, text_of

HOUR = dt.timedelta(hours=1)
DAY = 24 * HOUR


@pytest.fixture
def now():
    return timezone.now().replace(second=0, microsecond=0)


def look(browser, **asked):
    return browser.get(address("free_time"), asked)


def links(answer):
    html = answer.content.decode()
    hrefs = [part.split('"', 1)[0] for part in html.split('class="button" href="')[1:]]
    return [unescape(href) for href in hrefs]


def test_free_time_leads_to_a_filled_booking_form(cast, signed_in):
    browser = signed_in()
    (link,) = links(look(browser, lasts="3 days", kiln="any"))
    assert urlsplit(link).path == address("booking_new")
    filled = parse_qs(urlsplit(link).query)
    page = browser.get(link).content.decode()
    for name in ("starts_at", "ends_at"):
        assert f'value="{filled[name][0]}"' in page
    posted = {name: value[0] for name, value in filled.items()}
    posted |= {"kind": "rental", "title": "A week for Odo"}
    assert browser.post(address("booking_new"), posted).status_code == 302
    assert links(look(browser, lasts="3 days", kiln="any")) != [link]


@pytest.mark.parametrize(
    ("size", "meant", "other"),
    [("large", "Large one", "Small one"), ("small", "Small one", "Large one")],
)
def test_a_kiln_is_chosen_by_its_shelf(cast, signed_in, size, meant, other):
    cast.kiln.name = "Small one"
    cast.kiln.save()
    make.kiln(studio=cast.studio, name="Large one", shelf_width_mm=590)
    found = text_of(look(signed_in(), lasts="3 d", kiln=size)).split("Find free time")[
        1
    ]
    assert f"{meant}, " in found
    assert f"{other}, " not in found


def test_free_time_is_over_by_the_end_of_the_last_day(cast, signed_in, now):
    AccessHours.owned.for_studio(cast.studio).delete()
    first = (now + 30 * DAY).date()
    days = {
        "not_before": first.isoformat(),
        "until": (first + dt.timedelta(days=6)).isoformat(),
    }
    assert links(look(signed_in(), lasts="1 week", kiln="any", **days))
    assert not links(look(signed_in(), lasts="1 w 1 h", kiln="any", **days))


def test_a_studio_without_a_kiln_is_asked_for_one(cast, signed_in):
    type(cast.kiln).owned.for_studio(cast.studio).update(is_retired=True)
    page = text_of(look(signed_in(), lasts="2 d"))
    assert "No kiln yet" in page
    assert "Nothing is free" not in page


def test_nothing_is_said_to_be_free_where_nothing_was_searched(cast, signed_in):
    assert 'id="free-found"' not in look(signed_in()).content.decode()
    assert 'id="free-found"' not in look(signed_in(), lasts="x").content.decode()
    assert 'id="free-found"' in look(signed_in(), lasts="2 d").content.decode()


def test_a_gap_between_two_bookings_says_until_when(cast, signed_in, now):
    AccessHours.owned.for_studio(cast.studio).delete()
    build.booking(kiln=cast.kiln, starts_at=now + HOUR, hours=24, title="First")
    build.booking(kiln=cast.kiln, starts_at=now + 5 * DAY, hours=24, title="Second")
    page = text_of(look(signed_in(), lasts="2 d", kiln="any"))
    assert "then Second" in page
    assert "nothing booked after" in page
    page = text_of(look(signed_in(), lasts="9 d", kiln="any"))
    assert "then Second" not in page


def test_loading_is_within_hours_unless_that_is_not_asked(cast, signed_in, now):
    AccessHours.owned.for_studio(cast.studio).update(
        opens=dt.time(8), closes=dt.time(8, 20)
    )
    asked = {"lasts": "2 d", "kiln": "any"}
    page = text_of(look(signed_in(), **asked, only_in_hours="on"))
    assert "No kiln is free for that long" in page
    assert "nothing booked after" in text_of(look(signed_in(), **asked))


def test_closures_are_not_free(cast, signed_in, now):
    AccessHours.owned.for_studio(cast.studio).delete()
    Closure.across_studios.create(
        studio=cast.studio,
        starts_at=now + 3 * DAY,
        ends_at=now + 4 * DAY,
        reason="New floor",
    )
    page = text_of(look(signed_in(), lasts="2 d", kiln="any"))
    assert "then Closed: New floor" in page


def test_a_piece_says_how_long_and_which_kilns(cast, signed_in, now):
    AccessHours.owned.for_studio(cast.studio).delete()
    make.kiln(studio=cast.studio, name="Tiny", shelf_width_mm=100)
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    answer = look(signed_in(), lasts="", kiln="any", piece=piece.pk)
    page = text_of(answer)
    assert "Tiny: Its shelf is" in page
    assert f"{cast.kiln}, " in page
    assert links(answer)[0].startswith(address("fuse_plan", piece.pk))
    # Not ready for its fuse: the time can still be kept.
    waiting = make.piece(studio=cast.studio, glass=cast.glass)
    answer = look(signed_in(), lasts="", kiln="any", piece=waiting.pk)
    assert links(answer)[0].startswith(address("booking_new"))


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"lasts": ""}, "Say how long"),
        ({"lasts": "0 h"}, "Say how long"),
        ({"lasts": "soon"}, "soon"),
        ({"lasts": "2 d", "kiln": "999999"}, "choice"),
        ({"lasts": "2 d", "not_before": "yesterday"}, "Write a day"),
        ({"lasts": "2 d", "until": "0001-01-01"}, "year between"),
        ({"lasts": "2 d", "until": "2001-01-01"}, "Those days are past"),
        (
            {"lasts": "2 d", "not_before": "2199-02-01", "until": "2199-01-01"},
            "within a year",
        ),
        ({"lasts": "2 d", "not_before": "2199-01-01"}, "within a year"),
        ({"lasts": "2 d", "piece": "9" * 30}, "choice"),
        ({"lasts": "\x00"}, "Null characters"),
    ],
)
def test_what_cannot_be_searched_is_named(cast, signed_in, asked, said):
    answer = look(signed_in(), **asked)
    assert answer.status_code == 200
    assert said in text_of(answer)


def test_the_first_day_comes_before_the_last(cast, signed_in, now):
    days = {
        name: (now + dt.timedelta(days=far)).date().isoformat()
        for name, far in (("not_before", 40), ("until", 20))
    }
    page = text_of(look(signed_in(), lasts="2 d", **days))
    assert "first day must come before" in page


def test_only_bookers_are_led_to_book(cast, signed_in):
    assert links(look(signed_in("technician"), lasts="2 d", kiln="any"))
    assert not links(look(signed_in("helper"), lasts="2 d", kiln="any"))


def test_a_strangers_piece_is_no_choice(cast, strangers, signed_in):
    piece = make.piece(studio=strangers.studio, glass=strangers.glass, title="Hidden")
    page = text_of(look(signed_in(), lasts="", piece=piece.pk))
    assert "choice" in page
    assert "Hidden" not in page


def test_queries_do_not_grow_with_bookings(
    cast, signed_in, now, django_assert_max_num_queries
):
    def add(day):
        build.booking(kiln=cast.kiln, starts_at=now + day * DAY, title=f"Day {day}")

    browser = signed_in()
    add(1)
    look(browser, lasts="2 h", kiln="any")
    with django_assert_max_num_queries(60) as first:
        look(browser, lasts="2 h", kiln="any")
    for day in range(2, 9):
        add(day)
    with django_assert_max_num_queries(len(first)):
        look(browser, lasts="2 h", kiln="any")


def test_doors(client, cast, signed_in, strangers):
    assert_doors(
        client=client,
        signed_in=signed_in,
        strangers=strangers,
        url=address("free_time"),
        roles=("owner", "maker", "helper", "technician"),
        own=False,
    )
