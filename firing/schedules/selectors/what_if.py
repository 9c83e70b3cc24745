"""What a designed schedule does when something is not as planned, each case computed.

The schedule stays the same; the glass, the thermocouple or the power differ from what
was assumed.
"""

from dataclasses import dataclass, replace
from hashlib import sha256

import numpy as np
from django.core.cache import cache

from firing.physics.designing.band import Band, BandedResult, simulate_band
from firing.physics.designing.design import COARSE, TRACE_SLOTS, Design
from firing.physics.designing.heat_up import stack_of
from firing.physics.designing.request import DesignRequest
from firing.physics.kiln.curve import KilnCurve
from firing.physics.kiln.model import KilnModel
from firing.physics.kiln.thinning import thin
from firing.physics.limits import Limits
from firing.physics.refusals import Cause, number
from firing.physics.schedule import FloatArray, PhysicsProblem
from firing.physics.slab.input import SlabFiring
from firing.schedules.selectors.stress import ENGINE, KEPT_S, SHAPE
from firing.schedules.selectors.stress_words import BandWords, band_words
from studio.units import format_temperature_difference
from studio.viewer import Viewer

THICKER = 1.1
OFF_K = 5.0
CUT_S = 3 * 3600.0
STEP_S = 300.0
WITHIN_K = 0.3
# Full power must reach at least this much past where the kiln was.
REACH_K = 0.5
HOUR_S = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """One thing that is not as planned, and its outcome."""

    title: str
    explanation: str
    bands: tuple[BandWords, ...]
    is_within: bool
    verdict: str
    curve: KilnCurve
    result: BandedResult
    at_words: str = ""
    """Of a power cut, where it is: how long, when, and how hot the kiln is then."""


def thicker(design: Design, viewer: Viewer) -> WhatIf:
    """Compute the schedule on glass a tenth thicker than was measured.

    Raises
    ------
    PhysicsProblem
        When that is past the model.
    """
    request, curve = design.request, design.proposed.curve
    thickness_m = request.thickness_m * THICKER
    firing = replace(_firing(request, curve), thickness_m=thickness_m)
    return _outcome(
        design,
        title="10 % thicker than measured",
        explanation=f"The same schedule on {viewer.length(thickness_m * 1000)}.",
        curve=curve,
        result=_banded(firing, request),
    )


def thermocouple_off(design: Design, viewer: Viewer, *, by_k: float) -> WhatIf:
    """Compute the schedule for glass that is hotter or colder than the reading.

    Raises
    ------
    PhysicsProblem
        When that is past the model.
    """
    request, curve = design.request, design.proposed.curve
    # As in `band`: a thermocouple is right when cold, and fully off from 400 °C up.
    share = (curve.temperature_c - request.start_c).clip(0.0, 380.0) / 380.0
    moved = replace(curve, temperature_c=curve.temperature_c + by_k * share)
    known = replace(request.uncertainty, thermocouple_k=0.0)
    by = format_temperature_difference(abs(by_k), viewer.temperature_unit, decimals=0)
    return _outcome(
        design,
        title=f"The kiln is {by} {'hotter' if by_k > 0 else 'colder'} than shown",
        explanation="The controller holds the temperature it reads; the glass sees "
        "another. Cold, thermocouples agree.",
        curve=moved,
        result=_banded(_firing(request, moved), replace(request, uncertainty=known)),
    )


def power_cut(
    design: Design, viewer: Viewer, *, at_s: float, lasts_s: float = CUT_S
) -> WhatIf:
    """Compute the schedule with the power off for some hours from a moment on.

    Raises
    ------
    PhysicsProblem
        When that moment is not in the firing, or the kiln cannot get back.
    """
    request = design.request
    if request.kiln is None:
        raise PhysicsProblem(Cause.NO_KILN_CHOSEN)
    curve = cut_curve(design.proposed.curve, request.kiln, at_s=at_s, lasts_s=lasts_s)
    before_c = float(
        np.interp(
            at_s, design.proposed.curve.time_s, design.proposed.curve.temperature_c
        )
    )
    low_c = float(np.interp(at_s + lasts_s, curve.time_s, curve.temperature_c))
    result = _banded(_firing(request, curve), request)
    found = _outcome(
        design,
        title=f"Power off for {viewer.duration(lasts_s)}, "
        f"{viewer.duration(at_s)} after the start",
        explanation=f"The kiln falls from {viewer.temperature(before_c)} to "
        f"{viewer.temperature(low_c)}, goes back at full power, and the controller "
        "goes on where it stopped. Some controllers do not: look into its manual."
        + _way_back_words(result, request.limits),
        curve=curve,
        result=result,
    )
    return replace(
        found,
        at_words=f"{viewer.duration(lasts_s)} cut, starts {viewer.duration(at_s)} in, "
        f"kiln at {viewer.temperature(before_c)}",
    )


