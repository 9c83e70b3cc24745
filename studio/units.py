"""Lengths, temperatures, rates and durations: as people write them and as we store
them.

Stored: mm, °C, °C/h, s. Shown and typed: the reader's units, or whatever unit is
written beside the number. Pure; form fields and template filters are elsewhere.
"""

import math
import re
import unicodedata
from enum import StrEnum
from fractions import Fraction

from studio.errors import StudioError

MM3_PER_M3 = 1e9
KG_PER_POUND = 0.45359237  # exact, NIST SP 811
MM_PER_INCH = 25.4  # Exact: the international inch of 1959.
SHORTEST_MM = 0.01
LONGEST_MM = 10_000.0
COLDEST_C = -50.0
HOTTEST_C = 1700.0
LARGEST_DIFFERENCE_C = 500.0
SLOWEST_C_PER_H = 0.01
# 9999 °F/h is how many controllers write "as fast as you can"; 10 000 lets it pass.
FASTEST_C_PER_H = 10_000.0
LONGEST_S = 366 * 86_400.0

# A length that a reader of millimetres retyped is off by up to half a hundredth; one
# that close to a sixteenth of an inch is that sixteenth.
FRACTION_TOLERANCE_MM = 0.01
INCH_DECIMALS = 3
MM_DECIMALS = 2
TEMPERATURE_DECIMALS = 1
RATE_DECIMALS = 2

LIGHTEST_KG = 0.001
HEAVIEST_KG = 5_000.0
LENGTH_HINT = 'Write a length such as 60 mm, 30 cm, 2 3/8 in or 2.36".'
WEIGHT_HINT = "Write a weight such as 3.2 kg, 850 g, 7 lb or 1 lb 9 oz."
TEMPERATURE_HINT = "Write a temperature such as 815 °C or 1500 °F."
DIFFERENCE_HINT = "Write a difference such as 5 °C or -9 °F."
RATE_HINT = "Write a rate without a sign, such as 15 °C/h or 27 °F/h."
DURATION_HINT = "Write a time such as 2 h, 90 min, 1:30 or 2 h 30."


class TemperatureUnit(StrEnum):
    """The temperature scale that a person reads."""

    C = "C"
    F = "F"


class LengthUnit(StrEnum):
    """The length unit that a person reads."""

    MM = "mm"
    IN = "in"


class UnitProblem(StudioError):
    """What was typed is not a usable quantity; the message says what to write."""


MM_PER: dict[str, float] = {
    **dict.fromkeys(("mm", "millimetre", "millimeter"), 1.0),
    **dict.fromkeys(("cm", "centimetre", "centimeter"), 10.0),
    **dict.fromkeys(("m", "metre", "meter"), 1000.0),
    **dict.fromkeys(("in", "inch", "inche", '"'), MM_PER_INCH),
    **dict.fromkeys(("ft", "foot", "feet", "'"), 12 * MM_PER_INCH),
}
KG_PER: dict[str, float] = {
    **dict.fromkeys(("kg", "kilo", "kilogram", "kilogramme"), 1.0),
    **dict.fromkeys(("g", "gram", "gramme"), 0.001),
    **dict.fromkeys(("lb", "pound"), KG_PER_POUND),
    **dict.fromkeys(("oz", "ounce"), KG_PER_POUND / 16),
}
SECONDS_PER: dict[str, float] = {
    **dict.fromkeys(("w", "week"), 604_800.0),
    **dict.fromkeys(("d", "day"), 86_400.0),
    **dict.fromkeys(("h", "hr", "hour"), 3_600.0),
    **dict.fromkeys(("min", "m", "minute"), 60.0),
    **dict.fromkeys(("s", "sec", "second"), 1.0),
}
SCALES: dict[str, TemperatureUnit] = {
    **dict.fromkeys(("c", "celsius", "centigrade"), TemperatureUnit.C),
    **dict.fromkeys(("f", "fahrenheit"), TemperatureUnit.F),
}

