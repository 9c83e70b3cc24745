"""A power cut is one event; after it, what was typed is what the kiln is to follow."""

from dataclasses import replace

import numpy as np
import pytest

from firing.physics.judging.in_turn import TypedAt, follow_typed
from firing.physics.judging.plan_following import FaultKind
from firing.physics.judging.verdict import judge
from firing.physics.judging.what_next import Action, what_next
from firing.physics.kiln.broken import pace_of
from firing.physics.kiln.curve import kiln_curve
from firing.physics.kiln.recorded import clean_readings
from firing.physics.schedule import Programme, Segment
from tests.firing.physics.faults import OPENING_C, Kind, flawless, hidden, made
from tests.firing.physics.readings import sampled
from tests.patience import in_form

HOUR_S = 3600.0
# Readings are averaged over two minutes and laid on a grid of two minutes.
WITHIN_S = 240.0
CUTS = range(in_form(60, 400))


def followed(request, *, typed=()):
    record = clean_readings(
        request.time_s, request.temperature_c, pace=pace_of(request.kiln)
    )
    return follow_typed(record, request.planned, typed)


def plainly_cut(fault):
    """Return from when to when a cut shows, or nothing where the kiln hardly fell.

    While a kiln cools as fast as it can anyway, a cut shows nowhere.
    """
    time_s, true_c = fault.request.time_s, fault.true_c
    plan = kiln_curve(fault.request.planned, fault.kiln, until_c=OPENING_C)
    plan_s, plan_c = sampled(plan, float(time_s[1]))
    under_k = np.interp(time_s, plan_s, plan_c) - true_c
    if under_k.max() < 50:
        return None
    begins = int(np.flatnonzero(under_k > 0.5)[0]) - 1
    lasts = np.flatnonzero((time_s >= time_s[begins]) & (time_s <= fault.to_s + 1))
    begins_s, ends_s = float(time_s[begins]), float(time_s[lasts[-1]])
    if true_c[begins] - true_c[lasts].min() < 25:
        return None
    while_s = [begins_s, begins_s + 1200]
    fell_k = -np.diff(np.interp(while_s, time_s, true_c))[0]
    planned_k = -np.diff(np.interp(while_s, plan_s, plan_c))[0]
    is_cooling = begins_s > plan_s[np.argmax(plan_c)]
    if is_cooling and fell_k < 3 * planned_k + 12:
        return None
    # It must be read on for a while, or end without power.
    if 0 < time_s[-1] - ends_s - time_s[1] < HOUR_S / 2:
        return None
    return begins_s, ends_s


@pytest.mark.parametrize("seed", CUTS)
def test_a_cut_is_one_fault_from_its_beginning_to_its_end(seed):
    """On the way up, at a hold, in the anneal, while it cools."""
    fault = made(Kind.CUT, seed)
    seen = plainly_cut(fault)
    if seen is None:
        return
    begins_s, ends_s = seen
    time_s, within_s = fault.request.time_s, fault.request.time_s[1] + WITHIN_S
    (cut,) = [
        one
        for one in followed(fault.request).faults
        # A slow kiln was late before.
        if one.kind not in (FaultKind.LATE, FaultKind.OVERSHOOT)
        or one.start_s > begins_s
    ]
    assert cut.kind is FaultKind.CUT
    assert cut.start_s >= begins_s - within_s, "not before the last reading on plan"
    fallen_k = np.diff(np.interp([cut.start_s, begins_s], time_s, fault.true_c))[0]
    assert cut.start_s <= begins_s + within_s or fallen_k < 8
    assert cut.end_s == pytest.approx(ends_s, abs=within_s)


def test_most_generated_cuts_are_plain():
    assert sum(plainly_cut(made(Kind.CUT, seed)) is not None for seed in CUTS) > (
        len(CUTS) / 3
    )


@pytest.mark.parametrize("seed", range(in_form(8, 60)))
def test_a_programme_that_began_again_is_no_fault_of_its_own(seed):
    fault = made(Kind.RESTARTED, seed)
    faults = followed(fault.request).faults
    cuts = [one for one in faults if one.kind is FaultKind.CUT]
    assert len(cuts) <= 1
    for cut in cuts:
        assert cut.start_s >= fault.from_s - fault.request.time_s[1] - WITHIN_S


@pytest.mark.parametrize("seed", range(in_form(30, 150)))
def test_without_a_cut_none_is_found(seed):
    request = flawless(seed).request
    noisy_c = request.temperature_c + np.random.default_rng(seed).uniform(
        -2, 2, request.time_s.size
    )
    faults = followed(replace(request, temperature_c=noisy_c)).faults
    assert FaultKind.CUT not in [one.kind for one in faults]


