"""What is done to quotes: frozen when drafted, sent, accepted once, declined."""

import datetime as dt
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from threading import Barrier

import pytest
from django.db import connection, transaction
from django.utils import timezone

from commissions.models import CommissionedPiece, Quote
from commissions.selectors.quotes import QuoteState, view_quote
from commissions.services import closing, commissions, quotes
from studio.errors import Refused
from studio.models import Document, HistoryEntry, Job, Kiln, Layer, Piece
from tests.commissions import build
from tests.patience import LONG_S


def test_the_lines_and_the_instalments_each_add_up_to_the_total(cast):
    build.enamel(cast)
    build.rates(cast, tax_percent=Decimal("8.25"), tax_name="Sales tax")
    quote = build.quote(
        cast,
        of=build.commission(cast, **build.maquette(), gallery_cut_percent=Decimal(30)),
    )
    assert sum(line.amount for line in quote.lines.all()) == quote.total
    assert sum(part.amount for part in quote.instalments.all()) == quote.total
    assert quote.net + quote.tax == quote.total
    assert quote.tax_name == "Sales tax"
    assert {line.section for line in quote.lines.all()} == {
        "materials", "kiln time", "energy", "labour", "overhead", "risk of remake",
        "mark-up", "gallery", "tax",
    }  # fmt: skip


def test_an_issued_quote_never_moves_when_rates_change(cast):
    build.enamel(cast)
    quote = build.sent(cast)
    before = [
        (line.label, line.explanation, line.quantity, line.unit_price, line.amount)
        for line in quote.lines.all()
    ]
    build.rates(cast, labour_rate_per_hour=999, markup_percent=200, tax_percent=25)
    Kiln.across_studios.filter(studio=cast.studio).update(hourly_rate=50)
    type(cast.glass).across_studios.update(cost_per_m2=1000)
    type(cast.studio).objects.update(currency="JPY")
    again = Quote.across_studios.get(pk=quote.pk)
    assert again.currency == "USD"
    assert again.total == quote.total
    assert [
        (line.label, line.explanation, line.quantity, line.unit_price, line.amount)
        for line in again.lines.all()
    ] == before
    assert build.quote(cast).total > quote.total


def test_a_changed_request_leaves_the_sent_quote_as_it_was_accepted(cast):
    commission = build.commission(cast)
    quote = build.sent(cast, of=commission)
    commissions.change_commission(
        commission=commission, by=cast.owner, at=timezone.now(), layer_count=9
    )
    quotes.accept_quote(quote=quote, name="P. Vane", at=timezone.now())
    commission.refresh_from_db()
    assert commission.layer_count == 6
    assert Layer.across_studios.count() == 6


def test_what_the_maker_sets_counts_and_the_next_version_starts_from_it(cast):
    commission = build.commission(cast)
    first = build.quote(cast, of=commission, rates={"markup_percent": Decimal(0)})
    assert "margin" not in {line.section for line in first.lines.all()}
    second = build.quote(cast, of=commission)
    assert (first.version, second.version) == (1, 2)
    assert second.total == first.total


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"rates": {"markup_percent": Decimal(-1)}}, "Mark-up in per cent"),
        ({"rates": {"gallery_cut_percent": Decimal(99)}}, "Gallery's share"),
        (
            {"rates": {"deposit_percent": Decimal(80), "stage_percent": Decimal(30)}},
            "at most 100",
        ),
        ({"valid_until_date": build.day(-3)}, "has passed"),
        ({"promised_date": build.day(-3)}, "has passed"),
    ],
)
def test_nonsense_is_refused_and_nothing_is_kept(cast, changes, words):
    commission = build.commission(cast)
    with pytest.raises(Exception, match=words):
        build.quote(cast, of=commission, **changes)
    assert not Quote.across_studios.exists()


def test_sending_makes_one_link_and_orders_one_pdf(cast):
    commission = build.commission(cast)
    build.sent(cast, of=commission)
    build.sent(cast, of=commission)
    assert commission.share_links.count() == 1
    assert Job.across_studios.count() == 2  # one for each version


def test_a_newer_sent_version_replaces_the_earlier_one(cast):
    commission = build.commission(cast)
    first = build.sent(cast, of=commission)
    second = build.sent(cast, of=commission)
    now = timezone.now()
    assert view_quote(first, at=now).state is QuoteState.REPLACED
    assert view_quote(second, at=now).state is QuoteState.WAITING
    with pytest.raises(Refused, match="replaced"):
        quotes.accept_quote(quote=first, name="P. Vane", at=now)
    assert not Piece.across_studios.exists()


def test_an_older_draft_is_not_sent_after_a_newer_quote(cast):
    commission = build.commission(cast)
    old = build.quote(cast, of=commission)
    build.sent(cast, of=commission)
    with pytest.raises(Refused, match="replaced"):
        quotes.send_quote(quote=old, by=cast.owner, at=timezone.now())


