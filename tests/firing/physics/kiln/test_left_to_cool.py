"""A kiln without power: its fall in closed form, and its time constant from readings."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.physics.kiln.left_to_cool import cooling_time_s, fitted_time_constant_s

ROOM_C = 20.0
HOURS = 3600.0


@given(
    from_c=st.floats(60, 900),
    left=st.floats(0.05, 1.0),
    tau_s=st.floats(HOURS, 24 * HOURS),
)
def test_the_time_left_is_newtons_law_of_cooling(from_c, left, tau_s):
    """T(t) = room + (T(0) - room) exp(-t/tau): Newton's law of cooling, closed form."""
    to_c = ROOM_C + max(left * (from_c - ROOM_C), 1.0)
    took_s = cooling_time_s(from_c, to_c, room_c=ROOM_C, time_constant_s=tau_s)
    assert ROOM_C + (from_c - ROOM_C) * np.exp(-took_s / tau_s) == pytest.approx(to_c)


@given(start_c=st.floats(80, 500), tau_s=st.floats(HOURS, 24 * HOURS))
def test_the_time_constant_is_found_again_in_whole_degrees(start_c, tau_s):
    at_s = np.arange(0, 2 * HOURS, 60.0)
    shown_c = np.rint(ROOM_C + (start_c - ROOM_C) * np.exp(-at_s / tau_s))
    found_s = fitted_time_constant_s(at_s, shown_c, room_c=ROOM_C)
    fall_k = shown_c[0] - shown_c[-1]
    if found_s is None:
        assert fall_k < 3
    else:
        # Half a degree at either end of the fall.
        assert found_s == pytest.approx(tau_s, rel=1.5 / fall_k)


@pytest.mark.parametrize(
    "shown_c", [[500, 500, 500], [100, 200, 300], [500, 450], [21, 20, 20]]
)
def test_what_does_not_fall_has_no_time_constant(shown_c):
    at_s = np.arange(len(shown_c)) * 1800.0
    found_s = fitted_time_constant_s(at_s, np.array(shown_c, float), room_c=ROOM_C)
    assert found_s is None
