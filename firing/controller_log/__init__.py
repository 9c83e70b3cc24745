"""Readings from the files that controllers and loggers write: CSV in its many dialects.

Pure: bytes in, arrays out. Nothing is half-read: any row that cannot be read is named
by its line and the whole file is refused. What the file does not say (°C or °F, day or
month first, seconds or minutes, which of two thermocouples) is asked.

Local times are read in the kiln's zone. A time that comes twice when clocks go back is
the first one until the file steps back, and the second one from there. If clocks changed
and the file shows that the logger's did not (it names a time that did not exist, or goes
through the doubled hour only once), the whole file keeps the offset before the change.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from firing.controller_log.cells import ElapsedUnit, Unit
from firing.controller_log.columns import (
    find_temperature,
    find_time,
    read_temperatures,
    settle_unit,
)
from firing.controller_log.problems import LogProblem
from firing.controller_log.table import read_table
from firing.controller_log.times import Clock, DateOrder, read_times
from studio.units import COLDEST_C, HOTTEST_C

__all__ = [
    "ControllerLog",
    "DateOrder",
    "ElapsedUnit",
    "LogProblem",
    "Readings",
    "Unit",
    "read_log",
]

LARGEST_FILE = 200 * 1024 * 1024
# No firing lasts a year and no file is three hundred years from its firing: if so, a
# clock was wrong, or seconds were read as hours.
LONGEST_S = 366 * 86_400.0
FURTHEST_S = 1e10


class Readings(NamedTuple):
    """Seconds since the firing's start (never falling) and temperatures [°C]."""

    time_s: NDArray[np.float64]
    temperature_c: NDArray[np.float64]


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
    """

    readings: Readings
    unit: Unit
    description: str


def read_log(
    data: bytes,
    *,
    started_at: datetime,
    zone: ZoneInfo,
    unit: Unit | None = None,
    date_order: DateOrder | None = None,
    elapsed_unit: ElapsedUnit | None = None,
    temperature_column: str | None = None,
    limit_bytes: int = LARGEST_FILE,
) -> ControllerLog:
    """Read a controller's or logger's file.

    Parameters
    ----------
    data : bytes
        The file: UTF-8, UTF-16 or Latin-1; commas, semicolons or tabs; a header or
        none. Blank lines and lines that begin with # are passed over.
    started_at : datetime
        Start of the firing, aware: zero of the result. A file of elapsed times starts
        then; one with times of day only starts within half a day of it.
    zone : ZoneInfo
        Zone of the logger's clock.
    unit : "C", "F" or None
        The scale, if the file does not say.
    date_order : "dmy", "mdy" or None
        For 03/04/2026, if no row tells.
    elapsed_unit : "s", "min", "h" or None
        For plain numbers of elapsed time, if the header does not say.
    temperature_column : str or None
        Its name, or its number from 1, if several could be it.
    limit_bytes : int
        Larger files are refused.

    Returns
    -------
    ControllerLog
        Readings in °C.

    Raises
    ------
    LogProblem
        If anything in the file cannot be read or told; `problems` names lines.
    """
    if started_at.utcoffset() is None:
        raise LogProblem("The start of the firing needs a time zone.")
    if len(data) > limit_bytes:
        raise LogProblem(
            f"This file has {len(data) / 1e6:.1f} MB; at most {limit_bytes / 1e6:.1f} "
            "can be read. Export one firing, or a reading every minute."
        )
    table = read_table(data)
    time_columns, kind = find_time(table)
    column = find_temperature(table, time_columns, temperature_column)
    values, unit_in_cells = read_temperatures(table, column)
    written_in = settle_unit(table, column, unit, unit_in_cells)
    temperature_c = values if written_in == "C" else (values - 32.0) * (5 / 9)
    table.blame_all(
        (temperature_c < COLDEST_C) | (temperature_c > HOTTEST_C),
        lambda row: (
            f"{table.rows[row].cells[column]!r} is no kiln temperature; they lie "
            f"between {COLDEST_C:.0f} and {HOTTEST_C:.0f} °C."
        ),
    )
    clock = Clock(started_at, zone, date_order, elapsed_unit)
    times = read_times(table, time_columns, kind, clock)
    table.blame_all(
        np.concatenate(([False], np.diff(times.time_s) < 0)),
        lambda _row: "the time goes backwards from the row before.",
    )
    table.blame_all(
        (times.time_s - times.time_s[0] > LONGEST_S)
        | (np.abs(times.time_s) > FURTHEST_S),
        lambda _row: "this time is years away. Look at the unit and at the clock.",
    )
    table.refuse_bad_rows()
    return ControllerLog(
        readings=Readings(times.time_s, temperature_c),
        unit=written_in,
        description=(
            f"{len(table.rows)} readings, {table.encoding}, {table.delimiter}; "
            f"temperature from {table.name(column)} in °{written_in}; {times.how}."
        ),
    )
