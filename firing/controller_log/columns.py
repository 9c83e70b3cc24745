"""Which column holds the times and which the kiln's temperature, and in what unit."""

import re
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from firing.controller_log import cells
from firing.controller_log.cells import Unit
from firing.controller_log.problems import LogProblem
from firing.controller_log.table import Table

FloatArray = NDArray[np.float64]
Kind = Literal["stamp", "clock", "number"]

SAMPLE_ROWS = 50
ELAPSED_NAME = re.compile(r"elapsed|duration|laufzeit|run ?time|dauer|since start")
# Without a header, a column that moves less than this is not a firing but a percentage,
# a segment's number or a set value.
LEAST_RANGE = 100.0
_ONLY_PLAIN = re.compile(r"[0-9.+\-\n]*", re.ASCII)


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


def find_temperature(table: Table, time_columns: list[int], wanted: str | None) -> int:
    """Return the column of the kiln's temperature, or ask which it is."""
    if wanted is not None:
        return _wanted_column(table, wanted)
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
    if len(found) == 1:
        return found[0]
    if found:
        listed = ", ".join(table.name(index) for index in found)
        raise LogProblem(
            f"Several columns could be the kiln's temperature: {listed}. Say which."
        )
    raise LogProblem(
        "No column of temperatures was found. Name one in the header, such as "
        "Temp (°C), or say which column it is."
    )


def read_temperatures(table: Table, column: int) -> tuple[FloatArray, Unit | None]:
    """Read a column of temperatures, with the unit that its cells carry, if any."""
    texts = table.column(column)
    fast = _fast_floats(texts)
    if fast is not None:
        return fast, None
    values = np.full(len(texts), np.nan)
    units: set[str] = set()
    has_whole, maybe_thousands = False, []
    for row, text in enumerate(texts):
        match = cells.NUMBER_WITH_UNIT.fullmatch(text)
        if not match:
            table.blame(row, f"{text[:20]!r} is not a temperature.")
            continue
        number = match.group(1)
        units.add(match.group(2).upper())
        values[row] = cells.to_float(number)
        if "," not in number:
            has_whole = True
        elif cells.MAYBE_THOUSAND.fullmatch(number):
            maybe_thousands.append(row)
    if has_whole:
        # Beside numbers without a comma, 1,234 may well be one thousand.
        for row in maybe_thousands:
            table.blame(row, f"{texts[row]!r} may be a thousand or a fraction.")
    units.discard("")
    if len(units) > 1:
        raise LogProblem(
            "The readings are partly in °C and partly in °F. Export one scale."
        )
    unit: Unit | None = "F" if units == {"F"} else "C" if units else None
    return values, unit


def settle_unit(
    table: Table, column: int, said: Unit | None, in_cells: Unit | None
) -> Unit:
    """Return the scale from the file or the person, or ask."""
    written = in_cells or cells.unit_in_name(table.title(column))
    if written and said and written != said:
        raise LogProblem(
            f"The file says °{written} in {table.name(column)} and you say °{said}. "
            "Correct the one that is wrong."
        )
    unit = written or said
    if unit is None:
        raise LogProblem("Are these readings in °C or in °F? The file does not say.")
    return unit


def _kinds(table: Table) -> list[str]:
    """Return for each column the kind of its first cells, if enough of them agree.

    A quarter is enough: the others are bad rows, and are reported as such.
    """
    sample = table.rows[:SAMPLE_ROWS]
    kinds = []
    for index in range(table.width):
        found = [cells.kind_of_cell(row.cells[index]) for row in sample]
        best = max(("stamp", "date", "clock", "number"), key=found.count)
        kinds.append(best if found.count(best) * 4 > len(sample) else "")
    return kinds


def _by_name(table: Table, numeric: list[int]) -> list[int]:
    named = [index for index in numeric if cells.names_temperature(table.title(index))]
    if not named and len(numeric) == 1:
        other = cells.names_something_else(table.title(numeric[0]))
        return [] if other else numeric
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


def _range(texts: list[str]) -> float:
    matches = map(cells.NUMBER_WITH_UNIT.fullmatch, texts)
    values = [cells.to_float(match.group(1)) for match in matches if match]
    return max(values) - min(values)


def _fast_floats(texts: list[str]) -> FloatArray | None:
    """Convert clean decimals at once; None sends the column the slow way."""
    if not _ONLY_PLAIN.fullmatch("\n".join(texts)):
        return None
    try:
        return np.array(texts, dtype=np.str_).astype(np.float64)
    except ValueError:
        return None
