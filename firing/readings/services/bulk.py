"""Writes and deletes readings by the hundred thousand, letting others write in between.

Nobody sees them meanwhile: the file they belong to is not whole yet, or no longer.
"""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime

import numpy as np
from django.db import connection, transaction
from numpy.typing import NDArray

from firing.models import Reading, ReadingImport

FloatArray = NDArray[np.float64]

# SQLite has one writer: a batch holds it some 15 ms.
BATCH = 2000
COLUMNS = ("studio_id", "firing_id", "source_id", "at", "temperature_c")


def write_readings(
    source: ReadingImport,
    start: datetime,
    time_s: FloatArray,
    temperature_c: FloatArray,
    told: Callable[[str], None] | None,
) -> None:
    """Write a file's readings: in the caller's transaction, or in many short ones.

    Parameters
    ----------
    source : ReadingImport
        The file.
    start : datetime
        From when `time_s` counts.
    time_s, temperature_c : arrays
        Seconds and °C.
    told : callable or None
        Called with the progress after each of many transactions; without it there is
        none, and all is written in the caller's.
    """
    turns = _Turns()
    for at in range(0, len(time_s), BATCH):
        part = slice(at, at + BATCH)
        moments = _as_text(start, time_s[part])
        heats = temperature_c[part].tolist()
        rows = [
            (source.studio_id, source.firing_id, source.pk, moment, celsius)
            for moment, celsius in zip(moments, heats, strict=True)
        ]
        if told is None:
            _insert(rows)
            continue
        with turns.next():
            _insert(rows)
        if at // BATCH % 10 == 0:
            told(f"{at + len(rows):,} of {len(time_s):,} readings are in")


def delete_import(source: ReadingImport) -> None:
    """Delete a file that nobody sees, and its readings."""
    mine = Reading.with_unfinished.filter(source=source).order_by("pk")
    turns = _Turns()
    while keys := list(mine.values_list("pk", flat=True)[:BATCH]):
        with turns.next():
            Reading.with_unfinished.filter(pk__in=keys).delete()
    source.delete()


class _Turns:
    """Short transactions with room between them for whoever waits for the file.

    SQLite lets waiting writers look now and then; without a pause the next batch would
    be first every time. What is done between two of them is part of the pause.
    """

    def __init__(self) -> None:
        self._free_until = 0.0

    @contextmanager
    def next(self) -> Iterator[None]:
        """Do one batch in a transaction, when the pause after the last one is over."""
        if connection.vendor == "sqlite":
            time.sleep(max(0.0, self._free_until - time.perf_counter()))
        began = time.perf_counter()
        with transaction.atomic():
            yield
        ended = time.perf_counter()
        self._free_until = ended + (ended - began) / 2


def _as_text(start: datetime, time_s: FloatArray) -> list[str]:
    """Return moments in UTC as Django writes them, to a microsecond."""
    begin = np.datetime64(start.astimezone(UTC).replace(tzinfo=None), "us")
    moments = begin + np.rint(time_s * 1e6).astype("timedelta64[us]")
    whole = moments.astype("datetime64[s]")
    texts = np.where(
        moments == whole, np.datetime_as_string(whole), np.datetime_as_string(moments)
    )
    return [text.replace("T", " ") for text in texts.tolist()]


def _insert(rows: list[tuple[int, int, int, str, float]]) -> None:
    """Insert rows by the database's own way for many: a model for each takes 5 times as
    long.
    """
    table = connection.ops.quote_name(Reading._meta.db_table)
    names = ", ".join(connection.ops.quote_name(name) for name in COLUMNS)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
                for row in rows:
                    copy.write_row((*row[:3], f"{row[3]}+00", row[4]))
            return
        marks = ", ".join(["%s"] * len(COLUMNS))
        cursor.executemany(
            f"INSERT INTO {table} ({names}) VALUES ({marks})",  # noqa: S608 - our names
            rows,
        )
