"""A kiln's book: what was changed in it, and whether it still heats as it did."""

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time

from django.core.cache import cache
from django.db.models import Exists, OuterRef, prefetch_related_objects

from firing.models import ChangedPart, Firing, KilnChange, Reading
from firing.physics.kiln.drift import LEAST_FIRINGS, Drift, Pace, drift, pace_of
from firing.planning.problem import practice
from firing.readings.selectors.hot_hours import HOT_C, uses
from firing.readings.selectors.kiln_record import (
    KEPT_S,
    ComparisonRow,
    readings_mark,
    recorded_firings,
)
from firing.readings.selectors.upkeep import UpkeepRow, upkeep, upkeep_rows
from firing.schedules.selectors.typed import standing_typed
from studio.models import Kiln, Studio
from studio.tenancy import StudioQuerySet
from studio.viewer import Viewer, count_words

# So many of the first firings since a change, and of the last; fewer where they meet.
COMPARED = 6
HEATING = (ChangedPart.ELEMENTS, ChangedPart.RELAY, ChangedPart.THERMOCOUPLE)
COOLING = (ChangedPart.DOOR_SEAL, ChangedPart.THERMOCOUPLE)
CAUTION = (
    "Switch the kiln off at the breaker before anybody opens it. Work on elements, "
    "relays and wiring is for a licensed electrician."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BookView:
    """A kiln's book for its page."""

    changes: tuple[ComparisonRow, ...]
    firings: str
    upkeep: tuple[UpkeepRow, ...]
    warnings: tuple[str, ...]
    caution: str = CAUTION


def changes(studio: Studio) -> StudioQuerySet[KilnChange]:
    """Return what was changed in the studio's kilns."""
    found: StudioQuerySet[KilnChange] = KilnChange.owned.for_studio(studio)
    return found.select_related("kiln", "studio", "upkeep")


def book_view(kiln: Kiln, viewer: Viewer, now: datetime) -> BookView:
    """Put together a kiln's changes, its firings and what became of its power."""
    rows = list(changes(kiln.studio).filter(kiln=kiln))
    used = uses(kiln.studio, [kiln], has_hours=True)
    hours = sum(one.hours for one in used)
    return BookView(
        changes=tuple(
            ComparisonRow(
                pk=one.pk,
                day=f"{one.changed_on:%-d %b %Y}",
                words=one.what,
                note="" if one.note == one.what else one.note,
            )
            for one in rows
        ),
        firings=f"{count_words(len(used), 'firing')}, {hours:,.0f} h above "
        f"{viewer.temperature(HOT_C)}",
        upkeep=tuple(
            upkeep_rows(
                kiln.studio,
                list(upkeep(kiln.studio).filter(kiln=kiln)),
                now=now,
                used=used,
            )
        ),
        warnings=tuple(_warnings(kiln, rows, viewer)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """How fast a kiln was in its first firings since a day, and in its last."""

    month: str
    before: list[Pace]
    after: list[Pace]


def _warnings(kiln: Kiln, rows: list[KilnChange], viewer: Viewer) -> Iterator[str]:
    """Say how a kiln heats or cools now beside its first firings, if it changed."""
    sides: dict[date | None, Sides | None] = {}
    for parts, told in ((HEATING, _heating), (COOLING, _cooling)):
        since = max((one.changed_on for one in rows if one.part in parts), default=None)
        if since not in sides:
            sides[since] = _sides(kiln, since, viewer)
        both = sides[since]
        if both is not None and (words := told(both)):
            yield words


def _sides(kiln: Kiln, since: date | None, viewer: Viewer) -> Sides | None:
    readings = Reading.owned.for_studio(kiln.studio).filter(firing=OuterRef("pk"))
    told = (
        Firing.owned.for_studio(kiln.studio)
        .filter(Exists(readings), kiln=kiln, finished_at__isnull=False)
        # They left the schedule that the kiln is compared with.
        .exclude(pk__in=standing_typed(kiln.studio).values("firing"))
    )
    if since is not None:
        told = told.filter(started_at__gte=datetime.combine(since, time(), viewer.zone))
    each = min(COMPARED, told.count() // 2)
    if each < LEAST_FIRINGS:
        return None
    early = list(told.order_by("started_at", "pk")[:each])
    began = early[0].started_at or early[0].made_at
    late = list(told.order_by("-started_at", "-pk")[:each])
    return Sides(
        month=f"{began.astimezone(viewer.zone):%B %Y}",
        before=_paces(kiln, early),
        after=_paces(kiln, late),
    )


def _heating(sides: Sides) -> str:
    found = _drift(sides, lambda pace: pace.heats_k_per_s)
    if found is None:
        return ""
    if found.change < 0:
        return f"Heats {_against(found, sides, 'slower')}: elements?"
    return f"Heats {_against(found, sides, 'faster')}."


def _cooling(sides: Sides) -> str:
    found = _drift(sides, lambda pace: pace.cooling_time_constant_s)
    if found is None:
        return ""
    if found.change < 0:
        return f"Cools {_against(found, sides, 'faster')}: door seal?"
    return f"Cools {_against(found, sides, 'slower')}."


def _drift(sides: Sides, value_of: Callable[[Pace], float | None]) -> Drift | None:
    """Return how a value changed, if it surely did."""
    before, after = (
        [value for one in side if (value := value_of(one)) is not None]
        for side in (sides.before, sides.after)
    )
    found = drift(before, after)
    return found if found is not None and found.is_sure else None


def _against(found: Drift, sides: Sides, how: str) -> str:
    return (
        f"{abs(found.change) * 100:.0f} % {how} than in {sides.month} "
        f"(last {found.after} firings against {found.before})"
    )


def _paces(kiln: Kiln, firings: list[Firing]) -> list[Pace]:
    """Return how fast a kiln was in some firings; cached while their readings stay."""
    mark = f"pace {readings_mark(kiln, firings)}"
    key = f"kiln-pace-{hashlib.sha256(mark.encode()).hexdigest()}"
    found: list[Pace] | None = cache.get(key)
    if found is None:
        prefetch_related_objects(firings, "schedule__segments")
        each = [
            pace_of(
                one,
                max_temperature_c=kiln.max_temperature_c,
                ambient_c=practice.ROOM_C,
            )
            for one in recorded_firings(kiln, firings)
        ]
        found = [one for one in each if one is not None]
        cache.set(key, found, KEPT_S)
    return found
