"""The ledger: what came less what went is what is there; the average moves by shares."""

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from studio.ledger import Move, Movement, balance

amounts = st.decimals(0, 1000, places=3)
costs = st.decimals(0, 100, places=2)


def moved(kind, amount, cost=None, **more):
    return Movement(kind=kind, amount=Decimal(amount), unit_cost=cost, **more)


@given(st.lists(st.tuples(st.booleans(), amounts)))
def test_stock_in_less_stock_out_is_what_is_there(rows):
    movements = [
        moved(Move.RECEIPT, n) if comes else moved(Move.TAKEN, -n) for comes, n in rows
    ]
    came = sum((n for comes, n in rows if comes), Decimal(0))
    went = sum((n for comes, n in rows if not comes), Decimal(0))
    assert balance(movements).on_hand == came - went


@given(st.lists(st.tuples(st.booleans(), amounts)), amounts)
def test_a_count_is_true_whatever_was_recorded_before(rows, counted):
    movements = [moved(Move.RECEIPT if up else Move.TAKEN, n) for up, n in rows]
    assert balance([*movements, moved(Move.COUNT, counted)]).on_hand == counted


@given(st.lists(st.tuples(st.decimals("0.001", 1000, places=3), costs), min_size=1))
def test_of_receipts_alone_the_average_is_all_that_was_paid_by_all_that_came(rows):
    found = balance([moved(Move.RECEIPT, n, cost) for n, cost in rows])
    paid = sum((n * cost for n, cost in rows), Decimal(0))
    came = sum((n for n, _ in rows), Decimal(0))
    assert abs(found.unit_cost - paid / came) < Decimal("1e-9")


def test_the_moving_average_of_a_worked_example():
    # Worked by hand: 10 at 4.00, 5 taken, 5 at 6.00: (5 x 4 + 5 x 6) / 10 = 5.00.
    found = balance(
        [
            moved(Move.RECEIPT, 10, Decimal(4)),
            moved(Move.TAKEN, -5),
            moved(Move.RECEIPT, 5, Decimal(6)),
        ]
    )
    assert (found.on_hand, found.unit_cost) == (10, 5)


def test_below_nothing_the_next_delivery_sets_the_cost():
    found = balance(
        [
            moved(Move.RECEIPT, 1, Decimal(4)),
            moved(Move.TAKEN, -3),
            moved(Move.RECEIPT, 2, Decimal(9)),
        ]
    )
    assert (found.on_hand, found.unit_cost) == (0, 9)


def test_sheets_of_several_sizes_share_a_cost_by_their_area():
    # 2 sheets of 0.5 m² at 40 and one of 3 m² at 80: (1 x 40 + 3 x 80) / 4 = 70.
    found = balance(
        [
            moved(Move.RECEIPT, 2, Decimal(40), item=1, size=Decimal("0.5")),
            moved(Move.RECEIPT, 1, Decimal(80), item=2, size=Decimal(3)),
        ]
    )
    assert found.of_items == {1: 2, 2: 1}
    assert found.unit_cost == 70
