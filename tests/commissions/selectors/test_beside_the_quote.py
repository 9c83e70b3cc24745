"""What a piece's layers cost beside the accepted quote."""

from dataclasses import replace

import pytest
from django.utils import timezone

from commissions.models import CommissionedPiece
from commissions.selectors.beside_the_quote import beside_the_quote
from commissions.selectors.prices import price_work
from commissions.selectors.rates import QuoteChoices
from studio.models import Technique
from studio.money import format_money
from studio.selectors.pieces import fresh
from studio.services.pieces import LayerPlan
from studio.services.stack_order import add_layer, add_pass, take_out_layer
from tests import make
from tests.commissions import build


@pytest.fixture
def accepted(cast):
    make.kiln(studio=cast.studio)
    build.rates(cast, labour_rate_per_hour=40)
    return build.accepted(cast)


@pytest.fixture
def piece(accepted):
    return CommissionedPiece.across_studios.get(
        commission=accepted.commission, is_maquette=False
    ).piece


def said():
    return {"by": None, "at": timezone.now()}


def price(quote, **work):
    commission = quote.commission
    for name, value in work.items():
        setattr(commission, name, value)
    choices = QuoteChoices.from_json(quote.inputs["choices"])
    return price_work(commission=commission, choices=replace(choices)).price.total


def test_a_piece_as_accepted_says_nothing(accepted, piece):
    assert beside_the_quote(accepted.commission, piece) == []


def test_one_layer_more_costs_what_a_quote_for_it_would(cast, accepted, piece):
    plan = LayerPlan(technique=Technique.PAINTED, passes=2, glass=cast.glass)
    add_layer(piece=piece, place=1, plan=plan, **said())
    told = beside_the_quote(accepted.commission, piece)
    assert told[0] == (
        "The quote is for 6 layers and 10 passes; this piece has 7 layers and 12 passes."
    )
    more = price(accepted, layer_count=7) - accepted.total
    assert more > 0
    assert told[1] == f"That costs {format_money(more, accepted.currency)} more."


def test_one_layer_less_costs_less(accepted, piece):
    take_out_layer(layer=fresh(piece).layers[0].layer, **said())
    less = accepted.total - price(accepted, layer_count=5)
    told = beside_the_quote(accepted.commission, piece)
    assert told[1] == f"That costs {format_money(less, accepted.currency)} less."


def test_a_pass_on_one_layer_costs_its_share_of_one_on_all(accepted, piece):
    add_pass(layer=fresh(piece).layers[0].layer, **said())
    more = (price(accepted, passes_per_layer=3) - accepted.total) / 5
    told = beside_the_quote(accepted.commission, piece)
    assert told[1] == f"That costs {format_money(more, accepted.currency)} more."
