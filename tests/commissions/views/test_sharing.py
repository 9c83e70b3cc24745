"""The client's page: opens with the right link only, shows only what is theirs."""

import datetime as dt
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from threading import Barrier

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from commissions import sharing as doors
from commissions.models import Quote, ShareLink
from commissions.services import closing, payments, posts, quotes, sharing
from firing.firings.services.running import start_firing
from studio.models import HistoryEntry, Piece, Studio
from studio.money import format_money
from studio.services import layers, pictures
from studio.services import pieces as piece_services
from tests import make
from tests.commissions import build
from tests.firing import build as heat
from tests.papers import needs_pango
from tests.patience import LONG_S
from tests.worker import run_waiting_jobs


@pytest.fixture(autouse=True)
def _no_earlier_guesses():
    cache.clear()


@pytest.fixture
def stranger():
    """A browser that nobody signed in with, and that checks cross-site tokens."""
    return Browser(enforce_csrf_checks=True)


def page(token: str, name: str = "shared_page", *args) -> str:
    return reverse(f"commissions:{name}", args=[token, *args])


def answer(about: Quote, **changes) -> dict:
    return {"quote": about.pk, "name": "Perpetua Vane", "accepts": "on"} | changes


def test_the_page_opens_without_an_account_and_says_where_things_stand(cast, stranger):
    quote = build.sent(cast, message="A shoreline at first light.")
    response = stranger.get(page(build.token(quote.commission)))
    assert response.status_code == 200
    told = response.content.decode()
    assert "Your quote is ready" in told
    assert "A shoreline at first light." in told
    assert "Gullmarsh" in told
    assert "Slack water" in told
    assert "not for food" in told


def test_price_terms_and_work_stand_before_the_button_that_accepts(cast, stranger):
    quote = build.sent(cast, message="A shoreline at first light.")
    told = stranger.get(page(build.token(quote.commission))).content.decode()
    before, _, after = told.partition("Accept the quote")
    said = [part.label for part in quote.instalments.all()]
    said += [part.get_due_on_display() for part in quote.instalments.all()]
    said += [
        cast.viewer().money(quote.total),
        "A shoreline",
        "Thickness",
        "Quote (PDF)",
    ]
    for words in said:
        assert words in before
        assert words not in after, "said once"


def test_nothing_of_the_studios_inside_is_shown(cast, stranger):
    build.rates(cast, markup_percent=Decimal("23.5"))
    quote = build.accepted(cast)
    told = stranger.get(page(build.token(quote.commission))).content.decode()
    for inside in ("Margin", "23.5", "Overhead", "Painted slowly", "/pieces/"):
        assert inside not in told
    for person in (cast.owner, cast.maker, cast.helper):
        assert person.name not in told
        assert person.email not in told


def test_lines_are_shown_when_the_maker_says_so(cast, stranger):
    quote = build.sent(cast, shows_lines=True)
    told = stranger.get(page(build.token(quote.commission))).content.decode()
    assert "Mark-up" in told
    assert "Painting" in told


def test_every_answer_keeps_the_address_private(cast, stranger):
    quote = build.sent(cast)
    good = build.token(quote.commission)
    for token in (good, "nonsense"):
        response = stranger.get(page(token))
        assert response["Referrer-Policy"] == "no-referrer"
        assert "noindex" in response["X-Robots-Tag"]
        assert response["Cache-Control"] == "no-store"


@pytest.mark.parametrize("spoil", [str.upper, lambda t: t[:-1], lambda t: t + "x"])
def test_a_wrong_token_opens_nothing(cast, stranger, spoil):
    token = build.token(build.commission(cast))
    response = stranger.get(page(spoil(token)))
    assert response.status_code == 404
    assert "Slack water" not in response.content.decode()


def test_the_database_alone_opens_nothing(cast, stranger):
    commission = build.commission(cast)
    link = build.link(commission)
    assert stranger.get(page(link.nonce)).status_code == 404
    forged = link.nonce + "A" * 32
    assert stranger.get(page(forged)).status_code == 404


def test_many_wrong_tokens_are_answered_shortly_but_a_right_one_opens(cast, stranger):
    token = build.token(build.commission(cast))
    codes = [
        stranger.get(page(f"guess{n}")).status_code
        for n in range(doors.WRONG_TOKENS + 1)
    ]
    assert codes[-2:] == [404, 429]
    assert stranger.get(page(token)).status_code == 200


