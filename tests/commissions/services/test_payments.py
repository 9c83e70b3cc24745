"""Payments: set against the instalments, due by the piece's stage, never edited."""

from decimal import Decimal

import pytest
from django.utils import timezone

from commissions.models import Commission, Payment
from commissions.selectors.commissions import view_commission
from commissions.services import payments
from commissions.services.payments import PaymentQuestion, Question
from studio.errors import Refused
from studio.models import HistoryEntry
from studio.services import pieces
from studio.undo import ONE_TAP
from tests import make
from tests.commissions import build


def pay(cast, commission, amount, *, at=None, **changes) -> Payment:
    facts = {"received_date": build.day(-1)} | changes
    return payments.record_payment(
        commission=commission,
        amount=Decimal(amount),
        by=cast.owner,
        at=at or timezone.now(),
        **facts,
    )


def stack(cast, piece) -> None:
    make.paint_and_fire(piece, by=cast.maker, at=timezone.now())
    count = piece.layers.count()
    pieces.check_stack(
        piece=piece,
        layers_counted=count,
        measured_height_mm=3 * count,
        is_order_right=True,
        by=cast.maker,
        at=timezone.now(),
    )


def money_of(commission):
    return view_commission(commission, at=timezone.now()).money


def test_payments_fill_the_instalments_in_order(cast):
    quote = build.accepted(cast)
    deposit, stage, balance = (part.amount for part in quote.instalments.all())
    pay(cast, quote.commission, deposit + 1)
    money = money_of(quote.commission)
    assert [part.paid for part in money.instalments] == [deposit, 1, 0]
    assert money.due_now == 0
    assert money.open == stage + balance - 1


def test_a_stage_payment_falls_due_when_the_layers_are_done(cast):
    quote = build.accepted(cast, of=build.commission(cast, passes_per_layer=1))
    deposit, stage, _ = (part.amount for part in quote.instalments.all())
    assert money_of(quote.commission).due_now == deposit
    piece = quote.commission.commissioned_pieces.get().piece
    make.paint_and_fire(piece, by=cast.maker, at=timezone.now())
    assert money_of(quote.commission).due_now == deposit + stage


def test_an_earlier_payment_counts_against_the_quote_accepted_later(cast):
    commission = build.commission(cast)
    pay(cast, commission, 50)
    assert money_of(commission).total is None
    quote = build.accepted(cast, of=commission)
    assert money_of(commission).open == quote.total - 50


def test_a_payment_is_in_the_accepted_quotes_currency(cast):
    quote = build.accepted(cast)
    type(cast.studio).objects.update(currency="JPY")
    assert pay(cast, quote.commission, "10.50").currency == "USD"


@pytest.mark.parametrize("amount", ["0", "-1", "1.001"])
def test_a_wrong_amount_is_refused(cast, amount):
    quote = build.accepted(cast)
    with pytest.raises(Refused):
        pay(cast, quote.commission, amount)
    assert not Payment.across_studios.exists()


def test_what_is_taken_back_counts_no_longer_and_stays_in_the_list(cast):
    quote = build.accepted(cast)
    payment = pay(cast, quote.commission, quote.total)
    payments.take_back_payment(
        payment=payment, reason="Bounced", by=cast.owner, at=timezone.now()
    )
    assert money_of(quote.commission).paid == 0
    assert Payment.across_studios.count() == 1
    with pytest.raises(Refused, match="already"):
        payments.take_back_payment(
            payment=payment, reason="Again", by=cast.owner, at=timezone.now()
        )


