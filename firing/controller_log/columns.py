"""Which column holds the times and which the kiln's temperature, and in what unit."""

import re
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from firing.controller_log import cells
from firing.controller_log.cells import Unit
from firing.controller_log.problems import Doubts, LogProblem, Question
from firing.controller_log.table import Table

FloatArray = NDArray[np.float64]
Kind = Literal["stamp", "clock", "number"]

SAMPLE_ROWS = 50
ELAPSED_NAME = re.compile(r"elapsed|duration|laufzeit|run ?time|dauer|since start")
# Without a header, a column that moves less than this is not a firing but a percentage,
# a segment's number or a set value.
LEAST_RANGE = 100.0
# No kiln is hotter in either scale; beside 1,234 as a fraction it would be as cold.
HIGHEST = 3_200.0
LOWEST_BESIDE = 10.0


def find_time(table: Table) -> tuple[list[int], Kind]:
    """Return the column of times (or of dates and of times) and what it holds.

    A date with a time is preferred to a time of day, and that to plain numbers.
    """
    kinds = _kinds(table)
    clocks = [index for index, kind in enumerate(kinds) if kind == "clock"]
    elapsed = [index for index in clocks if ELAPSED_NAME.search(table.title(index))]
    of_day = [index for index in clocks if index not in elapsed]
    if "stamp" in kinds:
        return [kinds.index("stamp")], "stamp"
    if "date" in kinds and of_day:
        return [kinds.index("date"), of_day[0]], "stamp"
    if clocks:
        return [(elapsed or of_day)[0]], "clock"
    numbers = [index for index, kind in enumerate(kinds) if kind == "number"]
    named = [index for index in numbers if cells.names_time(table.title(index))]
    with_unit = [
        index for index in named if cells.elapsed_unit_in_name(table.title(index))
    ]
    found = with_unit or named
    if not found and not table.header and len(numbers) > 1:
        found = [index for index in numbers if _rises(table.column(index))]
    if not found:
        raise LogProblem(
            "No column of times was found. The file needs one, with a date and time, "
            "a time of day, or the time since the start."
        )
    return found[:1], "number"


def find_temperatures(
    table: Table, time_columns: list[int], wanted: str | None
) -> list[int]:
    """Return the columns that may be the kiln's temperature; mostly it is one."""
    if wanted is not None:
        return [_wanted_column(table, wanted)]
    numeric = [
        index
        for index, kind in enumerate(_kinds(table))
        if kind == "number" and index not in time_columns
    ]
    found = _by_name(table, numeric) if table.header else numeric
    if len(found) > 1:
        moving = [index for index in found if len(set(table.column(index))) > 1]
        found = moving or found
    if len(found) > 1 and not table.header:
        found = [index for index in found if _range(table.column(index)) > LEAST_RANGE]
    if not found:
        raise LogProblem(
            "No column of temperatures was found. Name one in the header, such as "
            "Temp (°C), or export the firing again with its temperatures."
        )
    return found


def ask_column(table: Table, found: list[int], likely: int | None) -> Question:
    """Return the question which of several columns is the kiln's temperature.

    It is always asked: a set point follows the plan better than any kiln does, most of
    all when the kiln has failed.
    """
    choices = []
    for index in found:
        title = table.title(index)
        is_plain = title and [*map(str.lower, table.header)].count(title) == 1
        low, high = _ends(table.column(index))
        answer = table.header[index] if is_plain else str(index + 1)
        choices.append((answer, f"{table.name(index)}, {low:g} to {high:g}"))
    listed = ", ".join(table.name(index) for index in found)
    return Question(
        "temperature_column",
        f"Several columns could be the kiln's temperature: {listed}. Say which.",
        choices,
        "" if likely is None else choices[found.index(likely)][0],
    )


