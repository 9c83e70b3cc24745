"""What a computed firing tells: peaks by stage and window, the course over time."""

from dataclasses import replace

import numpy as np
import pytest

from firing.physics.glass.families import NINETY
from firing.physics.slab.simulation import simulate
from firing.physics.slab.surroundings import BOTH_FACES, TOP_ONLY_FILM
from tests.firing.physics.slabs import HOUR_S, fired, full_fuse, table_firing


def test_heating_and_cooling_peaks_are_told_apart():
    result = simulate(full_fuse(thickness_m=0.025, boundary=BOTH_FACES))
    assert result.heating.height_m == pytest.approx(0.0125)
    assert result.heating.at_s < 640 / 50 * HOUR_S
    assert result.heating.kiln_c < NINETY.annealing_point_c + 60
    assert result.cooling.at_s > result.heating.at_s


def test_the_window_holds_its_own_peak_and_difference():
    whole = simulate(table_firing(50, window_s=None))
    slab = table_firing(50)
    late = simulate(slab)
    assert late.window.tension_pa <= whole.window.tension_pa
    assert whole.window.tension_pa == whole.cooling.tension_pa
    assert slab.window_s[0] <= late.window.at_s <= slab.window_s[1]
    assert late.residual_mid_pa == pytest.approx(whole.residual_mid_pa, rel=1e-6)


def test_a_window_inside_a_ramp_changes_nothing_else():
    plain = simulate(table_firing(25))
    inside = simulate(table_firing(25, window_s=(30_000.0, 40_000.0)))
    assert inside.residual_mid_pa == pytest.approx(plain.residual_mid_pa, rel=1e-3)
    assert 30_000 <= inside.window.at_s <= 40_000


def test_the_trace_has_a_fixed_size_and_keeps_the_peak():
    few = simulate(table_firing(50), trace_slots=20).trace
    many = simulate(table_firing(50), trace_slots=400)
    assert few.time_s.size <= 20
    assert many.trace.time_s.size <= 400
    assert np.all(np.diff(many.trace.time_s) > 0)
    assert np.max(few.tension_pa) == many.cooling.tension_pa
    assert np.max(np.abs(many.trace.top_c - many.trace.kiln_c)) < 1e-6


def test_when_the_glass_is_cool_enough_is_later_than_the_kiln():
    result = simulate(replace(table_firing(50, boundary=TOP_ONLY_FILM), opening_c=50.0))
    kiln_cold_s = table_firing(50).time_s[-1] - 29 / 22 * HOUR_S
    assert result.cool_since_s > kiln_cold_s
    assert simulate(table_firing(12)).settled_at_s > table_firing(12).time_s[-1]
    hot = fired([0, 100], [800, 800])
    assert hot.cool_since_s is None
