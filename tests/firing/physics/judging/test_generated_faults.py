"""Faults of any kind at any moment of firings of any thickness, glass and kiln.

The faults are generated (`faults`), so the rules are tested and not the cases somebody
thought of.
"""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from firing.physics.judging.plan_following import FaultKind
from firing.physics.judging.verdict import Verdict, judge
from firing.physics.judging.what_next import (
    UNDECIDED,
    Action,
    verdict_from_here,
    what_next,
)
from firing.physics.limits import Limits
from firing.physics.schedule import PhysicsProblem
from firing.physics.slab.input import Accuracy
from firing.physics.slab.simulation import simulate
from tests.firing.physics.faults import Kind, flawless, hidden, hotter, made
from tests.firing.physics.stiff_solver import StiffSlab
from tests.patience import in_form

HOUR_S = 3600.0
SEEDS = range(in_form(1, 17))  # Of twelve kinds: some 200.
REASSURING = (Verdict.WITHIN, Verdict.STILL_HOT)
WRONG_UNIT = (Kind.FAHRENHEIT, Kind.CELSIUS)
# What was read says where the kiln was, or that it is not known.
TRUTHFUL = [kind for kind in Kind if kind not in (Kind.STUCK, *WRONG_UNIT)]
every_seed = pytest.mark.parametrize("seed", SEEDS)


@cache
def found(kind, seed):
    """Return what was made, and its judgement, or None where it is refused."""
    fault = made(kind, seed)
    try:
        return fault, judge(fault.request)
    except PhysicsProblem:
        return fault, None


def order(option):
    return option.harm, option.action is not Action.GO_ON, option.lasts_s


@pytest.mark.slow
@pytest.mark.parametrize("kind", Kind)
@every_seed
def test_the_advice_is_the_best_of_what_can_be_done(kind, seed):
    fault, judged = found(kind, seed)
    if judged is None:
        assert kind in (Kind.BROKEN, *WRONG_UNIT)
        return
    options = what_next(judged, kiln=fault.kiln)
    (best,) = [option for option in options if option.is_recommended]
    for other in options:
        assert order(best) <= order(other), (best.action, other.action)
    goes_on = next(option for option in options if option.action is Action.GO_ON)
    if goes_on.is_within:
        assert best is goes_on
    # What is left of the harm is computed here once more from the bands alone.
    stays = best.band.residual_tension_pa.high / fault.request.limits.residual_pa
    assert best.is_within == (best.harm == 1.0)
    assert best.harm >= min(stays, 1.0) or math.isclose(best.harm, 1.0)
    verdict = verdict_from_here(judged, options)
    if not best.is_within and judged.verdict in UNDECIDED and not judged.is_over:
        assert verdict is Verdict.NOT_TO_SAVE
    if verdict in REASSURING:
        assert best.is_within
        assert best.action not in (Action.RE_ANNEAL, Action.COOL_FIRST)


@pytest.mark.slow
@pytest.mark.parametrize("kind", TRUTHFUL)
@every_seed
def test_what_the_glass_went_through_is_in_the_band(kind, seed):
    """The true kiln, which no filter has seen, up to the last reading that is one."""
    fault, judged = found(kind, seed)
    if judged is None:
        assert kind is Kind.BROKEN
        return
    time_s = fault.request.time_s - judged.record.starts_s
    upto = (time_s >= 0) & (time_s <= judged.record.lasts_s)
    true = simulate(
        replace(judged.firing, time_s=time_s[upto], kiln_c=fault.true_c[upto]),
        Accuracy(nodes=17),
    )
    band = judged.band
    for ours, theirs in (
        (band.heating_pa, true.heating.tension_pa),
        (band.cooling_pa, true.cooling.tension_pa),
        (band.residual_tension_pa, true.residual_max_tension_pa),
    ):
        # Noise of a reading is some tension that was not there.
        assert ours.low / 1.05 - 0.3e6 <= theirs <= ours.high * 1.05 + 0.1e6


