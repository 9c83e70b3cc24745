"""A firing's pages: list, detail, start, unload, cancel."""

import datetime as dt
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from PIL import Image

from firing.firings.services.running import start_firing
from studio.models import Kiln, Pass, Picture
from tests import make
from tests.firing import build
from tests.firing.pages import address, assert_doors, text_of

HOUR = dt.timedelta(hours=1)
EVERYBODY = ("owner", "maker", "helper", "technician")


@pytest.fixture
def firing(cast):
    return build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=timezone.now())


# What somebody reads at the kiln and ticks, where its plan would keep it closed.
COLD = {"shown_c": "86 F", "is_confirmed": "on"}


@pytest.fixture
def running(firing):
    return start_firing(firing=firing, by=None, at=timezone.now())


def test_a_planned_firing_offers_its_start(cast, signed_in, firing):
    page = text_of(signed_in("helper").get(address("firing_detail", firing.pk)))
    assert "Started now" in page
    assert "Load and start today" in page or "Load and start" in page
    assert "Layer 1, pass 1" in page
    assert "test it on a maquette" in page.lower()
    assert "Cancel this firing" not in page, "a helper books no kilns"


def test_the_schedule_in_both_units(cast, signed_in):
    kiln = make.kiln(studio=cast.studio, controller_unit="C")
    firing = build.enamel(kiln=kiln, glass=cast.glass)
    page = text_of(signed_in().get(address("firing_detail", firing.pk)))
    assert "(°C)" in page
    assert "593 °C 1099 °F 0:10" in page, "typed into the controller, and the reader's"


def test_a_firing_is_started(signed_in, firing):
    answer = signed_in("helper").post(address("firing_start", firing.pk), follow=True)
    assert "is started" in text_of(answer)
    firing.refresh_from_db()
    assert firing.started_at is not None
    again = signed_in("helper").post(address("firing_start", firing.pk))
    assert again.status_code == 409
    assert "started already" in text_of(again)


@pytest.mark.parametrize("part", ["heating", "soak", "cooling", "nonsense"])
def test_the_chart_shows_parts(signed_in, running, part):
    answer = signed_in().get(address("firing_detail", running.pk), {"part": part})
    assert answer.status_code == 200
    assert 'class="chart-planned"' in answer.content.decode()


def outcomes(firing, **by_position):
    items = list(firing.items.all())
    return items, COLD | {f"outcome_{item.pk}": "fine" for item in items}


def test_all_fine_is_one_press(cast, signed_in, running):
    answer = signed_in("helper").post(
        address("firing_finish", running.pk), {"all_fine": "yes"} | COLD
    )
    assert answer["Location"] == address("firing_detail", running.pk)
    fired = Pass.owned.for_studio(cast.studio).exclude(outcome="")
    assert {p.outcome for p in fired} == {"fine"}
    assert {p.outcome_by for p in fired} == {cast.helper}


def test_all_fine_keeps_what_was_said_otherwise(cast, signed_in, running):
    first = running.items.first()
    signed_in().post(
        address("firing_finish", running.pk),
        COLD | {"all_fine": "yes", f"outcome_{first.pk}": "cracked"},
    )
    found = Pass.owned.for_studio(cast.studio).exclude(outcome="")
    assert sorted(p.outcome for p in found) == ["cracked", "fine"]


def test_one_by_one_with_note_and_picture(cast, signed_in, running):
    items, data = outcomes(running)
    out = io.BytesIO()
    Image.new("RGB", (40, 30), "teal").save(out, "PNG")
    data |= {
        f"outcome_{items[0].pk}": "redo",
        f"note_{items[0].pk}": "Pale in one corner",
        f"picture_{items[0].pk}": SimpleUploadedFile("a.png", out.getvalue()),
    }
    answer = signed_in("helper").post(address("firing_finish", running.pk), data)
    assert answer.status_code == 302
    assert Picture.owned.for_studio(cast.studio).get().of_pass == items[0].of_pass
    page = text_of(signed_in().get(address("firing_detail", running.pk)))
    assert "Pale in one corner" in page
    assert "Fire again" in page