def test_a_closed_link_says_so(cast, stranger):
    commission = build.commission(cast)
    link, token = build.link(commission), build.token(commission)
    sharing.revoke_share_link(link=link, by=cast.owner, at=timezone.now())
    response = stranger.get(page(token))
    assert response.status_code == 410
    assert "It was withdrawn" in response.content.decode()
    assert "Slack water" not in response.content.decode()


def test_a_link_that_ran_out_says_so(cast, stranger):
    commission = build.commission(cast)
    token = build.token(commission)
    past = timezone.now() - dt.timedelta(days=1)
    ShareLink.across_studios.update(expires_at=past)
    response = stranger.get(page(token))
    assert response.status_code == 410
    assert "It has expired" in response.content.decode()


def test_accepting_makes_the_piece_and_is_shown(cast, stranger):
    quote = build.sent(cast)
    token = build.token(quote.commission)
    response = stranger.post(page(token, "shared_quote_accept"), answer(quote))
    assert response.status_code == 302
    assert response["Location"] == page(token)
    told = stranger.get(page(token)).content.decode()
    assert "You have accepted" in told
    assert "From the edge: 6 layers" in told
    assert "Accept the quote" not in told
    assert Piece.across_studios.count() == 1


def test_accepting_twice_makes_one_piece(cast, stranger):
    quote = build.sent(cast)
    address = page(build.token(quote.commission), "shared_quote_accept")
    for _ in range(2):
        assert stranger.post(address, answer(quote)).status_code == 302
    assert Piece.across_studios.count() == 1


@pytest.mark.parametrize(
    "typed", [{}, {"name": "Somebody else"}, {"name": "", "accepts": ""}]
)
def test_a_second_acceptance_says_by_whom_and_when_the_first_was(cast, stranger, typed):
    commission = build.commission(cast)
    old = build.sent(cast, of=commission)
    quote = build.accepted(cast, of=commission)
    before = HistoryEntry.across_studios.count()
    address = page(build.token(commission), "shared_quote_accept")
    when = cast.viewer().clock(quote.accepted_at)
    for shown in (quote, old):
        response = stranger.post(address, answer(shown, **typed), follow=True)
        told = response.content.decode()
        assert response.status_code == 200
        assert f"{quote.accepted_by_name} accepted quote 2 already" in told
        assert when in told
    again = Quote.across_studios.get(pk=quote.pk)
    assert (again.accepted_by_name, again.accepted_at) == (
        "Perpetua Vane",
        quote.accepted_at,
    )
    assert HistoryEntry.across_studios.count() == before
    assert Piece.across_studios.count() == 1


def test_the_page_of_accepted_work_says_who_accepted(cast, stranger):
    quote = build.accepted(cast)
    told = stranger.get(page(build.token(quote.commission))).content.decode()
    assert "Quote 1: Accepted by Perpetua Vane" in told
    assert "already" not in told


@pytest.mark.parametrize(
    "wrong", [{"name": ""}, {"accepts": ""}, {"quote": "x"}, {"name": "a" * 200}]
)
def test_a_form_that_is_not_filled_in_keeps_what_was_typed(cast, stranger, wrong):
    quote = build.sent(cast)
    address = page(build.token(quote.commission), "shared_quote_accept")
    response = stranger.post(address, answer(quote, **wrong))
    assert response.status_code == 422
    typed = {"name": "Perpetua Vane"} | wrong
    assert typed["name"] in response.content.decode()
    assert not Piece.across_studios.exists()


def test_a_superseded_quote_is_not_accepted_by_an_old_page(cast, stranger):
    commission = build.commission(cast)
    old = build.sent(cast, of=commission)
    build.sent(cast, of=commission, rates={"markup_percent": Decimal(90)})
    address = page(build.token(commission), "shared_quote_accept")
    response = stranger.post(address, answer(old))
    assert response.status_code == 409
    assert "replaced this quote" in response.content.decode()
    assert not Piece.across_studios.exists()


def test_a_draft_or_somebody_elses_quote_is_not_there_to_accept(cast, stranger):
    commission = build.commission(cast)
    build.sent(cast, of=commission)
    address = page(build.token(commission), "shared_quote_accept")
    for other in (build.quote(cast, of=commission), build.sent(cast)):
        assert stranger.post(address, answer(other)).status_code == 404
    assert not Piece.across_studios.exists()


