"""Payments, links and news on a commission's page, and what Today and a piece show."""

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from commissions.models import Payment, Post
from commissions.selectors.commissions import view_commission
from studio.models import Picture
from studio.panels import PanelRequest, piece_panels, today_items
from studio.selectors.pieces import piece_view
from studio.services.pieces import finish_piece, note_into_kiln, note_out_of_kiln
from studio.undo import ONE_TAP
from tests import make
from tests.commissions import build
from tests.commissions.services.test_payments import stack


def body(**changes) -> dict:
    return {
        "amount": "100",
        "received_date": build.day(-1).isoformat(),
        "method": "Bank transfer",
        "note": "",
    } | changes


def test_what_is_due_is_already_written_in(cast, signed_in):
    quote = build.accepted(cast)
    address = reverse("commissions:payment_new", args=[quote.commission_id])
    form = signed_in().get(address).context["form"]
    due = quote.instalments.get(number=1).amount
    assert Decimal(form["amount"].value()) == due


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"amount": "0"}, "above zero"),
        ({"amount": "-5"}, "above zero"),
        ({"amount": "nan"}, "such as 1250.50"),
        ({"amount": "12.345"}, "Write at most 2 decimals"),
        ({"amount": "999999"}, "still to be paid"),
        ({"amount": "ten"}, "such as 1250.50"),
        ({"received_date": "2199-01-01"}, "still to come"),
        ({"received_date": "0001-01-01"}, "Write a year between 2000 and 2200"),
        ({"received_date": "yesterday"}, "Write a day"),
    ],
)
def test_a_wrong_payment_is_named_and_kept(cast, signed_in, wrong, words):
    quote = build.accepted(cast)
    address = reverse("commissions:payment_new", args=[quote.commission_id])
    response = signed_in().post(address, body(**wrong))
    assert response.status_code in {409, 422}
    assert words in response.content.decode()
    assert "Bank transfer" in response.content.decode()
    assert not Payment.across_studios.exists()


def test_an_amount_too_long_to_be_stored_is_named(cast, signed_in):
    commission = build.commission(cast)
    address = reverse("commissions:payment_new", args=[commission.pk])
    response = signed_in().post(address, body(amount="12345678901"))
    assert response.status_code == 422
    assert "Write at most" in response.content.decode()


def test_a_payment_is_recorded_and_taken_back(cast, signed_in):
    quote = build.accepted(cast)
    browser = signed_in()
    browser.post(reverse("commissions:payment_new", args=[quote.commission_id]), body())
    payment = Payment.across_studios.get()
    address = reverse("commissions:payment_take_back", args=[payment.pk])
    assert browser.get(address).status_code == 200
    Payment.across_studios.update(recorded_at=timezone.now() - 2 * ONE_TAP)
    assert browser.post(address, {"reason": ""}).status_code == 422
    assert browser.post(address, {"reason": "Bounced"}).status_code == 302
    assert browser.post(address, {"reason": "Again"}).status_code == 409
    view = view_commission(quote.commission, at=timezone.now())
    assert view.money.paid == 0
    detail = reverse("commissions:commission_detail", args=[quote.commission_id])
    assert "Bounced" in browser.get(detail).content.decode()


def test_a_link_is_made_and_closed(cast, signed_in):
    commission = build.commission(cast)
    browser = signed_in("maker")
    browser.post(reverse("commissions:share_new", args=[commission.pk]))
    link = commission.share_links.get()
    browser.post(reverse("commissions:share_revoke", args=[link.pk]))
    link.refresh_from_db()
    assert link.revoked_at is not None


def test_news_with_pictures_is_posted_and_withdrawn(cast, signed_in):
    commission = build.accepted(cast).commission
    browser = signed_in()
    address = reverse("commissions:post_new", args=[commission.pk])
    assert browser.get(address).status_code == 200
    browser.post(
        address,
        {
            "text": "Two layers are dry",
            "uploads": [build.image(), build.image(colour="navy")],
        },
    )
    post = Post.across_studios.get()
    assert post.pictures.count() == 2
    browser.post(reverse("commissions:post_withdraw", args=[post.pk]))
    post.refresh_from_db()
    assert post.withdrawn_at is not None