def test_a_missing_outcome_keeps_the_others(signed_in, running):
    items, data = outcomes(running)
    del data[f"outcome_{items[0].pk}"]
    data[f"note_{items[1].pk}"] = "A note worth keeping"
    answer = signed_in().post(address("firing_finish", running.pk), data)
    assert answer.status_code == 422
    html = answer.content.decode()
    assert "Say how it came out" in html
    assert "A note worth keeping" in html
    assert html.count("checked") == 2, "the other outcome, and the confirmation"
    running.refresh_from_db()
    assert running.finished_at is None


def test_a_bad_picture_records_nothing(signed_in, running):
    items, data = outcomes(running)
    data[f"picture_{items[0].pk}"] = SimpleUploadedFile("a.png", b"no picture")
    answer = signed_in().post(address("firing_finish", running.pk), data)
    assert answer.status_code == 409
    assert "not a picture" in text_of(answer)
    running.refresh_from_db()
    assert running.finished_at is None


def test_finishing_before_the_start_is_refused(signed_in, firing):
    url = address("firing_finish", firing.pk)
    assert signed_in().get(url).status_code == 302
    answer = signed_in().post(url, {"all_fine": "yes"})
    assert answer.status_code == 409
    assert "not started" in text_of(answer)


def test_a_firing_is_cancelled_with_a_reason(cast, signed_in, firing):
    url = address("firing_cancel", firing.pk)
    assert signed_in().post(url, {}).status_code == 422
    answer = signed_in().post(url, {"reason": "Element broken"}, follow=True)
    assert "Element broken" in text_of(answer)
    assert "Cancelled" in text_of(answer)
    assert signed_in().post(url, {"reason": "Twice"}).status_code == 409


def test_the_list_shows_what_runs_first(cast, signed_in, running):
    build.enamel(
        kiln=cast.kiln,
        glass=cast.glass,
        starts_at=running.booking.ends_at,
        title="Flood",
    )
    page = text_of(signed_in("helper").get(address("firing_list")))
    assert page.index("In the kilns") < page.index("The others")


def test_a_firing_stays_readable_when_its_kiln_can_do_it_no_more(
    cast, signed_in, running
):
    Kiln.owned.for_studio(cast.studio).update(max_temperature_c=500)
    for url in (
        address("firing_detail", running.pk),
        address("schedule_detail", running.schedule_id),
    ):
        page = text_of(signed_in("helper").get(url))
        assert "anneal soak" in page.lower()


def test_an_empty_list_says_what_will_be_there(cast, signed_in):
    assert "No firing yet" in text_of(signed_in().get(address("firing_list")))


def test_queries_do_not_grow_with_firings(
    cast, signed_in, django_assert_max_num_queries
):
    def add(number):
        build.enamel(
            kiln=cast.kiln,
            glass=cast.glass,
            starts_at=timezone.now() + dt.timedelta(days=3 * number),
            title=f"Piece {number}",
        )

    browser = signed_in()
    add(0)
    with django_assert_max_num_queries(99) as first:
        browser.get(address("firing_list"))
    for number in range(1, 6):
        add(number)
    with django_assert_max_num_queries(len(first)):
        browser.get(address("firing_list"))


@pytest.mark.parametrize(
    ("name", "post", "roles"),
    [
        ("firing_detail", False, EVERYBODY),
        ("firing_start", True, EVERYBODY),
        ("firing_finish", False, EVERYBODY),
        ("firing_finish", True, EVERYBODY),
        ("firing_cancel", True, ("owner", "maker", "technician")),
    ],
)
def test_doors(client, signed_in, strangers, firing, name, post, roles):
    assert_doors(
        client=client,
        signed_in=signed_in,
        strangers=strangers,
        url=address(name, firing.pk),
        roles=roles,
        post=post,
    )
