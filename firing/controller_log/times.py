"""From cells of time to seconds since the firing's start, clock changes included."""

import math
import re
from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache, partial
from typing import Literal, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from firing.controller_log import cells
from firing.controller_log.cells import ElapsedUnit
from firing.controller_log.columns import ELAPSED_NAME, SAMPLE_ROWS, Kind
from firing.controller_log.problems import Doubts, LogProblem, Question
from firing.controller_log.table import Table

FloatArray = NDArray[np.float64]
DateOrder = Literal["dmy", "mdy"]

DAY_S = 86_400.0
HOUR_S = 3_600.0
# A logger may run before the start and after the end of its firing, and a clock be off.
SLACK_S = 12 * HOUR_S
SECONDS_PER: dict[ElapsedUnit, float] = {"s": 1.0, "min": 60.0, "h": HOUR_S}
# Plain numbers this large are seconds, or milliseconds, since 1970 (from 2001 on).
EPOCH_SECONDS = 1e9
EPOCH_MILLISECONDS = 1e12
_EPOCH_DAY = date(1970, 1, 1).toordinal()
_DAY_AND_MOMENT = re.compile(r"[T ,]\s*")
_TWO_NUMBERS = re.compile(r"(\d{1,2})[/-](\d{1,2})[/-]\d", re.ASCII)
_DDD_HH_MM = re.compile(r"\d{3}:\d\d:\d\d", re.ASCII)
_NAMES_DAYS = re.compile(r"\bd+:h+")
_NAMES_CLOCK = re.compile(r"of day|clock|uhr")


class Clock(NamedTuple):
    """What a file's times are measured from, and what of them is known or asked."""

    started_at: datetime
    zone: ZoneInfo
    date_order: DateOrder | None
    elapsed_unit: ElapsedUnit | None
    lasted_s: float | None
    doubts: Doubts


class Times(NamedTuple):
    """Seconds since the start, and in words how they were read."""

    time_s: FloatArray
    how: str


def read_times(table: Table, columns: list[int], kind: Kind, clock: Clock) -> Times:
    """Read the column or columns of times; bad rows are blamed in the table."""
    if kind == "stamp":
        return _read_stamps(table, columns, clock)
    if kind == "clock":
        return _read_clock(table, columns[0], clock)
    return _read_numbers(table, columns[0], clock)


# --- plain numbers --------------------------------------------------------------------


def _read_numbers(table: Table, column: int, clock: Clock) -> Times:
    """Read elapsed time in one unit, or seconds since 1970."""
    texts = table.column(column)
    values = cells.plain_floats(texts)
    if values is None:
        values = _each(
            table,
            texts,
            lambda cell: (
                cells.to_float(cell) if cells.PLAIN_NUMBER.fullmatch(cell) else None
            ),
        )
    smallest = float(np.min(values, initial=math.inf, where=~np.isnan(values)))
    if EPOCH_SECONDS <= smallest < math.inf:
        scale = 1e3 if smallest >= EPOCH_MILLISECONDS else 1.0
        return Times(
            values / scale - clock.started_at.timestamp(), "seconds since 1970"
        )
    unit = cells.elapsed_unit_in_name(table.title(column)) or clock.elapsed_unit
    if unit is None:
        unit = _elapsed_unit(table.name(column), float(np.nanmax(values)), clock)
    return Times(values * SECONDS_PER[unit], f"time since the start in {unit}")


def _elapsed_unit(name: str, last: float, clock: Clock) -> ElapsedUnit:
    """Ask for the unit of elapsed times; likely the largest that is not to come yet."""
    choices: list[tuple[ElapsedUnit, str]] = [
        ("s", "seconds"),
        ("min", "minutes"),
        ("h", "hours"),
    ]
    # Not settled by what fits: the start may have been recorded late.
    fitting = [
        unit
        for unit, _ in choices
        if clock.lasted_s and last * SECONDS_PER[unit] <= clock.lasted_s + SLACK_S
    ]
    question = Question(
        "elapsed_unit",
        f"Are the times in {name} (up to {last:g}) seconds, minutes or hours? The file "
        "does not say.",
        [(unit, words) for unit, words in choices],
        fitting[-1] if fitting else "",
    )
    clock.doubts.ask(question)
    return choices[0][0]


