"""A verdict as a title, a sentence, and the band of stress that decides it."""

from collections.abc import Sequence
from typing import Any

from firing.physics.judging.plan_following import FaultKind
from firing.physics.judging.verdict import FROZEN_BELOW_K, LimitStanding, Verdict
from firing.physics.limits import Limits
from firing.readings.selectors.verdict_faults import told_faults
from firing.schedules.selectors.stress_words import MPA, whole_minutes
from firing.schedules.selectors.verdict_numbers import mpa
from studio.viewer import Viewer

# Of judgements that were kept without it.
JOINED_C = 670.0
UNREAD = (FaultKind.GAP, FaultKind.THERMOCOUPLE, FaultKind.DOUBTFUL)
# The bands of a verdict, in their order.
STAYS, COOLING, HEATING = range(3)


def title_words(verdict: Verdict, numbers: dict[str, Any], viewer: Viewer) -> str:
    """Return the verdict in few words, without numbers."""
    if verdict is Verdict.WITHIN:
        if serious_faults(numbers):
            return "Annealed within the limits, though not as planned"
        return "Annealed as planned"
    if verdict is Verdict.STILL_HOT:
        if serious_faults(numbers):
            return "Within the limits in spite of what went wrong, still cooling"
        return "Within the limits so far, still cooling"
    if verdict is Verdict.UNSURE:
        return f"Not enough readings: none for {_unread(numbers, viewer)}"
    if verdict is Verdict.NOT_FUSED:
        return "The sheets did not become one slab"
    if verdict is Verdict.NOT_HOT:
        hottest = viewer.temperature(numbers["hottest_c"])
        if not numbers.get("planned_c"):
            return f"It never got hot enough: the kiln reached {hottest}"
        planned = viewer.temperature(numbers["planned_c"])
        return f"It never got hot enough: the kiln reached {hottest} of {planned}"
    if verdict is Verdict.NOT_TO_SAVE:
        return f"Over a limit whatever is done from here: {_at_best(numbers)}"
    if verdict is Verdict.RE_ANNEAL and not numbers["is_over"]:
        return "It must be annealed again"
    if verdict is Verdict.RE_ANNEAL:
        return _culprit(numbers, viewer)
    if verdict is Verdict.TENSION_OVER:
        return f"Too much stress while {_greater_when(numbers)}"
    if verdict is Verdict.MAY_HAVE_CRACKED:
        return "It may have cracked"
    if numbers["is_over"] and numbers["residual"] == LimitStanding.PERHAPS:
        return "Perhaps not annealed well enough"
    return f"Perhaps too much stress while {_greater_when(numbers)}"


def deciding_band(verdict: Verdict, numbers: dict[str, Any]) -> int | None:
    """Return which of the bands decides the verdict: stays, cooling or heating."""
    greater = HEATING if _greater_when(numbers) == "heating" else COOLING
    if verdict in (Verdict.NOT_FUSED, Verdict.NOT_HOT, Verdict.NOT_TO_SAVE):
        return None
    if verdict is Verdict.MAY_HAVE_CRACKED:
        stays = mpa(numbers["residual_max_tension_pa"])
        return STAYS if stays[1] > _greater(numbers)[1] else greater
    is_perhaps_over = (
        numbers["is_over"] and numbers["residual"] == LimitStanding.PERHAPS
    )
    if verdict is Verdict.TENSION_OVER or (
        verdict is Verdict.CHECK and not is_perhaps_over
    ):
        return greater
    return STAYS


def _unread(numbers: dict[str, Any], viewer: Viewer) -> str:
    """Return the longest time without usable readings."""
    longest_s = max(
        fault["end_s"] - fault["start_s"]
        for fault in numbers["faults"]
        # A logger that died with the power has its gap in the cut.
        if fault["kind"] in (*UNREAD, FaultKind.CUT)
    )
    return viewer.duration(whole_minutes(longest_s))


def _at_best(numbers: dict[str, Any]) -> str:
    """Say which tension the recommended option leads to."""
    best = next(one for one in numbers["next"] if one["is_recommended"])
    residual = mpa(best["residual_max_tension_pa"])
    limits = limits_of(numbers)
    if best["residual"] != LimitStanding.WITHIN:
        return f"at best {range_words(residual)} stays, limit {limits.residual_pa / MPA:g} MPa"
    tension = range_words(mpa(best["peak_tension_window_pa"]))
    return f"at best it pulls {tension}, limit {limits.temporary_pa / MPA:g} MPa"


def _greater(numbers: dict[str, Any]) -> list[float]:
    greater: list[float] = max(
        mpa(numbers["peak_tension_heating_pa"]),
        mpa(numbers["peak_tension_cooling_pa"]),
        key=lambda band: band[2],
    )
    return greater


