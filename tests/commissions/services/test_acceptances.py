"""An acceptance by letter, phone or at the bench: recorded, and taken back."""

import datetime as dt
from decimal import Decimal

import pytest
from django.utils import timezone

from commissions import documents
from commissions.models import Quote
from commissions.selectors.commissions import view_commission
from commissions.selectors.quotes import QuoteState, acceptance_words, view_quote
from commissions.services import acceptances, payments, quotes, remakes
from studio.errors import Refused
from studio.models import Piece
from studio.services import layers, pieces
from studio.stages import Stage
from tests import make
from tests.commissions import build
from tests.commissions.services.test_addenda import accepted_commission, change


def record(cast, quote, *, at=None, **changes):
    facts = {"name": "Perpetua Vane", "day": build.day(0), "how": "by letter"}
    return acceptances.record_acceptance(
        quote=quote, by=cast.maker, at=at or timezone.now(), **(facts | changes)
    )


def take_back(cast, quote, *, reason="", at=None):
    acceptances.take_back_acceptance(
        quote=quote, reason=reason, by=cast.maker, at=at or timezone.now()
    )


def test_a_recorded_acceptance_makes_the_piece_and_says_how(cast):
    quote = record(cast, build.sent(cast, promised_date=build.day(100)))
    view = view_commission(quote.commission, at=timezone.now())
    assert view.accepted.quote == quote
    assert view.piece.piece.due_date == build.day(100)
    words = acceptance_words(quote)
    assert words.startswith("Accepted by Perpetua Vane, ")
    assert "by letter (recorded by Gullmarsh Maker" in words
    assert documents.accepted_paper(quote).acceptance == words


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"day": build.day(1)}, "Give a day from then to today"),
        ({"day": build.day(-1)}, "Give a day from then to today"),
        ({"how": " "}, "and how"),
        ({"name": " "}, "who accepted"),
    ],
)
def test_who_when_and_how_must_make_sense(cast, changes, words):
    quote = build.sent(cast)
    with pytest.raises(Refused, match=words):
        record(cast, quote, **changes)
    assert not Piece.across_studios.exists()


def test_a_quote_that_ran_out_since_may_have_been_accepted_while_it_stood(cast):
    quote = build.sent(cast, valid_until_date=build.day(2))
    later = timezone.now() + dt.timedelta(days=10)
    with pytest.raises(Refused, match="expired"):
        record(cast, quote, day=build.day(9), at=later)
    assert record(cast, quote, day=build.day(1), at=later).accepted_at is not None


def test_only_one_of_two_acceptances_counts(cast):
    commission = build.commission(cast)
    first = build.sent(cast, of=commission)
    quotes.accept_quote(quote=first, name="Ada", at=timezone.now())
    with pytest.raises(Refused, match="Ada accepted quote 1 already"):
        record(cast, first)
    assert Piece.across_studios.count() == 1


def test_a_draft_is_sent_before_it_is_accepted(cast):
    with pytest.raises(Refused, match="Send quote 1 first"):
        record(cast, build.quote(cast))


def test_taken_back_the_quote_waits_again_and_the_next_acceptance_makes_a_piece(cast):
    quote = record(
        cast, build.sent(cast, of=build.commission(cast, **build.maquette()))
    )
    take_back(cast, quote)
    quote = Quote.across_studios.get(pk=quote.pk)
    assert view_quote(quote, at=timezone.now()).state is QuoteState.WAITING
    view = view_commission(quote.commission, at=timezone.now())
    assert view.piece is None
    assert view.maquette is None
    quotes.accept_quote(quote=quote, name="Ada", at=timezone.now())
    view = view_commission(quote.commission, at=timezone.now())
    assert view.piece.stage is Stage.PLANNED


def test_late_it_takes_a_reason_to_take_it_back(cast):
    quote = record(cast, build.sent(cast))
    later = timezone.now() + dt.timedelta(hours=1)
    with pytest.raises(Refused, match="Say why"):
        take_back(cast, quote, at=later)
    take_back(cast, quote, at=later, reason="It was another client")


def test_what_was_built_on_it_keeps_it(cast):
    quote = record(cast, build.sent(cast))
    payment = payments.record_payment(
        commission=quote.commission,
        amount=Decimal(10),
        received_date=build.day(0),
        by=cast.owner,
        at=timezone.now(),
    )
    with pytest.raises(Refused, match="Money was recorded"):
        take_back(cast, quote)
    payments.take_back_payment(
        payment=payment, reason="", by=cast.owner, at=timezone.now()
    )
    piece = Piece.across_studios.get()
    layers.record_painted(
        passes=make.passes_of(piece)[:1], by=cast.maker, at=timezone.now(), minutes=20
    )
    with pytest.raises(Refused, match="has begun"):
        take_back(cast, quote)


def test_an_addendum_sent_keeps_it_and_a_draft_does_not(cast):
    quote = record(cast, build.sent(cast))
    quote.commission.refresh_from_db()
    change(quote.commission, layer_count=9)
    drafted = build.addendum(cast, of=quote.commission)
    quotes.send_quote(quote=drafted, by=cast.owner, at=timezone.now())
    with pytest.raises(Refused, match="An addendum to it was sent"):
        take_back(cast, quote)
    type(drafted).across_studios.filter(pk=drafted.pk).update(sent_at=None)
    take_back(cast, quote)


def test_work_on_a_piece_made_again_since_keeps_it(cast):
    now = timezone.now()
    quote = record(cast, build.sent(cast))
    piece = Piece.across_studios.get()
    pieces.mark_lost(piece=piece, note="Dropped", by=cast.owner, at=now)
    remakes.start_remake(piece=piece, by=cast.owner, at=now)
    with pytest.raises(Refused, match="has begun"):
        take_back(cast, quote)


def test_a_letter_counts_for_what_stood_on_its_day(cast):
    first = build.sent(cast)
    days_ago = timezone.now() - dt.timedelta(days=3)
    type(first).across_studios.filter(pk=first.pk).update(sent_at=days_ago)
    build.sent(cast, of=first.commission)
    accepted = record(cast, first, day=build.day(-2))
    assert accepted.accepted_at is not None


def test_an_addendum_is_recorded_and_taken_back_as_well(cast):
    commission = accepted_commission(cast, promised_date=build.day(100))
    change(commission, layer_count=9, width_mm=400)
    addendum = quotes.send_quote(
        quote=build.addendum(cast, of=commission, promised_date=build.day(130)),
        by=cast.owner,
        at=timezone.now(),
    )
    record(cast, addendum)
    view = view_commission(commission, at=timezone.now())
    assert view.accepted.quote == addendum
    assert view.piece.piece.width_mm == 400
    take_back(cast, addendum)
    view = view_commission(commission, at=timezone.now())
    assert view.accepted.quote.version == 1
    assert view.piece.piece.due_date == build.day(100)
    assert view.piece.piece.width_mm == 300
    assert view.addendum.state is QuoteState.WAITING


def test_what_the_client_accepted_themselves_is_not_taken_back(cast):
    quote = build.accepted(cast)
    with pytest.raises(Refused, match="No member recorded"):
        take_back(cast, quote)
