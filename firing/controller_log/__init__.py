"""Readings from the files that controllers and loggers write: CSV in its many dialects.

Pure: bytes in, arrays out; only the cells are held in memory. A row that cannot be read is left out and named by its line:
whoever asked decides whether the rest will do. What neither the file nor its firing says
(°C or °F, day or month first, seconds or minutes, which of two thermocouples) is asked.

Local times are read in the kiln's zone. A time that comes twice when clocks go back is
the first one until the file steps back, and the second one from there. If clocks changed
and the file shows that the logger's did not (it names a time that did not exist, or goes
through the doubled hour only once), the whole file keeps the offset before the change.
"""

import io
import re
from bisect import bisect_right
from dataclasses import dataclass
from datetime import datetime
from typing import IO, NamedTuple, Self
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from firing.controller_log.cells import (
    NUMBER_WITH_UNIT,
    ElapsedUnit,
    Unit,
    unit_in_name,
)
from firing.controller_log.columns import (
    Kind,
    ask_column,
    find_temperatures,
    find_time,
    read_temperatures,
    settle_unit,
)
from firing.controller_log.problems import (
    Doubts,
    LogProblem,
    LogQuestions,
    Question,
)
from firing.controller_log.table import Table, read_table
from firing.controller_log.times import Clock, DateOrder, Times, read_times
from studio.units import COLDEST_C, HOTTEST_C

__all__ = [
    "LARGEST_FILE",
    "ControllerLog",
    "DateOrder",
    "ElapsedUnit",
    "LogProblem",
    "LogQuestions",
    "Question",
    "Readings",
    "Unit",
    "read_log",
]

LARGEST_FILE = 64 * 1024 * 1024
# No firing lasts a year and no file is three hundred years from its firing: if so, a
# clock was wrong, or seconds were read as hours.
LONGEST_S = 366 * 86_400.0
FURTHEST_S = 1e10
# Lines are left out in the light of those that stay, so all are looked at again; honest
# files need three or four looks.
MOST_LOOKS = 10

FloatArray = NDArray[np.float64]


class Readings(NamedTuple):
    """Seconds since the firing's start (never falling) and temperatures [°C]."""

    time_s: FloatArray
    temperature_c: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class ControllerLog:
    """A file that was read.

    Attributes
    ----------
    readings : Readings
        Times and temperatures.
    unit : "C" or "F"
        Scale that the file was written in; the readings are in °C.
    description : str
        How the file was read, for the person who gave it.
    left_out : list of (int, str)
        Lines that cannot be read, with what is wrong there.
    is_cut_short : bool
        The last line had no end and was left out, which is not in `left_out`.
    columns : str
        The file's header, by which one of the same logger is known.
    """

    readings: Readings
    unit: Unit
    description: str
    left_out: list[tuple[int, str]]
    is_cut_short: bool
    columns: str

    def whole(self) -> Self:
        """Return itself.

        Raises
        ------
        LogProblem
            If any line was left out, naming them.
        """
        if not self.left_out:
            return self
        count = len(self.left_out)
        line, text = self.left_out[0]
        raise LogProblem(
            f"{'1 line' if count == 1 else f'{count} lines'} cannot be read. "
            f"Line {line}: {text} Leave such lines out, or correct the file.",
            self.left_out,
        )


def read_log(
    data: bytes | IO[bytes],
    *,
    started_at: datetime,
    zone: ZoneInfo,
    unit: Unit | None = None,
    date_order: DateOrder | None = None,
    elapsed_unit: ElapsedUnit | None = None,
    temperature_column: str | None = None,
    lasted_s: float | None = None,
    planned: Readings | None = None,
    limit_bytes: int = LARGEST_FILE,
) -> ControllerLog:
    """Read a controller's or logger's file.

    Parameters
    ----------
    data : bytes or binary file
        The file: UTF-8, UTF-16 or Latin-1; commas, semicolons or tabs; a header or
        none, lines of a summary above it. Blank lines and lines that begin with # are
        passed over.
    started_at : datetime
        Start of the firing, aware: zero of the result. A file of elapsed times starts
        then; one with times of day only starts within half a day of it.
    zone : ZoneInfo
        Zone of the logger's clock.
    unit : "C", "F" or None
        The scale, if the file does not say.
    date_order : "dmy", "mdy" or None
        For 03/04/2026, if neither a row nor the time of the firing tells.
    elapsed_unit : "s", "min", "h" or None
        For plain numbers of elapsed time, if the header does not say.
    temperature_column : str or None
        Its name, or its number from 1, if several could be it.
    lasted_s : float or None
        How long the firing has lasted, to tell days from months.
    planned : Readings or None
        The plan, to say which of several columns is likely the kiln's.
    limit_bytes : int
        Larger files are refused.

    Returns
    -------
    ControllerLog
        Readings in °C, and the lines that are not among them.

    Raises
    ------
    LogQuestions
        If something must be said before the file can be read.
    LogProblem
        If it cannot be read, or more lines are bad than good; `problems` names lines.
    """
    if started_at.utcoffset() is None:
        raise LogProblem("The start of the firing needs a time zone.")
    file = io.BytesIO(data) if isinstance(data, bytes) else data
    if (size := file.seek(0, io.SEEK_END)) > limit_bytes:
        raise LogProblem(
            f"This file has {size / 1e6:.1f} MB; at most {limit_bytes / 1e6:.1f} "
            "can be read. Export one firing, or a reading every minute."
        )
    table = read_table(file)
    columns = " | ".join(table.header)[:200] or f"{table.width} columns"
    doubts = Doubts()
    clock = Clock(started_at, zone, date_order, elapsed_unit, lasted_s, doubts)
    try:
        log = _read(table, clock, unit, temperature_column, planned, columns)
    except LogProblem as problem:
        if doubts.questions:
            raise LogQuestions(doubts.questions, columns) from problem
        raise
    if doubts.questions:
        raise LogQuestions(doubts.questions, columns)
    return log


