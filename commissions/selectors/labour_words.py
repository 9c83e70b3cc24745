"""Says how the minutes of a task were counted."""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from studio.amounts import SQUARE_METRE, convert, convert_price, in_words
from studio.labour import ONE, Counted, Measures, Task
from studio.money import plain_number
from studio.viewer import Viewer, count_words

TENTH = Decimal("0.1")
PLURALS = {
    Counted.IMAGE: "layers with an image",
    Counted.PASS: "passes",
}


def task_words(task: Task, stacks: Sequence[Measures], viewer: Viewer) -> str:
    """Say the rule and what it was applied to, in the reader's units of area."""
    words = []
    if task.minutes:
        words.append(f"{plain_number(task.minutes)} min")
    count = sum(one.count(task.counted) for one in stacks)
    if task.minutes_each and count:
        counted = count_words(count, task.counted, PLURALS.get(task.counted, ""))
        words.append(f"{counted} at {plain_number(task.minutes_each)} min")
    area = sum((one.area(task.area) for one in stacks), Decimal(0))
    if task.minutes_per_m2 and area:
        unit = viewer.unit(SQUARE_METRE)
        shown = convert(area, SQUARE_METRE, unit).quantize(TENTH, ROUND_HALF_UP)
        words.append(
            f"{in_words(shown, unit)} {task.area} at "
            f"{plain_number(per_area(task.minutes_per_m2, unit))} min/{unit}"
        )
    said = ", ".join(words)
    if task.factor != ONE:
        rule = viewer.labour(int(task.by_rule(*stacks)))
        said = f"Set for this quote; by the rule {rule} ({said})"
    return said


def rule_words(task: Task, viewer: Viewer) -> str:
    """Say a task's rule alone: "30 min + 12 min/layer"."""
    unit = viewer.unit(SQUARE_METRE)
    parts = [
        f"{plain_number(number)} min{of}"
        for number, of in (
            (task.minutes, ""),
            (task.minutes_each, f"/{task.counted}"),
            (per_area(task.minutes_per_m2, unit), f"/{unit} {task.area}"),
        )
        if number
    ]
    share = (
        "" if task.factor == ONE else f", times {plain_number(round(task.factor, 2))}"
    )
    return (" + ".join(parts) or "0 min") + share


def per_area(minutes_per_m2: Decimal, unit: str) -> Decimal:
    """Return minutes per square metre as minutes per unit of area, as they are shown."""
    exact = convert_price(minutes_per_m2, SQUARE_METRE, unit)
    return exact.quantize(TENTH, ROUND_HALF_UP) if unit != SQUARE_METRE else exact
