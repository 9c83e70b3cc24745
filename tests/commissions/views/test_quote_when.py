"""The part of the quote's page that says when the work can be ready."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from commissions.models import Quote
from studio.selectors.due_dates import due_dates
from tests import make
from tests.commissions import build
from tests.commissions.views.test_quotes import HTMX, body_of, new
from tests.firing import build as build_firing


def test_the_date_comes_as_a_fragment_with_margins_and_reasons(cast, signed_in):
    commission = build.commission(cast)
    browser = signed_in()
    shown = browser.get(new(commission))
    assert "Kiln time is held for a sent quote" in shown.content.decode()
    assert "promise" not in shown.context
    response = browser.post(
        new(commission), body_of(shown) | {"when": "1"}, headers=HTMX
    )
    told = response.content.decode()
    assert response.status_code == 200
    assert told.strip().startswith('<div id="when"')
    found = response.context["promise"]
    assert found.ready_date <= found.date_80 <= found.date_95
    assert response.context["kept_80"] in told
    assert response.context["kept_95"] in told
    assert "Painting of layer" in told
    assert str(cast.kiln) in told
    assert not Quote.across_studios.exists()


def test_the_price_goes_by_the_kilns_of_the_date_unless_others_are_picked(
    cast, signed_in
):
    commission = build.commission(cast)
    # It costs nothing an hour, so the price would take it, but nothing fits it now.
    free = make.kiln(studio=cast.studio, hourly_rate=0)
    build_firing.booking(kiln=free, starts_at=timezone.now(), hours=24 * 200)
    browser = signed_in()
    shown = browser.get(new(commission))
    assert str(free) in shown.context["kilns"]
    body = body_of(shown)
    response = browser.post(new(commission), body | {"when": "1"}, headers=HTMX)
    assert response["HX-Trigger-After-Settle"] == "planned"
    planned = {f"planned_{name}": pk for name, pk in response.context["planned_kilns"]}
    assert set(planned.values()) == {cast.kiln.pk}
    priced = browser.post(new(commission), body | planned | {"recompute": "1"})
    assert str(free) not in priced.context["kilns"]
    picked = planned | {"fuse_kiln": free.pk, "recompute": "1"}
    priced = browser.post(new(commission), body | picked)
    assert f"full fuse and anneal in {free}" in priced.context["kilns"]
    browser.post(new(commission), body | planned)
    assert Quote.across_studios.get().inputs["choices"]["fuse_kiln"] == cast.kiln.pk


def test_it_works_as_a_plain_link(cast, signed_in):
    commission = build.commission(cast)
    browser = signed_in("maker")
    assert "?when=1" in browser.get(new(commission)).content.decode()
    response = browser.get(new(commission), {"when": "1"})
    told = response.content.decode()
    assert "<html" in told
    assert "Why not sooner" in told
    date = response.context["promise"].date_80
    assert f'name="use_promised" value="{date:%Y-%m-%d}"' in told


def test_more_minutes_give_a_later_date(cast, signed_in):
    commission = build.commission(cast)
    browser = signed_in()
    body = body_of(browser.get(new(commission))) | {"when": "1"}
    first = browser.post(new(commission), body, headers=HTMX)
    longer = body | {"minutes_painting": "30000"}
    second = browser.post(new(commission), longer, headers=HTMX)
    dates = [one.context["promise"].ready_date for one in (first, second)]
    assert dates[0] < dates[1]


@pytest.mark.parametrize("headers", [{}, HTMX], ids=["page", "fragment"])
def test_the_button_fills_the_promised_date_and_keeps_what_was_typed(
    cast, signed_in, headers
):
    commission = build.commission(cast)
    browser = signed_in()
    body = body_of(browser.get(new(commission))) | {
        "promised_date": "2031-01-01",
        "message": "With the tide turning",
        "use_promised": "2031-05-09",
    }
    response = browser.post(new(commission), body, headers=headers)
    told = response.content.decode()
    assert response.status_code == 200
    assert 'value="2031-05-09"' in told
    assert "2031-01-01" not in told
    assert ("With the tide turning" in told) == (not headers)
    assert ("<html" in told) == (not headers)
    assert not Quote.across_studios.exists()


def test_a_refusal_says_which_rule_and_which_facts(cast, signed_in):
    commission = build.commission(cast, layer_count=60)
    browser = signed_in()
    body = body_of(browser.get(new(commission))) | {"when": "1"}
    told = browser.post(new(commission), body, headers=HTMX).content.decode()
    assert "No date can be given" in told
    assert f"{cast.kiln}: " in told


def test_a_number_that_is_none_is_said_and_no_date_given(cast, signed_in):
    commission = build.commission(cast)
    browser = signed_in()
    body = body_of(browser.get(new(commission))) | {
        "when": "1",
        "minutes_edges": "lots",
    }
    response = browser.post(new(commission), body, headers=HTMX)
    assert "Put right what is marked below" in response.content.decode()


@pytest.mark.parametrize("role", ["helper", "technician"])
def test_only_for_those_who_see_money(cast, signed_in, role):
    commission = build.commission(cast)
    browser = signed_in(role)
    assert browser.get(new(commission), {"when": "1"}).status_code == 403
    assert browser.post(new(commission), {"when": "1"}).status_code == 403


def test_another_studio_s_commission_is_not_there(strangers, signed_in):
    commission = build.commission(strangers)
    assert signed_in().post(new(commission), {"when": "1"}).status_code == 404


def test_accepted_quotes_give_the_due_days_of_their_own_studio(cast, strangers):
    when = dt.date(2031, 5, 9)
    quote = build.accepted(cast, promised_date=when)
    build.accepted(strangers, promised_date=when)
    made = quote.commission.commissioned_pieces(manager="across_studios").all()
    (piece,) = [one.piece_id for one in made if not one.is_maquette]
    assert due_dates(cast.studio) == {piece: when}


def test_the_queries_are_bounded(cast, signed_in):
    commission = build.commission(cast, **build.maquette())
    browser = signed_in()
    body = body_of(browser.get(new(commission))) | {"when": "1"}

    def count():
        with CaptureQueriesContext(connection) as caught:
            response = browser.post(new(commission), body, headers=HTMX)
        assert response.context["promise"].maquette_date
        return len(caught)

    few = count()
    for number in range(3):
        build.accepted(cast, of=build.commission(cast, title=f"Other {number}"))
    # The first open pieces bring their layers, sheets, passes, glass and painters.
    assert count() <= few + 5
    more = count()
    build.accepted(cast, of=build.commission(cast, title="One more"))
    assert count() == more


def test_a_sent_quote_says_when_and_why_not_sooner(cast, signed_in):
    quote = build.sent(cast)
    browser = signed_in()
    address = reverse("commissions:quote_detail", args=[quote.pk])
    shown = browser.get(address).content.decode()
    assert f'hx-get="{address}?when=1"' in shown
    assert "Why not sooner" not in shown
    part = browser.get(address, {"when": "1"}, headers=HTMX)
    told = part.content.decode()
    assert told.strip().startswith('<div id="when"')
    assert part.context["kept_80"] in told
    assert "Why not sooner" in told
    assert "use_promised" not in told, "what was sent cannot be changed"
    whole = browser.get(address, {"when": "1"}).content.decode()
    assert "<html" in whole
    assert "Why not sooner" in whole
    assert (
        "hx-get" not in whole.partition('id="part-when"')[2].partition("</section>")[0]
    )


def test_a_sent_quote_is_reckoned_as_it_was_quoted(cast, signed_in):
    quote = build.sent(cast)
    address = reverse("commissions:quote_detail", args=[quote.pk])
    browser = signed_in()
    before = browser.get(address, {"when": "1"}).context["promise"].ready_date
    commission = quote.commission
    commission.layer_count += 12
    commission.save()
    after = browser.get(address, {"when": "1"}).context["promise"].ready_date
    assert after == before


def test_an_answered_quote_is_not_worked_out_anew(cast, signed_in):
    quote = build.accepted(cast)
    address = reverse("commissions:quote_detail", args=[quote.pk])
    answer = signed_in().get(address, {"when": "1"})
    assert "promise" not in answer.context
    assert 'id="part-when"' not in answer.content.decode()