def test_pictures_of_the_piece_can_be_chosen_and_no_others(cast, strangers, signed_in):
    commission = build.accepted(cast).commission
    other = build.accepted(cast).commission
    for one in (commission, other):
        signed_in().post(
            reverse("commissions:post_new", args=[one.pk]),
            {"text": "New", "uploads": [build.image()]},
        )
    mine, theirs = Picture.across_studios.order_by("pk")
    address = reverse("commissions:post_new", args=[commission.pk])
    good = signed_in().post(address, {"text": "Again", "pictures": [mine.pk]})
    assert good.status_code == 302
    for wrong in (theirs.pk, "9" * 30, "x"):
        bad = signed_in().post(address, {"text": "Again", "pictures": [wrong]})
        assert bad.status_code == 422


def test_empty_news_and_a_bad_file_are_refused(cast, signed_in):
    commission = build.commission(cast)
    address = reverse("commissions:post_new", args=[commission.pk])
    empty = signed_in().post(address, {"text": " "})
    assert empty.status_code == 422
    bad = build.image()
    bad.truncate(20)
    response = signed_in().post(address, {"text": "Kept words", "uploads": [bad]})
    assert response.status_code == 409
    assert "Kept words" in response.content.decode()
    assert not Post.across_studios.exists()


def words_of(items) -> list[str]:
    return [item.state for item in items if "/commissions/" in item.href]


def test_today_says_what_asks_for_a_hand(cast):
    build.commission(cast)
    build.quote(cast)
    build.accepted(cast)
    asked = PanelRequest(viewer=cast.viewer(), now=timezone.now())
    told = words_of(today_items(asked))
    assert told[0].startswith("Accepted today")
    assert told[1].endswith("is due")
    assert "Quote 1 is not sent yet" in told
    assert "Waits for its first quote" in told


def test_a_quote_without_an_answer_is_asked_after_in_time(cast):
    build.sent(cast)
    now = timezone.now()
    assert words_of(today_items(PanelRequest(viewer=cast.viewer(), now=now))) == []
    later = now + dt.timedelta(days=8)
    told = words_of(today_items(PanelRequest(viewer=cast.viewer(), now=later)))
    assert told[0].startswith("No answer to quote 1")


@pytest.mark.parametrize("role", ["helper", "technician"])
def test_who_sees_no_money_sees_no_client(cast, role):
    commission = build.accepted(cast).commission
    piece = commission.commissioned_pieces.get().piece
    asked = PanelRequest(viewer=cast.viewer(role), now=timezone.now())
    assert words_of(today_items(asked)) == []
    shown = piece_panels(asked, piece)
    assert not [p for p in shown if p.template.startswith("commissions/")]


def test_a_pieces_page_says_for_whom_it_is(cast):
    commission = build.accepted(cast).commission
    piece = commission.commissioned_pieces.get().piece
    asked = PanelRequest(viewer=cast.viewer("maker"), now=timezone.now())
    panel = next(
        p
        for p in piece_panels(asked, piece)
        if p.template == "commissions/_panel_piece.html"
    )
    assert panel.context["view"].commission == commission
    other = make.piece(studio=cast.studio, glass=cast.glass)
    shown = [p.template for p in piece_panels(asked, other)]
    own = [one for one in shown if one.startswith("commissions/")]
    assert own == ["commissions/_panel_piece_cost.html"], "nobody ordered it"


def test_the_balance_falls_due_when_the_piece_is_finished(cast):
    quote = build.accepted(cast, of=build.commission(cast, passes_per_layer=1))
    piece = quote.commission.commissioned_pieces.get().piece
    stack(cast, piece)
    now = timezone.now()
    due_at_stack = view_commission(quote.commission, at=now).money.due_now
    first, second, _ = (part.amount for part in quote.instalments.all())
    assert due_at_stack == first + second
    note_into_kiln(piece=piece, firing_kind="full fuse", by=None, at=now)
    note_out_of_kiln(
        piece=piece, firing_kind="full fuse", outcome="fine", by=None, at=now
    )
    finish_piece(piece=piece, by=cast.maker, at=now)
    assert piece_view(cast.studio, piece.pk).is_closed
    assert view_commission(quote.commission, at=now).money.due_now == quote.total
