"""How long a kiln was hot: against sums by hand and against a fine numerical integral."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.physics.kiln.wear import hours_above

HOUR = 3600.0


@pytest.mark.parametrize(
    ("points", "hours"),
    [
        ([], 0.0),
        ([(0, 900)], 0.0),
        # Up from 0 to 1000 °C in an hour and down again: above 500 °C half of it.
        ([(0, 0), (HOUR, 1000), (2 * HOUR, 0)], 1.0),
        # A hold on the very temperature is not above it.
        ([(0, 500), (HOUR, 500)], 0.0),
        ([(0, 0), (HOUR, 800), (3 * HOUR, 800), (4 * HOUR, 0)], 2.75),
        ([(HOUR, 1000), (0, 0), (2 * HOUR, 0)], 1.0),
    ],
)
def test_sums_by_hand(points, hours):
    assert hours_above(points, 500.0) == pytest.approx(hours)


CURVES = st.lists(st.floats(0, 1300), min_size=2, max_size=12)


@given(CURVES, st.floats(50, 1200))
def test_is_what_numpy_counts_on_a_fine_grid(heats, above_c):
    times = np.arange(len(heats)) * HOUR
    fine = np.linspace(0, times[-1], 20_001)
    share = np.mean(np.interp(fine, times, heats) > above_c)
    counted = share * times[-1] / HOUR
    found = hours_above(list(zip(times, heats, strict=True)), above_c)
    assert found == pytest.approx(counted, abs=0.01)


@given(CURVES, st.floats(50, 1200))
def test_hotter_is_never_longer(heats, above_c):
    points = [(n * HOUR, heat) for n, heat in enumerate(heats)]
    assert hours_above(points, above_c + 20) <= hours_above(points, above_c)
