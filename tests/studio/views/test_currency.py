"""The page of the studio's currency."""

from decimal import Decimal

import pytest
from django.urls import reverse

from studio.models import Glass, Material, Studio
from tests.commissions import build

PAGE = "studio:currency_edit"


def body(**changes) -> dict:
    return {"was": "USD", "currency": "eur", "rate": "0.9", "confirmed": "on"} | changes


def test_it_says_what_is_held_and_what_keeps_its_currency(cast, signed_in):
    Glass.across_studios.update(cost_per_m2=Decimal(80))
    build.sent(cast)
    told = signed_in().get(reverse(PAGE)).content.decode()
    assert "Held in USD" in told
    assert "1 price of glass" in told
    assert "1 open quote" in told
    assert "One USD in the new currency" in told


def test_prices_are_converted_and_one_tap_undoes_it(cast, signed_in):
    Glass.across_studios.update(cost_per_m2=Decimal(80))
    browser = signed_in()
    told = browser.post(reverse(PAGE), body(), follow=True).content.decode()
    cast.studio.refresh_from_db()
    assert cast.studio.currency == "EUR"
    undo = reverse("studio:currency_take_back")
    assert undo in told
    browser.post(undo)
    cast.studio.refresh_from_db()
    assert cast.studio.currency == "USD"
    assert Glass.across_studios.get().cost_per_m2 == Decimal(80)


def test_without_a_rate_or_a_confirmation_nothing_changes(cast, signed_in):
    Glass.across_studios.update(cost_per_m2=Decimal(80))
    browser = signed_in()
    for left_out in ("rate", "confirmed", "currency"):
        typed = body()
        del typed[left_out]
        assert browser.post(reverse(PAGE), typed).status_code == 422
    unknown = browser.post(reverse(PAGE), body(currency="XQX"))
    assert "no ISO 4217 currency" in unknown.content.decode()
    stale = browser.post(reverse(PAGE), body(was="GBP"))
    assert "is USD by now" in stale.content.decode()
    cast.studio.refresh_from_db()
    assert cast.studio.currency == "USD"


@pytest.mark.parametrize("page", ["studio:material_new", "commissions:rates_edit"])
def test_a_page_from_before_the_change_saves_no_price(cast, signed_in, page):
    browser = signed_in()
    form = browser.get(reverse(page)).context["form"]
    typed = {
        field.name: field.value()
        for field in form
        if field.value() not in {None, False}
    }
    typed |= {"name": "Grey enamel", "cost_per_unit": "0.12", "amount_used": "1"}
    typed |= {"kind": "enamel", "unit": "oz", "used_per": "pass area", "on_hand": "0"}
    Studio.objects.filter(pk=cast.studio.pk).update(currency="EUR")
    told = browser.post(reverse(page), typed)
    assert "Prices are in EUR by now" in told.content.decode()
    again = told.context["form"]
    assert again["shown_in"].value() == "EUR"
    assert not Material.across_studios.exists()
    assert browser.post(reverse(page), typed | {"shown_in": "EUR"}).status_code == 302


def test_the_studios_details_leave_the_currency_alone(cast, signed_in):
    page = signed_in().get(reverse("studio:studio_edit")).content.decode()
    assert 'name="currency"' not in page