def _greater_when(numbers: dict[str, Any]) -> str:
    heating = numbers["peak_tension_heating_pa"]["high"]
    is_heating = heating > numbers["peak_tension_cooling_pa"]["high"]
    return "heating" if is_heating else "cooling"


def serious_faults(numbers: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the faults that may harm the glass."""
    return [
        fault
        for fault in told_faults(numbers["faults"])
        if fault["kind"] != FaultKind.LATE and fault["kind"] != FaultKind.OVERSHOOT
    ]


def _culprit(numbers: dict[str, Any], viewer: Viewer) -> str:
    """Name what caused the stress: the worst fault on the way down that matters."""
    frozen_c = numbers["annealing_point_c"] - FROZEN_BELOW_K
    fast = [
        fault
        for fault in numbers["faults"]
        if fault["kind"] in (FaultKind.CUT, FaultKind.TOO_FAST)
        and fault["start_c"] > frozen_c
        and fault["start_c"] > fault["end_c"]
    ]
    if fast:
        worst = max(fast, key=lambda one: one["start_c"] - one["end_c"])
        start, end = worst["start_c"], max(worst["end_c"], frozen_c)
        return (
            f"Cooled too fast between {viewer.temperature(start)} "
            f"and {viewer.temperature(end)}"
        )
    short = [one for one in numbers["faults"] if one["kind"] == FaultKind.SHORT_HOLD]
    if short:
        missed = viewer.duration(whole_minutes(short[-1]["amount"]))
        return f"The {short[-1]['segment']} was {missed} too short"
    return "Not annealed well enough"


def sentence_words(verdict: Verdict, numbers: dict[str, Any], viewer: Viewer) -> str:
    """Say what the verdict means for the glass; empty where the title says all."""
    if verdict is Verdict.WITHIN:
        return ""
    if verdict is Verdict.STILL_HOT:
        return (
            f"The kiln is at {viewer.temperature(numbers['kiln_now_c'])}, the middle of "
            f"the glass at {viewer.temperature(numbers['glass_now_c']['middle'])}. The rest "
            "of the cooling decides what stays in it."
        )
    if verdict is Verdict.UNSURE:
        return (
            "What the kiln did in that time decides how the glass is. The ranges below "
            "hold the worst that this kiln can have done. Import the missing readings "
            "to know more."
        )
    if verdict is Verdict.RE_ANNEAL and not numbers["is_over"]:
        return (
            "What the kiln did leaves more stress than the limit. What is proposed below "
            "removes it."
        )
    if verdict is Verdict.RE_ANNEAL:
        return (
            "The glass set while its inside was hotter than its outside. It may break "
            "later, by itself, when cut or when warmed. Annealing it again removes the "
            "stress."
        )
    if verdict is Verdict.NOT_FUSED:
        return (
            f"The kiln reached {viewer.temperature(numbers['hottest_c'])}, and not all "
            f"of the glass got to {joins_words(numbers, viewer)}, where sheets become "
            "one. They lie loose or hold together in places; the tension below is that "
            "of single sheets. Look at the edge before you move the stack, and fuse it "
            "again."
        )
    if (
        verdict is Verdict.NOT_HOT
        and numbers["hottest_c"] >= numbers["annealing_point_c"]
    ):
        return (
            "The glass lost its stress and was annealed, but it may not be as this "
            "firing was to leave it. Look at its edges and its surface, and fire it "
            "again if they are not."
        )
    if verdict is Verdict.NOT_TO_SAVE:
        return (
            "What is proposed below harms the glass least. Anneal it again once it is "
            "cold and whole."
        )
    if verdict is Verdict.NOT_HOT:
        return (
            "Glass loses its stress from about "
            f"{viewer.temperature(numbers['annealing_point_c'])} on. It was never there, "
            "so whatever stress it had before is still in it, and the enamel or the "
            "shape is not finished. Fire it again."
        )
    if verdict is Verdict.MAY_HAVE_CRACKED:
        return (
            "Look at the edges and the underside in raking light before anything else. "
            f"From {numbers['limits']['warning_pa'] / MPA:g} MPa on, a bubble or a chip can "
            "start a crack."
        )
    return (
        "Part of the range is over the limit. Look at the edges in raking light and, "
        "where you can, between crossed polarisers."
    )


def range_words(band: Sequence[float]) -> str:
    """Write a band of MPa with as many figures as a model can give."""
    digits = 1 if band[2] >= 2 else 2
    low, high = f"{band[0]:.{digits}f}", f"{band[2]:.{digits}f}"
    return f"{low} MPa" if low == high else f"{low} to {high} MPa"


def limits_of(numbers: dict[str, Any]) -> Limits:
    """Return the limits that a verdict was judged by."""
    return Limits(**numbers["limits"])


def joins_words(numbers: dict[str, Any], viewer: Viewer) -> str:
    """Say at which temperature sheets become one."""
    return viewer.temperature(numbers.get("joins_c", JOINED_C))
