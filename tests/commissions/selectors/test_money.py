"""What is paid, due and open: payments laid over instalments in their order."""

from decimal import Decimal
from types import SimpleNamespace

import pytest

from commissions.models import Instalment
from commissions.selectors.money import view_money
from studio.stages import Stage

ON = Instalment.DueOn
PARTS = ((ON.ACCEPTED, 30), (ON.STACKED, 40), (ON.FINISHED, 30))
BEFORE_THE_STACK = {Stage.PLANNED, Stage.PAINTING, Stage.LOST, Stage.STOPPED}


def paid(amount, *, currency="USD", taken_back_at=None):
    return SimpleNamespace(
        amount=Decimal(amount), currency=currency, taken_back_at=taken_back_at
    )


def money(*payments, stage=None, is_accepted=True):
    parts = [
        SimpleNamespace(due_on=due_on, amount=Decimal(amount))
        for due_on, amount in PARTS
    ]
    quote = SimpleNamespace(
        currency="USD",
        total=Decimal(140),  # with what the gallery keeps of its own sale
        to_studio=Decimal(100),
        instalments=SimpleNamespace(all=lambda: parts),
    )
    return view_money(
        accepted=quote if is_accepted else None,
        payments=payments,
        stage=stage,
        currency="EUR",
    )


@pytest.mark.parametrize(
    ("amounts", "parts"),
    [
        ((), (0, 0, 0)),
        ((29,), (29, 0, 0)),
        ((30,), (30, 0, 0)),
        ((20, 45), (30, 35, 0)),
        ((100,), (30, 40, 30)),
        ((120,), (30, 40, 30)),
    ],
)
def test_the_first_part_is_filled_first(amounts, parts):
    view = money(*map(paid, amounts))
    assert tuple(one.paid for one in view.instalments) == parts
    assert view.paid == sum(amounts)
    assert view.open == max(100 - sum(amounts), 0)
    assert view.credit == max(sum(amounts) - 100, 0)


def test_what_was_taken_back_or_is_in_another_currency_does_not_count():
    view = money(paid(30), paid(5, currency="EUR"), paid(7, taken_back_at="today"))
    assert view.paid == 30
    assert view.currency == "USD"


def test_before_a_quote_is_accepted_nothing_is_due_and_what_came_in_keeps_its_currency():
    view = money(paid(30), paid(5, currency="EUR"), is_accepted=False)
    assert (view.paid, view.currency) == (30, "USD")
    assert (view.total, view.open, view.due_now) == (None, 0, 0)


@pytest.mark.parametrize("stage", Stage)
def test_the_stage_decides_what_is_due(stage):
    due = 30
    if stage not in BEFORE_THE_STACK:
        due = 100 if stage is Stage.FINISHED else 70
    assert money(stage=stage).due_now == due
    assert money(paid(10), stage=stage).due_now == due - 10


def test_without_a_piece_nothing_is_due():
    assert money().due_now == 0


def test_each_part_says_where_it_stands():
    view = money(paid(30), stage=Stage.STACKED)
    assert [(one.state_words, one.state_kind) for one in view.instalments] == [
        ("Paid", "done"),
        ("Due now", "problem"),
        ("Later", "planned"),
    ]
