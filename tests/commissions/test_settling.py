"""Which money pays for which invoice."""

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from commissions.settling import Claim, Money, settle

D = Decimal


def claim(key, due, account="a"):
    return Claim(key=key, account=account, due=D(due))


def money(amount, claim=None, account="a"):
    return Money(account=account, amount=D(amount), claim=claim)


def test_what_names_an_invoice_pays_for_it():
    found = settle([claim(1, 100), claim(2, 50)], [money(30, claim=2)])
    assert found.paid == {1: 0, 2: 30}


def test_what_names_none_pays_for_the_oldest():
    found = settle([claim(1, 100), claim(2, 50)], [money(120)])
    assert found.paid == {1: 100, 2: 20}
    assert found.left_over["a"] == 0


def test_what_is_over_is_carried_to_the_next_of_the_account_and_no_other():
    found = settle(
        [claim(1, 100), claim(2, 50), claim(3, 50, "b")], [money(130, claim=1)]
    )
    assert found.paid == {1: 100, 2: 30, 3: 0}


def test_what_is_paid_twice_is_left_over():
    found = settle([claim(1, 100)], [money(100, claim=1), money(100, claim=1)])
    assert found.paid == {1: 100}
    assert found.left_over["a"] == 100


def test_what_is_paid_back_of_it_is_no_longer():
    found = settle([claim(1, 100)], [money(150, claim=1), money(-50)])
    assert found.paid == {1: 100}
    assert found.left_over["a"] == 0


def test_what_is_paid_back_of_more_is_owed_again_on_the_newest():
    found = settle(
        [claim(1, 100), claim(2, 50)],
        [money(100, claim=1), money(50, claim=2), money(-60)],
    )
    assert found.paid == {1: 90, 2: 0}


amounts = st.integers(-500, 1000).map(D)


@given(
    dues=st.lists(st.integers(0, 500), max_size=5),
    moves=st.lists(st.tuples(amounts, st.none() | st.integers(0, 6)), max_size=8),
)
def test_no_coin_is_lost_and_no_invoice_paid_beyond_its_due(dues, moves):
    claims = [claim(key, due) for key, due in enumerate(dues)]
    found = settle(claims, [money(amount, key) for amount, key in moves])
    assert all(0 <= found.paid[one.key] <= one.due for one in claims)
    total = sum(found.paid.values()) + found.left_over.get("a", D(0))
    assert total == sum((amount for amount, _ in moves), D(0))
