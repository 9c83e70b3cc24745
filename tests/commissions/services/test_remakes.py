"""A lost piece: made again inside its commission, and told when the maker says so."""

from decimal import Decimal

import pytest
from django.utils import timezone

from commissions.models import PromiseCheck
from commissions.pricing import Section
from commissions.selectors.client_page import WORDS_OF_STAGE, client_page
from commissions.selectors.commissions import CommissionStage, view_commission
from commissions.selectors.remakes import remake_price
from commissions.services import posts, remakes
from studio.errors import Refused
from studio.models import Piece
from studio.money import round_money
from studio.selectors.bench_times import tasks_of
from studio.selectors.pieces import fresh, pieces_in_work
from studio.services.layers import record_painted
from studio.services.pieces import mark_lost
from studio.services.stopping import refuse_remade
from studio.stages import Stage
from studio.undo import ONE_TAP
from tests import make
from tests.commissions import build
from tests.commissions.services.test_payments import stack

pytestmark = pytest.mark.django_db


@pytest.fixture
def quote(cast):
    asked = build.commission(cast, passes_per_layer=1)
    return build.accepted(cast, of=asked, promised_date=build.day(200))


@pytest.fixture
def lost(cast, quote) -> Piece:
    piece = quote.commission.commissioned_pieces.get().piece
    stack(cast, piece)
    mark_lost(piece=piece, note="Fell", by=cast.owner, at=timezone.now())
    return piece


def start(cast, lost, *, at=None) -> Piece:
    return remakes.start_remake(piece=lost, by=cast.owner, at=at or timezone.now())


def take_back(cast, lost, *, at=None, reason=""):
    remakes.take_back_remake(
        lost=lost, reason=reason, by=cast.owner, at=at or timezone.now()
    )


def page_of(cast, commission):
    return client_page(commission, viewer=cast.viewer(), at=timezone.now(), address=str)


def test_a_remake_has_every_layer_to_paint_again_and_the_lost_one_stays(
    cast, quote, lost
):
    again = start(cast, lost)
    view = view_commission(quote.commission, at=timezone.now())
    assert view.piece.piece == again
    assert view.piece.stage is Stage.PLANNED
    before, after = fresh(lost).layers, view.piece.layers
    assert [x.layer.technique for x in after] == [x.layer.technique for x in before]
    assert [x.layer.glass for x in after] == [x.layer.glass for x in before]
    (loss,) = view.losses
    assert (loss.view.piece, loss.is_replaced, loss.reason) == (lost, True, "Fell")


def test_the_promise_moves_on_to_the_remake_and_is_worked_out_again(cast, quote, lost):
    before = PromiseCheck.across_studios.filter(quote=quote).count()
    again = start(cast, lost)
    assert PromiseCheck.across_studios.filter(quote=quote).count() == before + 1
    lost.refresh_from_db()
    again.refresh_from_db()
    assert (lost.due_date, again.due_date) == (None, build.day(200))


def test_a_piece_lost_before_the_fuse_is_never_shown_as_fused(cast, quote, lost):
    found = view_commission(quote.commission, at=timezone.now())
    assert found.stage is CommissionStage.LAYERS


def test_only_what_is_lost_is_made_again_and_only_once(cast, quote, lost):
    start(cast, lost)
    with pytest.raises(Refused, match="being made again already"):
        start(cast, lost)
    whole = quote.commission.commissioned_pieces.get(replaced_at=None).piece
    with pytest.raises(Refused, match="is not lost"):
        start(cast, whole)


def test_an_untouched_remake_is_taken_back_and_started_anew(cast, quote, lost):
    first = start(cast, lost)
    with pytest.raises(Refused, match="made again as"):
        refuse_remade(lost)
    take_back(cast, lost)
    refuse_remade(lost)
    assert not pieces_in_work(cast.studio).exists()
    assert view_commission(quote.commission, at=timezone.now()).piece.piece == lost
    second = start(cast, lost)
    assert second != first
    assert view_commission(quote.commission, at=timezone.now()).piece.piece == second


