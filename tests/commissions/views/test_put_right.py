"""Closing, payments, links and news: undone with one tap, and the undoing undone."""

from decimal import Decimal

import pytest
from django.contrib.messages import get_messages
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from commissions.models import Payment, Post, ShareLink
from commissions.selectors.commissions import view_commission
from commissions.services import closing
from studio.money import plain_number
from studio.services.pieces import mark_lost
from studio.undo import ONE_TAP
from tests.commissions import build
from tests.commissions.services.test_payments import pay
from tests.commissions.views.test_money_and_news import body

pytestmark = pytest.mark.django_db


def at(name, pk):
    return reverse(f"commissions:{name}", args=[pk])


def undo_of(response) -> str:
    """Return the address behind the Undo button of what was just done."""
    told = get_messages(response.wsgi_request)
    return [one.extra_tags for one in told if one.extra_tags][-1]


def shown_to_client(commission) -> str:
    address = reverse("commissions:shared_page", args=[build.token(commission)])
    return Browser().get(address).content.decode()


def test_closing_asks_about_the_money_and_is_undone_with_one_tap(cast, signed_in):
    commission = build.accepted(cast).commission
    pay(cast, commission, 100)
    browser = signed_in()
    asked = browser.post(at("commission_close", commission.pk), {"reason": "Gone"})
    assert asked.status_code == 422
    page = asked.content.decode()
    assert "Gone" in page
    assert "The $100.00 that came in" in page
    closed = browser.post(
        at("commission_close", commission.pk),
        {
            "reason": "Gone",
            "money": "refunded",
            "amount": "40",
            "money_reason": "Half was painted",
        },
    )
    page = browser.get(at("commission_detail", commission.pk)).content.decode()
    assert "$40.00 paid back, $60.00 kept: Half was painted" in page
    reopened = browser.post(undo_of(closed))
    view = view_commission(commission, at=timezone.now())
    assert not view.is_closed
    assert view.money.paid == 100
    browser.post(undo_of(reopened))
    view = view_commission(commission, at=timezone.now())
    assert view.is_closed
    assert view.money.paid == 60


def test_a_page_of_reopening_says_what_comes_back(cast, signed_in):
    commission = build.accepted(cast).commission
    then = timezone.now() - 2 * ONE_TAP
    closing.close_commission(commission=commission, reason="Gone", by=None, at=then)
    browser = signed_in()
    address = at("commission_reopen", commission.pk)
    assert "Kilns have to be booked anew" in browser.get(address).content.decode()
    assert browser.post(address).status_code == 422
    assert browser.post(address, {"reason": "Back"}).status_code == 302


def test_a_second_equal_payment_is_confirmed_on_the_form(cast, signed_in):
    commission = build.accepted(cast).commission
    browser = signed_in()
    address = at("payment_new", commission.pk)
    assert "came_twice" not in browser.get(address).content.decode()
    browser.post(address, body(amount="10"))
    asked = browser.post(address, body(amount="10", note="kept"))
    assert asked.status_code == 409
    page = asked.content.decode()
    assert "Yes, it came twice" in page
    assert 'value="kept"' in page
    done = browser.post(address, body(amount="10", came_twice="on"))
    assert done.status_code == 302
    assert Payment.across_studios.count() == 2


def test_a_credit_is_confirmed_and_the_client_sees_it(cast, signed_in):
    quote = build.accepted(cast)
    browser = signed_in()
    address = at("payment_new", quote.commission_id)
    amount = plain_number(quote.total + 50)
    asked = browser.post(address, body(amount=amount))
    assert "Yes, the rest is a credit" in asked.content.decode()
    browser.post(address, body(amount=amount, is_credit="on"))
    page = browser.get(at("commission_detail", quote.commission_id)).content.decode()
    assert "$50.00 is the client" in page
    assert "Your credit: $50.00." in shown_to_client(quote.commission)


