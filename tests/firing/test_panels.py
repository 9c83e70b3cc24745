"""What the firing app adds to Today and to a piece's page."""

import datetime as dt

import pytest
from django.utils import timezone

from firing.firings.services import firings, running
from tests import make
from tests.firing import build
from tests.firing.pages import address, text_of

HOUR = dt.timedelta(hours=1)


@pytest.fixture
def now():
    return timezone.now()


def test_today_names_what_the_kilns_ask_for(cast, signed_in, now):
    cold = make.kiln(studio=cast.studio, name="Cold one")
    hot = make.kiln(studio=cast.studio, name="Hot one")
    for kiln, ago in ((cold, 60 * HOUR), (hot, HOUR)):
        firing = build.enamel(
            kiln=kiln, glass=cast.glass, starts_at=now - ago, title=f"In {kiln}"
        )
        running.start_firing(firing=firing, by=None, at=now - ago)
    build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=now + HOUR, title="Next")
    build.painted(make.piece(studio=cast.studio, glass=cast.glass, title="Waiting"))
    page = text_of(signed_in().get("/"))
    assert "Unload Cold one" in page
    assert "May be opened since" in page
    assert f"Load and start {cast.kiln}" in page
    assert "Closed until" in page
    assert "2 painted layers wait for the kiln" in page
    assert "Load a kiln" in page


def test_a_helper_is_told_but_makes_up_nothing(cast, signed_in):
    build.painted(make.piece(studio=cast.studio, glass=cast.glass))
    page = signed_in("helper").get("/")
    assert "painted layers wait" in text_of(page)
    assert address("load_new") not in page.content.decode()


def test_a_quiet_day_shows_no_kilns(cast, signed_in):
    assert "At the kilns" not in text_of(signed_in().get("/"))


def test_strangers_see_nothing_of_it(cast, strangers, signed_in):
    build.painted(make.piece(studio=cast.studio, glass=cast.glass))
    assert "painted layer" not in text_of(signed_in("owner", strangers).get("/"))


def test_a_piece_leads_to_its_running_firing(cast, signed_in, now):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    firing = build.fuse(piece=piece, kiln=cast.kiln, starts_at=now)
    running.start_firing(firing=firing, by=None, at=now)
    page = signed_in().get(f"/pieces/{piece.pk}/")
    assert "See the firing" in text_of(page)
    assert address("firing_detail", firing.pk) in page.content.decode()


def test_the_next_step_in_the_kiln_stands_on_top_of_the_page_once(cast, signed_in, now):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    page = signed_in().get(f"/pieces/{piece.pk}/").content.decode()
    assert page.count("Book the fuse") == 1
    assert page.index("Book the fuse") < page.index("Layers</h2>")


def test_a_new_closure_names_the_bookings_it_is_in_the_way_of(
    cast, strangers, signed_in, now
):
    other = make.kiln(studio=cast.studio, name="Side kiln")
    starts = (now + dt.timedelta(days=40)).replace(second=0, microsecond=0)
    build.booking(kiln=cast.kiln, starts_at=starts, title="Bowls of a neighbour")
    build.booking(kiln=other, starts_at=starts, title="Tiles")
    build.booking(kiln=cast.kiln, starts_at=starts + 9 * HOUR, title="Much later")
    build.booking(kiln=strangers.kiln, starts_at=starts, title="Not ours")
    zone = cast.viewer().zone
    typed = {
        "kiln": cast.kiln.pk,
        "starts_at": f"{(starts + HOUR).astimezone(zone):%Y-%m-%dT%H:%M}",
        "ends_at": f"{(starts + 6 * HOUR).astimezone(zone):%Y-%m-%dT%H:%M}",
        "reason": "Relining",
    }
    url = "/settings/closures/add/"
    page = text_of(signed_in("technician").post(url, typed, follow=True))
    assert "The closure is added." in page
    assert f"{cast.kiln} is booked in that time: Bowls of a neighbour" in page
    for absent in ("Tiles", "Much later", "Not ours"):
        assert absent not in page
    page = text_of(signed_in().post(url, typed | {"kiln": ""}, follow=True))
    assert "Side kiln is booked in that time: Tiles" in page


def test_a_helper_computes_no_schedule(cast, signed_in):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    url = address("fuse_plan", piece.pk)
    page = signed_in("helper").get(f"/pieces/{piece.pk}/").content.decode()
    assert url not in page
    assert url in signed_in("maker").get(f"/pieces/{piece.pk}/").content.decode()


@pytest.mark.parametrize("name", ["kiln_detail", "firing_detail", "fuse_plan"])
def test_an_enormous_number_is_not_found(cast, signed_in, name):
    assert signed_in().get(address(name, 10**30)).status_code == 404


def test_a_painted_layers_next_step_is_a_load_and_then_its_firing(cast, signed_in, now):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=3)
    first, second = build.painted(piece)
    firing = firings.make_up_enamel_firing(
        studio=cast.studio,
        kiln=cast.kiln,
        passes=[first],
        starts_at=now + HOUR,
        by=None,
        at=now,
    )
    page = signed_in().get(f"/pieces/{piece.pk}/").content.decode()
    assert 'aria-label="See the firing: layer 1"' in page
    assert f"/firings/{firing.pk}/" in page
    assert f'href="{address("load_new")}?passes={second.pk}"' in page
    assert 'aria-label="Fire: layer 2"' in page
    told = signed_in("helper").get(f"/pieces/{piece.pk}/").content.decode()
    assert "Fire: layer 2" not in told
