"""Reads of what loggers sent of a firing, by logger and span."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, NamedTuple

from django.db.models import Count, Max, Min

from firing.models import Firing, KilnLogger, PushedChange, PushedCorrection, Reading
from firing.readings.selectors.loggers import loggers
from studio.tenancy import StudioQuerySet
from studio.units import celsius_to_fahrenheit, fahrenheit_to_celsius
from studio.viewer import Viewer


@dataclass(frozen=True, slots=True, kw_only=True)
class Pushed:
    """Which of a firing's pushed readings: one logger's, in a span or all of them.

    `logger` is none for what was sent before loggers were noted.
    """

    logger: KilnLogger | None
    first_at: datetime | None = None
    last_at: datetime | None = None

    def rows_of(self, firing: Firing) -> StudioQuerySet[Reading]:
        """Return the readings."""
        rows = Reading.owned.for_studio(firing.studio).filter(
            firing=firing, source__isnull=True, logger=self.logger
        )
        if self.first_at is not None:
            rows = rows.filter(at__gte=self.first_at)
        if self.last_at is not None:
            rows = rows.filter(at__lte=self.last_at)
        return rows


@dataclass(frozen=True, slots=True, kw_only=True)
class PushedRow:
    """What one logger sent of a firing; `number` is its logger's, or 0."""

    number: int
    name: str
    count: int
    first_at: datetime
    last_at: datetime
    lowest_c: float
    highest_c: float

    @property
    def mark(self) -> str:
        """Return what tells these readings from others, and from themselves put right."""
        return f"{self.count} {self.lowest_c:.2f} {self.highest_c:.2f}"


class PushedLines(NamedTuple):
    """What loggers sent of a firing, each with its words, and what was put right."""

    rows: list[tuple[PushedRow, str]]
    corrections: list[str]


def pushed_lines(firing: Firing, *, viewer: Viewer, now: datetime) -> PushedLines:
    """Return what the firing's page shows of what loggers sent."""
    rows = _pushed_rows(firing)
    return PushedLines(
        [(row, span_words(row, viewer=viewer, now=now)) for row in rows],
        corrections_of(firing, viewer=viewer, now=now),
    )


# What is told of a span of readings.
NUMBERS = {
    "count": Count("pk"),
    "first": Min("at"),
    "last": Max("at"),
    "low": Min("temperature_c"),
    "high": Max("temperature_c"),
}


def _pushed_rows(firing: Firing) -> list[PushedRow]:
    """Return what each logger sent of a firing."""
    found = (
        Reading.owned.for_studio(firing.studio)
        .filter(firing=firing, source__isnull=True)
        .order_by("logger")
        .values("logger", "logger__name")
        .annotate(**NUMBERS)
    )
    return [_row(dict(one)) for one in found]


def pushed_in(firing: Firing, pushed: Pushed) -> PushedRow | None:
    """Return what there is of a logger's readings in a span; none if nothing is."""
    numbers = pushed.rows_of(firing).order_by().aggregate(**NUMBERS)
    if not numbers["count"]:
        return None
    logger = pushed.logger
    named = {"logger": logger and logger.pk, "logger__name": logger and logger.name}
    return _row(numbers | named)


def _row(numbers: dict[str, Any]) -> PushedRow:
    return PushedRow(
        number=numbers["logger"] or 0,
        name=numbers["logger__name"] or "A logger",
        count=numbers["count"],
        first_at=numbers["first"],
        last_at=numbers["last"],
        lowest_c=numbers["low"],
        highest_c=numbers["high"],
    )


def pushed_of(firing: Firing, number: int) -> Pushed | None:
    """Return all that a logger sent of a firing; none if there is no such logger."""
    if not number:
        return Pushed(logger=None)
    logger = loggers(firing.studio).filter(pk=number).first()
    return None if logger is None else Pushed(logger=logger)


def corrected_c(change: str, celsius: float) -> float:
    """Return a reading [°C] as it is once its unit is put right."""
    if change == PushedChange.WERE_F:
        return fahrenheit_to_celsius(celsius)
    if change == PushedChange.WERE_C:
        return celsius_to_fahrenheit(celsius)
    return celsius


def span_words(row: PushedRow, *, viewer: Viewer, now: datetime) -> str:
    """Return how many readings there are, of what time, and how hot."""
    return (
        f"{row.count:,} readings, {viewer.moment(row.first_at, now)} to "
        f"{viewer.moment(row.last_at, now)}, {viewer.temperature(row.lowest_c)} to "
        f"{viewer.temperature(row.highest_c)}"
    )


def change_words(row: PushedRow, change: str, *, viewer: Viewer, now: datetime) -> str:
    """Return what a correction would make of readings."""
    meant = span_words(row, viewer=viewer, now=now)
    if change == PushedChange.REMOVED:
        return f"These go for good: {meant}."
    low, high = (corrected_c(change, end) for end in (row.lowest_c, row.highest_c))
    return f"{meant}, would become {viewer.temperature(low)} to {viewer.temperature(high)}."


DONE_WORDS = {
    PushedChange.REMOVED: "removed",
    PushedChange.WERE_F: "sent in °F, and read so now",
    PushedChange.WERE_C: "sent in °C, and read so now",
}


def corrections_of(firing: Firing, *, viewer: Viewer, now: datetime) -> list[str]:
    """Return in words what was put right of the readings that loggers sent."""
    corrections = PushedCorrection.owned.for_studio(firing.studio).filter(firing=firing)
    return [
        f"{one.reading_count:,} readings, {viewer.moment(one.first_at, now)} to "
        f"{viewer.moment(one.last_at, now)}: {DONE_WORDS[PushedChange(one.change)]}"
        f"{f' ({one.by})' if one.by else ''}"
        for one in corrections.select_related("by")
    ]
