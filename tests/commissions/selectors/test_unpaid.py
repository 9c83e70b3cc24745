"""What should be paid first is said where work begins; a studio may make it a rule."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from commissions.selectors.unpaid import ASK
from commissions.services import closing
from firing.firings.services import running
from studio.errors import Refused
from studio.selectors.before_work import hindrances
from studio.services.layers import record_painted
from studio.stages import WorkKind
from tests import make
from tests.commissions import build
from tests.commissions.services.test_payments import pay, stack
from tests.firing import build as kilns

pytestmark = pytest.mark.django_db


@pytest.fixture
def quote(cast):
    asked = build.commission(cast, passes_per_layer=1)
    return build.accepted(
        cast, of=asked, rates={"deposit_percent": 40, "stage_percent": 30}
    )


def piece_of(quote):
    return quote.commission.commissioned_pieces.get(is_maquette=False).piece


def words(quote, kind, *, may_see_money=True):
    found = hindrances(kind, piece_of(quote), may_see_money=may_see_money)
    return [one.words for one in found]


def paint(cast, piece, by):
    record_painted(
        passes=make.passes_of(piece)[:1], by=by, at=timezone.now(), minutes=5
    )


def test_the_deposit_comes_before_painting_and_the_stage_payment_before_a_fuse(
    cast, quote
):
    viewer = cast.viewer()
    deposit, stage, _ = (part.amount for part in quote.instalments.all())
    asked = viewer.money(deposit, quote.currency)
    assert words(quote, WorkKind.PAINT) == [f"Deposit of {asked} isn't paid yet."]
    pay(cast, quote.commission, deposit - 1)
    left = viewer.money(1, quote.currency)
    assert words(quote, WorkKind.PAINT) == [f"{left} of the deposit isn't paid yet."]
    pay(cast, quote.commission, 1)
    assert words(quote, WorkKind.PAINT) == []
    asked = viewer.money(stage, quote.currency)
    assert words(quote, WorkKind.FUSE) == [f"Stage payment of {asked} isn't paid yet."]
    pay(cast, quote.commission, stage)
    assert words(quote, WorkKind.FUSE) == []


def test_who_may_not_see_money_is_told_to_ask(cast, quote, signed_in):
    assert words(quote, WorkKind.PAINT, may_see_money=False) == [ASK]
    address = reverse("studio:piece_paint", args=[piece_of(quote).pk])
    for role, told in (("helper", ASK), ("maker", "isn&#x27;t paid yet")):
        page = signed_in(role).get(address).content.decode()
        assert told in page
        assert ("Deposit" in page) == (role == "maker")


def test_nothing_is_asked_for_a_closed_commission_or_a_piece_of_the_studios_own(
    cast, quote
):
    own = make.piece(studio=cast.studio, glass=cast.glass)
    assert hindrances(WorkKind.PAINT, own, may_see_money=True) == []
    closing.close_commission(
        commission=quote.commission, reason="Gone", by=None, at=timezone.now()
    )
    assert words(quote, WorkKind.PAINT) == []


def test_the_stage_payment_is_not_for_the_maquette(cast):
    quote = build.accepted(cast, of=build.commission(cast, **build.maquette()))
    trial = quote.commission.commissioned_pieces.get(is_maquette=True).piece
    assert hindrances(WorkKind.FUSE, trial, may_see_money=True) == []
    assert hindrances(WorkKind.PAINT, trial, may_see_money=True)


def test_without_the_rule_it_is_allowed_and_with_it_refused_in_the_same_words(
    cast, quote
):
    piece = piece_of(quote)
    (told,) = words(quote, WorkKind.PAINT)
    build.rates(cast, needs_deposit=True)
    helper = cast.person("helper")
    for by, said in ((cast.owner, told), (helper, ASK)):
        with pytest.raises(Refused) as refused:
            paint(cast, piece, by)
        assert str(refused.value) == said
    build.rates(cast, needs_deposit=False)
    paint(cast, piece, helper)
    assert make.passes_of(piece)[0].painted_at is not None


def test_a_fuse_is_booked_but_not_started_before_the_stage_payment(cast, quote):
    piece = piece_of(quote)
    deposit, stage, _ = (part.amount for part in quote.instalments.all())
    stack(cast, piece)
    build.rates(cast, needs_stage_payment=True)
    now = timezone.now()
    firing = kilns.fuse(piece=piece, kiln=cast.kiln, starts_at=now)
    with pytest.raises(Refused, match="Stage payment"):
        running.start_firing(firing=firing, by=cast.owner, at=now)
    pay(cast, quote.commission, deposit + stage)
    running.start_firing(firing=firing, by=cast.owner, at=now)


def test_the_firing_page_says_so_before_the_start(cast, quote, signed_in):
    piece = piece_of(quote)
    stack(cast, piece)
    soon = timezone.now() + dt.timedelta(hours=1)
    firing = kilns.fuse(piece=piece, kiln=cast.kiln, starts_at=soon)
    page = signed_in().get(reverse("firing:firing_detail", args=[firing.pk]))
    assert "Stage payment of" in page.content.decode()
    schedule = {"schedule": firing.schedule_id}
    book = reverse("firing:fuse_book", args=[piece.pk])
    page = signed_in("maker").get(book, schedule)
    assert "Stage payment of" in page.content.decode()


def test_the_rule_is_set_with_the_rates(cast, signed_in):
    address = reverse("commissions:rates_edit")
    browser = signed_in()
    form = browser.get(address).context["form"]
    typed = {name: value for name, value in form.initial.items() if value is not False}
    browser.post(address, typed | {"needs_deposit": "on"})
    form = browser.get(address).context["form"]
    assert form.initial["needs_deposit"] is True
    assert form.initial["needs_stage_payment"] is False