def read_temperatures(table: Table, column: int) -> tuple[FloatArray, Unit | None]:
    """Read a column of temperatures, with the unit that its cells carry, if any."""
    texts = table.column(column)
    fast = cells.plain_floats(texts)
    if fast is not None and not cells.MAYBE_THOUSAND.search("\n".join(texts)):
        return fast, None
    values = np.full(len(texts), np.nan)
    units: set[str] = set()
    maybe_thousands = np.zeros(len(texts), dtype=np.bool_)
    for row, text in enumerate(texts):
        match = cells.NUMBER_WITH_UNIT.fullmatch(text)
        if not match:
            table.blame(row, f"{text[:20]!r} is not a temperature.")
            continue
        units.add(match.group(2).upper())
        values[row] = cells.to_float(match.group(1))
        maybe_thousands[row] = bool(cells.MAYBE_THOUSAND.fullmatch(match.group(1)))
    # 1,234 is a thousand beside whole numbers, if it can be: a kiln at one degree is not.
    if np.any(maybe_thousands) and np.max(values[maybe_thousands]) * 1000 <= HIGHEST:
        counted = slice(-1) if table.is_unended else slice(None)  # It may be cut short.
        others = values[counted][(~maybe_thousands & ~np.isnan(values))[counted]]
        if np.all(others >= LOWEST_BESIDE) and np.all(others % 1 == 0):
            values[maybe_thousands] *= 1000
        else:
            table.blame_all(
                maybe_thousands,
                lambda row: f"{texts[row][:20]!r} may be a thousand or a fraction.",
            )
    units.discard("")
    if len(units) > 1:
        raise LogProblem(
            "The readings are partly in °C and partly in °F. Export one scale."
        )
    unit: Unit | None = "F" if units == {"F"} else "C" if units else None
    return values, unit


def settle_unit(
    table: Table, column: int, said: Unit | None, in_cells: Unit | None, doubts: Doubts
) -> Unit:
    """Return the scale from the file or the person, or ask."""
    written = (
        in_cells
        or cells.unit_in_name(table.title(column))
        or cells.unit_in_text(table.above)
    )
    if written and said and written != said:
        raise LogProblem(
            f"The file says °{written} in {table.name(column)} and you say °{said}. "
            "Correct the one that is wrong."
        )
    unit = written or said
    if unit is None:
        low, high = _ends(table.column(column))
        doubts.ask(
            Question(
                "unit",
                f"Are these readings ({low:g} to {high:g}) in °C or in °F? The file "
                "does not say.",
                [("C", "°C"), ("F", "°F")],
            )
        )
    return unit or "C"


def _kinds(table: Table) -> list[str]:
    """Return for each column the kind of its first cells, if enough of them agree.

    A quarter is enough: the others are bad rows, and are reported as such.
    """
    kinds = []
    for index in range(table.width):
        found = [cells.kind_of_cell(cell) for cell in table.column(index, SAMPLE_ROWS)]
        best = max(("stamp", "date", "clock", "number"), key=found.count)
        kinds.append(best if found.count(best) * 4 > len(found) else "")
    return kinds


def _by_name(table: Table, numeric: list[int]) -> list[int]:
    named = [index for index in numeric if cells.names_temperature(table.title(index))]
    if not named:
        # Unknown words: whatever is not another thing, and moves as only a kiln does.
        return [
            index
            for index in numeric
            if not cells.names_something_else(table.title(index))
            and (len(numeric) == 1 or _range(table.column(index)) > LEAST_RANGE)
        ]
    plain = [
        index for index in named if cells.plainly_names_the_kiln(table.title(index))
    ]
    return plain if len(plain) == 1 else named


def _wanted_column(table: Table, wanted: str) -> int:
    names = [name.lower() for name in table.header]
    wanted = wanted.strip()
    if wanted.lower() in names:
        return names.index(wanted.lower())
    if wanted.isdecimal() and 1 <= int(wanted) <= table.width:
        return int(wanted) - 1
    raise LogProblem(
        f"There is no column “{wanted[:30]}” in this file; it has {table.width}."
    )


def _rises(texts: list[str]) -> bool:
    values = [cells.to_float(t) for t in texts if cells.PLAIN_NUMBER.fullmatch(t)]
    return len(values) > 1 and all(one < other for one, other in pairwise(values))


def _ends(texts: list[str]) -> tuple[float, float]:
    """Return the least and the greatest number of a column."""
    matches = map(cells.NUMBER_WITH_UNIT.fullmatch, texts)
    values = [cells.to_float(match.group(1)) for match in matches if match]
    return min(values, default=0.0), max(values, default=0.0)


def _range(texts: list[str]) -> float:
    low, high = _ends(texts)
    return high - low