@pytest.mark.slow
@pytest.mark.parametrize("kind", Kind)
@every_seed
def test_hiding_readings_never_improves_the_verdict(kind, seed):
    fault, whole = found(kind, seed)
    if whole is not None and (
        whole.verdict in REASSURING
        # Without the readings that contradict each other nothing is broken.
        or (whole.verdict is Verdict.UNSURE and whole.record.is_broken_at_the_end)
    ):
        return
    rng, last_s = np.random.default_rng(seed), fault.request.time_s[-1]
    from_s = rng.uniform(0.02, 0.95) * last_s
    to_s = min(from_s + rng.uniform(0.6, 6) * HOUR_S, last_s)
    if kind is Kind.OPENED and from_s < fault.to_s and to_s > fault.from_s:
        # What is said of a gap is what a closed kiln can do in it.
        from_s, to_s = fault.to_s, fault.to_s + to_s - from_s
    try:
        verdict = judge(hidden(fault, from_s, to_s).request).verdict
    except PhysicsProblem:
        return
    assert verdict not in REASSURING


@pytest.mark.slow
@pytest.mark.parametrize("kind", WRONG_UNIT)
@every_seed
def test_readings_in_another_unit_reassure_nobody(kind, seed):
    """On its way up a kiln that reads too cold only has to get hotter."""
    _, judged = found(kind, seed)
    if judged is not None:
        is_cold = kind is Kind.CELSIUS and judged.is_on_its_way_up
        assert judged.verdict not in REASSURING or is_cold


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(in_form(1, 20)))
@pytest.mark.parametrize(("noise_k", "step_k"), [(2.0, 0.0), (0.5, 5.0)])
def test_nothing_is_said_of_a_firing_without_a_fault(seed, noise_k, step_k):
    request = flawless(seed).request
    clean = judge(request)
    read_c = request.temperature_c + np.random.default_rng(seed).uniform(
        -noise_k, noise_k, request.time_s.size
    )
    if step_k:
        read_c = np.round(read_c / step_k) * step_k
    judged = judge(replace(request, temperature_c=read_c))
    told = {fault.kind for fault in judged.faults}
    assert told <= {FaultKind.OVERSHOOT} | {fault.kind for fault in clean.faults}
    assert FaultKind.TOO_FAST not in told
    if clean.verdict in (Verdict.WITHIN, Verdict.CHECK):
        assert judged.verdict in (Verdict.WITHIN, Verdict.CHECK)
    else:
        assert judged.verdict is clean.verdict


@pytest.mark.slow
@pytest.mark.long
@pytest.mark.parametrize("kind", Kind)
@pytest.mark.parametrize("seed", range(2))
def test_another_solver_finds_the_same_of_what_is_recommended(kind, seed):
    """`stiff_solver` shares no code with the engine."""
    fault = made(kind, seed)
    try:
        judged = judge(replace(fault.request, stack=None))
    except PhysicsProblem:
        return
    options = what_next(judged, kiln=fault.kiln)
    best = next(one for one in options if one.is_recommended)
    if best.curve is None:
        return
    now_s = float(judged.firing.time_s[-1])
    whole = replace(
        judged.firing,
        time_s=np.concatenate((judged.firing.time_s, now_s + best.curve.time_s[1:])),
        kiln_c=np.concatenate(
            (
                judged.firing.kiln_c,
                hotter(best.curve.temperature_c[1:], fault.request.kiln_offset_k),
            )
        ),
        window_s=(now_s, now_s + best.lasts_s),
    )
    theirs = StiffSlab(whole, nodes=13).solve(rtol=1e-5, points=60)
    ours = best.band.middle
    assert ours.residual_mid_pa == pytest.approx(
        theirs.residual_mid_pa, rel=0.02, abs=0.01e6
    )


def test_what_nothing_saves_is_headlined_so():
    """60 mm or more; limits that no option keeps."""
    strict = Limits(residual_pa=1e4, temporary_pa=20e6, warning_pa=50e6)
    for seed in range(40):
        fault = made(Kind.CUT, seed)
        judged = judge(replace(fault.request, limits=strict))
        is_open = judged.verdict in UNDECIDED and not judged.is_over
        if is_open and fault.request.thickness_m >= 0.06:
            break
    options = what_next(judged, kiln=fault.kiln)
    assert not any(option.is_within for option in options)
    assert verdict_from_here(judged, options) is Verdict.NOT_TO_SAVE
