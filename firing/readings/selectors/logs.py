"""What must be asked about a controller's file before it can be read."""

from datetime import datetime
from typing import Any, TypedDict
from zoneinfo import ZoneInfo

from firing.controller_log import (
    DateOrder,
    ElapsedUnit,
    LogProblem,
    Unit,
    read_log,
)

POSSIBLE: dict[str, tuple[str, ...]] = {
    "unit": ("C", "F"),
    "date_order": ("dmy", "mdy"),
    "elapsed_unit": ("s", "min", "h"),
}


class Said(TypedDict):
    """What a person answered about a file; none where they were not asked."""

    unit: Unit | None
    date_order: DateOrder | None
    elapsed_unit: ElapsedUnit | None
    temperature_column: str | None


def open_questions(
    data: bytes, *, started_at: datetime, zone: ZoneInfo, said: Said
) -> list[str]:
    """Return which of `POSSIBLE` a file needs and does not say.

    A question counts if its answer changes what is wrong, so no wording matters.
    """
    known: dict[str, Any] = {name: value for name, value in said.items() if value}
    asked = []
    problem = _problem(data, started_at, zone, known)
    for _ in POSSIBLE:
        for name in [n for n in POSSIBLE if n not in known]:
            answer = POSSIBLE[name][0]
            then = _problem(data, started_at, zone, {**known, name: answer})
            if problem is not None and then != problem:
                asked.append(name)
                known[name] = answer
                problem = then
                break
    return asked


def _problem(
    data: bytes, started_at: datetime, zone: ZoneInfo, said: dict[str, Any]
) -> str | None:
    try:
        read_log(data, started_at=started_at, zone=zone, **said)
    except LogProblem as problem:
        return str(problem)
    return None