def cut_curve(
    curve: KilnCurve, kiln: KilnModel, *, at_s: float, lasts_s: float = CUT_S
) -> KilnCurve:
    """Return a curve with hours of natural cooling and the way back up put in.

    Raises
    ------
    PhysicsProblem
        When the moment is not in the firing, or full power does not get back there.
    """
    if not 0 <= at_s < curve.lasts_s:
        raise PhysicsProblem(
            Cause.CUT_AFTER_END, hours=number(round(curve.lasts_s / HOUR_S, 0))
        )
    was_c = float(np.interp(at_s, curve.time_s, curve.temperature_c))
    tau_s, room_c = kiln.cooling_time_constant_s, kiln.ambient_c
    falls_s = np.linspace(0.0, lasts_s, max(2, int(lasts_s / STEP_S) + 1))
    falls_c = room_c + (was_c - room_c) * np.exp(-falls_s / tau_s)
    rises_s, rises_c = _way_back(float(falls_c[-1]), was_c, kiln)
    before, after = curve.time_s < at_s, curve.time_s > at_s
    late_s = lasts_s + float(rises_s[-1])
    times = (
        curve.time_s[before],
        at_s + falls_s,
        at_s + lasts_s + rises_s[1:],
        curve.time_s[after] + late_s,
    )
    heats = (
        curve.temperature_c[before],
        falls_c,
        rises_c[1:],
        curve.temperature_c[after],
    )
    thinned = thin(np.concatenate(times), np.concatenate(heats), within_k=WITHIN_K)
    return KilnCurve(
        time_s=thinned.time_s,
        temperature_c=thinned.temperature_c,
        segment_ends_s=tuple(
            end_s + late_s if end_s > at_s else end_s for end_s in curve.segment_ends_s
        ),
    )


def _way_back(
    from_c: float, to_c: float, kiln: KilnModel
) -> tuple[FloatArray, FloatArray]:
    """Return times and temperatures of a kiln at full power, first and last included."""
    full_c, tau_s = kiln.full_power_holds_c, kiln.cooling_time_constant_s
    if to_c <= from_c:
        return np.zeros(1), np.array([from_c])
    if full_c < to_c + REACH_K:
        raise PhysicsProblem(Cause.NO_WAY_BACK)
    takes_s = tau_s * float(np.log((full_c - from_c) / (full_c - to_c)))
    times = np.linspace(0.0, takes_s, max(2, int(takes_s / STEP_S) + 2))
    return times, full_c + (from_c - full_c) * np.exp(-times / tau_s)


def _way_back_words(result: BandedResult, limits: Limits) -> str:
    """Say so if the way back up pulls hardest, because something can be done about it."""
    back_pa = result.heating_pa.high
    if back_pa <= max(result.cooling_pa.high, limits.temporary_pa):
        return ""
    return (
        " The way back at full power pulls hardest. Tension goes with the rate: take "
        "over by hand and let it go back slowly."
    )


def _firing(request: DesignRequest, curve: KilnCurve) -> SlabFiring:
    return SlabFiring(
        glass=request.glass,
        thickness_m=request.thickness_m,
        boundary=request.boundary,
        bending=request.bending,
        time_s=curve.time_s,
        kiln_c=curve.temperature_c,
        stack=stack_of(request),
        opening_c=request.opening_c,
        across=request.across,
    )


def _banded(firing: SlabFiring, request: DesignRequest) -> BandedResult:
    told = (
        repr((request, firing.thickness_m)).encode(),
        firing.time_s.tobytes(),
        firing.kiln_c.tobytes(),
    )
    key = f"what-if:{ENGINE}.{SHAPE}:{sha256(b'|'.join(told)).hexdigest()}"
    kept: BandedResult | None = cache.get(key)
    if kept is None:
        kept = simulate_band(
            firing, request.uncertainty, COARSE, trace_slots=TRACE_SLOTS
        )
        cache.set(key, kept, KEPT_S)
    return kept


def _outcome(
    design: Design,
    *,
    title: str,
    explanation: str,
    curve: KilnCurve,
    result: BandedResult,
) -> WhatIf:
    limits = design.request.limits
    bands = _bands(result, limits)
    is_within = all(band.is_within for band in bands)
    return WhatIf(
        title=title,
        explanation=explanation,
        bands=bands,
        is_within=is_within,
        verdict=_verdict(result, limits, is_within=is_within),
        curve=curve,
        result=result,
    )


def _bands(result: BandedResult, limits: Limits) -> tuple[BandWords, ...]:
    hot = Band(
        low=max(result.heating_pa.low, result.cooling_pa.low),
        middle=max(result.heating_pa.middle, result.cooling_pa.middle),
        high=max(result.heating_pa.high, result.cooling_pa.high),
    )
    return (
        band_words(
            "Stays in the cold glass",
            result.residual_tension_pa,
            limits.residual_pa,
            limits,
        ),
        band_words("At most on the way", hot, limits.temporary_pa, limits),
    )


def _verdict(result: BandedResult, limits: Limits, *, is_within: bool) -> str:
    top = max(result.heating_pa.high, result.cooling_pa.high)
    if top >= limits.warning_pa:
        return "It may crack. Do not open the kiln to look; let it cool slowly."
    if is_within:
        return "Still within your limits."
    if result.residual_tension_pa.high > limits.residual_pa:
        return "More stays in the glass than you allow: anneal it again."
    return "It passes your limit on the way, but not the warning: look for cracks."