# --- hh:mm:ss -------------------------------------------------------------------------


def _read_clock(table: Table, column: int, clock: Clock) -> Times:
    """Read hh:mm:ss and the like: a time of day, or the time since the start."""
    texts = table.column(column)
    title = table.title(column)
    in_days = bool(_NAMES_DAYS.search(title)) or all(
        _DDD_HH_MM.fullmatch(text) for text in texts[:SAMPLE_ROWS]
    )
    in_minutes = "mm:ss" in title and "hh:mm" not in title
    seconds = _each(
        table, texts, lambda text: _clock_seconds(text, in_days, in_minutes)
    )
    named = bool(ELAPSED_NAME.search(title)) or in_days or in_minutes
    if named or _is_elapsed(seconds, title, clock):
        return Times(seconds, "time since the start")
    # A step back of more than half a day is midnight; a smaller one is a bad row.
    midnights = np.cumsum(np.concatenate(([0], np.diff(seconds) < -DAY_S / 2)))
    local_s = seconds + midnights * DAY_S + _first_midnight_s(seconds[0], clock)
    return Times(_since_start(local_s, clock), f"time of day in {clock.zone}")


def _is_elapsed(seconds: FloatArray, title: str, clock: Clock) -> bool:
    """Tell 00:10:00 since the start from ten past midnight.

    Past 24 hours it is not a time of day. A file of elapsed times begins within an
    hour. One that does is a file of times of day only if the firing began near midnight
    too.
    """
    if _NAMES_CLOCK.search(title):
        return False
    if np.any(seconds >= DAY_S):
        return True
    from_start_s = (
        _first_midnight_s(seconds[0], clock) + seconds[0] - _local_start_s(clock)
    )
    return bool(seconds[0] < HOUR_S < abs(from_start_s))


def _local_start_s(clock: Clock) -> float:
    start = clock.started_at.astimezone(clock.zone)
    return start.replace(tzinfo=UTC).timestamp()


def _first_midnight_s(first_s: float, clock: Clock) -> float:
    """Return the local midnight that puts the first reading nearest to the start."""
    if math.isnan(first_s):
        first_s = 0.0  # The row is blamed already.
    return round((_local_start_s(clock) - first_s) / DAY_S) * DAY_S


def _clock_seconds(text: str, in_days: bool, in_minutes: bool) -> float | None:  # noqa: FBT001 - only passed on
    if text[-1:] in "mM.":
        match = cells.MOMENT_CELL.fullmatch(text)
        return _time_of_day(match.groups()[:5]) if match else None
    if not cells.LONG_CLOCK.fullmatch(text):
        return None
    parts = [float(part) for part in text.replace(",", ".").split(":")]
    scales = [DAY_S, HOUR_S, 60.0, 1.0]
    if len(parts) == 2:
        scales = scales[2:] if in_minutes else scales[1:3]
    elif len(parts) == 3:
        scales = scales[:3] if in_days else scales[1:]
    limits = {HOUR_S: 24, 60.0: 60, 1.0: 60}
    if any(
        part >= limits[scale] for part, scale in zip(parts[1:], scales[1:], strict=True)
    ):
        return None
    return sum(part * scale for part, scale in zip(parts, scales, strict=True))


# --- dates and times ------------------------------------------------------------------


