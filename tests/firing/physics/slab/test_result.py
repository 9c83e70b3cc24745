"""What a computed firing tells: peaks by stage and window, the course over time.

First the march's arrays in the workshop's words, then whole firings.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from firing.physics.glass.families import NINETY
from firing.physics.slab import march
from firing.physics.slab.result import KELVIN, read_result
from firing.physics.slab.simulation import simulate
from firing.physics.slab.surroundings import BOTH_FACES, TOP_ONLY_FILM
from tests.firing.physics.slabs import (
    HOUR_S,
    fired,
    firing,
    full_fuse,
    table_firing,
)

SLAB = firing([0, 100], [20, 20], thickness_m=0.02)
STRESS_PA = np.array([-2e5, 1e5, 3e5, 1e5, -4e5])


def totals(**changes):
    found = np.zeros(march.TOTALS)
    found[[march.COOL_SINCE, march.JOINED_AT, march.SETTLED_AT]] = math.nan
    for name, value in changes.items():
        found[getattr(march, name.upper())] = value
    return found


def read(stress_pa=STRESS_PA, *, trace=None, peaks=None, **changes):
    nodes = len(stress_pa)
    profile = np.array(
        [np.full(nodes, KELVIN + 20), KELVIN + 480 + np.arange(nodes), stress_pa]
    )
    return read_result(
        SLAB,
        profile,
        np.zeros((3, march.PEAK_COLUMNS)) if peaks is None else peaks,
        np.zeros((0, march.TRACE_COLUMNS)) if trace is None else trace,
        totals(**changes),
    )


def test_what_stays_in_a_slab_is_told_for_its_middle_and_its_faces():
    found = read()
    assert (found.residual_mid_pa, found.residual_max_tension_pa) == (3e5, 3e5)
    assert (found.residual_bottom_pa, found.residual_top_pa) == (-2e5, -4e5)
    # 0.3 MPa times the stress-optic coefficient, over a centimetre.
    assert found.retardation_nm_cm == pytest.approx(
        10 * 0.3 * NINETY.stress_optic_brewster
    )


def test_a_slab_in_compression_all_through_has_no_tension():
    found = read(np.array([-3.0, -2.0, -1.0]))
    assert found.residual_max_tension_pa == found.retardation_nm_cm == 0


@pytest.mark.parametrize(("middle", "tension"), [(2e5, 2e5), (-2e5, 4e5)])
def test_in_loose_sheets_the_worst_of_them_counts(middle, tension):
    # A parabola of no resultant: its ends are minus twice its middle.
    found = read(np.array([1e5, middle, -0.5e5]), still_loose=1.0)
    assert found.residual_mid_pa == middle
    assert found.residual_top_pa == found.residual_bottom_pa == -2 * middle
    assert found.residual_max_tension_pa == tension


def test_kelvin_become_degrees_celsius():
    found = read(
        end_bottom=KELVIN + 30, end_middle=KELVIN + 31, end_top=KELVIN + 32, curvature=2
    )
    assert (found.end_bottom_c, found.end_middle_c, found.end_top_c) == pytest.approx(
        (30, 31, 32)
    )
    assert found.profile.temperature_c == pytest.approx(20)
    assert found.fictive_spread_k == pytest.approx(4)
    assert found.fictive_mean_c == pytest.approx(482)
    assert found.bow_per_m == 2
    assert found.profile.height_m == pytest.approx([0, 0.005, 0.01, 0.015, 0.02])


def test_each_peak_keeps_when_and_where_it_was():
    peaks = np.array(
        [
            [1e6, 100.0, 0.0, KELVIN + 300],
            [2e6, 200.0, 0.01, KELVIN + 400],
            [3e6, 300.0, 0.02, KELVIN + 500],
        ]
    )
    found = read(peaks=peaks)
    assert [one.tension_pa for one in (found.heating, found.cooling, found.window)] == [
        1e6,
        2e6,
        3e6,
    ]
    assert (found.cooling.at_s, found.cooling.height_m) == (200, 0.01)
    assert found.cooling.kiln_c == pytest.approx(400)


def test_what_never_happened_is_none_and_what_did_has_its_time():
    never = read()
    assert never.cool_since_s is never.joined_at_s is never.settled_at_s is None
    then = read(cool_since=5.0, joined_at=0.0, settled_at=7.0)
    assert (then.cool_since_s, then.joined_at_s, then.settled_at_s) == (5, 0, 7)


def test_slots_that_no_step_ended_in_are_left_out_of_the_course():
    assert read().trace is None
    rows = np.full((3, march.TRACE_COLUMNS), math.nan)
    rows[0] = [0, *[KELVIN + 10] * 4, 1e5, KELVIN + 480]
    rows[2] = [20, *[KELVIN + 30] * 4, 2e5, KELVIN + 470]
    trace = read(trace=rows).trace
    assert trace.time_s.tolist() == [0, 20]
    assert trace.kiln_c == pytest.approx([10, 30])
    assert trace.top_c == pytest.approx([10, 30])
    assert trace.tension_pa.tolist() == [1e5, 2e5]
    assert trace.fictive_middle_c == pytest.approx([480, 470])


def test_missing_heat_is_a_share_of_all_that_moved_or_of_one_degree():
    found = read(heat_stored=103.0, heat_entered=100.0, heat_moved=1e9)
    assert found.diagnostics.energy_error == pytest.approx(3e-9)
    still = read(heat_stored=3.0).diagnostics.energy_error
    one_degree = 2500 * NINETY.heat_capacity.at(KELVIN + 100) * 0.02
    assert still == pytest.approx(3 / one_degree)
    counted = read(steps=12.0, refused_steps=3.0).diagnostics
    assert (counted.steps, counted.refused_steps) == (12, 3)


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