@pytest.mark.parametrize(
    "changes", [{}, {"method": "Cash"}, {"received_date": build.day(-3)}]
)
def test_the_same_amount_within_minutes_is_asked_about(cast, changes):
    quote = build.accepted(cast)
    now = timezone.now()
    pay(cast, quote.commission, 10, at=now)
    soon = now + payments.TWICE_WITHIN / 2
    with pytest.raises(PaymentQuestion, match="Did it come twice") as asked:
        pay(cast, quote.commission, 10, at=soon, **changes)
    assert asked.value.question is Question.TWICE
    assert money_of(quote.commission).paid == 10
    pay(cast, quote.commission, 10, at=soon, confirmed={Question.TWICE}, **changes)
    pay(cast, quote.commission, 11, at=soon)
    assert money_of(quote.commission).paid == 31


def test_later_the_same_amount_is_another_payment(cast):
    quote = build.accepted(cast)
    now = timezone.now()
    pay(cast, quote.commission, 10, at=now)
    pay(cast, quote.commission, 10, at=now + payments.TWICE_WITHIN)
    assert money_of(quote.commission).paid == 20


def test_more_than_the_price_is_asked_about_and_becomes_a_credit(cast):
    quote = build.accepted(cast)
    with pytest.raises(PaymentQuestion, match="is a credit") as asked:
        pay(cast, quote.commission, quote.total + 50)
    assert asked.value.question is Question.CREDIT
    pay(cast, quote.commission, quote.total + 50, confirmed={Question.CREDIT})
    money = money_of(quote.commission)
    assert (money.open, money.credit) == (0, 50)


def test_more_than_is_due_counts_as_paid_in_advance(cast):
    quote = build.accepted(cast)
    deposit = quote.instalments.first().amount
    pay(cast, quote.commission, deposit + 50)
    money = money_of(quote.commission)
    assert (money.in_advance, money.credit, money.due_now) == (50, 0, 0)


def test_what_was_taken_back_can_be_put_back(cast):
    quote = build.accepted(cast)
    now = timezone.now()
    payment = pay(cast, quote.commission, 10, at=now)
    facts = {"payment": payment, "by": cast.owner}
    for _ in range(2):
        payments.take_back_payment(reason="", at=now, **facts)
        assert money_of(quote.commission).paid == 0
        payments.put_back_payment(reason="", at=now, **facts)
        assert money_of(quote.commission).paid == 10
    with pytest.raises(Refused, match="counts already"):
        payments.put_back_payment(reason="", at=now, **facts)


def test_late_both_take_a_reason(cast):
    quote = build.accepted(cast)
    now = timezone.now()
    payment = pay(cast, quote.commission, 10, at=now)
    facts = {"payment": payment, "by": cast.owner}
    late = now + 2 * ONE_TAP
    with pytest.raises(Refused, match="Say why"):
        payments.take_back_payment(reason=" ", at=late, **facts)
    payments.take_back_payment(reason="Bounced", at=late, **facts)
    with pytest.raises(Refused, match="Say why"):
        payments.put_back_payment(reason="", at=late + 2 * ONE_TAP, **facts)
    payments.put_back_payment(reason="It came", at=late + 2 * ONE_TAP, **facts)
    told = HistoryEntry.owned.for_studio(cast.studio).values_list("what", flat=True)
    assert {"Took back $10.00: Bounced", "$10.00 counts again: It came"} <= set(told)


def test_a_payment_taken_back_may_be_recorded_again_at_once(cast):
    quote = build.accepted(cast)
    wrong = pay(cast, quote.commission, 10)
    payments.take_back_payment(
        payment=wrong, reason="Another client's", by=cast.owner, at=timezone.now()
    )
    pay(cast, quote.commission, 10)
    assert money_of(quote.commission).paid == 10


def test_money_of_another_currency_does_not_count_towards_the_quote(cast):
    commission = build.commission(cast)
    pay(cast, commission, 50)
    type(cast.studio).objects.filter(pk=cast.studio.pk).update(currency="EUR")
    commission.studio.refresh_from_db()
    quote = build.accepted(cast, of=Commission.owned.for_studio(cast.studio).get())
    assert quote.currency == "EUR"
    assert money_of(commission).paid == 0
    pay(cast, commission, quote.total)
    assert money_of(commission).open == 0
