"""Bands: what is varied, that they include their middle, and how wide they are."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firing.physics.designing.band import Band, Uncertainty, simulate_band
from firing.physics.glass.properties import with_annealing_point
from firing.physics.schedule import PhysicsProblem
from firing.physics.slab.simulation import simulate
from firing.physics.slab.surroundings import BOTH_FACES, TOP_ONLY
from tests.firing.physics.slabs import films, firing, history, table_firing

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
    assert words[:9] == [
        "as given",
        "annealing point -10 K",
        "annealing point +10 K",
        "conductivity -15%",
        "conductivity +15%",
        "kiln -5 K",
        "kiln +5 K",
        "the other boundary",
        "annealing point -10 K, conductivity -15%, kiln -5 K",
    ]
    assert len(words) == len(set(words)) == 8 + 2**3 * 2, "and every corner once"
    narrow = simulate_band(table_firing(25), Uncertainty(annealing_point_k=5))
    wide = simulate_band(table_firing(25), Uncertainty(annealing_point_k=15))
    assert wide.residual_mid_pa.high > narrow.residual_mid_pa.high


def test_each_band_reaches_its_own_corners():
    """What raises the residual is not what raises the tension on the way."""
    slab = firing(
        *history(
            (60.0, 800.0, 3600),
            (200.0, 482.0, 4 * 3600),
            (15.0, 427.0, 0),
            (27.0, 371.0, 0),
            (90.0, 21.0, 0),
            start_c=20.0,
        ),
        thickness_m=0.025,
        boundary=films(5.0, 0.9),
    )
    banded = simulate_band(slab, ALL)
    corners = {
        corner: simulate(changed(slab, *corner))
        for corner in product((-1, 1), (-1, 1), (-1, 1), (slab.boundary, TOP_ONLY))
    }
    taken = {}
    for name, value in (
        ("residual_tension_pa", lambda one: one.residual_max_tension_pa),
        ("heating_pa", lambda one: one.heating.tension_pa),
        ("cooling_pa", lambda one: one.cooling.tension_pa),
        ("window_pa", lambda one: one.window.tension_pa),
        ("difference_k", lambda one: one.window_difference_k),
    ):
        values = {corner: value(result) for corner, result in corners.items()}
        taken[name] = max(values, key=values.get)
        band = getattr(banded, name)
        assert band.low <= min(values.values()) * (1 + 1e-12)
        assert band.high >= max(values.values()) * (1 - 1e-12)
    assert taken["residual_tension_pa"] != taken["heating_pa"]


def changed(base, annealing, conducting, kiln, boundary):
    """Put a firing into a corner, from what the uncertainties say, not from `band`."""
    glass = with_annealing_point(
        base.glass, base.glass.annealing_point_c + 10 * annealing
    )
    a0, a1 = glass.conductivity_w_mk
    factor = 1 + 0.15 * conducting
    share = np.clip((base.kiln_c - 20) / 380, 0, 1)
    return replace(
        base,
        glass=replace(glass, conductivity_w_mk=(a0 * factor, a1 * factor)),
        kiln_c=base.kiln_c + 5 * kiln * share,
        boundary=boundary,
    )


def test_a_search_computes_only_where_the_tops_are():
    whole = simulate_band(table_firing(50), ALL)
    some = simulate_band(table_firing(50), ALL, only=whole.tops)
    assert len(some.cases) <= len(whole.tops) + 1 < 6
    for name in ("heating_pa", "cooling_pa", "window_pa", "residual_tension_pa"):
        assert getattr(some, name).high == getattr(whole, name).high
        assert getattr(some, name).middle == getattr(whole, name).middle


def test_an_annealing_point_may_be_further_off_above_than_below():
    sure = Uncertainty(annealing_point_above_k=26, thermocouple_k=0)
    banded = simulate_band(table_firing(25), sure)
    alone = dict(banded.cases)
    assert banded.by_annealing_point == tuple(
        (506 + up_k, alone[words].residual_max_tension_pa)
        for up_k, words in (
            (0, "annealing point -10 K"),
            (10, "as given"),
            (36, "annealing point +26 K"),
        )
    )
    assert Uncertainty().annealing_point_up_k == 10, "as far up as down"
    only_above = replace(NONE, annealing_point_above_k=26)
    words = [said for said, _ in simulate_band(table_firing(25), only_above).cases]
    assert "annealing point +26 K" in words


def test_an_elastic_slab_has_no_annealing_point_to_vary():
    banded = simulate_band(table_firing(12, is_relaxing=False))
    assert not any("annealing" in words for words, _ in banded.cases)


def test_an_uncertainty_out_of_reason_is_refused():
    for wrong in (
        {"annealing_point_k": 60},
        {"annealing_point_above_k": 60},
        {"conductivity_share": -0.1},
        {"thermocouple_k": float("nan")},
    ):
        with pytest.raises(PhysicsProblem, match="uncertainty"):
            Uncertainty(**wrong)