_NUMBER = r"(?:\d+[ -]+\d+/\d+|\d+/\d+|\d+(?:[.,]\d+)?|[.,]\d+)"
_TERM = re.compile(rf"\s*({_NUMBER})([^\d.,]*)", re.ASCII)
_CLOCK = re.compile(r"(\d{1,4}):([0-5]\d)(?::([0-5]\d))?", re.ASCII)
_GROUPED = re.compile(r"[1-9]\d{0,2},\d{3}", re.ASCII)
_PER = re.compile(r"(?:/|\bper\b)\s*(h|hr|hour|min|minute)s?$")
_LONGEST_TEXT = 60


def celsius_to_fahrenheit(temperature_c: float) -> float:
    """Return the temperature in °F: t/°F = 1.8 t/°C + 32 (NIST SP 811, B.8)."""
    return temperature_c * 9 / 5 + 32


def fahrenheit_to_celsius(temperature_f: float) -> float:
    """Return the temperature in °C: t/°C = (t/°F - 32)/1.8 (NIST SP 811, B.8)."""
    return (temperature_f - 32) * 5 / 9


def celsius_difference_to_fahrenheit(difference_c: float) -> float:
    """Return a difference, or a rate, of °C in °F: 15 becomes 27."""
    return difference_c * 9 / 5


def fahrenheit_difference_to_celsius(difference_f: float) -> float:
    """Return a difference, or a rate, of °F in °C: 27 becomes 15."""
    return difference_f * 5 / 9


def parse_length_mm(text: str, default: LengthUnit) -> float:
    """Read a length and return millimetres.

    Parameters
    ----------
    text : str
        One or more amounts: ``60``, ``60 mm``, ``2 3/8 in``, ``1 ft 3½ in``, ``0,5 m``.
    default : LengthUnit
        The unit of a bare number.

    Raises
    ------
    UnitProblem
        If it is no length from 0.01 mm to 10 m.
    """
    total = _sum_of(text, MM_PER, default.value, f"a length. {LENGTH_HINT}")
    if not SHORTEST_MM <= total <= LONGEST_MM:
        raise UnitProblem(f"{_shown(text)} is outside 0.01 mm to 10 m. {LENGTH_HINT}")
    return total


def parse_weight_kg(text: str, default: LengthUnit) -> float:
    """Read a weight and return kilograms.

    Parameters
    ----------
    text : str
        One or more amounts: ``3.2``, ``850 g``, ``7 lb``, ``1 lb 9 oz``.
    default : LengthUnit
        What the reader measures by: a bare number is pounds for readers of inches.

    Raises
    ------
    UnitProblem
        If it is no weight from 1 g to 5 t.
    """
    bare = "lb" if default is LengthUnit.IN else "kg"
    total = _sum_of(text, KG_PER, bare, f"a weight. {WEIGHT_HINT}")
    if not LIGHTEST_KG <= total <= HEAVIEST_KG:
        raise UnitProblem(f"{_shown(text)} is outside 1 g to 5 t. {WEIGHT_HINT}")
    return total


def parse_temperature_c(text: str, default: TemperatureUnit) -> float:
    """Read a temperature and return °C.

    Parameters
    ----------
    text : str
        ``815``, ``815 C``, ``1500 °F``, ``-5 °C``.
    default : TemperatureUnit
        The scale of a bare number.

    Raises
    ------
    UnitProblem
        If it is no temperature from -50 to 1700 °C.
    """
    cleaned = _cleaned(text, TEMPERATURE_HINT)
    sign = -1 if cleaned.startswith("-") else 1
    unsigned = cleaned[1:] if cleaned[0] in "+-" else cleaned
    number, name = _single(unsigned, text, TEMPERATURE_HINT)
    value = sign * number
    if _scale(name, default, text, TEMPERATURE_HINT) is TemperatureUnit.F:
        value = fahrenheit_to_celsius(value)
    if not COLDEST_C <= value <= HOTTEST_C:
        raise UnitProblem(
            f"{_shown(text)} is outside -50 to 1700 °C (-58 to 3092 °F). "
            f"{TEMPERATURE_HINT}"
        )
    return value