def test_a_remake_in_work_is_not_taken_back(cast, lost):
    again = start(cast, lost)
    record_painted(
        passes=make.passes_of(again)[:1], by=cast.maker, at=timezone.now(), minutes=5
    )
    with pytest.raises(Refused, match="has begun"):
        take_back(cast, lost)
    assert fresh(again).stage is Stage.PAINTING


def test_later_taking_it_back_takes_a_reason(cast, lost):
    start(cast, lost)
    later = timezone.now() + 2 * ONE_TAP
    with pytest.raises(Refused, match="Say why"):
        take_back(cast, lost, at=later)
    take_back(cast, lost, at=later, reason="They took another piece")


def test_its_cost_is_set_against_the_risk_that_was_priced(cast, quote):
    found = remake_price(quote.commission)
    lines = list(quote.lines.all())
    risk = [line.amount for line in lines if line.section == Section.REMAKE]
    first = {"materials", "kiln time", "energy", "labour"}
    # Talks with the client, design, photographs, packing, delivery are not done again.
    once = {task.name for task in tasks_of(cast.studio) if task.is_once}
    again = sum(x.amount for x in lines if x.section in first and x.label not in once)
    assert found.priced == sum(risk) > 0
    assert found.cost == again + round_money(again / 5, "USD")  # 20 % overhead
    assert isinstance(found.cost, Decimal)


def test_the_remakes_cost_leaves_the_maquette_out(cast):
    asked = build.commission(cast, **build.maquette())
    quote = build.accepted(cast, of=asked)
    alone = build.accepted(cast)
    price = remake_price(quote.commission)
    assert price.cost == remake_price(alone.commission).cost


def test_another_currency_is_never_compared(cast, quote):
    type(cast.studio).objects.filter(pk=cast.studio.pk).update(currency="EUR")
    quote.commission.studio.refresh_from_db()
    found = remake_price(quote.commission)
    assert (found.currency, found.cost) == ("USD", None)
    assert "EUR" not in " ".join(found.words)


def test_the_client_reads_nothing_of_a_loss_before_they_are_told(cast, quote, lost):
    for act in (lambda: None, lambda: start(cast, lost)):
        act()
        page = page_of(cast, quote.commission)
        assert "lost" not in page.sentence
        assert "layers are done" not in page.sentence
        assert page.edge is None
    remakes.tell_client(piece=lost, text="It fell.", by=cast.owner, at=timezone.now())
    page = page_of(cast, quote.commission)
    assert page.sentence.startswith("Your first piece was lost")
    assert [post.text for post in page.posts] == ["It fell."]
    assert page.edge is not None


def test_telling_is_taken_back_and_done_again(cast, quote, lost):
    now = timezone.now()
    remakes.tell_client(piece=lost, text="It fell.", by=cast.owner, at=now)
    with pytest.raises(Refused, match="told already"):
        remakes.tell_client(piece=lost, text="Again", by=cast.owner, at=now)
    remakes.take_back_telling(piece=lost, reason="", by=cast.owner, at=now)
    page = page_of(cast, quote.commission)
    assert "lost" not in page.sentence
    assert not page.posts
    remakes.tell_client(piece=lost, text="It broke.", by=cast.owner, at=now)
    assert page_of(cast, quote.commission).posts[0].text == "It broke."


def test_words_that_cannot_be_posted_tell_nothing(cast, quote, lost):
    with pytest.raises(Refused):
        remakes.tell_client(piece=lost, text=" ", by=cast.owner, at=timezone.now())
    assert "lost" not in page_of(cast, quote.commission).sentence


def test_a_crack_is_told_by_the_maker_and_never_by_the_page():
    assert WORDS_OF_STAGE[Stage.CRACKED] == WORDS_OF_STAGE[Stage.TO_INSPECT]


def test_news_of_the_remake_is_about_the_remake(cast, quote, lost):
    again = start(cast, lost)
    post = posts.post_news(
        commission=quote.commission,
        text="New glass",
        uploads=[build.image()],
        by=cast.owner,
        at=timezone.now(),
    )
    assert post.pictures.get().piece == again
