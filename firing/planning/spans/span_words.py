"""Reads a phrase that asks for kiln time: "5 days in the large kiln before March".

A length, a kiln by name or size, and days between which it is to lie, in any order. What
is not understood is given back word by word. Pure: today and the kilns' names come in.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum

LONGEST_PHRASE = 200
HOUR_S, DAY_S, WEEK_S = 3600.0, 86400.0, 604800.0
UNITS = {
    "h": HOUR_S, "hr": HOUR_S, "hrs": HOUR_S, "hour": HOUR_S, "hours": HOUR_S,
    "d": DAY_S, "day": DAY_S, "days": DAY_S, "night": DAY_S, "nights": DAY_S,
    "w": WEEK_S, "wk": WEEK_S, "week": WEEK_S, "weeks": WEEK_S,
}  # fmt: skip
NUMBERS = {
    "a": 1.0, "an": 1.0, "one": 1.0, "two": 2.0, "three": 3.0, "four": 4.0,
    "five": 5.0, "six": 6.0, "seven": 7.0, "eight": 8.0, "nine": 9.0, "ten": 10.0,
    "eleven": 11.0, "twelve": 12.0,
}  # fmt: skip
MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august",
    "september", "october", "november", "december",
)  # fmt: skip
WEEKDAYS = (
    "monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday",
)  # fmt: skip
FILLERS = frozenset(
    [
        "a",
        "an",
        "and",
        "any",
        "around",
        "at",
        "be",
        "for",
        "free",
        "have",
        "i",
        "in",
        "is",
        "it",
        "kiln",
        "kilns",
        "long",
        "need",
        "of",
        "on",
        "please",
        "space",
        "span",
        "the",
        "time",
        "to",
        "want",
        "we",
        "with",
        "within",
    ]
)


class Size(StrEnum):
    """Which kilns a word of size means, by their shelves."""

    ANY = "any"
    LARGE = "large"
    SMALL = "small"


SIZES = {
    "large": Size.LARGE, "big": Size.LARGE, "larger": Size.LARGE, "bigger": Size.LARGE,
    "largest": Size.LARGE, "biggest": Size.LARGE,
    "small": Size.SMALL, "little": Size.SMALL, "smaller": Size.SMALL,
    "smallest": Size.SMALL,
    "any": Size.ANY, "either": Size.ANY, "whichever": Size.ANY,
}  # fmt: skip
# Word: does the day itself count as within ("by Friday"), or not ("before Friday")?
ENDS = {"before": False, "by": True, "until": True, "till": True}
STARTS = {"after": False, "from": True, "since": True}


@dataclass(frozen=True, slots=True)
class Days:
    """Days from the first on, the last not among them."""

    first: date
    after_last: date


@dataclass(frozen=True, slots=True, kw_only=True)
class SpanWish:
    """What was understood of a phrase.

    Attributes
    ----------
    lasts_s : float or None
        How long [s]; None when no length was named.
    kiln : str
        A kiln's name, as it was passed in; empty when none was named.
    size : Size
        Which kilns, when none was named.
    not_before, before : date or None
        The first day, and the first day that is too late.
    not_understood : tuple of str
        What is left of the phrase, in its order.
    """

    lasts_s: float | None = None
    kiln: str = ""
    size: Size = Size.ANY
    not_before: date | None = None
    before: date | None = None
    not_understood: tuple[str, ...] = ()


def read_wish(phrase: str, *, kilns: Sequence[str], today: date) -> SpanWish:
    """Return what a phrase asks for.

    Parameters
    ----------
    phrase : str
        At most `LONGEST_PHRASE` letters of it are read.
    kilns : sequence of str
        The kilns' names.
    today : date
        Days without a year are the next ones from here.

    References
    ----------
    Common speech, no source. Each word is taken once, from the left.
    """
    return _Reading(phrase[:LONGEST_PHRASE], kilns, today).read()


class _Reading:
    """The words of a phrase, taken from the left."""

    def __init__(self, phrase: str, kilns: Sequence[str], today: date) -> None:
        self.words = _split(phrase)
        self.names = sorted(
            ((name, _split(name)) for name in kilns), key=lambda one: -len(one[1])
        )
        self.today = today
        self.at = 0
        self.wish = SpanWish()
        self.left: list[str] = []

    def read(self) -> SpanWish:
        steps: tuple[Callable[[], bool], ...] = (
            self._kiln,
            self._between,
            self._length,
            self._end,
            self._start,
            self._within,
            self._size,
            self._filler,
        )
        while self.at < len(self.words):
            if not any(step() for step in steps):
                self.left.append(self.words[self.at])
                self.at += 1
        return replace(self.wish, not_understood=tuple(self.left))

    def _word(self, ahead: int = 0) -> str:
        number = self.at + ahead
        return self.words[number] if number < len(self.words) else ""

    def _kiln(self) -> bool:
        for name, words in self.names:
            here = self.words[self.at : self.at + len(words)]
            if words and here == words and not self.wish.kiln:
                self.wish = replace(self.wish, kiln=name)
                self.at += len(words)
                return True
        return False

    def _length(self) -> bool:
        number, used = _number(self._word()), 1
        if number is None:
            return False
        unit = UNITS.get(self._word(used))
        if unit is None or number <= 0:
            return False
        self.at += used + 1
        self.wish = replace(
            self.wish, lasts_s=(self.wish.lasts_s or 0.0) + number * unit
        )
        return True

    def _size(self) -> bool:
        size = SIZES.get(self._word())
        if size is None:
            return False
        self.wish = replace(self.wish, size=size)
        self.at += 1
        return True

    def _filler(self) -> bool:
        if self._word() not in FILLERS:
            return False
        self.at += 1
        return True

    def _end(self) -> bool:
        counts = ENDS.get(self._word())
        if counts is None or self.wish.before is not None:
            return False
        found = self._days(1, is_end=not counts)
        if found is None:
            return False
        days, used = found
        self.wish = replace(self.wish, before=days.after_last if counts else days.first)
        self.at += 1 + used
        return True

    def _start(self) -> bool:
        counts = STARTS.get(self._word())
        if counts is None or self.wish.not_before is not None:
            return False
        found = self._days(1)
        if found is None:
            return False
        days, used = found
        first = days.first if counts else days.after_last
        self.wish = replace(self.wish, not_before=first)
        self.at += 1 + used
        return True

    def _between(self) -> bool:
        if self._word() != "between":
            return False
        low = self._days(1)
        if low is None or self._word(1 + low[1]) != "and":
            return False
        high = self._days(2 + low[1])
        if high is None:
            return False
        self.wish = replace(
            self.wish, not_before=low[0].first, before=high[0].after_last
        )
        self.at += 2 + low[1] + high[1]
        return True

    def _within(self) -> bool:
        """Read days that are meant whole: "in March", "next week", "on 5 March"."""
        skip = 1 if self._word() in {"in", "on", "during", "within"} else 0
        found = self._days(skip)
        is_taken = self.wish.not_before is not None or self.wish.before is not None
        if found is None or is_taken:
            return False
        days, used = found
        self.wish = replace(self.wish, not_before=days.first, before=days.after_last)
        self.at += skip + used
        return True

    def _days(self, ahead: int, *, is_end: bool = False) -> tuple[Days, int] | None:
        """Return the days that are named so many words ahead, and how many words.

        `is_end`: they are to lie wholly ahead, so this month means next year's.
        """
        if self._word(ahead) == "the":
            found = self._days(ahead + 1, is_end=is_end)
            return None if found is None else (found[0], found[1] + 1)
        return (
            self._near(ahead)
            or self._by_number(ahead)
            or self._by_month(ahead, is_end=is_end)
        )

    def _near(self, ahead: int) -> tuple[Days, int] | None:
        word, second = self._word(ahead), self._word(ahead + 1)
        day = timedelta(days=1)
        if word in {"today", "tomorrow"}:
            first = self.today + (day if word == "tomorrow" else day * 0)
            return Days(first, first + day), 1
        if word in {"this", "next"} and second in {"week", "month"}:
            if second == "week":
                monday = self.today - day * self.today.weekday()
                first = monday + timedelta(days=7 if word == "next" else 0)
                return Days(first, first + timedelta(days=7)), 2
            first = self.today.replace(day=1)
            if word == "next":
                first = _next_month(first)
            return Days(first, _next_month(first)), 2
        used = 1
        if word == "next" and _weekday(second) is not None:
            word, used = second, 2
        weekday = _weekday(word)
        if weekday is None:
            return None
        away = (weekday - self.today.weekday() - 1) % 7 + 1
        first = self.today + day * away
        return Days(first, first + day), used

    def _by_number(self, ahead: int) -> tuple[Days, int] | None:
        """Read 2027-03-05."""
        try:
            first = date.fromisoformat(self._word(ahead))
        except ValueError:
            return None
        if first.year >= date.max.year:
            return None
        return Days(first, first + timedelta(days=1)), 1

    def _by_month(self, ahead: int, *, is_end: bool) -> tuple[Days, int] | None:
        """Read "5 March", "March 5", "5th of March 2027", "March", "March 2027"."""
        used, day = 0, _ordinal(self._word(ahead))
        if day is not None:
            used = 2 if self._word(ahead + 1) == "of" else 1
        month = _month(self._word(ahead + used))
        if month is None:
            return None
        used += 1
        if day is None:
            # "Before March 5 days": there the number belongs to the days.
            if self._word(ahead + used + 1) not in UNITS:
                day = _ordinal(self._word(ahead + used))
            if day is not None:
                used += 1
        year = _year(self._word(ahead + used))
        if year is not None:
            used += 1
        days = _days_of(day, month, year, self.today, is_end=is_end)
        return None if days is None else (days, used)


def _split(phrase: str) -> list[str]:
    """Return lower-case words; a number and its unit are two: "5d" is "5 d"."""
    text = re.sub(
        r"(?<![\d.-])(\d+(?:[.,]\d+)?)(h|hrs?|d|w|wk)\b", r"\1 \2", phrase.lower()
    )
    words = re.findall(r"[^\s,;:!?()\"“”]+", re.sub(r"(?<=\d),(?=\d)", ".", text))
    return [word.strip(".'’") for word in words if word.strip(".'’")]


def _number(word: str) -> float | None:
    if word in NUMBERS:
        return NUMBERS[word]
    return float(word) if re.fullmatch(r"[0-9]{1,4}(\.[0-9]{1,3})?", word) else None


def _ordinal(word: str) -> int | None:
    found = re.fullmatch(r"([0-9]{1,2})(st|nd|rd|th)?", word)
    return int(found[1]) if found else None


def _year(word: str) -> int | None:
    return int(word) if re.fullmatch(r"2[01][0-9]{2}", word) else None


def _month(word: str) -> int | None:
    return _by_start(word, MONTHS, 1)


def _weekday(word: str) -> int | None:
    return _by_start(word, WEEKDAYS, 0)


def _by_start(word: str, names: Sequence[str], first: int) -> int | None:
    """Return the number of a name that is written out or begun: "mar", "sept"."""
    if len(word) < 3:
        return None
    return next(
        (n for n, name in enumerate(names, start=first) if name.startswith(word)), None
    )


def _next_month(first: date) -> date:
    return (first.replace(day=1) + timedelta(days=32)).replace(day=1)


def _days_of(
    day: int | None, month: int, year: int | None, today: date, *, is_end: bool
) -> Days | None:
    """Return the day or the month; without a year the next one that is to come."""
    for tried in [year] if year is not None else range(today.year, today.year + 9):
        try:
            first = date(tried, month, day or 1)
        except ValueError:
            continue  # 29 February comes in another year, 31 April in none.
        days = Days(first, first + timedelta(days=1) if day else _next_month(first))
        is_ahead = days.first > today if is_end else days.after_last > today
        if year is not None or is_ahead:
            return days
    return None
