"""How uneven a kiln is, from what was measured on its shelf."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.physics.kiln.evenness import Unevenness, evenness_of
from firing.physics.refusals import Cause
from firing.physics.schedule import PhysicsProblem

HELD = Unevenness(middle_c=482, edge_c=486, reach_m=0.2, error_k=0.5)


def found(*measured, anneals_c=482):
    return evenness_of(measured, anneals_c=anneals_c)


def test_a_slab_as_wide_as_the_measurement_sees_what_was_measured():
    across = found(HELD).over(0.2)
    assert across.edge_k == pytest.approx((3.0, 5.0))
    assert across.lead_s == 0


def test_over_half_the_width_the_kiln_is_a_quarter_as_uneven():
    assert found(HELD).over(0.1).edge_k == pytest.approx((0.75, 1.25))


@given(st.floats(-20, 20), st.floats(0.05, 1.0), st.floats(350, 700))
def test_unevenness_is_in_proportion_to_the_heat(edge_k, reach_m, middle_c):
    one = Unevenness(
        middle_c=middle_c, edge_c=middle_c + edge_k, reach_m=reach_m, error_k=0.5
    )
    low_k, high_k = found(one).over(reach_m).edge_k
    share = (482 - 20) / (middle_c - 20)
    assert (low_k + high_k) / 2 == pytest.approx(edge_k * share, abs=1e-9)


def test_measurements_that_disagree_widen_what_the_kiln_may_be():
    agreeing = found(HELD, HELD).error_k_m2
    disagreeing = found(HELD, replace(HELD, edge_c=478)).error_k_m2
    assert agreeing < found(HELD).error_k_m2 < disagreeing


def test_what_a_cooling_kiln_has_beside_a_holding_one_is_how_far_its_edge_runs_ahead():
    # 4 K hotter while it holds and even while it falls at 48 K/h: 4 K are 300 s.
    falling = replace(HELD, edge_c=482, falls_k_s=48 / 3600)
    assert found(HELD, falling).over(0.2).lead_s == pytest.approx(300)
    assert found(HELD, falling).over(0.1).lead_s == pytest.approx(75)


def test_a_cooling_kiln_alone_says_nothing():
    assert found(replace(HELD, falls_k_s=0.01)) is None
    assert found() is None


@pytest.mark.parametrize(
    ("changes", "cause"),
    [
        ({"middle_c": 90.0, "edge_c": 91.0}, Cause.COMPARED_TOO_COLD),
        ({"error_k": 0.0}, Cause.COMPARISON_ERROR),
        ({"reach_m": 0.0}, Cause.RADIUS),
        ({"edge_c": 600.0}, Cause.SPREAD),
    ],
)
def test_nonsense_is_refused(changes, cause):
    with pytest.raises(PhysicsProblem) as caught:
        found(replace(HELD, **changes))
    assert caught.value.refusal.cause is cause