def test_a_logger_that_died_with_the_power_is_the_same_event():
    fault = made(Kind.CUT, 2)
    begins_s, ends_s = plainly_cut(fault)
    request = hidden(fault, begins_s + HOUR_S, ends_s - HOUR_S / 2).request
    (cut,) = judge(request).faults
    assert cut.kind is FaultKind.CUT
    assert (cut.start_s, cut.end_s) == pytest.approx((begins_s, ends_s), abs=400)


# --- A programme typed after a cut ----------------------------------------------------


def rescued(*, seed=2, upto_h=30.0):
    """Cut a firing in its anneal, and heat it again by a programme typed there."""
    fault = made(Kind.CUT, seed)
    request = fault.request
    begins_s, _ = plainly_cut(fault)
    typed_s = begins_s + 1.5 * HOUR_S
    before = request.time_s <= typed_s
    start_c = float(request.temperature_c[before][-1])
    soak_c = float(np.interp(begins_s, request.time_s, fault.true_c))
    programme = Programme(
        start_c=start_c,
        segments=(
            Segment(
                label="anneal soak",
                rate_c_per_h=60.0,
                target_c=soak_c,
                hold_s=12 * HOUR_S,
            ),
            Segment(label="cooling 1", rate_c_per_h=3.0, target_c=soak_c - 60),
            Segment(label="final cooling", rate_c_per_h=15.0, target_c=OPENING_C),
        ),
    )
    step_s = float(request.time_s[1])
    later_s, later_c = sampled(
        kiln_curve(programme, fault.kiln, until_c=OPENING_C), step_s
    )
    until = later_s <= upto_h * HOUR_S
    now_s = float(request.time_s[before][-1])
    return (
        replace(
            request,
            time_s=np.concatenate((request.time_s[before], now_s + later_s[until][1:])),
            temperature_c=np.concatenate(
                (request.temperature_c[before], later_c[until][1:])
            ),
        ),
        TypedAt(at_s=now_s, programme=programme),
    )


def test_a_rescue_that_is_followed_has_no_fault_but_the_cut():
    request, typed = rescued()
    unsaid = followed(request)
    said = followed(request, typed=(typed,))
    assert [one.kind for one in said.faults] == [FaultKind.CUT]
    assert said.faults[0].end_s <= typed.at_s
    assert len(unsaid.faults) >= len(said.faults)
    soak = [hold for hold in said.holds if hold.segment == "anneal soak"][-1]
    assert soak.planned_s == 12 * HOUR_S
    assert soak.missed_s < HOUR_S / 2


@pytest.mark.parametrize(
    ("upto_h", "is_up"), [(0.5, True), (3.0, False), (25.0, False)]
)
def test_going_on_is_going_on_with_what_was_typed(upto_h, is_up):
    request, typed = rescued(upto_h=upto_h)
    judged = judge(replace(request, typed=(typed,)))
    assert judged.is_on_its_way_up is is_up
    assert not judged.is_over
    goes_on = next(
        one
        for one in what_next(judged, kiln=request.kiln)
        if one.action is Action.GO_ON
    )
    labels = [one.label for one in goes_on.schedule.segments]
    assert labels[-1] == "final cooling"
    assert goes_on.schedule.segments[-1].rate_c_per_h == pytest.approx(15.0, rel=0.1)
    assert ("anneal soak" in labels) is (upto_h < 15)


def test_a_rescue_that_only_cools_keeps_its_soak():
    """Typed above its anneal soak: nothing in it heats."""
    request = flawless(3).request
    hottest = int(np.argmax(request.temperature_c))
    upto = hottest + 12
    at_s = float(request.time_s[upto])
    rest = request.planned.segments[-4:]
    assert rest[0].label == "anneal soak"
    typed = TypedAt(
        at_s=at_s,
        programme=Programme(
            start_c=float(request.temperature_c[upto]),
            segments=(replace(rest[0], hold_s=3 * rest[0].hold_s), *rest[1:]),
        ),
    )
    judged = judge(
        replace(
            request,
            time_s=request.time_s[: upto + 1],
            temperature_c=request.temperature_c[: upto + 1],
            typed=(typed,),
        )
    )
    assert not judged.is_on_its_way_up
    goes_on = what_next(judged, kiln=request.kiln)[0]
    assert goes_on.schedule.segments[0].label == "anneal soak"
    assert goes_on.schedule.segments[0].hold_s == pytest.approx(
        3 * rest[0].hold_s, rel=0.05
    )
