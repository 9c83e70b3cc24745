"""The day on a piece is the one that counts, whatever happens to its commission."""

import pytest
from django.db.models.functions import Coalesce
from django.utils import timezone

from commissions.models import CommissionedPiece, Quote
from commissions.services import closing, promises, quotes
from commissions.services.due_dates import tell_due_date
from studio.selectors.due_dates import due_dates
from studio.services.due_dates import set_due_date
from studio.services.pieces import mark_lost
from tests.commissions import build

SOON, LATER = build.day(90), build.day(120)


def reckoned(studio) -> dict:
    """Return the days by the rule itself: of accepted quotes of open commissions."""
    dates = dict(
        Quote.owned.for_studio(studio)
        .filter(accepted_at__isnull=False, commission__closed_at__isnull=True)
        .annotate(day=Coalesce("agreed_date", "promised_date"))
        .filter(day__isnull=False)
        .values_list("commission", "day")
    )
    rows = CommissionedPiece.owned.for_studio(studio).filter(
        commission__in=dates, is_maquette=False
    )
    return {row.piece_id: dates[row.commission_id] for row in rows}


@pytest.fixture
def check(cast, strangers):
    """Return a function that compares what is stored with the rule."""

    def same(*days):
        told = due_dates(cast.studio)
        assert told == reckoned(cast.studio)
        assert sorted(told.values()) == list(days)
        assert due_dates(strangers.studio) == {}

    return same


def test_drafts_sent_and_declined_quotes_promise_no_piece(cast, check):
    sent = build.sent(cast, promised_date=SOON)
    check()
    quotes.decline_quote(quote=sent, reason="Too dear", at=timezone.now())
    check()


def test_a_day_is_told_when_the_quote_is_accepted_and_not_for_the_maquette(cast, check):
    asked = build.commission(cast, **build.maquette())
    build.accepted(cast, of=asked, promised_date=SOON)
    check(SOON)
    build.accepted(cast, of=build.commission(cast, title="No day"))
    check(SOON)


def test_accepting_twice_tells_the_same_day(cast, check):
    quote = build.accepted(cast, promised_date=SOON)
    quotes.accept_quote(quote=quote, name="Perpetua Vane", at=timezone.now())
    check(SOON)


@pytest.mark.parametrize("promised", [None, SOON])
def test_a_day_agreed_later_counts_from_then_on(cast, check, promised):
    quote = build.accepted(cast, promised_date=promised)
    for day in (LATER, SOON, LATER):
        promises.agree_date(
            commission=quote.commission, day=day, by=cast.owner, at=timezone.now()
        )
        check(day)


@pytest.mark.parametrize("agreed", [None, LATER])
def test_closing_takes_the_day_away_and_reopening_gives_it_back(cast, check, agreed):
    quote = build.accepted(cast, promised_date=SOON)
    build.accepted(cast, of=build.commission(cast, title="Another"), promised_date=SOON)
    whole = {"commission": quote.commission, "by": cast.owner, "at": timezone.now()}
    if agreed is not None:
        promises.agree_date(day=agreed, **whole)
    closing.close_commission(reason="Withdrawn", **whole)
    check(SOON)
    closing.reopen_commission(**whole)
    check(SOON, agreed or SOON)


def test_a_piece_that_is_lost_keeps_its_day(cast, check):
    quote = build.accepted(cast, promised_date=SOON)
    piece = quote.commission.commissioned_pieces.get().piece
    mark_lost(piece=piece, by=cast.owner, at=timezone.now(), note="Dropped")
    check(SOON)


def test_the_day_is_told_of_this_commissions_piece_and_never_of_its_maquette(cast):
    asked = build.commission(cast, **build.maquette())
    other = build.commission(cast, title="Neap")
    for one in (asked, other):
        build.accepted(cast, of=one, promised_date=SOON)
    rows = CommissionedPiece.owned.for_studio(cast.studio)
    for row in rows:
        set_due_date(piece=row.piece, day=None)
    tell_due_date(asked)
    piece = rows.get(commission=asked, is_maquette=False).piece
    assert due_dates(cast.studio) == {piece.pk: SOON}


def test_without_a_piece_there_is_nothing_to_tell(cast):
    tell_due_date(build.sent(cast, promised_date=SOON).commission)
    assert due_dates(cast.studio) == {}
