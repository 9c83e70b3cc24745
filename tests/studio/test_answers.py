"""A page with one form: shown, sent, refused, and left again."""

import pytest
from django import forms
from django.contrib.messages import get_messages
from django.contrib.messages.storage.fallback import FallbackStorage
from django.test import RequestFactory
from django_htmx.middleware import HtmxDetails

from studio.answers import FormPage, answer_form, form_page
from studio.errors import Refused
from tests.firing.pages import text_of

PAGE = FormPage(
    title="Close the kiln",
    submit="Close it",
    back_url="/kilns/7/",
    back_label="Heron",
    intro="Nobody can book it then.",
    facts=("Two bookings stand.",),
)


class ReasonForm(forms.Form):
    reason = forms.CharField(label="Reason")


@pytest.fixture
def asked(cast):
    """Return a function that makes a request as a view gets it."""

    def request(method="GET", **data):
        made = getattr(RequestFactory(), method.lower())("/kilns/7/close/", data)
        made.user, made.studio = cast.owner, cast.studio
        made.membership = cast.membership("owner")
        made.htmx = HtmxDetails(made)
        made.session = {}
        made._messages = FallbackStorage(made)
        return made

    return request


@pytest.fixture
def acts():
    """How often something was done."""
    return []


def answered(request, act):
    form = ReasonForm(request.POST if request.method == "POST" else None)
    return answer_form(request, PAGE, form, act, told="Heron is closed.")


def told(request):
    return [str(message) for message in get_messages(request)]


def test_looking_at_the_form_does_nothing(asked, acts):
    request = asked()
    answer = answered(request, lambda: acts.append(1))
    assert (answer.status_code, acts, told(request)) == (200, [], [])
    page = text_of(answer)
    for words in ("Close the kiln", "Close it", "Nobody can book it then.", "Heron"):
        assert words in page
    assert "Two bookings stand." in page
    assert 'href="/kilns/7/"' in answer.content.decode()


def test_a_form_sent_is_acted_on_once_and_leads_back_with_a_word(asked, acts):
    request = asked("POST", reason="New lid")
    answer = answered(request, lambda: acts.append(1))
    assert (answer.status_code, answer["Location"]) == (302, "/kilns/7/")
    assert (acts, told(request)) == ([1], ["Heron is closed."])


def test_a_form_filled_in_wrongly_does_nothing_and_says_what_is_wrong(asked, acts):
    request = asked("POST", reason="")
    answer = answered(request, lambda: acts.append(1))
    assert (answer.status_code, acts, told(request)) == (422, [], [])
    assert "Reason" in text_of(answer)


def test_a_refusal_is_told_beside_what_was_typed(asked):
    def refuse():
        raise Refused("Heron is running.")

    request = asked("POST", reason="New lid")
    answer = answered(request, refuse)
    assert (answer.status_code, told(request)) == (409, [])
    assert "Heron is running." in text_of(answer)
    assert 'value="New lid"' in answer.content.decode()


def test_a_fault_that_is_no_refusal_is_not_hidden(asked):
    def fail():
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        answered(asked("POST", reason="New lid"), fail)


def test_a_form_page_answers_with_its_status(asked):
    assert form_page(asked(), PAGE, ReasonForm()).status_code == 200
    assert form_page(asked(), PAGE, ReasonForm(), 409).status_code == 409
