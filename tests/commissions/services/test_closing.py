"""A closed commission: its work stops, its money is settled, and all can be put right."""

import datetime as dt
from decimal import Decimal

import pytest
from django.utils import timezone

from commissions.models import Commission, Payment
from commissions.selectors.commissions import credits_for, view_commission
from commissions.services import closing, payments
from commissions.services.payments import PaymentQuestion, Question
from firing.models import Booking
from studio.errors import Refused
from studio.models import HistoryEntry
from studio.selectors.pieces import fresh, pieces_in_work
from studio.stages import Stage
from studio.undo import ONE_TAP
from tests.commissions import build
from tests.commissions.services.test_payments import money_of, pay
from tests.firing import planned_time

pytestmark = pytest.mark.django_db


@pytest.fixture
def sold(cast) -> Commission:
    """An accepted commission with 100 paid."""
    commission = build.accepted(cast).commission
    pay(cast, commission, 100)
    return commission


def close(cast, commission, *, at=None, **changes):
    facts = {"money": "kept", "money_reason": "Painted already"} | changes
    return closing.close_commission(
        commission=commission,
        reason="Withdrawn",
        by=cast.owner,
        at=at or timezone.now(),
        **facts,
    )


def reopen(cast, commission, *, at=None, reason=""):
    closing.reopen_commission(
        commission=commission, by=cast.owner, at=at or timezone.now(), reason=reason
    )


def piece_of(commission):
    return commission.commissioned_pieces.get(is_maquette=False).piece


def read(commission) -> Commission:
    return Commission.across_studios.get(pk=commission.pk)


def test_every_piece_and_what_is_planned_for_it_stops(cast):
    commission = build.accepted(
        cast, of=build.commission(cast, **build.maquette())
    ).commission
    plan = planned_time.standing(cast.studio)
    planned_time.keep(
        plan, piece_of(commission), starts_at=timezone.now() + dt.timedelta(days=1)
    )
    close(cast, commission)
    assert not pieces_in_work(cast.studio).exists()
    assert not Booking.across_studios.standing().exists()
    reopen(cast, commission)
    assert pieces_in_work(cast.studio).count() == 2
    assert not Booking.across_studios.standing().exists()


def test_helpers_read_that_it_stopped_and_nothing_about_money(cast, sold):
    close(cast, sold)
    told = HistoryEntry.owned.for_studio(cast.studio).filter(is_about_money=False)
    assert told.filter(what="Stopped: the commission was cancelled").exists()
    assert not told.filter(what__contains="Painted already").exists()


@pytest.mark.parametrize("wrong", [{"money": ""}, {"money_reason": " "}])
def test_money_that_came_in_is_asked_about(cast, sold, wrong):
    with pytest.raises(Refused, match=r"100\.00"):
        close(cast, sold, **wrong)
    assert read(sold).closed_at is None
    assert fresh(piece_of(sold)).stage is Stage.PLANNED


def test_without_money_nothing_is_asked(cast):
    commission = build.accepted(cast).commission
    close(cast, commission, money="", money_reason="")
    assert read(commission).closed_money == ""


@pytest.mark.parametrize(
    ("money", "amount", "paid_after", "words"),
    [
        ("kept", None, 100, "$100.00 kept: Painted already"),
        ("refunded", None, 0, "$100.00 paid back: Painted already"),
        ("refunded", Decimal(30), 70, "$30.00 paid back, $70.00 kept: Painted already"),
        (
            "credited",
            Decimal(60),
            100,
            "$60.00 credited to the client, $40.00 kept: Painted already",
        ),
    ],
)
def test_it_is_kept_paid_back_or_credited(cast, sold, money, amount, paid_after, words):
    close(cast, sold, money=money, amount=amount)
    view = view_commission(sold, at=timezone.now())
    assert view.money.paid == paid_after
    assert view.settled_words == words


@pytest.mark.parametrize("amount", ["0", "100.01", "-5", "1.001"])
def test_no_more_is_paid_back_than_came_in(cast, sold, amount):
    with pytest.raises(Refused):
        close(cast, sold, money="refunded", amount=Decimal(amount))
    assert money_of(sold).paid == 100


def test_a_closing_undone_at_once_leaves_no_refund(cast, sold):
    close(cast, sold, money="refunded")
    reopen(cast, sold)
    assert money_of(sold).paid == 100
    assert fresh(piece_of(sold)).stage is Stage.PLANNED


def test_reopened_later_it_takes_a_reason_and_what_was_paid_back_is_gone(cast, sold):
    now = timezone.now()
    close(cast, sold, money="refunded", at=now)
    later = now + 2 * ONE_TAP
    with pytest.raises(Refused, match="Say why"):
        reopen(cast, sold, at=later)
    reopen(cast, sold, at=later, reason="They want it after all")
    assert money_of(sold).paid == 0
    lines = HistoryEntry.owned.for_studio(cast.studio).values_list("what", flat=True)
    assert any("They want it after all" in line for line in lines)
    assert any("Closed" in line for line in lines)


