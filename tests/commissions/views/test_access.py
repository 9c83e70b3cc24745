"""Who may open what: every address of the app except the client's own."""

import pytest
from django.urls import reverse
from django.utils import timezone

from commissions.services import payments, posts
from tests.commissions import build

POSTS = {
    "commission_close", "commission_reopen", "quote_send", "share_new", "share_revoke",
    "post_withdraw",
}  # fmt: skip


@pytest.fixture
def ids(cast):
    """Return one record of each kind, by the name of the address that takes it."""
    quote = build.accepted(cast)
    commission = quote.commission
    payment = payments.record_payment(
        commission=commission,
        amount=quote.total,
        received_date=build.day(-1),
        by=None,
        at=timezone.now(),
    )
    post = posts.post_news(
        commission=commission, text="News", by=None, at=timezone.now()
    )
    client, one = commission.client_id, commission.pk
    return {
        "commission_list": [],
        "commission_new": [],
        "client_list": [],
        "client_detail": [client],
        "client_edit": [client],
        "commission_detail": [one],
        "commission_edit": [one],
        "commission_close": [one],
        "commission_reopen": [one],
        "quote_new": [one],
        "payment_new": [one],
        "share_new": [one],
        "post_new": [one],
        "payment_take_back": [payment.pk],
        "share_revoke": [build.link(commission).pk],
        "post_withdraw": [post.pk],
        "quote_detail": [quote.pk],
        "quote_send": [quote.pk],
        "quote_pdf": [quote.pk],
        "quote_paper_state": [quote.pk],
    }


def ask(browser, name, args):
    address = reverse(f"commissions:{name}", args=args)
    return browser.post(address) if name in POSTS else browser.get(address)


def test_members_who_see_money_get_an_answer(ids, signed_in):
    for role in ("owner", "maker"):
        for name, args in ids.items():
            assert ask(signed_in(role), name, args).status_code < 500, name


@pytest.mark.parametrize("role", ["helper", "technician"])
def test_others_are_told_it_is_not_theirs(ids, signed_in, role):
    for name, args in ids.items():
        assert ask(signed_in(role), name, args).status_code == 403, name


def test_nobody_signed_in_is_led_to_the_door(ids, client):
    for name, args in ids.items():
        response = ask(client, name, args)
        assert response.status_code == 302, name
        assert "/sign-in/" in response["Location"], name


def test_another_studio_finds_nothing(ids, strangers, signed_in):
    browser = signed_in("owner", strangers)
    for name, args in ids.items():
        if args:
            assert ask(browser, name, args).status_code == 404, name
