"""Addenda on the pages: the maker's choice of prices, the client's answer, the PDFs."""

from html import unescape

from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from commissions.models import Quote
from commissions.services import quotes
from tests.commissions import build
from tests.commissions.services.test_addenda import accepted_commission, change
from tests.commissions.views.test_quotes import body_of
from tests.papers import needs_pango
from tests.worker import run_waiting_jobs


def address(commission) -> str:
    return reverse("commissions:addendum_new", args=[commission.pk])


def shared(commission, name="shared_page", *args) -> str:
    return reverse(f"commissions:{name}", args=[build.token(commission), *args])


def told(response) -> str:
    return unescape(response.content.decode())


def sent_addendum(cast, commission) -> Quote:
    drafted = build.addendum(cast, of=commission)
    return quotes.send_quote(quote=drafted, by=cast.owner, at=timezone.now())


def test_whose_prices_count_is_chosen_by_the_maker_and_never_beforehand(
    cast, signed_in
):
    commission = accepted_commission(cast)
    change(commission, layer_count=9)
    browser = signed_in()
    page = browser.get(address(commission))
    assert page.status_code == 200
    assert "Choose above" in told(page)
    radios = told(page).split('name="rates_from"')[1:]
    assert len(radios) == 2
    assert not any("checked" in radio.split(">")[0] for radio in radios)
    body = body_of(page)
    body.pop("rates_from", None)
    refused = browser.post(address(commission), body)
    assert "Choose the prices" in told(refused)
    assert commission.quotes.count() == 1
    # The choice fills in its rates, which are seen before they are kept.
    body["rates_from"] = "version"
    filled = browser.post(address(commission), body)
    assert commission.quotes.count() == 1
    assert "Total" in told(filled)
    body = body_of(filled) | {"rates_from": "version", "filled_from": "version"}
    assert browser.post(address(commission), body).status_code == 302
    assert commission.quotes.get(version=2).adds_to.version == 1


def test_nothing_accepted_leads_to_another_version(cast, signed_in):
    commission = build.commission(cast)
    page = signed_in().get(address(commission), follow=True)
    assert "make another version" in told(page)


def test_the_page_of_the_commission_leads_to_the_addendum_and_back(cast, signed_in):
    commission = accepted_commission(cast)
    change(commission, layer_count=9)
    browser = signed_in()
    detail = reverse("commissions:commission_detail", args=[commission.pk])
    assert "Make an addendum" in told(browser.get(detail))
    back = reverse("commissions:commission_as_agreed", args=[commission.pk])
    page = browser.post(back, follow=True)
    assert "back to what was accepted" in told(page)
    commission.refresh_from_db()
    assert commission.layer_count == 6
    nothing = build.commission(cast, title="Ebb")
    back = reverse("commissions:commission_as_agreed", args=[nothing.pk])
    assert "Nothing is accepted yet" in told(browser.post(back, follow=True))


def test_the_client_reads_what_changes_and_accepts_it(cast):
    commission = accepted_commission(cast)
    change(commission, layer_count=9)
    addendum = sent_addendum(cast, commission)
    browser = Browser()
    page = told(browser.get(shared(commission)))
    assert "Addendum to quote 1, accepted " in page
    assert "more than accepted so far" in page
    assert "I accept this addendum" in page
    answer = {"quote": addendum.pk, "name": "Perpetua Vane", "accepts": "on"}
    old = browser.post(
        shared(commission, "shared_quote_accept"),
        answer | {"quote": commission.quotes.get(version=1).pk},
    )
    assert "again=1" in old.url
    addendum.refresh_from_db()
    assert addendum.accepted_at is None
    browser.post(shared(commission, "shared_quote_accept"), answer)
    addendum.refresh_from_db()
    assert addendum.accepted_at is not None
    page = told(browser.get(shared(commission)))
    assert "Addendum 2: Accepted by Perpetua Vane" in page
    assert "Quote 1: Accepted by Perpetua Vane" in page


def test_the_client_declines_an_addendum_and_keeps_the_contract(cast):
    commission = accepted_commission(cast)
    change(commission, layer_count=9)
    addendum = sent_addendum(cast, commission)
    Browser().post(
        shared(commission, "shared_quote_decline"),
        {"quote": addendum.pk, "reason": "Too dear"},
    )
    page = told(Browser().get(shared(commission)))
    assert "Quote 1: Accepted by Perpetua Vane" in page
    assert "Accept the addendum" not in page


@needs_pango
def test_the_acceptance_is_a_document_of_its_own_beside_what_was_sent(cast, signed_in):
    commission = accepted_commission(cast)
    quote = commission.quotes.get()
    run_waiting_jobs()
    browser = signed_in()
    sent_url = reverse("commissions:quote_pdf", args=[quote.pk])
    accepted_url = reverse("commissions:quote_accepted_pdf", args=[quote.pk])

    def read(address: str, reader: Browser = browser) -> bytes:
        response = reader.get(address)
        assert response["Content-Type"] == "application/pdf"
        return b"".join(response.streaming_content)

    before = read(sent_url)
    assert "not made yet" in told(browser.get(accepted_url))
    assert "being made" in told(browser.post(accepted_url, follow=True))
    run_waiting_jobs()
    accepted = read(accepted_url)
    assert accepted != before == read(sent_url)
    theirs = shared(commission, "shared_accepted_pdf", quote.pk)
    assert read(theirs, Browser()) == accepted
    detail = reverse("commissions:quote_detail", args=[quote.pk])
    assert "Accepted by Perpetua Vane" in told(browser.get(detail))


def test_a_quote_that_is_not_accepted_has_no_paper_of_its_acceptance(cast, signed_in):
    quote = build.sent(cast)
    page = reverse("commissions:quote_accepted_pdf", args=[quote.pk])
    assert signed_in().get(page).status_code == 404
    page = shared(quote.commission, "shared_accepted_pdf", quote.pk)
    assert Browser().get(page).status_code == 404