def _read_stamps(table: Table, columns: list[int], clock: Clock) -> Times:
    """Read dates with times, in one column or in two, local or with an offset."""
    texts = table.column(columns[0])
    if len(columns) == 2:
        moments = table.column(columns[1])
        texts = [f"{day} {moment}" for day, moment in zip(texts, moments, strict=True)]
    # 12:05 without the AM that other rows have would be noon.
    twelve = [bool(cells.TWELVE_HOURS.search(text)) for text in texts]
    if any(twelve):
        table.blame_all(
            ~np.array(twelve),
            lambda row: f"{texts[row][:30]!r} lacks the AM or PM that other rows have.",
        )
    day_first, why = _day_first(texts, clock)
    # Days and moments repeat, a reading a second those of a day: each is worked out once.
    day_of = lru_cache(1_000)(partial(_day_seconds, day_first=day_first))
    moment_of = lru_cache(90_000)(_moment)
    local_s = np.full(len(texts), np.nan)
    offset_s = np.full(len(texts), np.nan)
    for row, text in enumerate(texts):
        day_text, *rest = _DAY_AND_MOMENT.split(text, maxsplit=1)
        day_s, moment = day_of(day_text), moment_of(rest[0] if rest else "")
        if day_s is None or moment is None:
            table.blame(row, f"{text[:30]!r} is not a date and time.")
            continue
        local_s[row] = day_s + moment.second_of_day
        if moment.offset_s is not None:
            offset_s[row] = moment.offset_s
    if np.all(np.isnan(offset_s)):
        how = f"dates and times in {clock.zone}{why}"
        return Times(_since_start(local_s, clock), how)
    table.blame_all(
        ~np.isnan(local_s) & np.isnan(offset_s),
        lambda row: f"{texts[row][:30]!r} lacks the offset that other rows have.",
    )
    seconds = local_s - offset_s - clock.started_at.timestamp()
    return Times(seconds, f"dates and times with their offset{why}")


class _Moment(NamedTuple):
    second_of_day: float
    offset_s: float | None


def _moment(text: str) -> _Moment | None:
    match = cells.MOMENT_CELL.fullmatch(text)
    seconds = _time_of_day(match.groups()[:5]) if match else None
    if match is None or seconds is None:
        return None
    offset = match.group(6)
    if offset is None:
        return _Moment(seconds, None)
    if offset in "Zz":
        return _Moment(seconds, 0.0)
    sign = -1 if offset[0] == "-" else 1
    return _Moment(seconds, sign * (int(offset[1:3]) * HOUR_S + int(offset[-2:]) * 60))


def _time_of_day(groups: Sequence[str | None]) -> float | None:
    """Return seconds since midnight of hour, minute, second, fraction and am/pm."""
    hour, minute, second, fraction, half = groups
    hours, minutes, seconds = int(hour or 0), int(minute or 0), int(second or 0)
    if half:
        if not 1 <= hours <= 12:
            return None
        hours = hours % 12 + (12 if half[0] in "pP" else 0)
    if hours > 23 or minutes > 59 or seconds > 59:
        return None
    return hours * HOUR_S + minutes * 60 + seconds + float(f"0.{fraction or 0}")


def _day_seconds(text: str, *, day_first: bool) -> float | None:
    match = cells.DATE_CELL.fullmatch(text)
    if not match:
        return None
    first, mark, second, third = match.groups()
    if len(first) > 2:
        year, month, day = int(first), int(second), int(third)
    elif mark == "." or day_first:
        year, month, day = int(third), int(second), int(first)
    else:
        year, month, day = int(third), int(first), int(second)
    try:
        found = date(year + 2000 if year < 100 else year, month, day)
    except ValueError:
        return None
    return (found.toordinal() - _EPOCH_DAY) * DAY_S


