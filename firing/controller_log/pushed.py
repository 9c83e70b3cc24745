"""Readings as a logger sends them: JSON or CSV lines of an instant and a temperature.

Unlike with a controller's file, nothing is guessed: a program can be told what to send.
Each instant carries its offset from UTC.
"""

import csv
import io
import json
import math
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from studio.errors import StudioError
from studio.units import fahrenheit_to_celsius

MOST_LINES = 5000
COLDEST_C, HOTTEST_C = -50.0, 1700.0
UNITS = ("C", "F")
# What zlib calls a stream with a header of gzip.
GZIP = 16 + zlib.MAX_WBITS


class PushProblem(StudioError):
    """Readings that cannot be accepted; the message names the line and what to send."""


@dataclass(frozen=True, slots=True)
class PushedReading:
    """One reading."""

    at: datetime
    temperature_c: float


def read_pushed(data: bytes, *, is_json: bool, unit: str) -> list[PushedReading]:
    """Read what a logger sent, whole or not at all.

    Parameters
    ----------
    data : bytes
        CSV: lines of ``2026-03-04T05:06:07Z,482.5``, with or without a line of names.
        JSON: ``[["2026-03-04T05:06:07Z", 482.5], ...]``, or an object with that list
        under ``readings`` and ``C`` or ``F`` under ``unit``.
    is_json : bool
        Which of them it is.
    unit : str
        ``C`` or ``F``, unless the JSON says.

    Returns
    -------
    list of PushedReading
        In order of time; of two for the same instant the later one sent.

    Raises
    ------
    PushProblem
        If it is neither, a line is no reading, or there are none or too many.
    """
    rows, unit = _json_rows(data, unit) if is_json else (_csv_rows(data), unit)
    if unit not in UNITS:
        raise PushProblem("The unit is C or F.")
    if not rows:
        raise PushProblem("There is no reading in this. Send at least one line.")
    if len(rows) > MOST_LINES:
        raise PushProblem(
            f"These are {len(rows)} readings. Send at most {MOST_LINES} at once."
        )
    found = {
        one.at: one for one in (_reading(number, row, unit) for number, row in rows)
    }
    return [found[at] for at in sorted(found)]


def read_clock(data: bytes, *, is_json: bool, given: str) -> datetime | None:
    """Return what a logger's own clock showed as it sent; none if it does not say.

    Parameters
    ----------
    data, is_json
        As for `read_pushed`: an object may hold it under ``clock``.
    given : str
        What the address says, for CSV.

    Raises
    ------
    PushProblem
        If it is no instant.
    """
    if is_json:
        try:
            read = json.loads(data)
        except (ValueError, RecursionError):
            return None  # `read_pushed` says so.
        given = str(read.get("clock", given)) if isinstance(read, dict) else given
    return _instant("The clock", given) if given else None


def unpacked(data: bytes, *, most: int) -> bytes | None:
    """Return what was packed with gzip (RFC 1952); none if it is more than `most` bytes.

    Raises
    ------
    PushProblem
        If it is no gzip.
    """
    opener = zlib.decompressobj(wbits=GZIP)
    try:
        found = opener.decompress(data, most + 1)
    except zlib.error as problem:
        raise PushProblem(f"This is no gzip: {problem}.") from problem
    if len(found) > most:
        return None
    if not opener.eof:
        raise PushProblem("The gzip ends in the middle. Send it again.")
    return found


def _json_rows(data: bytes, unit: str) -> tuple[Sequence[tuple[int, object]], str]:
    try:
        given = json.loads(data)
    except (ValueError, RecursionError) as problem:
        raise PushProblem(f"This is no JSON: {problem}.") from problem
    if isinstance(given, dict):
        unit = given.get("unit", unit)
        given = given.get("readings")
    if not isinstance(given, list):
        raise PushProblem(
            'Send a list such as [["2026-03-04T05:06:07Z", 482.5]], or that list under '
            "“readings”."
        )
    return list(enumerate(given, start=1)), unit


def _csv_rows(data: bytes) -> list[tuple[int, list[str]]]:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise PushProblem("This is no text in UTF-8.") from problem
    try:
        rows = [
            (number, row)
            for number, row in enumerate(csv.reader(io.StringIO(text)), start=1)
            if any(cell.strip() for cell in row)
        ]
    except csv.Error as problem:
        raise PushProblem(f"These are no lines of CSV: {problem}.") from problem
    if rows and not any(letter.isdigit() for letter in "".join(rows[0][1])):
        return rows[1:]  # Names of columns.
    return rows


def _reading(number: int, row: object, unit: str) -> PushedReading:
    if not isinstance(row, list) or len(row) != 2:
        raise PushProblem(
            f"Line {number} is no pair of an instant and a temperature, such as "
            "2026-03-04T05:06:07Z and 482.5."
        )
    at = _instant(f"Line {number}", row[0])
    return PushedReading(at, _celsius(number, row[1], unit))


def _instant(name: str, value: object) -> datetime:
    try:
        at = datetime.fromisoformat(str(value).strip())
        if at.tzinfo is None:
            raise PushProblem(
                f"{name}: {str(value)[:40]} has no offset from UTC. End it with Z "
                "or, for instance, -05:00."
            )
        return at.astimezone(UTC)
    except (ValueError, OverflowError) as problem:
        raise PushProblem(
            f"{name}: {str(value)[:40]} is no instant. Send it like "
            "2026-03-04T05:06:07Z."
        ) from problem


def _celsius(number: int, value: Any, unit: str) -> float:
    try:
        if isinstance(value, bool):
            raise ValueError("a truth value")
        read = float(value)
    except (TypeError, ValueError, OverflowError) as problem:
        raise PushProblem(
            f"Line {number}: {str(value)[:40]} is no temperature. Send a number."
        ) from problem
    celsius = fahrenheit_to_celsius(read) if unit == "F" else read
    if not (math.isfinite(celsius) and COLDEST_C <= celsius <= HOTTEST_C):
        raise PushProblem(
            f"Line {number}: {str(value)[:40]} is outside -50 to 1700 °C. Look at the "
            "thermocouple and at the unit."
        )
    return celsius
