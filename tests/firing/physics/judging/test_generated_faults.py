"""Cuts at any moment of firings of any thickness, glass and kiln: verdict and advice.

The faults are generated, so the rules are tested and not the cases somebody thought of.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from firing.physics.designing.annealing_table import row_at_or_above
from firing.physics.designing.programmes import ProcessHold, full_fuse_schedule
from firing.physics.glass.families import FLOAT, NINETY, NINETY_SIX
from firing.physics.glass.properties import soak_of
from firing.physics.glass.viscosity import as_soft_as_ninety, joins_c
from firing.physics.judging.verdict import JudgeRequest, Verdict, judge
from firing.physics.judging.what_next import (
    UNDECIDED,
    Action,
    verdict_from_here,
    what_next,
)
from firing.physics.kiln.curve import kiln_curve
from firing.physics.limits import Limits
from firing.physics.slab.input import LooseStack
from firing.physics.slab.surroundings import BOTH_FACES_FILM, TOP_ONLY_FILM
from tests.firing.physics.readings import power_lost, sampled, slow_kiln
from tests.firing.physics.stiff_solver import StiffSlab
from tests.patience import in_form

HOUR_S = 3600.0
OPENING_C = 50.0


def fault(seed):
    """Return a firing that lost its power for hours, read until a little after that."""
    rng = np.random.default_rng(seed)
    glass = [NINETY, NINETY_SIX, FLOAT][rng.integers(3)]
    thickness_m = float(rng.choice([0.012, 0.025, 0.04, 0.06, 0.08]))
    kiln = slow_kiln(tau_h=float(rng.uniform(5, 12)))
    planned = full_fuse_schedule(
        thickness_m,
        row_at_or_above(thickness_m),
        soak_c=soak_of(glass),
        process=ProcessHold(
            temperature_c=as_soft_as_ninety(glass, 816.0), hold_s=900.0
        ),
        end_c=OPENING_C,
    )
    curve = kiln_curve(planned, kiln, until_c=OPENING_C)
    time_s, kiln_c = sampled(curve, 300.0)
    cooling_s = float(time_s[np.argmax(kiln_c)])
    at_s = cooling_s + rng.uniform(0.02, 0.9) * (time_s[-1] - cooling_s)
    lasts_s = rng.uniform(2, 5) * HOUR_S
    cut_c = power_lost(time_s, kiln_c, at_s, lasts_s, kiln)
    read = time_s <= at_s + lasts_s + rng.uniform(0, 1) * HOUR_S
    request = JudgeRequest(
        time_s=time_s[read],
        temperature_c=cut_c[read],
        glass=glass,
        thickness_m=thickness_m,
        boundary=[TOP_ONLY_FILM, BOTH_FACES_FILM][rng.integers(2)],
        planned=planned,
        kiln=kiln,
        stack=LooseStack(sheet_m=0.003, joins_c=joins_c(glass)),
        opening_c=OPENING_C,
    )
    return request, kiln


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(in_form(6, 200)))
def test_the_advice_is_the_best_of_what_can_be_done(seed):
    request, kiln = fault(seed)
    judged = judge(request)
    options = what_next(judged, kiln=kiln)
    (best,) = [option for option in options if option.is_recommended]
    for other in options:
        assert best.harm <= other.harm, (best.action, other.action)
        if other.is_within and best.action is not Action.GO_ON:
            assert best.lasts_s <= other.lasts_s
    goes_on = next(option for option in options if option.action is Action.GO_ON)
    if goes_on.is_within:
        assert best is goes_on
    # What is left of the harm is computed here once more from the bands alone.
    stays = best.band.residual_tension_pa.high / request.limits.residual_pa
    assert best.is_within == (best.harm == 1.0)
    assert best.harm >= min(stays, 1.0) or math.isclose(best.harm, 1.0)
    verdict = verdict_from_here(judged, options)
    if not best.is_within and judged.verdict in UNDECIDED and not judged.is_over:
        assert verdict is Verdict.NOT_TO_SAVE
    if verdict is Verdict.STILL_HOT:
        assert best.is_within
        assert best.action not in (Action.RE_ANNEAL, Action.COOL_FIRST)


@pytest.mark.slow
@pytest.mark.long
@pytest.mark.parametrize("seed", range(12))
def test_another_solver_finds_the_same_of_what_is_recommended(seed):
    """`stiff_solver` shares no code with the engine."""
    request, kiln = fault(seed)
    judged = judge(replace(request, stack=None))
    best = next(one for one in what_next(judged, kiln=kiln) if one.is_recommended)
    if best.curve is None:
        return
    now_s = float(judged.firing.time_s[-1])
    whole = replace(
        judged.firing,
        time_s=np.concatenate((judged.firing.time_s, now_s + best.curve.time_s[1:])),
        kiln_c=np.concatenate((judged.firing.kiln_c, best.curve.temperature_c[1:])),
        window_s=(now_s, now_s + best.lasts_s),
    )
    theirs = StiffSlab(whole, nodes=13).solve(rtol=1e-5, points=60)
    ours = best.band.middle
    assert ours.residual_mid_pa == pytest.approx(
        theirs.residual_mid_pa, rel=0.02, abs=0.01e6
    )


def test_what_nothing_saves_is_headlined_so():
    """60 mm, cut in the middle of the soak; limits that no option keeps."""
    for seed in range(40):
        request, kiln = fault(seed)
        strict = Limits(residual_pa=1e4, temporary_pa=20e6, warning_pa=50e6)
        judged = judge(replace(request, limits=strict))
        is_open = judged.verdict in UNDECIDED and not judged.is_over
        if is_open and request.thickness_m >= 0.06:
            break
    options = what_next(judged, kiln=kiln)
    assert not any(option.is_within for option in options)
    assert verdict_from_here(judged, options) is Verdict.NOT_TO_SAVE