def _day_first(texts: Iterable[str], clock: Clock) -> tuple[bool, str]:
    """Tell 13/04 from 04/13 by rows that can only be one of them, by the firing, or ask.

    Also returns how it was told, if not by the rows.
    """
    days = {_DAY_AND_MOMENT.split(text, maxsplit=1)[0] for text in texts}
    matches = ((day, _TWO_NUMBERS.match(day)) for day in days)
    pairs = {day: (int(m.group(1)), int(m.group(2))) for day, m in matches if m}
    day_first = any(first > 12 >= second for first, second in pairs.values())
    month_first = any(second > 12 >= first for first, second in pairs.values())
    if day_first and month_first:
        raise LogProblem(
            "Some dates have the day first and some the month. Export the firing with "
            "one form of dates."
        )
    unclear = [day for day, pair in pairs.items() if pair[0] != pair[1]]
    if day_first or month_first or not unclear:
        return day_first, ""
    order = _fitting_order(list(pairs), clock) or clock.date_order
    if order is None:
        example = min(unclear)
        order = clock.doubts.ask(
            Question(
                "date_order",
                f"Is the day or the month first in dates such as {example}? The file "
                "does not say.",
                [("dmy", "the day first"), ("mdy", "the month first")],
            )
        )  # type: ignore[assignment]
    return order == "dmy", f", {'day' if order == 'dmy' else 'month'} first"


def _fitting_order(days: list[str], clock: Clock) -> DateOrder | None:
    """Return the only order in which the days are those of the firing, if one is."""
    if clock.lasted_s is None:
        return None
    earliest_s = _local_start_s(clock) - SLACK_S - DAY_S
    latest_s = _local_start_s(clock) + clock.lasted_s + SLACK_S
    fitting = {
        order: sum(
            earliest_s <= (_day_seconds(day, day_first=order == "dmy") or 0) <= latest_s
            for day in days
        )
        for order in ("dmy", "mdy")
    }
    # One is right if all days fit it and not all the other, or if none fits the other.
    for enough in (len(days), 1):
        found: list[DateOrder] = [
            order for order in ("dmy", "mdy") if fitting[order] >= enough
        ]
        if len(found) == 1:
            return found[0]
        if found:
            return None
    return None


# --- local time -----------------------------------------------------------------------


def _since_start(local_s: FloatArray, clock: Clock) -> FloatArray:
    """Turn local wall-clock seconds into seconds since the start of the firing.

    The package's docstring has the rules for clock changes.
    """
    start_s = clock.started_at.timestamp()
    first, second = _offsets(local_s, clock.zone)
    skipped, twice = first < second, first > second
    back = np.concatenate(([False], np.diff(local_s) < 0)) & twice
    offsets = first
    if np.any(skipped):
        offsets = np.full_like(local_s, first[np.argmax(skipped)])
    elif np.any(back):
        offsets = np.where(twice & (np.cumsum(back) > 0), second, first)
    elif np.any(twice):
        begun_s = local_s[0] - start_s
        if twice[0] and abs(begun_s - second[0]) < abs(begun_s - first[0]):
            offsets = second
        else:
            offsets = np.full_like(local_s, first[np.argmax(twice)])
    return local_s - offsets - start_s


def _offsets(local_s: FloatArray, zone: ZoneInfo) -> tuple[FloatArray, FloatArray]:
    """Return the zone's offset of each local time, read as the first and as the second.

    Zones change on quarter hours, so one look per quarter is enough.
    """
    quarters, where = np.unique(
        np.floor(np.nan_to_num(local_s) / 900), return_inverse=True
    )
    walls = [
        datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=float(quarter) * 900)
        for quarter in quarters
    ]
    first, second = (
        np.array([_offset_s(wall.replace(tzinfo=zone, fold=fold)) for wall in walls])
        for fold in (0, 1)
    )
    return first[where], second[where]


def _offset_s(instant: datetime) -> float:
    return (instant.utcoffset() or timedelta()).total_seconds()


def _each(
    table: Table, texts: list[str], read: Callable[[str], float | None]
) -> FloatArray:
    """Read every cell, but each text only once."""
    known: dict[str, float | None] = {}
    values = np.full(len(texts), np.nan)
    for row, text in enumerate(texts):
        if text not in known:
            known[text] = read(text)
        value = known[text]
        if value is None:
            table.blame(row, f"{text[:20]!r} is not a time.")
        else:
            values[row] = value
    return values