def test_declining_tells_the_studio_why(cast, stranger):
    quote = build.sent(cast)
    token = build.token(quote.commission)
    response = stranger.post(
        page(token, "shared_quote_decline"),
        {"quote": quote.pk, "reason": "Larger, please"},
    )
    assert response.status_code == 302
    quote.refresh_from_db()
    assert quote.declined_reason == "Larger, please"
    assert "You have declined" in stranger.get(page(token)).content.decode()
    told = [entry.what for entry in HistoryEntry.across_studios.all()]
    assert any("Larger, please" in words for words in told)


def test_only_a_post_answers(cast, stranger):
    token = build.token(build.sent(cast).commission)
    for name in ("shared_quote_accept", "shared_quote_decline"):
        assert stranger.get(page(token, name)).status_code == 405


@pytest.mark.django_db(transaction=True)
def test_two_phones_accepting_at_once_make_one_piece(cast):
    quote = build.sent(cast)
    address = page(build.token(quote.commission), "shared_quote_accept")
    gate = Barrier(2)

    def accept(name: str) -> int:
        try:
            gate.wait(timeout=LONG_S)
            return Browser().post(address, answer(quote, name=name)).status_code
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        assert list(pool.map(accept, ["Ada", "Ben"])) == [302, 302]
    assert Piece.across_studios.count() == 1


def picture(cast, **changes):
    return pictures.add_picture(
        studio=cast.studio,
        upload=build.image(),
        name="photo.jpg",
        by=cast.owner,
        at=timezone.now(),
        **changes,
    )


def test_only_pictures_of_theirs_are_sent(cast, stranger):
    mine, other = build.accepted(cast).commission, build.accepted(cast).commission
    token = build.token(mine)
    own_piece = mine.commissioned_pieces.get().piece
    other_piece = other.commissioned_pieces.get().piece
    shown = picture(cast, piece=own_piece, is_shown_to_client=True)
    hidden = picture(cast, piece=own_piece)
    posted = picture(cast, piece=own_piece)
    foreign = picture(cast, piece=other_piece, is_shown_to_client=True)
    loose = picture(cast)
    posts.post_news(
        commission=mine, text="Dry", by=cast.owner, at=timezone.now(), pictures=[posted]
    )
    for one, code in (
        (shown, 200),
        (posted, 200),
        (hidden, 404),
        (foreign, 404),
        (loose, 404),
    ):
        for size in ("small", "large"):
            response = stranger.get(page(token, "shared_picture", one.pk, size))
            assert response.status_code == code
            if code == 200:
                assert response["Content-Type"] == "image/webp"
                assert b"".join(response.streaming_content).startswith(b"RIFF")
            assert response["Cache-Control"] == "no-store"
    strange_size = page(token, "shared_picture", shown.pk, "original")
    assert stranger.get(strange_size).status_code == 404


def test_withdrawn_news_takes_its_pictures_along(cast, stranger):
    commission = build.accepted(cast).commission
    token = build.token(commission)
    one = picture(cast, piece=commission.commissioned_pieces.get().piece)
    post = posts.post_news(
        commission=commission,
        text="First layer dry",
        by=cast.owner,
        at=timezone.now(),
        pictures=[one],
    )
    assert "First layer dry" in stranger.get(page(token)).content.decode()
    posts.withdraw_post(post=post, by=cast.owner, at=timezone.now())
    assert "First layer dry" not in stranger.get(page(token)).content.decode()
    small = page(token, "shared_picture", one.pk, "small")
    assert stranger.get(small).status_code == 404


def test_the_stage_is_told_through_the_work(cast, stranger):
    quote = build.accepted(cast, of=build.commission(cast, passes_per_layer=1))
    commission, token = quote.commission, build.token(quote.commission)
    piece = commission.commissioned_pieces.get().piece

    def told() -> str:
        return stranger.get(page(token)).content.decode()

    first = make.passes_of(piece)[0]
    now = timezone.now()
    layers.record_painted(passes=[first], by=cast.maker, at=now)
    layers.record_outcome(of_pass=first, outcome="fine", by=cast.maker, at=now)
    # The clear cap is not counted: there is nothing to be done to it.
    assert "1 of 5 painted layers are done" in told()
    for one in make.passes_of(piece)[1:]:
        layers.record_painted(passes=[one], by=cast.maker, at=now)
        layers.record_outcome(of_pass=one, outcome="fine", by=cast.maker, at=now)
    assert "All layers are done" in told()
    piece_services.check_stack(
        piece=piece,
        layers_counted=6,
        measured_height_mm=18,
        is_order_right=True,
        by=cast.maker,
        at=now,
    )
    firing = heat.fuse(piece=piece, kiln=cast.kiln, starts_at=now)
    start_firing(firing=firing, by=cast.maker, at=now)
    assert "Your piece is being fused. The kiln stays closed until about" in told()


