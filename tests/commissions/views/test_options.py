"""Pages of options: adding one, the client's choice among them, lines that are ticked."""

import datetime as dt
from decimal import Decimal

from django.test import Client
from django.urls import reverse
from django.utils import timezone

from commissions import documents
from commissions.models import Quote
from commissions.selectors.parts import nets_of_quote
from commissions.services.invoices import make_part_invoice
from studio.money import round_money
from tests.attacks.fuzz_pages import read_page
from tests.commissions import build
from tests.papers import needs_pango, read_pdf
from tests.worker import run_waiting_jobs

BODY = {"name": "Smaller", "width_mm": "8 in", "height_mm": "6 in", "layer_count": "4"}


def test_an_option_is_added_sent_and_picked_by_the_client(cast, signed_in):
    stranger = Client(enforce_csrf_checks=True)
    quote = build.quote(cast)
    browser = signed_in()
    page = reverse("commissions:quote_detail", args=[quote.pk])
    wrong = browser.post(
        reverse("commissions:quote_option_new", args=[quote.pk]),
        BODY | {"width_mm": "-3 in"},
    )
    assert wrong.status_code == 422
    assert "Smaller" in wrong.content.decode()
    browser.post(reverse("commissions:quote_option_new", args=[quote.pk]), BODY)
    told = browser.get(page).content.decode()
    assert "for the client to pick one" in told
    assert "Send both to the client" in told
    assert "B: Smaller" in told
    browser.post(reverse("commissions:quote_send", args=[quote.pk]))
    token = build.token(quote.commission)
    shared = stranger.get(reverse("commissions:shared_page", args=[token]))
    assert "Choose one of 2." in shared.content.decode()
    sent = read_page(shared.content.decode(), address="/c/")
    (form,) = [one for one in sent.forms if one.address.endswith("/accept/")]
    named = [field.name for field in form.fields if field.kind != "hidden"]
    assert named == ["quote", "name", "accepts"], "in the form that is sent"
    second = Quote.across_studios.get(option="B")
    accept = reverse("commissions:shared_quote_accept", args=[token])
    answer = {"name": "Perpetua Vane", "accepts": "on"}
    nothing = stranger.post(accept, answer)
    assert nothing.status_code == 422
    stranger.post(accept, answer | {"quote": second.pk})
    second.refresh_from_db()
    assert second.accepted_at is not None
    after = stranger.get(reverse("commissions:shared_page", args=[token]))
    assert "Choose one" not in after.content.decode()


def test_a_removed_option_is_gone_and_lines_are_ticked(cast, signed_in):
    quote = build.quote(cast)
    browser = signed_in()
    browser.post(reverse("commissions:quote_option_new", args=[quote.pk]), BODY)
    second = Quote.across_studios.get(option="B")
    browser.post(reverse("commissions:quote_option_remove", args=[second.pk]))
    assert not Quote.across_studios.filter(pk=second.pk).exists()
    browser.post(
        reverse("commissions:quote_lines", args=[quote.pk]), {"line": ["1", "x", "2"]}
    )
    assert quote.lines.filter(is_shown=True).count() == 2


def test_who_owes_whom_is_said_where_a_gallery_sells(cast, signed_in):
    gallery = build.client(cast, name="Long Quay")
    commission = build.commission(
        cast, gallery=gallery, gallery_cut_percent=Decimal(40), gallery_sells=True
    )
    quote = build.quote(cast, of=commission)
    told = signed_in().get(reverse("commissions:quote_detail", args=[quote.pk]))
    words = " ".join(told.context["owing"])
    write = cast.viewer().money
    assert f"Perpetua Vane pays Long Quay {write(quote.total)}" in words
    assert f"owes you {write(quote.to_studio)}" in words
    assert sum(part.amount for part in quote.instalments.all()) == quote.to_studio
    passed_on = build.commission(cast, gallery=gallery, gallery_cut_percent=Decimal(40))
    quote = build.quote(cast, of=passed_on)
    told = signed_in().get(reverse("commissions:quote_detail", args=[quote.pk]))
    assert "You owe Long Quay" in " ".join(told.context["owing"])


def test_a_sale_by_a_gallery_needs_its_share(cast, signed_in):
    commission = build.commission(cast)
    address = reverse("commissions:commission_edit", args=[commission.pk])
    browser = signed_in()
    form = browser.get(address).context["form"]
    values = {name: form[name].value() for name in form.fields}
    body = {n: v for n, v in values.items() if v not in (None, False)}
    answer = browser.post(address, body | {"gallery_sells": "on"})
    assert answer.status_code == 422
    assert "Write the share that the gallery keeps" in answer.content.decode()
    client = commission.client_id
    answer = browser.post(
        address, body | {"gallery": client, "gallery_cut_percent": "30"}
    )
    assert "The gallery is the client already" in answer.content.decode()