def parse_temperature_difference_c(text: str, default: TemperatureUnit) -> float:
    """Read a difference of temperatures and return °C, which are as large as kelvins.

    Parameters
    ----------
    text : str
        ``5``, ``-9 °F``, ``+5 C``, ``5 K``: 9 °F are 5 °C.
    default : TemperatureUnit
        The scale of a bare number.

    Raises
    ------
    UnitProblem
        If it is no difference up to 500 °C either way.
    """
    cleaned = _cleaned(text, DIFFERENCE_HINT)
    sign = -1 if cleaned.startswith("-") else 1
    unsigned = cleaned[1:] if cleaned[0] in "+-" else cleaned
    number, name = _single(unsigned, text, DIFFERENCE_HINT)
    value = sign * number
    is_kelvin = name in {"k", "kelvin"}
    scale = default if is_kelvin else _scale(name, default, text, DIFFERENCE_HINT)
    if scale is TemperatureUnit.F and not is_kelvin:
        value = fahrenheit_difference_to_celsius(value)
    if abs(value) > LARGEST_DIFFERENCE_C:
        raise UnitProblem(
            f"{_shown(text)} is outside -500 to 500 °C (-900 to 900 °F). "
            f"{DIFFERENCE_HINT}"
        )
    return value


def parse_rate_c_per_h(text: str, default: TemperatureUnit) -> float:
    """Read a rate of heating or cooling and return °C/h, without a sign.

    Parameters
    ----------
    text : str
        ``27``, ``27 °F/h``, ``15 C per hour``, ``0.5 °C/min``.
    default : TemperatureUnit
        The scale of a number without one.

    Raises
    ------
    UnitProblem
        If it is no rate from 0.01 to 10 000 °C/h.
    """
    number, name = _single(_cleaned(text, RATE_HINT), text, RATE_HINT)
    per = _PER.search(name)
    if per:
        name = name[: per.start()].strip()
        number *= 60 if per.group(1).startswith("min") else 1
    if _scale(name, default, text, RATE_HINT) is TemperatureUnit.F:
        number = fahrenheit_difference_to_celsius(number)
    if not SLOWEST_C_PER_H <= number <= FASTEST_C_PER_H:
        raise UnitProblem(f"{_shown(text)} is outside 0.01 to 10000 °C/h. {RATE_HINT}")
    return number


def parse_duration_s(text: str) -> float:
    """Read a duration and return seconds; zero is a duration, a sign is not.

    Parameters
    ----------
    text : str
        ``2 h``, ``90 min``, ``1:30`` (hours and minutes), ``1:30:15``, ``4 d 3 h``,
        ``2 h 30`` (the next smaller unit); a bare number is minutes.

    Raises
    ------
    UnitProblem
        If it is no duration up to 366 days.
    """
    clock = _CLOCK.fullmatch(_cleaned(text, DURATION_HINT))
    if clock:
        hours, minutes, seconds = (int(part or 0) for part in clock.groups())
        total = hours * 3600.0 + minutes * 60.0 + seconds
    else:
        total = _sum_of_durations(text)
    if total > LONGEST_S:
        raise UnitProblem(f"{_shown(text)} is longer than a year. {DURATION_HINT}")
    return total


def format_length(
    length_mm: float, unit: LengthUnit, *, inch_decimals: int = INCH_DECIMALS
) -> str:
    """Return "60 mm", or "2 3/8 in" at a sixteenth and "2.362 in" elsewhere."""
    return f"{_length_number(length_mm, unit, inch_decimals)} {unit.value}"


def format_size(
    width_mm: float,
    height_mm: float,
    unit: LengthUnit,
    *,
    inch_decimals: int = INCH_DECIMALS,
) -> str:
    """Return "12 × 8 in": width, then height, one unit."""
    width = _length_number(width_mm, unit, inch_decimals)
    return f"{width} × {_length_number(height_mm, unit, inch_decimals)} {unit.value}"


def glass_weight_kg(
    width_mm: float, height_mm: float, thickness_mm: float, density_kg_m3: float
) -> float:
    """Return what a sheet or slab of glass weighs."""
    return width_mm * height_mm * thickness_mm * density_kg_m3 / MM3_PER_M3


def format_weight(weight_kg: float, unit: LengthUnit) -> str:
    """Return "12.4 kg", or "27 lb" for readers of inches; whole from ten on."""
    name, number = "kg", weight_kg
    if unit is LengthUnit.IN:
        name, number = "lb", weight_kg / KG_PER_POUND
    return f"{number:.{0 if number >= 10 else 1}f} {name}"