def test_what_is_to_be_paid_is_told(cast, stranger):
    quote = build.accepted(cast)
    commission, token = quote.commission, build.token(quote.commission)
    deposit = quote.instalments.get(number=1).amount
    write = cast.viewer().money
    told = stranger.get(page(token)).content.decode()
    assert "To pay now" in told
    assert write(deposit) in told
    payments.record_payment(
        commission=commission,
        amount=deposit,
        received_date=build.day(-1),
        by=cast.owner,
        at=timezone.now(),
    )
    told = stranger.get(page(token)).content.decode()
    assert "To pay now" not in told
    assert f"{write(deposit)} received" in told


@needs_pango
def test_the_pdf_is_made_and_sent(cast, stranger):
    quote = build.sent(cast)
    address = page(build.token(quote.commission), "shared_quote_pdf")
    waiting = stranger.get(address)
    assert "being made" in waiting.content.decode()
    run_waiting_jobs()
    fragment = stranger.get(address, headers={"HX-Request": "true"})
    assert "The PDF is ready" in fragment.content.decode()
    pdf = stranger.get(address)
    assert pdf["Content-Type"] == "application/pdf"
    assert b"".join(pdf.streaming_content).startswith(b"%PDF")


def test_a_pdf_is_sent_without_looking_through_the_piece(cast, stranger, monkeypatch):
    quote = build.accepted(cast)
    monkeypatch.delattr(doors, "client_page")
    found = stranger.get(page(build.token(quote.commission), "shared_quote_pdf"))
    assert found.status_code == 200


def test_the_page_says_what_comes_next_and_where_to_write(cast, stranger):
    quote = build.sent(cast)
    Studio.objects.filter(pk=cast.studio.pk).update(email="kiln@example.org")
    token = build.token(quote.commission)
    told = stranger.get(page(token)).content.decode()
    assert "your answer, by" in told
    assert "mailto:kiln@example.org?subject=Slack%20water" in told
    quotes.accept_quote(quote=quote, name="Perpetua Vane", at=timezone.now())
    Studio.objects.filter(pk=cast.studio.pk).update(email="")
    told = stranger.get(page(token)).content.decode()
    assert "painting the first layers" in told
    assert "mailto:" not in told


def test_money_received_is_told_in_the_currency_it_came_in(cast, stranger):
    commission = build.sent(cast).commission
    Studio.objects.filter(pk=cast.studio.pk).update(currency="CHF")
    payments.record_payment(
        commission=commission,
        amount=Decimal(25),
        received_date=build.day(-1),
        by=cast.owner,
        at=timezone.now(),
    )
    told = stranger.get(page(build.token(commission))).content.decode()
    assert f"{format_money(Decimal(25), 'CHF')} received" in told


def test_a_closed_commission_asks_for_no_money(cast, stranger):
    quote = build.accepted(cast)
    address = page(build.token(quote.commission))
    assert "To pay now" in stranger.get(address).content.decode()
    closing.close_commission(
        commission=quote.commission, reason="Withdrawn", by=None, at=timezone.now()
    )
    told = stranger.get(address).content.decode()
    assert "This commission is closed" in told
    assert "To pay now" not in told
    assert "Due now" not in told


def test_there_is_no_pdf_before_a_quote_is_sent(cast, stranger):
    quote = build.quote(cast)
    token = build.token(quote.commission)
    assert stranger.get(page(token, "shared_quote_pdf")).status_code == 404
    assert "preparing your quote" in stranger.get(page(token)).content.decode()


def test_opening_it_is_remembered(cast, stranger):
    commission = build.commission(cast)
    stranger.get(page(build.token(commission)))
    assert build.link(commission).last_opened_at is not None


def test_a_quote_read_on_an_old_page_is_named_when_it_ran_out(cast, stranger):
    quote = build.sent(cast)
    Quote.across_studios.update(valid_until_date=build.day(-2))
    token = build.token(quote.commission)
    assert "has expired" in stranger.get(page(token)).content.decode()
    response = stranger.post(page(token, "shared_quote_accept"), answer(quote))
    assert response.status_code == 409
    assert "new one" in response.content.decode()


def test_a_studio_reads_an_answer_in_the_services_own_words(cast):
    quote = build.sent(cast)
    again = quotes.accept_quote(quote=quote, name=" Ada  Vane ", at=timezone.now())
    assert again.accepted_by_name == "Ada Vane"
