"""What a firing chart shows, in sentences: its text equivalent."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firing.drawings.chart_input import ChartInput
from firing.drawings.curves import FloatArray, find_gaps

DAY_S = 86400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A time with a name of its own: a power cut, or no readings."""

    from_s: float
    to_s: float
    name: str = "No readings"


def stretches(shown: ChartInput, times: FloatArray) -> list[Stretch]:
    """Return the gaps in the readings, and what is known to have happened.

    A gap that a known event touches is part of it and not told twice.
    """
    gaps = [
        (float(times[i]), float(times[i + 1]))
        for i in find_gaps(times, longer_than_s=shown.longest_gap_s)
    ]
    known = []
    for cut in shown.cuts:
        own = [gap for gap in gaps if gap[0] < cut.to_s and gap[1] > cut.from_s]
        gaps = [gap for gap in gaps if gap not in own]
        known.append(
            Stretch(
                from_s=min([cut.from_s, *(gap[0] for gap in own)]),
                to_s=max([cut.to_s, *(gap[1] for gap in own)]),
                name=cut.words,
            )
        )
    unknown = [Stretch(from_s=from_s, to_s=to_s) for from_s, to_s in gaps]
    return sorted([*known, *unknown], key=lambda one: one.from_s)


def stretch_words(shown: ChartInput, one: Stretch) -> str:
    """Name a stretch as it is written on the chart, by the clock."""
    clock = "%H:%M" if one.to_s - one.from_s < DAY_S else "%a %H:%M"
    first, last = (
        f"{shown.at(at_s).astimezone(shown.zone):{clock}}"
        for at_s in (one.from_s, one.to_s)
    )
    return f"{one.name} {first} to {last}"


def facts_of(
    shown: ChartInput,
    planned: tuple[FloatArray, FloatArray],
    recorded: tuple[FloatArray, FloatArray],
    compared: Sequence[tuple[FloatArray, FloatArray]],
) -> tuple[str, ...]:
    """Return what the drawing shows, in sentences."""
    facts = []
    first = shown.planned_name
    named = [(first[:1].upper() + first[1:], planned)]
    named += [
        (other.name, curve)
        for other, curve in zip(shown.compared, compared, strict=True)
    ]
    for name, (times, heats) in (*named, ("Recorded", recorded)):
        if times.size:
            top = int(np.argmax(heats))
            facts.append(
                f"{name} from {shown.when(float(times[0]))} "
                f"to {shown.when(float(times[-1]))}, highest "
                f"{shown.scale.text(float(heats[top]))} at "
                f"{shown.when(float(times[top]))}."
            )
    if not facts:
        facts.append("No temperatures yet.")
    if shown.anneal_range_c:
        low, high = shown.anneal_range_c
        facts.append(
            f"The {shown.anneal_words} is {shown.scale.text(low)} "
            f"to {shown.scale.text(high)}."
        )
    facts += [f"{hold.words}, from {shown.when(hold.from_s)}." for hold in shown.holds]
    facts += [
        f"{one.name} from {shown.when(one.from_s)} to {shown.when(one.to_s)}."
        for one in stretches(shown, recorded[0])
    ]
    facts += [f"{shown.when(alarm.at_s)}: {alarm.words}." for alarm in shown.alarms]
    return tuple(facts)
