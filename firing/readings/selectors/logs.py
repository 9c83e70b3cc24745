"""What must be asked about a controller's file before it can be read."""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from firing.controller_log import LogProblem, read_log

POSSIBLE: dict[str, tuple[str, ...]] = {
    "unit": ("C", "F"),
    "date_order": ("dmy", "mdy"),
    "elapsed_unit": ("s", "min", "h"),
}


def open_questions(
    data: bytes, *, started_at: datetime, zone: ZoneInfo, said: dict[str, Any]
) -> list[str]:
    """Return which of `POSSIBLE` a file needs and does not say.

    A question counts if its answer changes what is wrong, so no wording matters.
    """
    said = {name: value for name, value in said.items() if value}
    asked = []
    problem = _problem(data, started_at, zone, said)
    for _ in POSSIBLE:
        for name in [n for n in POSSIBLE if n not in said]:
            answer = POSSIBLE[name][0]
            then = _problem(data, started_at, zone, {**said, name: answer})
            if problem is not None and then != problem:
                asked.append(name)
                said[name] = answer
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
