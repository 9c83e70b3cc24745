"""The pages of quotes: priced while typing, saved, sent, printed."""

import pytest
from django.urls import reverse

from commissions.models import Quote
from studio.models import Delivery, Job, JobState
from tests.commissions import build
from tests.papers import needs_pango
from tests.worker import run_waiting_jobs

HTMX = {"HX-Request": "true"}


def new(commission) -> str:
    return reverse("commissions:quote_new", args=[commission.pk])


def body_of(response) -> dict:
    form = response.context["form"]
    values = {name: form[name].value() for name in form.fields}
    return {n: v for n, v in values.items() if v not in (None, False)}


def test_the_draft_is_priced_before_anything_is_stored(cast, signed_in):
    commission = build.commission(cast)
    response = signed_in().get(new(commission))
    told = response.content.decode()
    assert response.context["total"] in told
    assert "10 passes at 15 min" in told
    assert not Quote.across_studios.exists()


def test_typing_recomputes_the_price_as_a_fragment(cast, signed_in):
    commission = build.commission(cast)
    browser = signed_in()
    first = browser.get(new(commission))
    body = body_of(first) | {"recompute": "1", "markup_percent": "150"}
    response = browser.post(new(commission), body, headers=HTMX)
    told = response.content.decode()
    assert response.status_code == 200
    assert told.strip().startswith('<div id="price"')
    assert "<html" not in told
    assert response.context["total"] != first.context["total"]
    assert not Quote.across_studios.exists()


def test_recomputing_works_without_scripts(cast, signed_in):
    commission = build.commission(cast)
    browser = signed_in()
    body = body_of(browser.get(new(commission))) | {"recompute": "1"}
    response = browser.post(new(commission), body | {"markup_percent": "77"})
    assert response.status_code == 200
    assert "<html" in response.content.decode()
    assert 'value="77"' in response.content.decode()


def test_nonsense_while_typing_is_said_in_the_fragment(cast, signed_in):
    commission = build.commission(cast)
    browser = signed_in()
    body = body_of(browser.get(new(commission))) | {"recompute": "1"}
    response = browser.post(
        new(commission), body | {"markup_percent": "lots"}, headers=HTMX
    )
    assert response.status_code == 409
    assert "Put right what is marked below" in response.content.decode()


def test_keeping_it_makes_the_next_version(cast, signed_in):
    commission = build.commission(cast)
    browser = signed_in("maker")
    shown = browser.get(new(commission))
    body = body_of(shown) | {"message": "With the tide turning", "shows_lines": "on"}
    response = browser.post(new(commission), body)
    quote = Quote.across_studios.get()
    assert response["Location"] == reverse("commissions:quote_detail", args=[quote.pk])
    assert cast.viewer().money(quote.total) == shown.context["total"]
    assert quote.message == "With the tide turning"
    assert quote.shows_lines
    assert quote.made_by == cast.maker
    again = browser.get(new(commission))
    assert again.context["form"]["message"].value() == "With the tide turning"


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"markup_percent": "-5"}, "Write 0 or more"),
        ({"markup_percent": "1e400"}, "digits"),
        ({"labour_rate_per_hour": "nan"}, "Write a number"),
        ({"valid_until_date": "2001-01-01"}, "has passed"),
        ({"promised_date": "2001-01-01"}, "has passed"),
        ({"deposit_percent": "80", "stage_percent": "30"}, "at most 100"),
        ({"minutes_painting": "-1"}, "Write a time such as"),
    ],
)
def test_bad_input_keeps_what_was_typed_and_stores_nothing(
    cast, signed_in, wrong, words
):
    commission = build.commission(cast)
    browser = signed_in()
    body = body_of(browser.get(new(commission))) | {"message": "Kept words"} | wrong
    response = browser.post(new(commission), body)
    assert response.status_code in {409, 422}
    assert words in response.content.decode()
    assert "Kept words" in response.content.decode()
    assert not Quote.across_studios.exists()


def test_a_price_beyond_all_measure_is_said_on_the_page(cast, signed_in):
    commission = build.commission(cast)
    browser = signed_in()
    body = body_of(browser.get(new(commission))) | {
        "labour_rate_per_hour": "1000000",
        "minutes_edges": "5000 h",
        "overhead_percent": "300",
        "remake_percent": "300",
    }
    answer = browser.post(new(commission), body)
    assert answer.status_code == 409
    assert "too many digits" in answer.content.decode()
    assert not Quote.across_studios.exists()


def test_work_that_fits_no_kiln_is_said_on_the_page(cast, signed_in):
    commission = build.commission(cast, width_mm=3000)
    response = signed_in().get(new(commission))
    assert response.status_code == 409
    assert cast.kiln.name in response.content.decode()


def test_a_closed_or_accepted_commission_is_not_quoted_again(cast, signed_in):
    commission = build.commission(cast)
    build.accepted(cast, of=commission)
    response = signed_in().get(new(commission), follow=True)
    assert "accepted already" in response.content.decode()


def test_sending_shows_the_link_and_words_and_mails_nothing_by_itself(
    cast, signed_in, mailoutbox
):
    client = build.client(cast, email="perpetua@example.org")
    quote = build.quote(cast, of=build.commission(cast, client=client))
    response = signed_in().post(
        reverse("commissions:quote_send", args=[quote.pk]), follow=True
    )
    told = response.content.decode()
    assert f"/quotes/{quote.pk}/letter/" in told
    assert response.context["share_url"] in told
    assert response.context["share_url"] in response.context["letter"]
    assert "mailto:perpetua@example.org?subject=" in told
    assert mailoutbox == []
    assert not Delivery.across_studios.exists()


def test_sending_twice_is_refused_in_words(cast, signed_in):
    quote = build.sent(cast)
    address = reverse("commissions:quote_send", args=[quote.pk])
    response = signed_in().post(address, follow=True)
    assert "cannot be sent" in response.content.decode()


@needs_pango
def test_the_pdf_is_waited_for_and_then_sent(cast, signed_in):
    quote = build.quote(cast)
    browser = signed_in()
    pdf = reverse("commissions:quote_pdf", args=[quote.pk])
    state = reverse("commissions:quote_paper_state", args=[quote.pk])
    assert browser.get(pdf)["Location"] == state
    assert "Make the PDF" in browser.get(state).content.decode()
    assert browser.post(pdf)["Location"] == state
    waiting = browser.get(state, headers=HTMX).content.decode()
    assert "being made" in waiting
    assert f'hx-get="{state}"' in waiting
    Job.across_studios.update(progress="The disk is full")
    waiting = browser.get(state, headers=HTMX).content.decode()
    assert "The disk is full." in waiting
    assert run_waiting_jobs() == [JobState.DONE]
    assert "The PDF is ready" in browser.get(state, headers=HTMX).content.decode()
    assert "<html" in browser.get(state).content.decode()
    response = browser.get(pdf)
    assert response["Content-Type"] == "application/pdf"
    assert b"".join(response.streaming_content).startswith(b"%PDF")


@needs_pango
def test_a_pdf_that_failed_says_why_and_can_be_tried_again(
    cast, signed_in, monkeypatch
):
    quote = build.sent(cast)
    monkeypatch.setattr("studio.pdf.pdf_available", lambda: False)
    run_waiting_jobs()
    browser = signed_in()
    address = reverse("commissions:quote_paper_state", args=[quote.pk])
    told = browser.get(address).content.decode()
    assert "apt-get install" in told
    assert "Try again" in told
    monkeypatch.undo()
    browser.post(reverse("commissions:quote_pdf", args=[quote.pk]))
    assert run_waiting_jobs() == [JobState.DONE]
