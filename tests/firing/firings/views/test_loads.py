"""Making up an enamel firing on its page."""

import datetime as dt

import pytest
from django.utils import timezone

from firing.firings.services import firings
from firing.models import Firing
from tests import make
from tests.firing import build
from tests.firing.pages import address, assert_doors, text_of

HOUR = dt.timedelta(hours=1)
URL = "load_new"


def tomorrow() -> str:
    return f"{(timezone.now() + 26 * HOUR).date()}T09:00"


@pytest.fixture
def passes(cast):
    return build.painted(
        make.piece(studio=cast.studio, glass=cast.glass, layers=5, title="Salt pan")
    )


def test_what_waits_is_proposed_and_ticked(cast, signed_in, passes):
    answer = signed_in().get(address(URL))
    page = text_of(answer)
    assert "4 of 4 painted layers chosen" in page
    assert "Salt pan" in page
    assert answer.content.decode().count("checked") == 4
    assert "First free" in page


def test_the_kiln_that_takes_most_is_proposed(cast, signed_in, passes):
    small = make.kiln(
        studio=cast.studio, name="A little", shelf_width_mm=310, shelf_depth_mm=210
    )
    page = text_of(signed_in().get(address(URL)))
    assert f"The shelf of {cast.kiln} from above" in page
    part = signed_in().get(
        address(URL), {"kiln": small.pk}, headers={"HX-Request": "true"}
    )
    assert b"<html" not in part.content
    assert "1 of 4 painted layers chosen. No room for another." in text_of(part)
    assert ". No room" in text_of(part)
    assert part.content.decode().count("checked") == 1


def test_a_sheet_too_large_is_said_so(cast, signed_in, passes):
    tiny = make.kiln(
        studio=cast.studio, name="Tiny", shelf_width_mm=100, shelf_depth_mm=100
    )
    page = text_of(signed_in().get(address(URL), {"kiln": tiny.pk}))
    assert "is larger than the shelf" in page
    assert "0 of 4" in page


def test_a_load_is_booked(cast, signed_in, passes):
    answer = signed_in("technician").post(
        address(URL),
        {
            "kiln": cast.kiln.pk,
            "passes": [passes[0].pk, passes[2].pk],
            "starts_at": tomorrow(),
        },
    )
    firing = Firing.owned.for_studio(cast.studio).get()
    assert answer["Location"] == address("firing_detail", firing.pk)
    assert firing.items.count() == 2


def test_a_taken_kiln_keeps_ticks_and_start(cast, signed_in, passes):
    build.booking(
        kiln=cast.kiln,
        starts_at=timezone.now() + HOUR,
        hours=24 * 5,
        title="Long rental",
    )
    typed = tomorrow()
    answer = signed_in().post(
        address(URL),
        {"kiln": cast.kiln.pk, "passes": [passes[1].pk], "starts_at": typed},
    )
    assert answer.status_code == 409
    html = answer.content.decode()
    assert "Long rental" in html
    assert f'value="{typed}"' in html
    assert html.count("checked") == 1
    assert not Firing.owned.for_studio(cast.studio).exists()


@pytest.mark.parametrize(
    "changes",
    [
        {"passes": []},
        {"passes": ["999999"]},
        {"passes": ["9" * 30]},
        {"passes": ["abc"]},
        {"starts_at": "later"},
        {"starts_at": "2001-01-01T09:00"},
        {"kiln": ""},
        {"kiln": "999999"},
    ],
)
def test_bad_input_is_said(cast, signed_in, passes, changes):
    data = {
        "kiln": cast.kiln.pk,
        "passes": [passes[0].pk],
        "starts_at": tomorrow(),
    } | changes
    answer = signed_in().post(address(URL), data)
    assert answer.status_code == 422
    assert "Not booked yet" in text_of(answer)
    assert not Firing.owned.for_studio(cast.studio).exists()


def test_a_pass_taken_meanwhile_is_said(cast, signed_in, passes):
    firings.make_up_enamel_firing(
        studio=cast.studio,
        kiln=cast.kiln,
        passes=passes[:1],
        starts_at=timezone.now() + 90 * HOUR,
        by=None,
        at=timezone.now(),
    )
    answer = signed_in().post(
        address(URL),
        {"kiln": cast.kiln.pk, "passes": [passes[0].pk], "starts_at": tomorrow()},
    )
    assert answer.status_code == 422
    assert "does not wait for the kiln any more" in text_of(answer)


def test_nothing_waiting_says_what_to_do(cast, signed_in):
    assert "No painted layer waits" in text_of(signed_in().get(address(URL)))


def test_strangers_layers_do_not_show(cast, strangers, signed_in, passes):
    assert "Salt pan" not in text_of(signed_in("owner", strangers).get(address(URL)))


def test_doors(client, cast, signed_in, strangers):
    assert_doors(
        client=client,
        signed_in=signed_in,
        strangers=strangers,
        url=address(URL),
        roles=("owner", "maker", "technician"),
        own=False,
    )
