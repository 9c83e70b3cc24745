"""A change of accepted work: an addendum with its own price, day and acceptance."""

from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from threading import Barrier

import pytest
from django.db import connection
from django.utils import timezone

from commissions import documents
from commissions.models import Quote
from commissions.selectors.beside_the_quote import beside_the_quote
from commissions.selectors.commissions import view_commission
from commissions.selectors.quotes import QuoteState, view_quote
from commissions.selectors.rates import RatesFrom
from commissions.selectors.waiting import waiting_today
from commissions.services import addenda, commissions, payments, quotes
from studio.errors import Refused
from studio.models import Glass, Kiln, Piece
from studio.services.layers import record_painted
from studio.viewer import Viewer
from tests import make
from tests.commissions import build
from tests.firing import build as kilns
from tests.patience import LONG_S


def change(commission, **facts):
    commissions.change_commission(
        commission=commission, by=None, at=timezone.now(), **facts
    )
    commission.refresh_from_db()


def seen(commission):
    return view_commission(commission, at=timezone.now())


def accepted_commission(cast, **changes):
    commission = build.commission(cast)
    build.accepted(cast, of=commission, **changes)
    commission.refresh_from_db()
    return commission


def test_until_an_addendum_is_accepted_the_first_contract_stands(cast):
    commission = accepted_commission(cast, promised_date=build.day(100))
    first = seen(commission)
    change(commission, width_mm=400)
    addendum = build.addendum(cast, of=commission, promised_date=build.day(130))
    quotes.send_quote(quote=addendum, by=cast.owner, at=timezone.now())
    then = seen(commission)
    assert then.accepted.quote.version == 1
    assert then.money.total == first.money.total
    assert then.addendum.state is QuoteState.WAITING
    assert then.piece.piece.due_date == build.day(100)


def test_an_accepted_addendum_sets_price_day_and_instalments(cast):
    commission = accepted_commission(cast, promised_date=build.day(100))
    payments.record_payment(
        commission=commission,
        amount=seen(commission).money.due_now,
        received_date=build.day(0),
        by=cast.owner,
        at=timezone.now(),
    )
    assert not seen(commission).money.due_now
    change(commission, layer_count=9)
    addendum = build.accepted_addendum(
        cast, of=commission, promised_date=build.day(130)
    )
    now = seen(commission)
    assert now.accepted.quote == addendum
    assert now.money.total == addendum.total > addendum.adds_to.total
    # The deposit grows with the price: the difference is due.
    assert now.money.due_now == (
        addendum.instalments.first().amount
        - addendum.adds_to.instalments.first().amount
    )
    assert now.piece.piece.due_date == build.day(130)
    assert [view.quote.version for view in now.contracts] == [1, 2]
    assert Piece.across_studios.count() == 1
    assert not now.is_changed_since_accepted


def test_another_gallery_share_alone_is_a_change(cast):
    commission = accepted_commission(cast)
    with pytest.raises(Refused, match="Nothing differs"):
        build.addendum(cast, of=commission)
    change(commission, gallery_cut_percent=Decimal(30))
    assert seen(commission).wants_addendum
    assert (
        "make an addendum" in waiting_today(cast.viewer(), at=timezone.now())[-1].words
    )
    addendum = build.addendum(cast, of=commission)
    assert addendum.total > addendum.adds_to.total
    assert not seen(commission).wants_addendum


@pytest.mark.parametrize("terms", RatesFrom)
def test_the_prices_are_those_of_the_version_or_of_today_as_chosen(cast, terms):
    build.enamel(cast)
    build.rates(cast, labour_rate_per_hour=35)
    commission = accepted_commission(cast)
    was = commission.quotes.get().total
    build.rates(cast, labour_rate_per_hour=70)
    Kiln.across_studios.filter(studio=cast.studio).update(hourly_rate=50)
    type(cast.glass).across_studios.update(cost_per_m2=1000)
    change(commission, title="Neap tide")
    addendum = build.addendum(cast, of=commission, terms=terms)
    assert (addendum.total == was) is (terms is RatesFrom.VERSION)
    assert addendum.inputs["terms"] == terms


def test_an_agreed_day_is_never_lost_to_an_addendum(cast):
    commission = accepted_commission(cast, promised_date=build.day(100))
    change(commission, layer_count=9)
    with pytest.raises(Refused, match="Say the day"):
        build.addendum(cast, of=commission)


def test_an_addendum_stays_in_the_currency_that_was_accepted(cast):
    commission = accepted_commission(cast)
    change(commission, layer_count=9)
    type(cast.studio).objects.update(currency="EUR")
    commission.studio.refresh_from_db()
    with pytest.raises(Refused, match="is in USD"):
        build.addendum(cast, of=commission)


def test_the_paper_says_what_differs_and_by_how_much(cast):
    commission = accepted_commission(cast, promised_date=build.day(100))
    change(commission, layer_count=9, passes_per_layer=3)
    addendum = build.addendum(cast, of=commission, promised_date=build.day(130))
    sent = quotes.send_quote(quote=addendum, by=cast.owner, at=timezone.now())
    paper = documents.quote_paper(Quote.across_studios.get(pk=sent.pk))
    assert paper == documents.written_paper(sent)
    assert paper.adds_to.startswith("Addendum to quote 1, accepted ")
    assert paper.adds_to.endswith("by Perpetua Vane")
    assert "more than accepted so far" in paper.difference
    changes = {what: (old, new) for what, old, new in paper.changes}
    assert changes["Image"] == ("Painted, 2 passes each", "Painted, 3 passes each")
    assert {"Layers", "Promised for"} <= changes.keys()