def test_what_is_paid_in_advance_is_on_the_clients_page(cast):
    quote = build.accepted(cast)
    pay(cast, quote.commission, quote.instalments.first().amount + Decimal(50))
    assert "Paid in advance: $50.00." in shown_to_client(quote.commission)


def test_a_payment_is_undone_and_put_back_with_one_tap_each(cast, signed_in):
    commission = build.accepted(cast).commission
    browser = signed_in()
    recorded = browser.post(at("payment_new", commission.pk), body())
    taken = browser.post(undo_of(recorded))
    assert view_commission(commission, at=timezone.now()).money.paid == 0
    browser.post(undo_of(taken))
    assert view_commission(commission, at=timezone.now()).money.paid == 100


def test_a_link_closed_by_mistake_works_again_at_the_same_address(cast, signed_in):
    commission = build.accepted(cast).commission
    link = build.link(commission)
    token = build.token(commission)
    browser = signed_in()
    closed = browser.post(at("share_revoke", link.pk))
    address = reverse("commissions:shared_page", args=[token])
    assert Browser().get(address).status_code == 410
    browser.post(undo_of(closed))
    assert Browser().get(address).status_code == 200


def test_an_old_link_stays_closed_while_another_is_open(cast, signed_in):
    commission = build.accepted(cast).commission
    old = build.link(commission)
    browser = signed_in()
    browser.post(at("share_revoke", old.pk))
    page = browser.get(at("commission_detail", commission.pk)).content.decode()
    assert at("share_restore", old.pk) in page
    made = browser.post(at("share_new", commission.pk))
    assert browser.post(at("share_restore", old.pk)).status_code == 409
    browser.post(undo_of(made))
    assert browser.post(at("share_restore", old.pk)).status_code == 302
    assert ShareLink.across_studios.get(revoked_at=None) == old


def test_news_is_withdrawn_and_posted_again(cast, signed_in):
    commission = build.accepted(cast).commission
    browser = signed_in()
    posted = browser.post(at("post_new", commission.pk), {"text": "Dry by now"})
    withdrawn = browser.post(undo_of(posted))
    assert "Dry by now" not in shown_to_client(commission)
    browser.post(undo_of(withdrawn))
    assert "Dry by now" in shown_to_client(commission)
    post = Post.across_studios.get()
    Post.across_studios.update(at=timezone.now() - 2 * ONE_TAP)
    assert browser.post(at("post_withdraw", post.pk)).status_code == 422
    browser.post(at("post_withdraw", post.pk), {"reason": "Wrong client"})
    assert "Dry by now" not in shown_to_client(commission)


def test_a_lost_piece_is_remade_and_told_from_the_commissions_page(cast, signed_in):
    commission = build.accepted(cast).commission
    piece = commission.commissioned_pieces.get().piece
    mark_lost(piece=piece, note="Fell", by=cast.owner, at=timezone.now())
    browser = signed_in()
    page = browser.get(at("commission_detail", commission.pk)).content.decode()
    assert at("lost_remake", piece.pk) in page
    assert "The client does not know yet" in page
    before = browser.get(at("lost_remake", piece.pk)).content.decode()
    assert "5 layers to paint again" in before
    assert "was priced for this risk" in before
    started = browser.post(at("lost_remake", piece.pk))
    assert "lost" not in shown_to_client(commission)
    browser.post(undo_of(started))
    browser.post(at("lost_remake", piece.pk))
    told = browser.post(at("lost_tell", piece.pk), {"text": "It fell."})
    assert "Your first piece was lost" in shown_to_client(commission)
    browser.post(undo_of(told))
    assert "It fell." not in shown_to_client(commission)


def test_a_piece_of_the_studios_own_has_no_remake_here(cast, strangers, signed_in):
    theirs = build.accepted(strangers).commission.commissioned_pieces.get().piece
    assert signed_in().get(at("lost_remake", theirs.pk)).status_code == 404
