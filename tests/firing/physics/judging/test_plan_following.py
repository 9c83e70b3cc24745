"""Holds, rates and faults of a record against its plan."""

import numpy as np
import pytest

from firing.physics.judging.plan_following import FaultKind, follow_plan
from firing.physics.kiln.curve import kiln_curve
from firing.physics.kiln.recorded import clean_readings
from firing.physics.schedule import PhysicsProblem, Programme, Segment
from tests.firing.physics.readings import cut_off, sampled

HOUR_S = 3600.0
PLAN = Programme(
    start_c=20.0,
    segments=(
        Segment(
            label="bubble squeeze", rate_c_per_h=60.0, target_c=640.0, hold_s=2 * HOUR_S
        ),
        Segment(label="full fuse", rate_c_per_h=150.0, target_c=816.0, hold_s=900.0),
        Segment(
            label="anneal soak", rate_c_per_h=None, target_c=482.0, hold_s=8 * HOUR_S
        ),
        Segment(label="cooling 1", rate_c_per_h=3.8, target_c=427.0),
        Segment(label="cooling 2", rate_c_per_h=6.8, target_c=371.0),
        Segment(label="final cooling", rate_c_per_h=22.0, target_c=50.0),
    ),
)
CURVE = kiln_curve(PLAN, None, until_c=50.0)
SQUEEZED_S, FUSED_S, SOAKED_S, FIRST_S, SECOND_S, END_S = CURVE.segment_ends_s


def followed(time_s, kiln_c):
    return follow_plan(clean_readings(time_s, kiln_c), PLAN)


def as_fired(*changes):
    """The plan with some segments changed, as readings."""
    segments = [dict(changes).get(segment.label, segment) for segment in PLAN.segments]
    schedule = Programme(start_c=20.0, segments=tuple(segments))
    return sampled(kiln_curve(schedule, None, until_c=50.0), 60.0)


@pytest.mark.parametrize("noise_k", [0.0, 1.0])
@pytest.mark.parametrize("every_s", [30.0, 60.0, 300.0])
def test_as_planned_has_no_fault(noise_k, every_s):
    found = followed(*sampled(CURVE, every_s, noise_k=noise_k))
    assert found.faults == ()
    assert found.done == 6
    assert all(hold.missed_s < 1200 for hold in found.holds)
    for rate in found.rates:
        assert rate.exceeded_s == 0
        assert rate.fastest_c_per_h == pytest.approx(
            rate.planned_c_per_h, rel=0.05 if not noise_k else 0.6
        )


def test_short_soak():
    short = Segment(
        label="anneal soak", rate_c_per_h=None, target_c=482.0, hold_s=5 * HOUR_S
    )
    found = followed(*as_fired(("anneal soak", short)))
    (fault,) = found.faults
    assert (fault.kind, fault.segment) == (FaultKind.SHORT_HOLD, "anneal soak")
    assert fault.amount == pytest.approx(3 * HOUR_S, abs=900)


def test_too_fast_in_one_stage():
    fast = Segment(label="cooling 2", rate_c_per_h=11.0, target_c=371.0)
    found = followed(*as_fired(("cooling 2", fast)))
    (fault,) = found.faults
    assert (fault.kind, fault.segment) == (FaultKind.TOO_FAST, "cooling 2")
    assert fault.amount == pytest.approx(11.0, rel=0.1)
    rate = next(rate for rate in found.rates if rate.segment == "cooling 2")
    assert rate.exceeded_s == pytest.approx(56 / 11 * HOUR_S, rel=0.25)


def test_overshoot():
    hot = Segment(label="full fuse", rate_c_per_h=150.0, target_c=830.0, hold_s=900.0)
    (fault,) = followed(*as_fired(("full fuse", hot))).faults
    assert fault.kind is FaultKind.OVERSHOOT
    assert fault.amount == pytest.approx(14, abs=1)


def test_target_not_reached():
    cool = Segment(label="full fuse", rate_c_per_h=150.0, target_c=790.0, hold_s=900.0)
    found = followed(*as_fired(("full fuse", cool)))
    assert FaultKind.NOT_REACHED in [fault.kind for fault in found.faults]
    assert found.done == 1


def test_late():
    slow = Segment(
        label="bubble squeeze", rate_c_per_h=45.0, target_c=640.0, hold_s=2 * HOUR_S
    )
    (fault,) = followed(*as_fired(("bubble squeeze", slow))).faults
    assert fault.kind is FaultKind.LATE
    assert fault.amount == pytest.approx((620 / 45 - 620 / 60) * HOUR_S, rel=0.05)


def test_cut_while_annealing():
    at_s = SOAKED_S + 5 * HOUR_S
    found = followed(*cut_off(*sampled(CURVE, 60.0), at_s))
    cut = next(fault for fault in found.faults if fault.kind is FaultKind.CUT)
    assert cut.segment == "cooling 1"
    assert cut.start_s == pytest.approx(at_s, abs=1800)
    # What the cut did to the rates is told once.
    assert FaultKind.TOO_FAST not in [fault.kind for fault in found.faults]


def test_cut_while_heating_and_back():
    time_s, kiln_c = sampled(CURVE, 60.0)
    at_s = 8 * HOUR_S
    fallen_c = np.where(
        (time_s > at_s) & (time_s < at_s + 2 * HOUR_S),
        500 - (time_s - at_s) / 60,
        kiln_c,
    )
    found = followed(time_s, fallen_c)
    assert FaultKind.CUT in [fault.kind for fault in found.faults]


def test_a_firing_that_still_runs():
    found = followed(*sampled(CURVE, 60.0, until_s=SOAKED_S - 4 * HOUR_S))
    assert found.faults == ()
    assert found.done == 3
    soak = next(hold for hold in found.holds if hold.segment == "anneal soak")
    assert soak.missed_s == pytest.approx(4 * HOUR_S, rel=0.05)


def test_plan_that_never_heats():
    plan = Programme(
        start_c=800.0,
        segments=(Segment(label="anneal soak", rate_c_per_h=None, target_c=482.0),),
    )
    with pytest.raises(PhysicsProblem, match="never heats"):
        follow_plan(clean_readings(*sampled(CURVE)), plan)
