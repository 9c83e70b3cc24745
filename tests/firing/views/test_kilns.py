"""The kilns' pages: states in words, days, doors, and no query per row."""

import datetime as dt

import pytest
from django.utils import timezone

from firing.selectors import kiln_time
from firing.services import firings
from tests import make
from tests.firing import build
from tests.firing.views.pages import address, assert_doors, text_of

EVERYBODY = ("owner", "maker", "helper", "technician")
HOUR = dt.timedelta(hours=1)


@pytest.fixture
def now():
    return timezone.now().replace(microsecond=0)


def test_every_kiln_is_there_with_its_state(cast, signed_in, now):
    other = make.kiln(studio=cast.studio, name="Second kiln")
    build.booking(kiln=other, starts_at=now + 40 * HOUR, title="Class")
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=now)
    firings.start_firing(firing=firing, by=None, at=now)
    page = text_of(signed_in("helper").get(address("kiln_list")))
    assert "Closed until" in page
    assert "h left" in page
    assert "Free until" in page
    assert "Class" in page
    assert "Make up an enamel firing" not in page, "a helper books no kilns"
    assert "Make up an enamel firing" in text_of(
        signed_in("technician").get(address("kiln_list"))
    )


def test_a_cold_kiln_may_be_opened(cast, signed_in, now):
    began = now - 60 * HOUR
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=began)
    firings.start_firing(firing=firing, by=None, at=began)
    page = text_of(signed_in().get(address("kiln_list")))
    assert "May be opened since" in page


def test_what_a_firing_ended_early_had_planned_is_not_drawn(cast, now):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=now)
    firings.start_firing(firing=firing, by=None, at=now)
    outcomes = {item.pk: ("fine", "") for item in firing.items.all()}
    end = now + 2 * HOUR
    firings.finish_firing(firing=firing, outcomes=outcomes, by=None, at=end)
    firing.booking.refresh_from_db()
    drawn = kiln_time._drawn(firing.booking, {})
    assert len(firing.booking.planned_curve) > 2
    assert drawn.ends_at == end
    assert drawn.planned[-1][0] == end
    assert 20 < drawn.planned[-1][1] < 1000
    assert [at for at, _ in drawn.planned] == sorted(at for at, _ in drawn.planned)


def test_other_days_by_address_and_by_htmx(cast, signed_in, now):
    build.booking(kiln=cast.kiln, starts_at=now + 400 * HOUR, title="Far away class")
    browser = signed_in()
    day = (now + 398 * HOUR).date().isoformat()
    page = browser.get(address("kiln_list"), {"from": day})
    assert b"<html" in page.content
    part = browser.get(
        address("kiln_list"), {"from": day}, headers={"HX-Request": "true"}
    )
    assert b"<html" not in part.content
    assert part.content.strip().startswith(b'<div id="days"')
    assert "Far away class, " in text_of(part)
    assert "HX-Request" in part["Vary"]


@pytest.mark.parametrize(
    "day", ["", "yesterday", "2026-99-99", "0001-01-01", "9999-12-31"]
)
def test_a_nonsense_day_shows_now(cast, signed_in, day):
    answer = signed_in().get(address("kiln_list"), {"from": day})
    assert answer.status_code == 200


def test_without_kilns_the_page_says_what_to_do(cast, signed_in):
    cast.kiln.delete()
    assert "No kiln yet" in text_of(signed_in().get(address("kiln_list")))


def test_doors(client, signed_in, strangers, cast):
    assert_doors(
        client=client,
        signed_in=signed_in,
        strangers=strangers,
        url=address("kiln_list"),
        roles=EVERYBODY,
        own=False,
    )
    assert_doors(
        client=client,
        signed_in=signed_in,
        strangers=strangers,
        url=address("kiln_detail", cast.kiln.pk),
        roles=EVERYBODY,
    )


def test_a_kilns_page_in_the_readers_units(cast, signed_in, strangers):
    page = text_of(signed_in().get(address("kiln_detail", cast.kiln.pk)))
    assert "1706 °F" in page
    assert "22 1/16 × 22 1/16 in" in page or "in" in page
    foreign = signed_in("owner", strangers)
    page = text_of(foreign.get(address("kiln_detail", strangers.kiln.pk)))
    assert "930 °C" in page
    assert "560 × 560 mm" in page


def test_money_is_for_those_who_may_see_it(cast, signed_in):
    url = address("kiln_detail", cast.kiln.pk)
    assert "$2.50" in text_of(signed_in("maker").get(url))
    assert "$2.50" not in text_of(signed_in("helper").get(url))


def test_queries_do_not_grow_with_kilns_and_bookings(
    cast, signed_in, now, django_assert_max_num_queries
):
    def add(number):
        kiln = make.kiln(studio=cast.studio)
        for day in range(3):
            firing = build.enamel(
                kiln=kiln,
                glass=cast.glass,
                starts_at=now + dt.timedelta(days=2 * day),
                title=f"Piece {number} {day}",
            )
            if day == 0:
                firings.start_firing(firing=firing, by=None, at=now)

    browser = signed_in()
    add(0)
    with django_assert_max_num_queries(99) as first:
        browser.get(address("kiln_list"))
    for number in range(1, 4):
        add(number)
    with django_assert_max_num_queries(len(first)):
        browser.get(address("kiln_list"))
