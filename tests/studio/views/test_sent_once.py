"""A form with a key counts once; who sends it, and when it was done."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from studio.models import SENT_AGAIN_WITHIN, SentOnce
from studio.services.layers import record_painted
from studio.services.sent_once import forget_keys
from tests import make

pytestmark = pytest.mark.django_db

KEY = "0123456789abcdef" * 2


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass, layers=3)


@pytest.fixture
def send(cast, piece, signed_in):
    """Return a function that sends layers as painted, as a phone does later."""
    client = signed_in("maker")

    def send(
        *, kept_s="0", key=KEY, who=f"{cast.maker.pk}-{cast.studio.pk}", passes=None
    ):
        if passes is None:
            passes = [waiting(piece)[0].pk]
        return client.post(
            reverse("studio:piece_paint", args=[piece.pk]),
            {"passes": passes, "once": key, "once_who": who},
            headers={"X-Kept-For": kept_s} if kept_s else {},
        )

    return send


def waiting(piece):
    return [one for one in make.passes_of(piece) if one.number == 1]


def painted(piece):
    return [one for one in make.passes_of(piece) if one.painted_at]


def test_what_comes_twice_counts_once(send, piece):
    first, second = [one.pk for one in waiting(piece)[:2]]
    assert send(passes=[first]).status_code == 204
    # Another record under the same key would show itself.
    assert send(passes=[second]).status_code == 204
    assert [one.pk for one in painted(piece)] == [first]


def test_a_browser_is_led_where_the_first_answer_led(send, piece):
    first = send(kept_s="")
    again = send(kept_s="")
    assert first.status_code == again.status_code == 302
    assert first.url == again.url == reverse("studio:piece_detail", args=[piece.pk])


def test_what_is_refused_changes_nothing_and_may_come_again(send, piece):
    assert send(passes=[]).status_code == 422
    assert not SentOnce.objects.exists()
    assert send().status_code == 204
    assert len(painted(piece)) == 1


def test_nobody_records_for_another(send, cast, piece):
    for other in (f"{cast.owner.pk}-{cast.studio.pk}", f"{cast.maker.pk}-0", ""):
        assert send(who=other).status_code == 401
    assert painted(piece) == []


def test_the_time_of_doing_counts_within_bounds(send, piece):
    now = timezone.now()
    send(kept_s="7200")
    (one,) = painted(piece)
    assert abs(now - timedelta(hours=2) - one.painted_at) < timedelta(minutes=1)


@pytest.mark.parametrize("said", ["9" * 8, "9" * 400, "-60", "soon", "²"])
def test_a_time_of_doing_that_cannot_be_is_now(send, piece, said):
    now = timezone.now()
    send(kept_s=said.encode("utf-8").decode("latin-1"))
    (one,) = painted(piece)
    assert abs(now - one.painted_at) < timedelta(minutes=1)


def test_keys_are_forgotten_when_no_phone_sends_them_any_more(send):
    send()
    now = timezone.now()
    assert forget_keys(now) == 0
    assert forget_keys(now + SENT_AGAIN_WITHIN + timedelta(minutes=1)) == 1


def test_what_another_recorded_meanwhile_is_refused_in_words(send, piece):
    first = waiting(piece)[0]
    record_painted(passes=[first], by=None, at=make.NOW)
    answer = send(passes=[first.pk])
    assert answer.status_code == 422
    assert "data-error-summary" in answer.content.decode()
    assert not SentOnce.objects.exists()
