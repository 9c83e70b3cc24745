"""An uneven kiln: heat along a disc, and the stress that its middle and rim do to each
other.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special

from firing.physics.designing.band import simulate_band
from firing.physics.glass.families import NINETY
from firing.physics.refusals import Cause
from firing.physics.schedule import PhysicsProblem
from firing.physics.slab import across_march
from firing.physics.slab.across import (
    likely_and_extremes,
    simulate_across,
    through_the_rim,
)
from firing.physics.slab.input import Across, SlabFiring
from firing.physics.slab.surroundings import (
    BOTH_FACES,
    BOTH_FACES_FILM,
    INSULATED,
    TOP_ONLY,
    TOP_ONLY_FILM,
)

HOUR_S = 3600.0
ANNEALS_C = NINETY.annealing_point_c
E_ALPHA = NINETY.youngs_modulus_pa * NINETY.expansion_glass_per_k


def firing_of(thickness_m, hours, temperatures_c, boundary=BOTH_FACES, **also):
    return SlabFiring(
        glass=NINETY,
        thickness_m=thickness_m,
        boundary=boundary,
        time_s=np.array(hours) * HOUR_S,
        kiln_c=np.array(temperatures_c, dtype=float),
        **also,
    )


def annealed(thickness_m, boundary=BOTH_FACES, rate_c_per_h=10.0):
    """Return a firing that soaks at the annealing point and cools evenly."""
    cools_h = (ANNEALS_C - 20) / rate_c_per_h
    hours = (0, 2, 12, 12 + cools_h, 60 + cools_h)
    return firing_of(thickness_m, hours, (600, ANNEALS_C, ANNEALS_C, 20, 20), boundary)


def apart(firing, edge_k, radius_m=0.2):
    return simulate_across(
        firing, Across(radius_m=radius_m), edge_k=edge_k, rim=INSULATED
    )


def test_a_parabola_across_a_cold_disc_pulls_as_in_the_handbook():
    # Timoshenko & Goodier, Theory of Elasticity, thin circular disc with temperature
    # symmetrical about its centre (from memory): for T = dT (r/R)² the rim's stress is
    # -E alpha dT/2, and the middle's E alpha dT/4 in every direction.
    held = firing_of(0.003, (0, 30), (ANNEALS_C, ANNEALS_C), is_relaxing=False)
    for edge_k in (4.0, -4.0):
        found = apart(held, edge_k, radius_m=2.0)
        rim, middle = -E_ALPHA * edge_k / 2, E_ALPHA * edge_k / 4
        assert found.cooling_pa == pytest.approx(max(rim, middle), rel=0.01)


def test_heat_along_a_plate_evens_it_out_as_a_fin_does():
    # A plate of thickness d whose face lets through U: k d (T'' + T'/r) = U (T - kiln),
    # no flux at the rim. With the kiln s (r/R)² the solution is a parabola and a
    # modified Bessel function I0 (Carslaw & Jaeger's fins, from memory; scipy's I0).
    d, radius_m, edge_k = 0.06, 0.2, 5.0
    held = firing_of(d, (0, 300), (ANNEALS_C, ANNEALS_C), TOP_ONLY, is_relaxing=False)
    conductivity = NINETY.conductivity_at(ANNEALS_C)
    through = 3 * conductivity / d
    m = np.sqrt(through / (conductivity * d))
    share = -2 * edge_k / radius_m / (m * special.iv(1, m * radius_m))
    r = np.linspace(0, radius_m, 4001)
    fin_k = edge_k * (r**2 + 4 / m**2) / radius_m**2 + share * special.iv(0, m * r)
    mean_k = 2 * np.trapezoid(fin_k * r, r) / radius_m**2
    middle = E_ALPHA * (mean_k - fin_k[0]) / 2
    assert apart(held, edge_k).cooling_pa == pytest.approx(middle, rel=0.01)


def test_a_difference_along_a_disc_dies_away_at_the_published_rate():
    # First zero of J1, 3.8317: the slowest difference of an insulated disc decays by
    # exp(-3.8317² kappa t/R²) (Abramowitz & Stegun, table 9.5, from memory; scipy).
    zero = special.jn_zeros(1, 1)[0]
    rings, kappa, radius_m, t = 48, 5e-7, 0.2, 8_000.0
    r = (np.arange(rings) + 0.5) / rings * radius_m
    cells = special.j0(zero * r / radius_m)
    first = cells.copy()
    steps, width = 2000, radius_m / rings
    reach = kappa * t / steps / width**2
    above, right = np.zeros(rings), np.zeros(rings)
    for _ in range(steps):
        across_march.conduct_along(
            cells, cells.copy(), 0.0, reach, 0.0, 0.0, above, right
        )
    left = np.exp(-(zero**2) * kappa * t / radius_m**2)
    assert cells == pytest.approx(first * left, rel=0.01, abs=3e-4)


def test_what_the_kiln_left_at_the_anneal_is_frozen_in_with_the_other_sign():
    # The elastic estimate is a lower bound: glass that remembers adds to it, as in
    # tempering.
    frozen = annealed(0.006)
    hot_rim, cold_rim = apart(frozen, 2.0, radius_m=1.0), apart(frozen, -2.0, 1.0)
    estimate = E_ALPHA * 2.0 / 2
    assert estimate < hot_rim.residual_rim_pa < 1.5 * estimate
    assert hot_rim.residual_middle_pa < 0
    assert cold_rim.residual_rim_pa == pytest.approx(-hot_rim.residual_rim_pa, rel=0.03)
    assert cold_rim.residual_tension_pa == cold_rim.residual_middle_pa > 0


def test_steps_and_rings_are_fine_enough(monkeypatch):
    frozen = annealed(0.04, TOP_ONLY_FILM)
    found = apart(frozen, 3.0)
    for name, value in (("CELLS", 96), ("NEAR_K", 0.5), ("SHARE_OF_TIME", 0.1)):
        monkeypatch.setattr(f"firing.physics.slab.across.{name}", value)
    fine = apart(frozen, 3.0)
    assert found.residual_rim_pa == pytest.approx(fine.residual_rim_pa, rel=0.02)
    assert found.cooling_pa == pytest.approx(fine.cooling_pa, rel=0.03)


@settings(max_examples=15)
@given(
    st.floats(0.006, 0.1),
    st.floats(0.05, 0.4),
    st.floats(0.1, 4.0),
    st.sampled_from([TOP_ONLY_FILM, BOTH_FACES_FILM]),
)
def test_a_more_uneven_kiln_is_worse_and_a_smaller_slab_better(d, radius_m, k, faces):
    frozen = annealed(d, faces)
    found = apart(frozen, k, radius_m).residual_tension_pa
    assert apart(frozen, 1.5 * k, radius_m).residual_tension_pa > found
    # The same kiln over half the width is a quarter as uneven.
    assert apart(frozen, k / 4, radius_m / 2).residual_tension_pa < found / 3


def test_an_edge_that_runs_ahead_pulls_while_the_kiln_cools_and_not_while_it_holds():
    frozen = annealed(0.02, BOTH_FACES_FILM, rate_c_per_h=40.0)
    even = Across(radius_m=0.2, edge_k=(0.0, 0.0))
    ahead = replace(even, lead_s=300.0)
    (likely, _) = likely_and_extremes(frozen, ahead, 0.15)
    # 300 s at 40 °C/h is an edge 3.3 K colder: it pulls along the rim while it cools.
    assert likely.cooling_pa > 0.5 * E_ALPHA * 3.3 / 2
    assert likely.residual_rim_pa < 0
    assert likely_and_extremes(frozen, even, 0.15)[0].cooling_pa < 1
    slower = annealed(0.02, BOTH_FACES_FILM, rate_c_per_h=10.0)
    assert (
        likely_and_extremes(slower, ahead, 0.15)[0].residual_middle_pa
        < likely.residual_middle_pa / 3
    )


def test_heat_through_dams_leaves_tension_in_the_middle():
    frozen = annealed(0.06, TOP_ONLY_FILM)
    found = through_the_rim(frozen, Across(radius_m=0.2), 0.15)
    assert found.residual_middle_pa > 0 > found.residual_rim_pa
    assert found.cooling_pa > found.residual_middle_pa
    open_rim = through_the_rim(
        replace(frozen, boundary=BOTH_FACES_FILM), Across(radius_m=0.2), 0.15
    )
    assert open_rim.residual_rim_pa < 0


def test_the_band_adds_an_uneven_kiln_to_the_plate_where_it_counts():
    frozen = annealed(0.02, TOP_ONLY_FILM)
    plain = simulate_band(frozen)
    counted = simulate_band(replace(frozen, across=Across(radius_m=0.2, edge_k=(1, 3))))
    more = counted.across
    assert counted.plate.residual_tension_pa == plain.residual_tension_pa
    for name, added in (
        ("residual_tension_pa", more.residual_pa),
        ("cooling_pa", more.cooling_pa),
        ("window_pa", more.cooling_pa),
    ):
        one, both = getattr(plain, name), getattr(counted, name)
        assert both.high == pytest.approx(one.high + added.high)
        assert both.middle == pytest.approx(one.middle + added.middle)
        assert added.high > added.middle > 0
    told = Across(radius_m=0.2, edge_k=(1, 3), is_counted=False)
    only_told = simulate_band(replace(frozen, across=told))
    assert only_told.residual_tension_pa == plain.residual_tension_pa
    assert only_told.across == more


def test_loose_sheets_do_not_pull_at_each_other_while_they_heat():
    from firing.physics.slab.input import LooseStack

    up = firing_of(0.02, (0, 1, 3), (20, 800, 800), BOTH_FACES_FILM)
    loose = replace(up, stack=LooseStack(sheet_m=0.003, joins_c=670))
    assert apart(up, -20.0).heating_pa > 0
    assert apart(loose, -20.0).heating_pa == 0


@pytest.mark.parametrize(
    ("values", "cause"),
    [
        ({"radius_m": 0.001}, Cause.RADIUS),
        ({"radius_m": float("nan")}, Cause.RADIUS),
        ({"radius_m": 0.2, "edge_k": (-70.0, 0.0)}, Cause.SPREAD),
        ({"radius_m": 0.2, "edge_k": (2.0, 1.0)}, Cause.SPREAD),
        ({"radius_m": 0.2, "lead_s": 1e5}, Cause.LEAD),
    ],
)
def test_nonsense_is_refused(values, cause):
    with pytest.raises(PhysicsProblem) as caught:
        Across(**values)
    assert caught.value.refusal.cause is cause


def test_a_history_of_one_point_is_one_of_an_even_slab():
    assert apart(firing_of(0.02, (0,), (20,)), 5.0).residual_tension_pa == 0
