"""A kiln that is hotter than it shows: there and back, and what comparisons say."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.physics.kiln.offset import (
    Comparison,
    check_offset,
    offset_of,
    shown_c,
    true_c,
)
from firing.physics.schedule import PhysicsProblem


@given(
    wanted_c=st.floats(-20, 1000),
    offset_k=st.floats(-60, 60),
)
def test_what_is_typed_gives_what_is_wanted(wanted_c, offset_k):
    typed = shown_c(wanted_c, offset_k)
    assert float(true_c(np.array(typed), offset_k)) == pytest.approx(wanted_c, abs=1e-9)


def test_it_is_whole_from_400_and_nothing_at_room_temperature():
    seen = true_c(np.array([-10.0, 20.0, 210.0, 400.0, 816.0]), 8.0)
    assert seen.tolist() == [-10.0, 20.0, 214.0, 408.0, 824.0]
    assert shown_c(482.0, 8.0) == 474.0


def test_hotter_stays_hotter():
    seen = true_c(np.linspace(-50, 1000, 500), -60.0)
    assert all(one < other for one, other in pairwise(seen))


def test_one_comparison_is_its_own_difference():
    found = offset_of([Comparison(shown_c=482.0, measured_c=489.0, error_k=2.0)])
    assert (found.value_k, found.standard_error_k) == (7.0, 2.0)
    colder = offset_of([Comparison(shown_c=210.0, measured_c=213.0, error_k=1.0)])
    assert (colder.value_k, colder.standard_error_k) == (6.0, 2.0), "half of it there"


def test_the_surer_counts_more_and_disagreement_widens():
    """Weighted mean by hand: weights 1/4 and 1/16 of 10 and 5."""
    agreeing = offset_of(
        [
            Comparison(shown_c=500.0, measured_c=510.0, error_k=2.0),
            Comparison(shown_c=500.0, measured_c=505.0, error_k=4.0),
        ]
    )
    assert agreeing.value_k == pytest.approx((10 / 4 + 5 / 16) / (1 / 4 + 1 / 16))
    spread = offset_of(
        [
            Comparison(shown_c=500.0, measured_c=520.0, error_k=1.0),
            Comparison(shown_c=500.0, measured_c=500.0, error_k=1.0),
        ]
    )
    assert spread.value_k == pytest.approx(10.0)
    # chi² is 200 for one degree of freedom: 1/sqrt(2) becomes 10.
    assert spread.standard_error_k == pytest.approx(10.0)


@pytest.mark.parametrize(
    ("shown", "measured", "error", "said"),
    [
        (150.0, 160.0, 2.0, "Compare above 200"),
        (482.0, 560.0, 2.0, "thermocouple looked at"),
        (482.0, 485.0, 0.0, "sure to 0.5"),
        (482.0, 485.0, float("nan"), "sure to 0.5"),
        (float("nan"), 485.0, 2.0, "Compare above 200"),
        (482.0, float("nan"), 2.0, "thermocouple looked at"),
    ],
)
def test_what_says_nothing_is_refused(shown, measured, error, said):
    with pytest.raises(PhysicsProblem, match=said):
        offset_of([Comparison(shown_c=shown, measured_c=measured, error_k=error)])


def test_no_comparison_is_no_offset():
    with pytest.raises(PhysicsProblem, match="no comparison"):
        offset_of([])
    with pytest.raises(PhysicsProblem, match="thermocouple"):
        check_offset(float("nan"))
