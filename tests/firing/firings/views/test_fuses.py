"""From a checked stack to a booked kiln, on the pages."""

import datetime as dt
import re
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from firing.firings.services import running
from firing.models import Firing, Schedule
from studio.models import Kiln
from tests import make
from tests.firing import build
from tests.firing.pages import address, assert_doors, text_of

HOUR = dt.timedelta(hours=1)
BOOKERS = ("owner", "maker", "technician")


@pytest.fixture
def piece(cast):
    return build.stacked(studio=cast.studio, glass=cast.glass, layer_count=9)


def chosen(cast, **changes):
    return {"kiln": cast.kiln.pk, "rule": "next row", "kind": "full fuse"} | changes


def tomorrow() -> str:
    return f"{(timezone.now() + 26 * HOUR).date()}T09:00"


def test_three_rules_stand_side_by_side(cast, signed_in, piece):
    make.kiln(studio=cast.studio, name="Low kiln", inner_height_mm=100)
    page = text_of(signed_in().get(address("fuse_plan", piece.pk)))
    for title in ("Next row", "Published table", "Exact thickness"):
        assert title in page
    assert "1.06 in" in page, "27 mm"
    assert "Low kiln" in page
    assert "high inside" in page
    assert "kWh" in page


def test_from_the_piece_to_a_booked_kiln(cast, signed_in, piece):
    browser = signed_in("maker")
    piece_page = browser.get(f"/pieces/{piece.pk}/").content.decode()
    assert address("fuse_plan", piece.pk) in piece_page
    answer = browser.post(address("fuse_plan", piece.pk), chosen(cast))
    schedule = Schedule.owned.for_studio(cast.studio).get()
    book_url = f"{address('fuse_book', piece.pk)}?schedule={schedule.pk}"
    assert answer["Location"] == book_url
    page = browser.get(book_url)
    assert "earliest free start" in text_of(page)
    typed = re.search(r'value="(2\d{3}-[^"]+)"', page.content.decode()).group(1)
    answer = browser.post(book_url, {"schedule": schedule.pk, "starts_at": typed})
    firing = Firing.owned.for_studio(cast.studio).get()
    assert answer["Location"] == address("firing_detail", firing.pk)
    began = firing.booking.starts_at.astimezone(cast.viewer().zone)
    assert f"{began:%Y-%m-%dT%H:%M}" == typed
    assert 8 <= began.hour < 20, "loaded in access hours"
    assert firing.items.get().piece == piece
    piece_page = text_of(browser.get(f"/pieces/{piece.pk}/"))
    assert "Full fuse and anneal" in piece_page
    assert "See the firing" in piece_page


def test_a_kiln_is_looked_at_in_place(cast, signed_in, piece):
    other = make.kiln(studio=cast.studio, name="Second kiln")
    part = signed_in().get(
        address("fuse_plan", piece.pk),
        {"kiln": other.pk},
        headers={"HX-Request": "true"},
    )
    assert '<div id="answer"' in part.content.decode()
    assert "<h1" not in part.content.decode()
    assert "controller of Second kiln" in text_of(part)


def test_a_taken_kiln_keeps_the_start(cast, signed_in, piece):
    typed = tomorrow()
    zone = ZoneInfo(cast.studio.time_zone)
    build.booking(
        kiln=cast.kiln,
        starts_at=dt.datetime.fromisoformat(typed).replace(tzinfo=zone) + 4 * HOUR,
        hours=9,
        title="Summer school",
    )
    schedule = build.schedule(piece=piece, kiln=cast.kiln)
    answer = signed_in().post(
        address("fuse_book", piece.pk), {"schedule": schedule.pk, "starts_at": typed}
    )
    assert answer.status_code == 409
    html = answer.content.decode()
    assert "“Summer school”" in html
    assert "It is free from" in html
    assert f'value="{typed}"' in html
    assert not Firing.owned.for_studio(cast.studio).exists()


@pytest.mark.parametrize(
    "changes",
    [
        {"rule": ""},
        {"rule": "fastest"},
        {"kiln": ""},
        {"kiln": "abc"},
        {"kind": "slump"},
        {"kind": "re-anneal"},
    ],
)
def test_a_bad_choice_is_said(cast, signed_in, piece, changes):
    answer = signed_in().post(address("fuse_plan", piece.pk), chosen(cast, **changes))
    assert answer.status_code == 422
    assert not Schedule.owned.for_studio(cast.studio).exists()