def format_temperature(
    temperature_c: float,
    unit: TemperatureUnit,
    *,
    decimals: int = TEMPERATURE_DECIMALS,
) -> str:
    """Return "1500 °F", or "899.6 °F" where a whole degree would read back differently."""
    if unit is TemperatureUnit.F:
        temperature_c = celsius_to_fahrenheit(temperature_c)
    return f"{_number(temperature_c, decimals)} °{unit.value}"


def format_temperature_difference(
    difference_c: float,
    unit: TemperatureUnit,
    *,
    decimals: int = TEMPERATURE_DECIMALS,
) -> str:
    """Return a difference in the reader's degrees: 10 °C is "18 °F"."""
    if unit is TemperatureUnit.F:
        difference_c = celsius_difference_to_fahrenheit(difference_c)
    return f"{_number(difference_c, decimals)} °{unit.value}"


def rate_decimals(rate_c_per_h: float, unit: TemperatureUnit) -> int:
    """Return the decimals that give a rate two figures, at most RATE_DECIMALS."""
    shown = abs(rate_c_per_h)
    if unit is TemperatureUnit.F:
        shown = celsius_difference_to_fahrenheit(shown)
    return 0 if shown >= 10 else 1 if shown >= 1 else RATE_DECIMALS


def format_rate(
    rate_c_per_h: float, unit: TemperatureUnit, *, decimals: int = RATE_DECIMALS
) -> str:
    """Return "27 °F/h" for 15 °C/h."""
    if unit is TemperatureUnit.F:
        rate_c_per_h = celsius_difference_to_fahrenheit(rate_c_per_h)
    return f"{_number(rate_c_per_h, decimals)} °{unit.value}/h"


def format_duration(duration_s: float, *, parts: int = 3) -> str:
    """Return "2 h 30 min" or "4 d 3 h": to the minute, under an hour to the second.

    Parameters
    ----------
    duration_s : float
        Seconds; a negative one gets a sign.
    parts : int
        At most so many units, largest first: 2 turns "4 d 3 h 20 min" into "4 d 3 h".
    """
    if not math.isfinite(duration_s):
        raise UnitProblem("This duration is not a number.")
    total = _rounded_seconds(abs(duration_s), parts)
    pieces = []
    for size, name in ((86_400, "d"), (3_600, "h"), (60, "min"), (1, "s")):
        count, total = divmod(total, size)
        if count:
            pieces.append(f"{count} {name}")
    sign = "-" if duration_s < 0 and pieces else ""
    return sign + (" ".join(pieces) or "0 min")


def _rounded_seconds(duration_s: float, parts: int) -> int:
    """Round to the smallest unit that will be shown, so that no carry is lost."""
    smallest = 1
    if round(duration_s) >= 3_600:
        smallest = 60
    sizes = (86_400, 3_600, 60, 1)
    first = next((n for n, size in enumerate(sizes) if duration_s >= size), 3)
    last = min(first + max(parts, 1) - 1, 3)
    smallest = max(smallest, sizes[last])
    return math.floor(duration_s / smallest + 0.5) * smallest


def _sum_of_durations(text: str) -> float:
    units = (86_400.0, 3_600.0, 60.0, 1.0)
    total = 0.0
    previous: float | None = None
    for number, name in _terms(text, DURATION_HINT):
        factor = SECONDS_PER.get(_singular(name)) if name else 60.0
        if not name and previous is not None:
            factor = next((size for size in units if size < previous), None)
        if factor is None or (previous is not None and factor >= previous):
            raise UnitProblem(f"{_shown(text)} is not a time. {DURATION_HINT}")
        total += number * factor
        previous = factor
    return total


def _length_number(length_mm: float, unit: LengthUnit, inch_decimals: int) -> str:
    if unit is LengthUnit.MM:
        return _number(length_mm, MM_DECIMALS)
    if not math.isfinite(length_mm):
        raise UnitProblem("This length is not a number.")
    inches = length_mm / MM_PER_INCH
    sixteenths = round(inches * 16)
    as_decimal = round(inches, INCH_DECIMALS)
    off_mm = min(
        abs(value - sixteenths / 16) * MM_PER_INCH for value in (inches, as_decimal)
    )
    if sixteenths and off_mm <= FRACTION_TOLERANCE_MM:
        return _mixed(Fraction(sixteenths, 16))
    return _number(inches, inch_decimals)


