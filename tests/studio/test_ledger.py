"""The ledger: what came less what went is what is there, in amount and in value."""

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from studio.ledger import TELLS_COST, Move, Movement, balance, costs_when_moved

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


@st.composite
def lists_that_never_run_out(draw):
    """Receipts at a cost, and takes of at most what is there."""
    there, movements = Decimal(0), []
    for comes, amount, cost in draw(
        st.lists(st.tuples(st.booleans(), amounts, costs), min_size=1, max_size=30)
    ):
        if comes or not movements:
            movements.append(moved(Move.RECEIPT, amount, cost))
            there += amount
        else:
            gone = min(amount, there)
            movements.append(moved(Move.TAKEN, -gone))
            there -= gone
    return movements


@given(lists_that_never_run_out())
def test_value_in_less_value_out_is_the_value_of_what_is_there(movements):
    then = costs_when_moved(movements)
    value = rounded = Decimal(0)
    for one, cost in zip(movements, then, strict=True):
        worth = one.unit_cost if one.kind in TELLS_COST else cost
        value += one.amount * worth
        # Kept with four places, as the ledger's rows are.
        rounded += one.amount * worth.quantize(Decimal("0.0001"))
    left = balance(movements)
    on_hand = left.on_hand * left.unit_cost
    assert abs(value - on_hand) < Decimal("1e-9")
    moved_in_all = sum(abs(one.amount) for one in movements)
    assert abs(rounded - on_hand) <= moved_in_all * Decimal("0.00005") + Decimal("1e-9")


@given(lists_that_never_run_out(), lists_that_never_run_out())
def test_what_comes_later_changes_nothing_of_what_was_taken(first, later):
    assert costs_when_moved(first) == costs_when_moved([*first, *later])[: len(first)]


def test_what_was_taken_is_worth_the_average_of_its_moment():
    # 10 at 4.00, a take at 4.00; 5 more at 6.00 make 5.00, and the next take 5.00.
    assert costs_when_moved(
        [
            moved(Move.TAKEN, -1),
            moved(Move.RECEIPT, 11, Decimal(4)),
            moved(Move.TAKEN, -5),
            moved(Move.RECEIPT, 5, Decimal(6)),
            moved(Move.TAKEN, -2),
            moved(Move.PRICE, 0, Decimal(7)),
            moved(Move.CORRECTION, -1),
        ]
    ) == [None, None, 4, 4, 5, 5, 7]