def test_accepting_makes_the_piece_and_its_maquette(cast):
    commission = build.commission(cast, **build.maquette())
    build.accepted(cast, of=commission)
    assert commission.commissioned_pieces.count() == 2


def test_accepting_twice_changes_nothing(cast):
    quote = build.accepted(cast)
    again = quotes.accept_quote(quote=quote, name="Somebody else", at=timezone.now())
    assert again.accepted_by_name == "Perpetua Vane"
    assert Piece.across_studios.count() == 1


def test_accepting_another_version_later_changes_nothing(cast):
    commission = build.commission(cast)
    first = build.sent(cast, of=commission)
    second = build.accepted(cast, of=commission)
    found = quotes.accept_quote(quote=first, name="Ada", at=timezone.now())
    assert (found.pk, found.accepted_by_name) == (second.pk, "Perpetua Vane")
    first.refresh_from_db()
    assert first.accepted_at is None
    assert Piece.across_studios.count() == 1


def test_declining_what_is_accepted_says_who_accepted_it(cast):
    quote = build.accepted(cast)
    with pytest.raises(Refused, match="Perpetua Vane accepted quote 1 already"):
        quotes.decline_quote(quote=quote, reason="", at=timezone.now())


@pytest.mark.parametrize("state", ["draft", "declined", "run out", "closed"])
def test_a_quote_that_does_not_stand_is_not_accepted(cast, state):
    commission = build.commission(cast)
    quote = build.quote(cast, of=commission)
    now = timezone.now()
    if state != "draft":
        quotes.send_quote(quote=quote, by=cast.owner, at=now)
    if state == "declined":
        quotes.decline_quote(quote=quote, reason="Too dear", at=now)
    if state == "closed":
        closing.close_commission(
            commission=commission, reason="Withdrawn", by=cast.owner, at=now
        )
    at = now + dt.timedelta(days=400) if state == "run out" else now
    with pytest.raises(Refused):
        quotes.accept_quote(quote=quote, name="P. Vane", at=at)
    assert not Piece.across_studios.exists()


def test_a_name_is_needed_to_accept(cast):
    with pytest.raises(Refused, match="name"):
        quotes.accept_quote(quote=build.sent(cast), name="  ", at=timezone.now())


def test_no_further_quote_after_one_is_accepted(cast):
    commission = build.commission(cast)
    build.accepted(cast, of=commission)
    with pytest.raises(Refused, match="accepted"):
        build.quote(cast, of=commission)


def test_history_of_money_is_marked_as_such(cast):
    build.accepted(cast)
    about_money = HistoryEntry.across_studios.filter(is_about_money=True)
    told = "; ".join(entry.what for entry in about_money)
    assert "accepted quote 1" in told
    open_to_all = HistoryEntry.across_studios.filter(is_about_money=False)
    words = " ".join(entry.what for entry in open_to_all)
    assert "Perpetua" not in words
    assert "$" not in words


@pytest.mark.django_db(transaction=True)
def test_two_answers_at_once_make_one_piece(cast):
    quote = build.sent(cast)
    gate = Barrier(2)

    def accept(name: str) -> str:
        try:
            mine = Quote.across_studios.select_related("commission").get(pk=quote.pk)
            gate.wait(timeout=LONG_S)
            accepted = quotes.accept_quote(quote=mine, name=name, at=timezone.now())
            return accepted.accepted_by_name
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        names = set(pool.map(accept, ["Ada", "Ben"]))
    assert len(names) == 1
    assert Piece.across_studios.count() == 1
    assert CommissionedPiece.across_studios.count() == 1


@pytest.mark.django_db(transaction=True)
def test_two_versions_accepted_at_once_leave_one_accepted(cast):
    """The older version, read before the newer was sent, loses whoever comes first."""
    commission = build.commission(cast)
    old = build.sent(cast, of=commission)
    new = build.sent(cast, of=commission)
    gate = Barrier(2)

    def accept(quote: Quote) -> bool:
        try:
            gate.wait(timeout=LONG_S)
            found = quotes.accept_quote(quote=quote, name="Ada", at=timezone.now())
        except Refused:
            return False
        finally:
            connection.close()
        return found.pk == quote.pk

    with ThreadPoolExecutor(2) as pool:
        assert list(pool.map(accept, [old, new])) == [False, True]
    assert Quote.across_studios.filter(accepted_at__isnull=False).count() == 1


def test_documents_of_other_studios_are_not_found(cast, strangers):
    with transaction.atomic():
        quote = build.quote(cast)
    assert not Document.owned.for_studio(strangers.studio).exists()
    with pytest.raises(ValueError, match="another studio"):
        build.commission(cast, glass=strangers.glass)
    with pytest.raises(ValueError, match="another studio"):
        build.commission(cast, client=build.client(strangers))
    assert quote.studio == cast.studio
