"""Bands: what is varied, that they hold their middle, and how wide they are."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firing.physics.band import Band, Uncertainty, simulate_band
from firing.physics.firing_simulation import simulate
from firing.physics.schedule import PhysicsProblem
from firing.physics.surroundings import BOTH_FACES, TOP_ONLY
from tests.firing.physics.slabs import table_firing

ALL = Uncertainty(other_boundary=TOP_ONLY)
NONE = Uncertainty(annealing_point_k=0, conductivity_share=0, thermocouple_k=0)
BANDS = (
    "heating_pa",
    "cooling_pa",
    "window_pa",
    "residual_tension_pa",
    "residual_mid_pa",
    "residual_face_pa",
    "retardation_nm_cm",
    "difference_k",
)


@settings(max_examples=10, deadline=None)
@given(
    thickness_mm=st.sampled_from([12, 19, 25, 38, 50]),
    boundary=st.sampled_from([BOTH_FACES, TOP_ONLY]),
)
def test_a_band_contains_its_middle(thickness_mm, boundary):
    banded = simulate_band(table_firing(thickness_mm, boundary=boundary), ALL)
    for name in BANDS:
        band = getattr(banded, name)
        assert band.low <= band.middle <= band.high
    assert banded.residual_tension_pa.low < banded.residual_tension_pa.high


def test_its_middle_is_the_firing_itself():
    slab = table_firing(25)
    banded = simulate_band(slab, ALL, trace_slots=50)
    alone = simulate(slab)
    assert banded.middle.residual_mid_pa == alone.residual_mid_pa
    assert banded.window_pa.middle == alone.window.tension_pa
    assert banded.middle.trace.time_s.size <= 50


def test_the_envelope_holds_every_case_over_time():
    banded = simulate_band(table_firing(25), ALL, trace_slots=200)
    over, middle = banded.envelope, banded.middle.trace
    assert (over.low_pa <= over.high_pa).all()
    assert (np.diff(over.time_s) > 0).all()
    drawn = np.interp(over.time_s, middle.time_s, middle.tension_pa)
    assert (over.low_pa <= drawn).all()
    assert (drawn <= over.high_pa).all()
    top = max(banded.heating_pa.high, banded.cooling_pa.high)
    assert over.high_pa.max() == pytest.approx(top, rel=1e-9), "no peak is lost"
    assert simulate_band(table_firing(25), NONE).envelope is None


def test_nothing_uncertain_is_no_band():
    banded = simulate_band(table_firing(25), NONE)
    assert len(banded.cases) == 1
    value = banded.residual_mid_pa.middle
    assert banded.residual_mid_pa == Band(low=value, middle=value, high=value)


def test_each_uncertainty_is_named_and_widens():
    words = [said for said, _ in simulate_band(table_firing(25), ALL).cases]
    assert words == [
        "as given",
        "annealing point -10 K",
        "annealing point +10 K",
        "conductivity -15%",
        "conductivity +15%",
        "kiln -5 K",
        "kiln +5 K",
        "the other boundary",
        "all that raised it together",
    ]
    narrow = simulate_band(table_firing(25), Uncertainty(annealing_point_k=5))
    wide = simulate_band(table_firing(25), Uncertainty(annealing_point_k=15))
    assert wide.residual_mid_pa.high > narrow.residual_mid_pa.high


def test_the_worst_together_is_the_top_of_the_band():
    banded = simulate_band(table_firing(50), ALL)
    assert banded.cases[-1][0] == "all that raised it together"
    worst = banded.cases[-1][1].residual_max_tension_pa
    assert worst == banded.residual_tension_pa.high
    assert worst > 1.1 * max(r.residual_max_tension_pa for _, r in banded.cases[:-1])


def test_an_elastic_slab_has_no_annealing_point_to_vary():
    banded = simulate_band(table_firing(12, is_relaxing=False))
    assert not any("annealing" in words for words, _ in banded.cases)


def test_an_uncertainty_out_of_reason_is_refused():
    for wrong in (
        {"annealing_point_k": 60},
        {"conductivity_share": -0.1},
        {"thermocouple_k": float("nan")},
    ):
        with pytest.raises(PhysicsProblem, match="uncertainty"):
            Uncertainty(**wrong)