def _mixed(amount: Fraction) -> str:
    sign = "-" if amount < 0 else ""
    whole, rest = divmod(abs(amount), 1)
    words = [str(whole)] if whole or not rest else []
    if rest:
        words.append(f"{rest.numerator}/{rest.denominator}")
    return sign + " ".join(words)


def _number(value: float, decimals: int) -> str:
    if not math.isfinite(value):
        raise UnitProblem("This quantity is not a number.")
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def _shown(text: str) -> str:
    """Quote what was typed, shortened: it goes back onto the screen."""
    text = " ".join(str(text).split())
    return f"“{text[:30]}…”" if len(text) > 31 else f"“{text}”"


def _cleaned(text: str, hint: str) -> str:
    """Reduce the many ways of writing quotes, fractions and degrees to one."""
    if len(text) > _LONGEST_TEXT:
        raise UnitProblem(f"{_shown(text)} is too long to be one amount. {hint}")
    for ring in "º˚":
        text = text.replace(ring, "°")
    characters = []
    for character in text:
        plain = unicodedata.normalize("NFKC", character)
        if "\N{FRACTION SLASH}" in plain and len(plain) > 1:
            plain = " " + plain
        characters.append(plain)
    text = "".join(characters).replace("\N{FRACTION SLASH}", "/")
    for mark in "‘’′":
        text = text.replace(mark, "'")
    for mark in "“”":
        text = text.replace(mark, '"')
    for dash in "‐‑‒–—−":
        text = text.replace(dash, "-")
    text = " ".join(text.replace("''", '"').split()).lower().rstrip(".")
    if not text:
        raise UnitProblem(f"Nothing is written here. {hint}")
    return text


def _terms(text: str, hint: str) -> list[tuple[float, str]]:
    """Split "1 ft 3 1/2 in" into numbers and unit names."""
    cleaned = _cleaned(text, hint)
    terms = []
    at = 0
    while at < len(cleaned):
        match = _TERM.match(cleaned, at)
        if not match:
            raise UnitProblem(f"{_shown(text)} cannot be read. {hint}")
        terms.append((_value(match.group(1), text, hint), match.group(2).strip(" -")))
        at = match.end()
    return terms


def _sum_of(text: str, table: dict[str, float], default: str, what: str) -> float:
    """Add up amounts from the largest unit to the smallest; `what` is "a length. ..."."""
    hint = what.partition(". ")[2]
    terms = _terms(text, hint)
    total = 0.0
    smaller_than = math.inf
    for number, name in terms:
        if not name and len(terms) > 1:
            raise UnitProblem(f"{_shown(text)} lacks a unit. {hint}")
        factor = table.get(_singular(name) if name else default)
        if factor is None or factor >= smaller_than:
            raise UnitProblem(f"{_shown(text)} is not {what}")
        smaller_than = factor
        total += number * factor
    return total


def _single(cleaned: str, text: str, hint: str) -> tuple[float, str]:
    terms = _terms(cleaned, hint)
    if len(terms) != 1:
        raise UnitProblem(f"{_shown(text)} is more than one number. {hint}")
    return terms[0]


def _value(number: str, text: str, hint: str) -> float:
    if _GROUPED.fullmatch(number):
        plain = number.replace(",", "")
        raise UnitProblem(
            f"{_shown(text)} can be read in two ways. Write {plain} without a "
            f"separator, or {number.replace(',', '.')} with a point."
        )
    whole, _, fraction = number.replace("-", " ").rpartition(" ")
    if "/" not in fraction:
        return float(number.replace(",", "."))
    above, _, below = fraction.partition("/")
    if int(below) == 0:
        raise UnitProblem(f"{_shown(text)} divides by nothing. {hint}")
    return float(Fraction(int(above), int(below)) + int(whole or 0))


def _scale(
    name: str, default: TemperatureUnit, text: str, hint: str
) -> TemperatureUnit:
    for word in ("degrees", "degree", "deg", "°"):
        name = name.removeprefix(word).strip(" .")
    if not name:
        return default
    if name not in SCALES:
        raise UnitProblem(f"{_shown(text)} has a unit we do not know. {hint}")
    return SCALES[name]


def _singular(name: str) -> str:
    name = name.rstrip(".")
    return name.removesuffix("s") if len(name) > 2 else name