def test_a_kiln_that_cannot_take_it_is_refused(cast, signed_in, piece):
    low = make.kiln(studio=cast.studio, name="Low kiln", inner_height_mm=100)
    answer = signed_in().post(address("fuse_plan", piece.pk), chosen(cast, kiln=low.pk))
    assert answer.status_code == 409
    assert "Low kiln cannot take" in text_of(answer)


@pytest.mark.parametrize("starts_at", ["", "noon", "2001-01-01T09:00"])
def test_a_bad_start_is_said(cast, signed_in, piece, starts_at):
    schedule = build.schedule(piece=piece, kiln=cast.kiln)
    answer = signed_in().post(
        address("fuse_book", piece.pk),
        {"schedule": schedule.pk, "starts_at": starts_at},
    )
    assert answer.status_code == 422


def test_booking_without_a_schedule_leads_back(cast, signed_in, piece):
    for query in ("", "?schedule=", "?schedule=abc", "?schedule=²"):
        answer = signed_in().get(address("fuse_book", piece.pk) + query)
        assert answer["Location"] == address("fuse_plan", piece.pk)
    gone = signed_in().get(address("fuse_book", piece.pk) + "?schedule=999999")
    assert gone.status_code == 404


def test_another_pieces_schedule_is_refused(cast, signed_in, piece):
    other = build.stacked(studio=cast.studio, glass=cast.glass, title="Weir")
    schedule = build.schedule(piece=other, kiln=cast.kiln)
    chosen = {"schedule": schedule.pk, "starts_at": tomorrow()}
    url = address("fuse_book", piece.pk)
    assert signed_in().get(url, chosen).status_code == 404
    assert signed_in().post(url, chosen).status_code == 404


def test_a_kiln_changed_since_sends_back_to_the_choice(cast, signed_in, piece):
    schedule = build.schedule(piece=piece, kiln=cast.kiln)
    Kiln.owned.for_studio(cast.studio).update(max_temperature_c=600)
    answer = signed_in().get(
        address("fuse_book", piece.pk), {"schedule": schedule.pk}, follow=True
    )
    assert answer.redirect_chain == [(address("fuse_plan", piece.pk), 302)]
    assert "Compute the schedule again" in text_of(answer)


def test_a_piece_not_ready_is_told_so(cast, signed_in):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    url = address("fuse_plan", piece.pk)
    assert "Not yet" in text_of(signed_in().get(url))
    assert signed_in().post(url, chosen(cast)).status_code == 409


def test_a_booked_piece_leads_to_its_firing(cast, signed_in, piece):
    firing = build.fuse(piece=piece, kiln=cast.kiln)
    page = signed_in().get(address("fuse_plan", piece.pk))
    assert "booked already" in text_of(page)
    assert address("firing_detail", firing.pk) in page.content.decode()


def test_a_broken_anneal_leads_to_another(cast, signed_in, piece):
    began = timezone.now() - 90 * HOUR
    firing = build.fuse(piece=piece, kiln=cast.kiln, starts_at=began)
    firing = running.start_firing(firing=firing, by=None, at=began)
    running.finish_firing(
        firing=firing,
        outcomes={item.pk: ("redo", "power cut") for item in firing.items.all()},
        by=None,
        at=timezone.now(),
        hand=build.READ_COLD,
    )
    piece_page = text_of(signed_in().get(f"/pieces/{piece.pk}/"))
    assert "Anneal it again" in piece_page
    page = text_of(signed_in().get(address("fuse_plan", piece.pk)))
    assert "Re-anneal" in page


def test_the_schedules_page_says_where_it_comes_from(cast, signed_in, piece):
    build.schedule(piece=piece, kiln=cast.kiln, rule="exact")
    schedule = build.schedule(piece=piece, kiln=cast.kiln)
    page = text_of(signed_in("helper").get(address("schedule_detail", schedule.pk)))
    assert "one row thicker" in page
    assert "published annealing table" in page
    assert "Version 1" in page
    assert "licensed electricians" in page
    assert "Type into the controller" in page


def test_doors(client, cast, signed_in, strangers, piece):
    common = {"client": client, "signed_in": signed_in, "strangers": strangers}
    schedule = build.schedule(piece=piece, kiln=cast.kiln)
    for post in (False, True):
        assert_doors(
            url=address("fuse_plan", piece.pk), roles=BOOKERS, post=post, **common
        )
        assert_doors(
            url=f"{address('fuse_book', piece.pk)}?schedule={schedule.pk}",
            roles=BOOKERS,
            post=post,
            **common,
        )
    assert_doors(
        url=address("schedule_detail", schedule.pk),
        roles=(*BOOKERS, "helper"),
        **common,
    )
