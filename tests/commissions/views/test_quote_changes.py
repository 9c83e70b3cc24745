"""Another version of a quote: what differs is listed, and whose rates it takes chosen."""

from decimal import Decimal
from html import unescape

import pytest
from django.utils import timezone

from commissions.models import Quote
from commissions.services.commissions import change_commission
from studio.models import Kiln
from tests.commissions import build
from tests.commissions.views.test_quotes import HTMX, body_of, new


def change(commission, **changes):
    change_commission(commission=commission, by=None, at=timezone.now(), **changes)
    commission.refresh_from_db()


def listed(response, part: str) -> dict[str, tuple[str, str]]:
    rows = getattr(response.context["changes"], part)
    told = unescape(response.content.decode())
    for row in rows:
        assert row.what in told
        assert row.old in told
        assert row.new in told
    return {row.what: (row.old, row.new) for row in rows}


def newest(commission) -> Quote:
    return Quote.across_studios.filter(commission=commission).order_by("version").last()


def chosen(quote: Quote) -> dict:
    return quote.inputs["choices"]


def test_nothing_is_listed_when_nothing_differs(cast, signed_in):
    commission = build.commission(cast)
    assert "changes" not in signed_in().get(new(commission)).context
    build.quote(cast, of=commission)
    response = signed_in().get(new(commission))
    assert "changes" not in response.context
    assert "rates_from" not in response.content.decode()


def test_a_changed_request_is_listed_and_quoted_as_it_is_now(cast, signed_in):
    commission = build.commission(cast)
    first = build.quote(cast, of=commission, rates={"markup_percent": Decimal(33)})
    change(
        commission,
        passes_per_layer=3,
        gallery_cut_percent=Decimal(30),
        width_mm=400,
    )
    browser = signed_in()
    response = browser.get(new(commission))
    found = listed(response, "request")
    assert found["Image"] == ("Painted, 2 passes each", "Painted, 3 passes each")
    assert found["Gallery's share"] == ("0 %", "30 %")
    viewer = cast.viewer()
    assert found["Size"] == (viewer.size(300, 200), viewer.size(400, 200))
    refused = browser.post(new(commission), body_of(response))
    assert "Choose the rates of this version." in refused.content.decode()
    assert newest(commission) == first
    browser.post(
        new(commission),
        body_of(refused) | {"filled_from": "version", "rates_from": "version"},
    )
    second = newest(commission)
    assert second.version == 2
    assert Decimal(chosen(second)["gallery_cut_percent"]) == 30
    assert Decimal(chosen(second)["markup_percent"]) == 33
    assert second.total > first.total
    # The next one starts from that, and has nothing to tell.
    again = browser.get(new(commission))
    assert listed(again, "request") == {}


def test_a_time_set_for_this_quote_grows_with_the_work(cast, signed_in):
    commission = build.commission(cast)
    browser = signed_in()
    body = body_of(browser.get(new(commission)))
    # 10 passes of 15 min, and 0.06 m² each at 1000 min a square metre.
    assert body["minutes_painting"] == "12 h 30 min"
    browser.post(new(commission), body | {"minutes_painting": "25 h"})
    told = newest(commission).lines.get(label="Painting").explanation
    assert told.startswith("Set for this quote; by the rule 12 h 30 min (10 passes")
    shown = browser.get(new(commission)).context["form"]
    assert shown["minutes_painting"].value() == "25 h"
    change(commission, passes_per_layer=4)  # twice as many
    shown = browser.get(new(commission)).context["form"]
    assert shown["minutes_painting"].value() == "50 h"


@pytest.mark.parametrize(
    ("choice", "hourly"), [("today", Decimal(50)), ("version", Decimal(35))]
)
def test_the_rates_are_those_that_were_chosen(cast, signed_in, choice, hourly):
    build.rates(cast, labour_rate_per_hour=35)
    commission = build.commission(cast)
    build.quote(cast, of=commission)
    build.rates(cast, labour_rate_per_hour=50)
    browser = signed_in()
    response = browser.get(new(commission))
    old, now = listed(response, "rates")["Hourly rate for work"]
    assert ("35" in old, "50" in now) == (True, True)
    told = response.content.decode()
    assert "As in version 1" in told
    typed = body_of(response) | {
        "message": "Words kept",
        "filled_from": "version",
        "rates_from": choice,
    }
    filled = browser.post(new(commission), typed | {"fill": "1"}, headers=HTMX)
    assert "<html" in filled.content.decode()
    assert "Words kept" in filled.content.decode()
    assert Quote.across_studios.count() == 1
    browser.post(
        new(commission),
        body_of(filled) | {"filled_from": choice, "rates_from": choice},
    )
    second = newest(commission)
    assert second.version == 2
    assert Decimal(chosen(second)["labour_rate_per_hour"]) == hourly


def test_a_choice_not_filled_in_yet_is_shown_before_it_is_kept(cast, signed_in):
    build.rates(cast, labour_rate_per_hour=35)
    commission = build.commission(cast)
    build.quote(cast, of=commission)
    build.rates(cast, labour_rate_per_hour=50)
    browser = signed_in()
    shown = browser.get(new(commission))
    typed = body_of(shown) | {"filled_from": "version", "rates_from": "today"}
    response = browser.post(new(commission), typed)
    assert Quote.across_studios.count() == 1
    assert "filled in" in response.content.decode()
    assert response.context["form"]["labour_rate_per_hour"].value() == "50"
    assert response.context["total"] != shown.context["total"]


def test_prices_that_are_always_todays_are_listed(cast, signed_in):
    commission = build.commission(cast)
    build.quote(cast, of=commission)
    Kiln.across_studios.filter(studio=cast.studio).update(hourly_rate=77)
    response = signed_in().get(new(commission))
    found = listed(response, "prices")
    assert any("77" in now for _, now in found.values())
    assert not response.context["changes"].has_choice


def test_rates_in_another_currency_are_never_taken_over(cast, signed_in):
    build.rates(cast, labour_rate_per_hour=35)
    commission = build.commission(cast)
    build.quote(cast, of=commission, rates={"labour_rate_per_hour": Decimal(90)})
    type(cast.studio).objects.filter(pk=cast.studio.pk).update(currency="EUR")
    response = signed_in().get(new(commission))
    assert listed(response, "prices")["Currency"] == ("USD", "EUR")
    assert not response.context["changes"].has_choice
    assert response.context["form"]["labour_rate_per_hour"].value() == "35"
