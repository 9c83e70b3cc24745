"""What a firing chart shows, in sentences: its text equivalent."""

from collections.abc import Sequence

import numpy as np

from firing.drawings.chart_input import ChartInput
from firing.drawings.curves import FloatArray, find_gaps


def gap_words(shown: ChartInput, from_s: float, to_s: float) -> str:
    """Say between when there are no readings."""
    return f"No readings from {shown.when(from_s)} to {shown.when(to_s)}"


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
    times = recorded[0]
    facts += [
        gap_words(shown, float(times[i]), float(times[i + 1])) + "."
        for i in find_gaps(times, longer_than_s=shown.longest_gap_s)
    ]
    facts += [f"{shown.when(alarm.at_s)}: {alarm.words}." for alarm in shown.alarms]
    return tuple(facts)
