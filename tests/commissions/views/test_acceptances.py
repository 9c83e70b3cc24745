"""The form of an acceptance that a member heard of, and its undo."""

from django.test import Client as Browser
from django.urls import reverse

from commissions.models import Quote
from tests.commissions import build


def page(name: str, quote: Quote) -> str:
    return reverse(f"commissions:{name}", args=[quote.pk])


def test_it_is_recorded_shown_and_undone_with_one_tap(cast, signed_in):
    quote = build.sent(cast)
    browser = signed_in()
    assert page("quote_acceptance_new", quote) in (
        browser.get(page("quote_detail", quote)).content.decode()
    )
    form = browser.get(page("quote_acceptance_new", quote)).context["form"]
    assert form.initial["name"] == "Perpetua Vane"
    body = {"name": "P. Vane", "day": build.day(0).isoformat(), "how": "on the phone"}
    told = browser.post(
        page("quote_acceptance_new", quote), body, follow=True
    ).content.decode()
    assert "Accepted by P. Vane" in told
    assert "on the phone" in told
    shared = reverse("commissions:shared_page", args=[build.token(quote.commission)])
    assert "Accepted by P. Vane" in Browser().get(shared).content.decode()
    undo = page("quote_acceptance_take_back", quote)
    assert undo in told
    told = browser.post(undo, follow=True).content.decode()
    assert "is taken back" in told
    quote.refresh_from_db()
    assert quote.accepted_at is None


def test_what_is_left_out_is_named_and_what_was_typed_stays(cast, signed_in):
    quote = build.sent(cast)
    body = {"name": "P. Vane", "day": build.day(5).isoformat(), "how": "on the phone"}
    told = signed_in().post(page("quote_acceptance_new", quote), body)
    assert "Give a day from then to today" in told.content.decode()
    assert "on the phone" in told.content.decode()
    del body["how"]
    assert (
        signed_in().post(page("quote_acceptance_new", quote), body).status_code == 422
    )
