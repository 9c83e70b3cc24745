"""Saying what was typed: one tap, at a given time, undone; and when nothing is typed."""

import datetime as dt

import pytest
from django.utils import timezone

from firing.firings.services.running import start_firing
from firing.loads.selectors.firings import firings as all_firings
from firing.models import Booking, Firing, Judgement, TypedProgramme
from firing.readings.forms.typed import sealed
from firing.readings.selectors.verdict_inputs import inputs_sha256
from firing.readings.selectors.verdict_words import words_of
from studio.roles import Can, allowed
from studio.viewer import Viewer
from tests.firing import build
from tests.firing.old_verdict import OLD
from tests.firing.pages import address, assert_doors, text_of

HOUR = dt.timedelta(hours=1)
OPTION = OLD["options"][1]
HOLD = OPTION | {"action": "hold, then go on", "is_recommended": False}
GO_ON = OPTION | {"action": "go on", "is_recommended": True}
EVERYBODY = ("owner", "maker", "helper", "technician")


@pytest.fixture
def firing(cast):
    """A fuse that was started 30 hours ago, and what its readings said since."""
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    start = timezone.now() - 30 * HOUR
    fused = build.fuse(piece=piece, kiln=cast.kiln, starts_at=start)
    start_firing(firing=fused, by=None, at=start)
    found = all_firings(cast.studio).get(pk=fused.pk)
    judge(found, [GO_ON, HOLD])
    return found


def judge(firing, options, **changes):
    """Keep a judgement with these options for the firing as it is."""
    Judgement.across_studios.filter(firing=firing).delete()
    return Judgement.across_studios.create(
        studio=firing.studio,
        firing=firing,
        inputs_sha256=inputs_sha256(firing),
        made_at=timezone.now(),
        verdict="not over yet",
        numbers=OLD | {"options": options, "is_over": False} | changes,
    )


def option_as_typed(option=HOLD):
    return {
        "action": option["action"],
        "schedule": {
            "start_c": option["start_c"],
            "segments": option["segments"],
        },
    }


def say(browser, firing, *, follow=True, **more):
    data = {"what": sealed(firing, option_as_typed()), **more}
    url = f"{address('firing_typed', firing.pk)}?do=hold,_then_go_on"
    return browser.post(url, data, follow=follow)


def booking_of(firing):
    return Booking.across_studios.get(pk=firing.booking_id)


def test_who_may_say_so(cast, client, signed_in, strangers, firing):
    runners = tuple(role for role in EVERYBODY if allowed(role, Can.RUN_FIRINGS))
    assert_doors(
        client=client,
        signed_in=signed_in,
        strangers=strangers,
        url=address("firing_typed", firing.pk),
        roles=runners,
        post=True,
    )


def test_one_tap_and_everything_follows(signed_in, firing):
    browser = signed_in("helper")
    sheet = browser.get(f"{address('firing_type_now', firing.pk)}?do=hold,_then_go_on")
    assert "I typed this" in text_of(sheet)
    before = booking_of(firing)
    page = say(browser, firing)
    told = text_of(page)
    assert "this firing follows what you typed" in told
    assert "hold the kiln where it is, then go on" in told
    assert "It was not typed" in told
    typed = TypedProgramme.across_studios.get()
    after = booking_of(firing)
    assert after.planned_curve != before.planned_curve
    opens_at = typed.at + dt.timedelta(seconds=typed.curve[-1][0])
    assert abs(after.opens_at - opens_at) < dt.timedelta(seconds=1)
    assert abs(typed.at - timezone.now()) < HOUR / 20
    undo = address("typed_take_back", typed.pk)
    assert f'action="{undo}"' in page.content.decode(), "one tap takes it back"
    assert "Taken back" in text_of(browser.post(undo, follow=True))
    assert booking_of(firing).planned_curve == before.planned_curve


def test_the_time_can_be_given(cast, signed_in, firing):
    at = (timezone.now() - 3 * HOUR).replace(second=0, microsecond=0)
    local = at.astimezone(Viewer.of_studio(cast.studio).zone)
    say(signed_in(), firing, typed_at=local.strftime("%Y-%m-%dT%H:%M"))
    assert TypedProgramme.across_studios.get().at == at


