"""What is done, asked of the database, is what a commission's view calls over."""

from decimal import Decimal

import pytest
from django.utils import timezone

from commissions.selectors.commissions import view_commission
from commissions.selectors.done import done
from commissions.services import payments
from studio.services import pieces
from tests import make
from tests.commissions import build


@pytest.fixture
def commission(cast):
    """An accepted commission whose piece is finished; nothing is paid."""
    asked = build.commission(cast, layer_count=2, passes_per_layer=1)
    commission = build.accepted(cast, of=asked).commission
    piece = commission.commissioned_pieces.get().piece
    at = timezone.now()
    make.paint_and_fire(piece, at=at)
    pieces.check_stack(
        piece=piece,
        layers_counted=2,
        measured_height_mm=6,
        is_order_right=True,
        by=None,
        at=at,
    )
    said = {"piece": piece, "firing_kind": "full fuse", "by": None, "at": at}
    pieces.note_into_kiln(**said)
    pieces.note_out_of_kiln(outcome="fine", **said)
    pieces.finish_piece(piece=piece, note="", by=None, at=at)
    return commission


def pay(cast, commission, amount):
    return payments.record_payment(
        commission=commission,
        amount=amount,
        received_date=build.day(-1),
        by=cast.owner,
        at=timezone.now(),
    )


def is_done(cast, commission):
    found = commission in done(cast.studio)
    commission.refresh_from_db()
    assert found == view_commission(commission, at=timezone.now()).is_over
    return found


def total(commission):
    return view_commission(commission, at=timezone.now()).money.total


def test_a_cent_that_is_open_keeps_it(cast, commission):
    assert not is_done(cast, commission)
    pay(cast, commission, total(commission) - Decimal("0.01"))
    assert not is_done(cast, commission)
    pay(cast, commission, Decimal("0.01"))
    assert is_done(cast, commission)


def test_many_small_payments_add_up(cast, commission):
    # As binary fractions these do not make 0.60.
    parts = [Decimal(cents) / 100 for cents in (10, 20, 30)]
    for amount in (total(commission) - sum(parts), *parts):
        pay(cast, commission, amount)
    assert is_done(cast, commission)


def test_a_payment_taken_back_opens_it_again(cast, commission):
    paid = pay(cast, commission, total(commission))
    assert is_done(cast, commission)
    payments.take_back_payment(
        payment=paid, reason="Bounced", by=cast.owner, at=timezone.now()
    )
    assert not is_done(cast, commission)


def test_a_paid_commission_whose_piece_is_not_finished_is_not_done(cast):
    commission = build.accepted(cast).commission
    pay(cast, commission, total(commission))
    assert not is_done(cast, commission)


def test_another_studios_are_not_there(cast, strangers, commission):
    pay(cast, commission, total(commission))
    assert list(done(strangers.studio)) == []
