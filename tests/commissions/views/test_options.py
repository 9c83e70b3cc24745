"""Pages of options: adding one, the client's choice among them, lines that are ticked."""

from decimal import Decimal

from django.test import Client
from django.urls import reverse

from commissions.models import Quote
from tests.commissions import build

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
    assert "The client picks one." in told
    assert "B: Smaller" in told
    browser.post(reverse("commissions:quote_send", args=[quote.pk]))
    token = build.token(quote.commission)
    shared = stranger.get(reverse("commissions:shared_page", args=[token]))
    assert "Choose one of 2." in shared.content.decode()
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
