import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from firing.drawings.curves import (
    clean_readings,
    cut_to_window,
    find_gaps,
    thin_out,
)

HEATS = arrays(
    np.float64,
    st.integers(min_value=1, max_value=600),
    elements=st.floats(min_value=-20, max_value=900),
)


@given(HEATS, st.integers(min_value=2, max_value=100))
def test_thinning_keeps_ends_and_extremes_and_its_promise(heats, columns):
    times = np.arange(heats.size, dtype=np.float64) * 30
    kept = thin_out(times, heats, columns=columns)
    assert kept[0] == 0
    assert kept[-1] == heats.size - 1
    assert heats[kept].min() == heats.min()
    assert heats[kept].max() == heats.max()
    assert kept.size <= 2 * columns
    assert np.all(np.diff(kept) > 0)


def test_a_hundred_thousand_readings_keep_their_one_spike():
    times = np.arange(100_000, dtype=np.float64)
    heats = np.full(times.size, 500.0)
    heats[71_234] = 777.0
    kept = thin_out(times, heats, columns=800)
    assert kept.size <= 1600
    assert 71_234 in kept


def test_thinning_readings_all_at_one_instant_still_keeps_extremes():
    heats = np.array([5.0, 9.0, 1.0] * 40)
    kept = thin_out(np.zeros(120), heats, columns=3)
    assert {1.0, 9.0} <= set(heats[kept])


def test_a_drawing_without_columns_is_refused():
    with pytest.raises(ValueError, match="column"):
        thin_out(np.zeros(3), np.zeros(3), columns=0)


def test_cutting_interpolates_at_both_edges():
    times, heats = cut_to_window(
        np.array([0.0, 100.0]), np.array([0.0, 1000.0]), from_s=25, to_s=75
    )
    assert times.tolist() == [25, 75]
    assert heats.tolist() == [250, 750]


def test_a_curve_inside_the_window_keeps_its_ends():
    times, _ = cut_to_window(
        np.array([10.0, 20.0]), np.array([1.0, 2.0]), from_s=0, to_s=100
    )
    assert times.tolist() == [10, 20]


@pytest.mark.parametrize(("from_s", "to_s"), [(-9, -1), (101, 200)])
def test_a_curve_outside_the_window_is_empty(from_s, to_s):
    times, heats = cut_to_window(
        np.array([0.0, 100.0]), np.array([0.0, 1.0]), from_s=from_s, to_s=to_s
    )
    assert times.size == heats.size == 0


def test_readings_are_put_in_order_and_nonsense_left_out():
    times, heats = clean_readings(
        np.array([3.0, 1.0, np.nan, 2.0]), np.array([30.0, 10.0, 5.0, np.inf])
    )
    assert times.tolist() == [1, 3]
    assert heats.tolist() == [10, 30]


def test_unequal_lists_are_refused():
    with pytest.raises(ValueError, match="equal length"):
        clean_readings(np.zeros(3), np.zeros(2))


def test_a_gap_is_longer_than_allowed_not_as_long():
    times = np.array([0.0, 60.0, 120.0, 181.0])
    assert find_gaps(times, longer_than_s=60).tolist() == [2]