def test_the_second_addendum_adds_to_the_first_and_an_older_one_is_replaced(cast):
    commission = accepted_commission(cast)
    change(commission, layer_count=9)
    old = build.addendum(cast, of=commission)
    build.accepted_addendum(cast, of=commission)
    assert view_quote(old, at=timezone.now()).state is QuoteState.REPLACED
    change(commission, layer_count=10)
    third = build.accepted_addendum(cast, of=commission)
    assert third.adds_to.version == 3
    assert seen(commission).money.total == third.total


def test_a_declined_addendum_leaves_the_contract_and_the_request_can_go_back(cast):
    commission = accepted_commission(cast)
    change(commission, layer_count=9, gallery_cut_percent=Decimal(30))
    addendum = build.addendum(cast, of=commission)
    quotes.send_quote(quote=addendum, by=cast.owner, at=timezone.now())
    quotes.decline_quote(quote=addendum, reason="Too dear", at=timezone.now())
    assert seen(commission).accepted.quote.version == 1
    assert seen(commission).wants_addendum
    addenda.keep_as_agreed(commission=commission, by=cast.owner, at=timezone.now())
    commission.refresh_from_db()
    assert (commission.layer_count, commission.gallery_cut_percent) == (6, 0)
    assert not seen(commission).wants_addendum


def test_an_accepted_size_is_the_pieces_while_nothing_is_made_of_it(cast):
    commission = accepted_commission(cast)
    change(commission, width_mm=400)
    assert Piece.across_studios.get().width_mm == 300
    build.accepted_addendum(cast, of=commission)
    piece = Piece.across_studios.get()
    assert piece.width_mm == 400
    assert beside_the_quote(commission, piece) == []
    record_painted(
        passes=make.passes_of(piece)[:1], by=cast.maker, at=timezone.now(), minutes=5
    )
    change(commission, width_mm=450, layer_count=9)
    build.accepted_addendum(cast, of=commission)
    piece = Piece.across_studios.get()
    assert piece.width_mm == 400
    size, layers, *_ = beside_the_quote(commission, piece)
    viewer = Viewer.of_studio(cast.studio)
    assert size.endswith(f"this piece is {viewer.size(400, 200)}.")
    assert "The quote is for 9 layers" in layers


@pytest.mark.django_db(transaction=True)
def test_two_addenda_accepted_at_once_leave_one_accepted(cast):
    """The older, read before the newer was sent, loses whoever comes first."""
    commission = accepted_commission(cast)
    change(commission, layer_count=9)
    both = [
        quotes.send_quote(
            quote=build.addendum(cast, of=commission),
            by=cast.owner,
            at=timezone.now(),
        )
        for _ in range(2)
    ]
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
        assert list(pool.map(accept, both)) == [False, True]
    assert seen(commission).accepted.quote == both[1]


def test_what_an_addendum_changes_is_told_beside_the_piece(cast):
    commission = accepted_commission(cast)
    piece = commission.commissioned_pieces.get().piece
    assert beside_the_quote(commission, piece) == []
    kilns.painted(piece)
    other = make.glass(studio=cast.studio, name="Bronze sheet")
    change(
        commission, glass=other, technique="decal", is_dammed=False, **build.maquette()
    )
    build.accepted_addendum(cast, of=commission)
    piece.refresh_from_db()
    told = " ".join(beside_the_quote(commission, piece))
    assert f"The quote is for Bronze sheet; this piece is of {cast.glass}." in told
    assert "The quote is for decal layers; those of this piece are painted." in told
    assert "The quote is for no dams, and this piece has some." in told
    assert "The quote has a maquette, and none is planned yet." in told


def test_terms_hold_for_what_was_renamed_and_for_a_maquette_added(cast):
    Glass.across_studios.filter(pk=cast.glass.pk).update(cost_per_m2=90)
    Kiln.across_studios.filter(pk=cast.kiln.pk).update(hourly_rate=Decimal("2.5"))
    commission = accepted_commission(cast)
    Glass.across_studios.filter(pk=cast.glass.pk).update(cost_per_m2=180, name="Pale")
    Kiln.across_studios.filter(pk=cast.kiln.pk).update(hourly_rate=5, name="Wader")
    commission = type(commission).across_studios.get(pk=commission.pk)
    change(commission, **build.maquette())
    addendum = build.addendum(cast, of=commission)
    prices = {line.label: line.unit_price for line in addendum.lines.all()}
    assert {p for label, p in prices.items() if label.startswith("Pale")} == {
        Decimal("8.3613")  # a square foot, at 90 a square metre
    }
    assert {p for label, p in prices.items() if label.endswith("Wader")} == {
        Decimal("2.5")
    }


def test_terms_hold_for_what_cost_nothing_then(cast):
    Glass.across_studios.filter(pk=cast.glass.pk).update(cost_per_m2=0)
    commission = accepted_commission(cast)
    Glass.across_studios.filter(pk=cast.glass.pk).update(cost_per_m2=180)
    commission = type(commission).across_studios.get(pk=commission.pk)
    change(commission, width_mm=310)
    addendum = build.addendum(cast, of=commission)
    (glass,) = addendum.lines.filter(unit="ft²", label__startswith=cast.glass.name)
    assert glass.unit_price == 0
