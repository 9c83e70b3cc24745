"""The kilns' pages: states in words, days, doors, and no query per row."""

import datetime as dt
import re

import pytest
from django.utils import timezone

from firing.firings.services import running
from firing.kiln_time.selectors import ribbons
from studio.models import Piece
from tests import make
from tests.firing import build
from tests.firing.pages import address, assert_doors, text_of

EVERYBODY = ("owner", "maker", "helper", "technician")
HOUR = dt.timedelta(hours=1)


@pytest.fixture
def now():
    return timezone.now().replace(microsecond=0)


def test_every_kiln_is_there_with_its_state(cast, signed_in, now):
    other = make.kiln(studio=cast.studio, name="Second kiln")
    build.booking(kiln=other, starts_at=now + 40 * HOUR, title="Class")
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=now)
    running.start_firing(firing=firing, by=None, at=now)
    page = text_of(signed_in("helper").get(address("kiln_list")))
    assert "Closed until" in page
    assert "h left" in page
    assert "Free until" in page
    assert "Class" in page
    assert "Load a kiln" not in page, "a helper books no kilns"
    assert "Load a kiln" in text_of(signed_in("technician").get(address("kiln_list")))


def test_a_cold_kiln_may_be_opened(cast, signed_in, now):
    began = now - 60 * HOUR
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=began)
    running.start_firing(firing=firing, by=None, at=began)
    page = text_of(signed_in().get(address("kiln_list")))
    assert "May be opened since" in page


def test_what_a_firing_ended_early_had_planned_is_not_drawn(cast, now):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=now)
    running.start_firing(firing=firing, by=None, at=now)
    outcomes = {item.pk: ("fine", "") for item in firing.items.all()}
    end = now + 2 * HOUR
    running.finish_firing(
        firing=firing, outcomes=outcomes, by=None, at=end, hand=build.READ_COLD
    )
    firing.booking.refresh_from_db()
    drawn = ribbons._drawn(firing.booking, {}, ribbons.Marks())
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


def test_the_range_and_the_filters_stay_in_every_link(cast, signed_in, now):
    piece = make.piece(studio=cast.studio, glass=cast.glass, title="Ebb")
    firing = build.enamel(
        kiln=cast.kiln, glass=cast.glass, starts_at=now + HOUR, title="Flood"
    )
    other = firing.items.get(pk=firing.items.first().pk).of_pass.sheet.layer.piece
    asked = {"show": "month", "piece": other.pk, "person": cast.maker.pk}
    page = signed_in().get(address("kiln_list"), asked).content.decode()
    kept = f"show=month&amp;piece={other.pk}&amp;person={cast.maker.pk}"
    for moved in ("Earlier", "Later"):
        (link,) = re.findall(rf'href="([^"]+)"[^>]*aria-label="{moved}"', page)
        assert kept in link, moved
    assert re.search(r'aria-current="true"[^>]*>4 weeks<', page)
    assert piece.title not in re.findall(r"<option[^>]*>([^<]+)", page)


def test_a_filter_leaves_all_there_and_lets_its_own_stand_out(cast, signed_in, now):
    for title in ("Ebb", "Flood"):
        kiln = make.kiln(studio=cast.studio)
        build.enamel(kiln=kiln, glass=cast.glass, starts_at=now + HOUR, title=title)
    ebb = Piece.owned.for_studio(cast.studio).get(title="Ebb")
    answer = signed_in().get(address("kiln_list"), {"piece": ebb.pk})
    assert "1 booking in these days of Ebb" in text_of(answer)
    wide = answer.content.decode().split('class="ribbon-narrow"')[0]
    assert len(re.findall('class="drawing-link"', wide)) == 1
    assert len(re.findall('class="drawing-link ribbon-other"', wide)) == 1


def test_a_person_finds_what_they_made_booked_or_loaded(cast, signed_in, now):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=now)
    running.start_firing(firing=firing, by=cast.helper, at=now)
    browser = signed_in()
    for who, count in ((cast.helper, 1), (cast.technician, 0)):
        page = text_of(browser.get(address("kiln_list"), {"person": who.pk}))
        assert f"{count} booking" in page


@pytest.mark.parametrize("key", ["", "x", "-1", "9" * 40, "²", "1e3", "\x00"])
def test_a_nonsense_filter_shows_everything(cast, strangers, signed_in, key):
    browser = signed_in()
    for name in ("piece", "person", "show"):
        answer = browser.get(address("kiln_list"), {name: key})
        assert answer.status_code == 200
        assert "drawn faint" not in text_of(answer)
    foreign = make.piece(studio=strangers.studio, glass=strangers.glass, title="Hidden")
    page = text_of(browser.get(address("kiln_list"), {"piece": foreign.pk}))
    assert "Hidden" not in page


def test_what_is_late_is_told_in_words_and_marked(cast, signed_in, now):
    other = make.kiln(studio=cast.studio, name="Other kiln")
    firing = build.enamel(
        kiln=cast.kiln, glass=cast.glass, starts_at=now + HOUR, title="Ebb"
    )
    piece = Piece.owned.for_studio(cast.studio).get(title="Ebb")
    unbooked = make.piece(studio=cast.studio, glass=cast.glass, title="Unbooked")
    for one in (piece, unbooked):
        make.promised(one, now.date())
    browser = signed_in()
    answer = browser.get(address("kiln_list"))
    page = text_of(answer)
    assert "Late or at risk" in page
    assert "Ebb is promised for" in page
    assert "Unbooked is promised for" in page
    assert 'class="ribbon-flag"' in answer.content.decode()
    page = text_of(browser.get(address("kiln_detail", cast.kiln.pk)))
    assert "Ebb is promised for" in page
    assert "Unbooked is promised for" not in page
    assert "is promised for" not in text_of(
        browser.get(address("kiln_detail", other.pk))
    )
    page = text_of(browser.get(address("firing_detail", firing.pk)))
    assert "Ebb is promised for" in page
    assert "% of the shelf is used." in page


def test_the_next_bookings_say_how_full_they_are(cast, signed_in, now):
    build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=now + HOUR)
    browser = signed_in("helper")
    for page in (address("kiln_list"), address("kiln_detail", cast.kiln.pk)):
        assert "38 % of the shelf is used" in browser.get(page).content.decode()


@pytest.mark.parametrize("show", ["week", "month", "quarter"])
def test_every_range_shows_the_same_booking(cast, signed_in, now, show):
    build.booking(kiln=cast.kiln, starts_at=now + 30 * HOUR, title="Class of six")
    page = signed_in().get(address("kiln_list"), {"show": show})
    assert "Class of six, " in text_of(page)


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
                running.start_firing(firing=firing, by=None, at=now)

    browser = signed_in()
    add(0)
    with django_assert_max_num_queries(99) as first:
        browser.get(address("kiln_list"))
    for number in range(1, 4):
        add(number)
    with django_assert_max_num_queries(len(first)):
        browser.get(address("kiln_list"))
