"""A firing put right in the browser: undone with one tap, later with a reason."""

import datetime as dt

import pytest
from django.utils import timezone

from firing.firings.services.running import finish_firing, start_firing
from firing.models import Firing, LoadItem
from tests.firing import build
from tests.firing.pages import address, text_of

HOUR = dt.timedelta(hours=1)


@pytest.fixture
def firing(cast):
    return build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=timezone.now())


def again(firing):
    return Firing.across_studios.get(pk=firing.pk)


def undo(browser, answer):
    before, _, _ = answer.content.decode().partition(">Undo</button>")
    action = before.rpartition('action="')[2].partition('"')[0]
    return browser.post(action, follow=True)


def test_a_start_is_undone_with_one_tap(signed_in, firing):
    helper = signed_in("helper")
    done = helper.post(address("firing_start", firing.pk), follow=True)
    page = undo(helper, done)
    assert "Taken back: it was not started." in text_of(page)
    assert "Load and start" in text_of(page)
    assert again(firing).started_at is None


def test_started_takes_the_time(cast, signed_in, firing):
    at = timezone.now() - HOUR
    local = at.astimezone(cast.viewer().zone)
    sent = {"started_at": f"{local:%Y-%m-%dT%H:%M}"}
    signed_in("helper").post(address("firing_start", firing.pk), sent)
    assert abs(again(firing).started_at - at) < dt.timedelta(minutes=1)


def test_a_time_to_come_is_refused_and_stays_typed(signed_in, firing):
    sent = {"started_at": "2199-01-01T09:00"}
    page = signed_in("helper").post(address("firing_start", firing.pk), sent)
    assert page.status_code == 409
    assert "still to come" in text_of(page)
    assert "2199-01-01T09:00" in page.content.decode()


def test_unloading_is_undone_with_one_tap(signed_in, firing):
    start_firing(firing=firing, by=None, at=timezone.now())
    helper = signed_in("helper")
    sent = {"all_fine": "yes"} | {"shown_c": "30 C", "is_confirmed": "on"}
    done = helper.post(address("firing_finish", firing.pk), sent, follow=True)
    assert again(firing).finished_at is not None
    page = undo(helper, done)
    assert "Taken back: it was not unloaded." in text_of(page)
    assert again(firing).finished_at is None
    assert {item.outcome for item in firing.items.all()} == {""}


def test_later_a_reason_is_asked_for(cast, signed_in, firing):
    then = timezone.now() - 2 * HOUR
    start_firing(firing=firing, by=None, at=then)
    url = address("firing_not_started", firing.pk)
    helper = signed_in("helper")
    page = helper.post(url)
    assert page.status_code == 422
    assert "Say why: this was recorded a while ago." in text_of(page)
    helper.post(url, {"reason": "Pressed on the wrong page"})
    assert again(firing).started_at is None
    history = text_of(signed_in().get("/history/"))
    assert "Not started after all: Pressed on the wrong page" in history
    assert "Started in" in history


def test_an_outcome_is_changed_on_its_own(signed_in, firing):
    now = timezone.now()
    start_firing(firing=firing, by=None, at=now)
    items = list(firing.items.all())
    finish_firing(
        firing=firing,
        outcomes={item.pk: ("fine", "") for item in items},
        hand=build.READ_COLD,
        by=None,
        at=now,
    )
    url = address("item_outcome", items[0].pk)
    page = signed_in("helper").get(address("firing_detail", firing.pk))
    assert url in page.content.decode()
    sent = {"outcome": "cracked", "note": "Right through the corner"}
    signed_in("helper").post(url, sent)
    item = LoadItem.across_studios.get(pk=items[0].pk)
    assert (item.outcome, item.outcome_note) == ("cracked", sent["note"])
    layer = item.of_pass.sheet.layer
    again_page = signed_in().get(f"/pieces/{layer.piece_id}/layers/{layer.number}/")
    assert "Right through the corner" in again_page.content.decode()
    assert 'value="Right through the corner"' in again_page.content.decode()
