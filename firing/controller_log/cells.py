"""What one cell or one column's name can be: patterns of numbers, times and words.

The words are those of loggers' headers in English and German. A file in another
language can be read if the contents of its columns are clear.
"""

import re
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Unit = Literal["C", "F"]
ElapsedUnit = Literal["s", "min", "h"]

# With a decimal point or comma, and the other one between thousands.
PLAIN_NUMBER = re.compile(
    r"[+-]?(?:\d{1,3}(?:,\d{3})+\.\d+|\d{1,3}(?:\.\d{3})+,\d+|\d+(?:[.,]\d*)?|[.,]\d+)"
    r"(?:[eE][+-]?\d{1,2})?",
    re.ASCII,
)
NUMBER_WITH_UNIT = re.compile(
    rf"({PLAIN_NUMBER.pattern})\s*(?:°|º|deg)?\s*([CcFf]?)", re.ASCII
)
MAYBE_THOUSAND = re.compile(r"^[1-9]\d{0,2}[.,]\d{3}$", re.ASCII | re.MULTILINE)
TWELVE_HOURS = re.compile(r"[AaPp]\.?[Mm]\.?$")

_ONLY_PLAIN = re.compile(r"[0-9.+\-\n]*", re.ASCII)

# Year, month and day in some order, with one mark between them.
DATE = r"(\d{1,4})([./-])(\d{1,2})\2(\d{1,4})"
TIME_OF_DAY = r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?\s*([AaPp]\.?[Mm]\.?)?"
OFFSET = r"\s*(Z|z|[+-]\d\d:?\d\d)?"
DATE_CELL = re.compile(DATE, re.ASCII)
MOMENT_CELL = re.compile(rf"{TIME_OF_DAY}{OFFSET}", re.ASCII)
LONG_CLOCK = re.compile(r"\d{1,4}(?::\d{2}){1,3}(?:[.,]\d{1,9})?", re.ASCII)
_STAMP = re.compile(rf"{DATE}(?:[T ,]\s*{TIME_OF_DAY}{OFFSET})?", re.ASCII)

_TIME_WORDS = re.compile(
    r"time|date|datum|zeit|uhr|elapsed|stamp|\b(?:min|sec|hr|hour|minute|second|stunde"
    r"|sekunde)s?n?\b|^(?:t|s|h)$"
)
_TEMPERATURE_WORDS = re.compile(
    r"temp|°|º|celsius|fahrenheit|pyro|thermocouple|\btc ?\d*\b|\bpv\b|process value"
    r"|actual|\bist(?:wert)?\b|^(?:c|f|deg ?[cf])$"
)
_NOT_THE_KILN = re.compile(
    r"set ?-?p(?:oin)?t?|\bset|\bw?t?sp ?\d*\b|\bsv\b|target|soll|program|profile"
    r"|\bplan|ideal|\bgoal|ambient|cold.?junction|\bcj|room|board|internal|ramp|rate"
    r"|power|output|error|alarm|humid|segment|step|%"
)
_PLAINLY_THE_KILN = re.compile(r"actual|\bpv\b|process value|\bist(?:wert)?\b|kiln")
# A lone letter counts only where a unit stands: "kiln C" is the third kiln.
_UNIT_IN_NAME = re.compile(
    r"(?:°|º)\s*(c|f)\b|[(\[/]\s*(?:deg\.?\s*)?(c|f)\b|\bdeg(?:rees)?\.?[ _]?(c|f)\b"
    r"|(?:temp(?:eratur)?e?|\btc ?\d*|actual|\bpv)\.?[ _]?(c|f)\b|^(c|f)$"
    r"|(celsius)|(fahrenheit)"
)
_ELAPSED_UNITS: tuple[tuple[ElapsedUnit, re.Pattern[str]], ...] = (
    ("s", re.compile(r"\bs\b|\bsec|\bsek")),
    ("min", re.compile(r"\bmin|\bm\b")),
    ("h", re.compile(r"\bh\b|\bhrs?\b|\bhour|\bstunde")),
)


def names_time(name: str) -> bool:
    """Say whether a column of this name (lower case) holds times."""
    name = name.replace("_", " ")
    return bool(_TIME_WORDS.search(name)) and not _TEMPERATURE_WORDS.search(name)


def names_temperature(name: str) -> bool:
    """Say whether a column of this name (lower case) may hold the kiln's readings."""
    told = _TEMPERATURE_WORDS.search(name.replace("_", " ")) or unit_in_name(name)
    return bool(told) and not names_something_else(name)


def names_something_else(name: str) -> bool:
    """Return whether the name is of a set value, a room, a power and so on."""
    return bool(_NOT_THE_KILN.search(name.replace("_", " ")))


def plainly_names_the_kiln(name: str) -> bool:
    """Return whether the name singles out the measured value among several."""
    return bool(_PLAINLY_THE_KILN.search(name.replace("_", " ")))


def unit_in_name(name: str) -> Unit | None:
    """Return the scale in a column's name, if any."""
    found: set[Unit] = set()
    for match in _UNIT_IN_NAME.finditer(name.lower()):
        letter = next(group for group in match.groups() if group)[0]
        found.add("C" if letter == "c" else "F")
    return found.pop() if len(found) == 1 else None


def elapsed_unit_in_name(name: str) -> ElapsedUnit | None:
    """Return the unit of elapsed time in a column's name, if any."""
    words = name.lower().replace("_", " ")
    return next(
        (unit for unit, pattern in _ELAPSED_UNITS if pattern.search(words)), None
    )


def kind_of_cell(cell: str) -> str:
    """Return "stamp", "date", "clock", "number" or nothing."""
    stamp = _STAMP.fullmatch(cell)
    if stamp:
        return "stamp" if stamp.group(5) else "date"
    if MOMENT_CELL.fullmatch(cell) or LONG_CLOCK.fullmatch(cell):
        return "clock"
    return "number" if NUMBER_WITH_UNIT.fullmatch(cell) else ""


def unit_in_text(texts: list[str]) -> Unit | None:
    """Return the one scale that a file's summary speaks of, if any."""
    found = set()
    for at, text in enumerate(texts):
        words = text.lower()
        # "Units", "F" may stand in two cells.
        if re.search(r"\bunits?\b|\bscale\b|einheit", words):
            words += " " + " ".join(texts[at + 1 : at + 2]).lower()
            match = re.search(
                r"(?:units?|scale|einheit)\b\W*(?:deg\w*\W*)?([cf])\b", words
            )
            found |= {match.group(1).upper()} if match else set()
        match = re.search(r"[°º]\s*([cf])\b|(celsius)|(fahrenheit)", words)
        if match:
            found.add(next(group for group in match.groups() if group)[0].upper())
    return found.pop() if len(found) == 1 else None  # type: ignore[return-value]


def to_float(number: str) -> float:
    """Convert a number that may have a decimal comma, or marks between thousands."""
    if "," in number and "." in number:
        number = number.replace(
            "," if number.rindex(".") > number.rindex(",") else ".", ""
        )
    return float(number.replace(",", "."))


def plain_floats(texts: list[str]) -> NDArray[np.float64] | None:
    """Convert clean decimals at once; None sends the column the slow way."""
    if not _ONLY_PLAIN.fullmatch("\n".join(texts)):
        return None
    try:
        return np.fromiter(map(float, texts), dtype=np.float64, count=len(texts))
    except ValueError:
        return None