@pytest.mark.parametrize("money", ["kept", "refunded", "credited"])
def test_closing_again_after_an_undo_is_as_if_it_had_stayed_closed(cast, sold, money):
    close(cast, sold, money=money)
    before = view_commission(sold, at=timezone.now())
    for _ in range(2):
        reopen(cast, sold)
        closing.close_again(commission=sold, by=cast.owner, at=timezone.now())
    after = view_commission(sold, at=timezone.now())
    assert after.settled_words == before.settled_words
    assert after.money.paid == before.money.paid
    assert fresh(piece_of(sold)).stage is Stage.STOPPED
    reopen(cast, sold)
    assert money_of(sold).paid == 100


def test_it_is_not_closed_again_on_old_terms_once_money_moved(cast, sold):
    close(cast, sold)
    reopen(cast, sold)
    pay(cast, sold, 7)
    with pytest.raises(Refused, match="Money was recorded since"):
        closing.close_again(commission=sold, by=cast.owner, at=timezone.now())


def test_nothing_is_paid_into_a_closed_commission_by_mistake(cast, sold):
    close(cast, sold)
    facts = {
        "commission": sold,
        "amount": Decimal(50),
        "received_date": build.day(-1),
        "by": cast.owner,
        "at": timezone.now(),
    }
    with pytest.raises(PaymentQuestion, match="Reopen it first"):
        payments.record_payment(**facts)
    assert Payment.across_studios.count() == 1
    payments.record_payment(confirmed={Question.LATE}, **facts)
    assert money_of(sold).paid == 150


def test_a_credit_pays_for_the_clients_next_commission_and_no_more_than_it_is(
    cast, sold
):
    close(cast, sold, money="credited", amount=Decimal(60))
    following = build.accepted(
        cast, of=build.commission(cast, client=sold.client, title="Next")
    ).commission
    (found,) = credits_for(following, at=timezone.now())
    assert found.credit_left == 60
    use = {"commission": following, "source": sold, "by": None, "at": timezone.now()}
    payments.use_credit(**use)
    assert money_of(following).paid == 60
    assert money_of(sold).paid == 40
    assert credits_for(following, at=timezone.now()) == []
    view = view_commission(sold, at=timezone.now())
    assert "$60.00 credited to the client, $40.00 kept" in view.settled_words
    with pytest.raises(Refused, match="This credit is used up"):
        payments.use_credit(**use)


def test_a_credit_used_by_mistake_is_taken_back_and_put_back_on_both_sides(cast, sold):
    close(cast, sold, money="credited", amount=Decimal(60))
    first, second = (
        build.accepted(
            cast, of=build.commission(cast, client=sold.client, title=title)
        ).commission
        for title in ("Next", "After it")
    )
    said = {"by": None, "at": timezone.now()}
    payment = payments.use_credit(commission=first, source=sold, **said)
    payments.take_back_payment(payment=payment, reason="", **said)
    assert (money_of(first).paid, money_of(sold).paid) == (0, 100)
    (found,) = credits_for(first, at=timezone.now())
    assert found.credit_left == 60, "nothing of it is lost"
    other_side = payment.from_credit
    payments.put_back_payment(payment=other_side, reason="", **said)
    assert (money_of(first).paid, money_of(sold).paid) == (60, 40)
    payments.take_back_payment(payment=other_side, reason="", **said)
    payments.use_credit(commission=second, source=sold, **said)
    with pytest.raises(Refused, match="has been used for other work"):
        payments.put_back_payment(payment=payment, reason="", **said)
    assert (money_of(first).paid, money_of(second).paid) == (0, 60)


def test_a_credit_is_never_of_another_client_or_currency(cast, sold):
    close(cast, sold, money="credited")
    others = build.accepted(cast).commission
    type(cast.studio).objects.filter(pk=cast.studio.pk).update(currency="EUR")
    cast.studio.refresh_from_db()
    client = sold.client
    client.studio.refresh_from_db()
    euros = build.commission(cast, client=client)
    for wrong in (others, euros):
        assert credits_for(wrong, at=timezone.now()) == []
        with pytest.raises(Refused, match="another"):
            payments.use_credit(
                commission=wrong, source=sold, by=None, at=timezone.now()
            )


def test_a_refund_is_no_credit(cast, sold):
    close(cast, sold, money="refunded")
    following = build.commission(cast, client=sold.client)
    assert credits_for(following, at=timezone.now()) == []