@pytest.mark.parametrize(
    ("typed_at", "told"),
    [
        ("2999-01-01T05:40", "Write a year between"),
        ("tomorrow", "Write a day and a time"),
        ("2001-01-01T05:40", "was started"),
    ],
)
def test_a_time_that_cannot_be_is_told_and_kept(signed_in, firing, typed_at, told):
    page = say(signed_in(), firing, typed_at=typed_at)
    assert page.status_code in (409, 422)
    assert told in text_of(page)
    assert typed_at in page.content.decode(), "what was written stays"
    assert not TypedProgramme.across_studios.exists()


def test_what_was_typed_comes_with_the_page_and_from_nowhere_else(signed_in, firing):
    page = say(signed_in(), firing, what="forged")
    assert "did not come along" in text_of(page)
    assert not TypedProgramme.across_studios.exists()
    # Newer readings make other numbers; what somebody typed is what they saw.
    judge(firing, [GO_ON])
    say(signed_in(), firing)
    typed = TypedProgramme.across_studios.get()
    assert typed.programme["segments"] == HOLD["segments"]


def test_late_it_is_taken_back_with_a_reason(signed_in, firing):
    say(signed_in(), firing)
    TypedProgramme.across_studios.update(made_at=timezone.now() - HOUR)
    undo = address("typed_take_back", TypedProgramme.across_studios.get().pk)
    assert "Say why" in text_of(signed_in().post(undo))
    signed_in().post(undo, {"reason": "Wrong kiln"})
    assert TypedProgramme.across_studios.get().taken_back_reason == "Wrong kiln"


def test_going_on_needs_no_typing(signed_in, firing):
    browser = signed_in("helper")
    page = browser.get(address("firing_judgement", firing.pk))
    text = text_of(page)
    assert "Nothing to type: let the controller finish." in text
    assert "If the controller stopped" in text
    assert "What to type now" in text, "to hold must be typed"
    sheet = browser.get(f"{address('firing_type_now', firing.pk)}?do=go_on")
    html = sheet.content.decode()
    assert html.index("Nothing to type") < html.index("If the controller stopped")
    assert html.index("If the controller stopped") < html.index("<table")


def test_a_kiln_that_was_falling_at_the_last_reading_is_looked_at(cast, firing):
    falls = {
        "kind": "cut",
        "segment": "anneal soak",
        "start_s": OLD["last_s"] - 7200,
        "end_s": OLD["last_s"],
        "start_c": 480.0,
        "end_c": 400.0,
        "amount": 80.0,
    }
    judged = judge(firing, [GO_ON], faults=[falls])
    words = words_of(judged, viewer=Viewer.of_studio(cast.studio), now=timezone.now())
    (told,) = words.faults
    assert told.startswith("Power cut since")
    assert words.options[0].types_nothing
    assert words.options[0].is_falling
    falls |= {"end_s": OLD["last_s"] - 3600}
    judged = judge(firing, [GO_ON], faults=[falls])
    words = words_of(judged, viewer=Viewer.of_studio(cast.studio), now=timezone.now())
    assert "since" not in words.faults[0]
    assert not words.options[0].is_falling


@pytest.mark.parametrize("is_over", [False, True])
def test_after_unloading_no_advice_for_a_running_kiln_is_given(
    signed_in, firing, is_over
):
    Firing.across_studios.filter(pk=firing.pk).update(finished_at=timezone.now())
    firing = all_firings(firing.studio).get(pk=firing.pk)
    judge(firing, [GO_ON, HOLD, OPTION], is_over=is_over)
    page = text_of(signed_in().get(address("firing_judgement", firing.pk)))
    for told in (
        "Go on as planned",
        "Hold the kiln",
        "What to type",
        "Nothing to type",
    ):
        assert told not in page
    assert ("Anneal it again" in page) is is_over
    assert ("Import the readings down to the opening temperature" in page) is (
        not is_over
    )
    assert "still cooling" not in page
    detail = text_of(signed_in().get(address("firing_detail", firing.pk)))
    assert "still cooling" not in detail