@needs_pango
def test_a_consignment_note_says_share_and_return(cast, signed_in):
    gallery = build.client(cast, name="Long Quay", address="2 Long Quay")
    commission = build.commission(
        cast,
        gallery=gallery,
        gallery_cut_percent=Decimal(40),
        gallery_returns_date=dt.date(2031, 5, 9),
    )
    quote = build.accepted(cast, of=commission)
    browser = signed_in()
    address = reverse("commissions:consignment_pdf", args=[commission.pk])
    browser.post(address)
    run_waiting_jobs()
    _, told = read_pdf(b"".join(browser.get(address).streaming_content))
    keeps = quote.lines.get(section="gallery").amount
    write = cast.viewer().money
    for words in (
        "Consignment note",
        "Long Quay",
        "keeps 40 %",
        write(keeps),
        write(quote.net - keeps),
        "Fri 9 May 2031",
    ):
        assert words in told


def test_without_a_gallery_there_is_no_note(cast, signed_in):
    commission = build.commission(cast)
    address = reverse("commissions:consignment_pdf", args=[commission.pk])
    answer = signed_in().post(address, follow=True)
    assert "Name the gallery in the brief first" in answer.content.decode()


def test_an_exempt_client_and_a_gallery_that_resells_are_not_taxed(cast):
    build.rates(cast, tax_percent=Decimal(20), tax_name="VAT")
    exempt = build.client(cast, name="Museum", tax_status="exempt", tax_number="E 7")
    quote = build.quote(cast, of=build.commission(cast, client=exempt))
    assert (quote.tax, quote.total) == (0, quote.net)
    assert quote.inputs["tax_note"] == "No tax: exempt, no. E 7."
    seller = {"gallery_cut_percent": Decimal(40), "gallery_sells": True}
    resale = build.client(cast, name="Long Quay", tax_status="resale")
    quote = build.quote(cast, of=build.commission(cast, gallery=resale, **seller))
    keeps = quote.lines.get(section="gallery").amount
    assert quote.tax > 0, "the gallery collects it of the client"
    assert quote.to_studio == quote.net - keeps
    assert [(one.tax.percent, one.net) for one in nets_of_quote(quote)] == [
        (0, quote.net - keeps)
    ]
    taxed = build.client(cast, name="Short Quay")
    quote = build.quote(cast, of=build.commission(cast, gallery=taxed, **seller))
    (net,) = nets_of_quote(quote)
    assert (net.tax.percent, net.net) == (20, quote.net - keeps)
    assert quote.to_studio == (quote.net - keeps) + round_money(net.net / 5, "USD")


def test_a_gallery_that_sells_is_invoiced(cast):
    gallery = build.client(cast, name="Long Quay", tax_status="resale")
    commission = build.commission(
        cast,
        gallery=gallery,
        gallery_cut_percent=Decimal(40),
        gallery_sells=True,
    )
    quote = build.accepted(cast, of=commission)
    made = make_part_invoice(
        instalment=quote.instalments.get(number=1), by=cast.owner, at=timezone.now()
    )
    assert made.client == gallery
    assert made.total == quote.instalments.get(number=1).amount


def test_a_collector_sees_what_they_pay_the_gallery_and_not_the_studios_part(cast):
    gallery = build.client(cast, name="Long Quay", tax_status="resale")
    commission = build.commission(
        cast,
        gallery=gallery,
        gallery_cut_percent=Decimal(40),
        gallery_sells=True,
    )
    quote = build.accepted(cast, of=commission)
    write = cast.viewer().money
    address = reverse("commissions:shared_page", args=[build.token(commission)])
    told = Client().get(address).content.decode()
    assert "to Long Quay" in told
    assert write(quote.total) in told
    paper = documents.quote_paper(quote)
    assert paper.instalments == (("Price", "to Long Quay", write(quote.total)),)
    for part in quote.instalments.all():
        assert write(part.amount) not in told
    assert write(quote.to_studio) not in told
    assert "To pay now" not in told


def test_an_option_starts_from_the_day_of_the_first_and_asks_no_day_without_one(
    cast, signed_in
):
    browser = signed_in()
    promised = build.quote(cast, promised_date=build.day(60))
    page = browser.get(reverse("commissions:quote_option_new", args=[promised.pk]))
    assert f'value="{build.day(60)}"' in page.content.decode()
    plain = build.quote(cast)
    page = browser.get(reverse("commissions:quote_option_new", args=[plain.pk]))
    assert "promised_date" not in page.content.decode()