def _read(
    table: Table,
    clock: Clock,
    unit: Unit | None,
    temperature_column: str | None,
    planned: Readings | None,
    columns: str,
) -> ControllerLog:
    last_line = int(table.lines[-1])
    time_columns, kind = find_time(table)
    found = find_temperatures(table, time_columns, temperature_column)
    times = _times(table, time_columns, kind, clock)
    column = found[0]
    if len(found) > 1:
        likely = _likely(table, found, times.time_s, planned, unit)
        clock.doubts.ask(ask_column(table, found, likely))
    time_s = times.time_s
    values, unit_in_cells = read_temperatures(table, column)
    written_in = settle_unit(table, column, unit, unit_in_cells, clock.doubts)
    temperature_c = _celsius(values, written_in)
    table.blame_all(
        (temperature_c < COLDEST_C) | (temperature_c > HOTTEST_C),
        lambda row: (
            f"{str(table.columns[column][row])[:20]!r} is no kiln temperature; they lie "
            f"between {COLDEST_C:.0f} and {HOTTEST_C:.0f} °C."
        ),
    )
    if table.is_unended and table.lines[-1] == last_line:
        is_last_cell = not any(table.row(-1)[column + 1 :])
        is_far_lower = values[-1] < 0.5 * values[-2]
        if is_last_cell and is_far_lower and _lacks_digits(table.column(column)[-2:]):
            table.blame(len(table.lines) - 1, "the line is cut short.")
    stay = table.drop_bad()
    if stay is not None:
        time_s, temperature_c = time_s[stay], temperature_c[stay]
    left_out = sorted(table.left_out.items())
    is_cut_short = table.is_unended and last_line in table.left_out
    if is_cut_short:
        left_out.pop()
    return ControllerLog(
        readings=Readings(time_s, temperature_c),
        unit=written_in,
        description=(
            f"{len(table.lines)} readings, {table.encoding}, {table.delimiter}; "
            f"temperature from {table.name(column)} in °{written_in}; {times.how}."
        ),
        left_out=left_out,
        is_cut_short=is_cut_short,
        columns=columns,
    )


def _lacks_digits(texts: list[str]) -> bool:
    """Tell 149 of 1490.5 from a reading: it has not the decimals of the one before."""
    found = map(NUMBER_WITH_UNIT.fullmatch, texts)
    had, has = (re.split("[.,]", match.group(1))[1:] for match in found if match)
    return not had or not has or len(has[-1]) < len(had[-1])


def _celsius(values: FloatArray, unit: Unit) -> FloatArray:
    return values if unit == "C" else (values - 32.0) * (5 / 9)


def _times(table: Table, columns: list[int], kind: Kind, clock: Clock) -> Times:
    """Read the times of the rows that have one, leaving out those that have not.

    Every time is read in the light of its neighbours, so what is left is read again.
    """
    table.drop_bad()
    for _ in range(MOST_LOOKS):
        times = read_times(table, columns, kind, clock)
        if not table.problems:
            _blame_times(table, columns, times.time_s)
        if table.drop_bad() is None:
            return times
    raise LogProblem(
        f"{len(table.left_out):,} lines have times that do not follow from the others. "
        "Look at the clock of the controller and export the firing again.",
        sorted(table.left_out.items()),
    )


def _blame_times(table: Table, columns: list[int], time_s: FloatArray) -> None:
    """Blame times of another year, else those that go backwards."""

    def text(row: int) -> str:
        return " ".join(str(table.columns[at][row]) for at in columns)[:30]

    table.blame_all(
        (np.abs(time_s - np.median(time_s)) > LONGEST_S)
        | (np.abs(time_s) > FURTHEST_S),
        lambda row: f"{text(row)!r} is years away. Look at the unit and at the clock.",
    )
    if not table.problems:
        table.blame_all(
            _backwards(time_s),
            lambda row: f"{text(row)!r} goes backwards from the row before.",
        )


def _backwards(time_s: FloatArray) -> NDArray[np.bool_]:
    """Mark as few times as possible, so that those that are left never fall."""
    if np.all(np.diff(time_s) >= 0):
        return np.zeros(len(time_s), dtype=np.bool_)
    # The longest rising run, found from the end: of two that can stay, the first does.
    tails: list[float] = []
    ends: list[int] = []
    before = np.full(len(time_s), -1)
    for row in range(len(time_s) - 1, -1, -1):
        at = bisect_right(tails, -time_s[row])
        tails[at : at + 1] = [-time_s[row]]
        ends[at : at + 1] = [row]
        before[row] = ends[at - 1] if at else -1
    falls = np.ones(len(time_s), dtype=np.bool_)
    row = ends[-1]
    while row >= 0:
        falls[row] = False
        row = before[row]
    return falls


def _likely(
    table: Table,
    found: list[int],
    time_s: FloatArray,
    planned: Readings | None,
    unit: Unit | None,
) -> int | None:
    """Return which of several columns lies nearest to the plan."""
    if planned is None:
        return None
    plan_c = np.interp(time_s, *planned)
    misfits = {}
    for column in found:
        values, in_cells = read_temperatures(table, column)
        scale = in_cells or unit_in_name(table.title(column)) or unit
        if scale:
            misfits[column] = np.nanmedian(np.abs(_celsius(values, scale) - plan_c))
    table.problems = {}  # What is wrong counts in the column that is chosen.
    return min(misfits, key=lambda column: misfits[column]) if misfits else None
