"""How much each kiln was used: its finished firings, and how long it was hot in them."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from typing import TypeAlias

from django.core.cache import caches
from django.db.models import Count, Max, Sum, TextField
from django.db.models.functions import Cast, Length

from firing.loads.selectors.curve_marks import recorded_curves
from firing.models import Firing, KilnLogger, PushedCorrection, Reading, ReadingImport
from firing.physics.kiln.wear import hours_above
from firing.schedules.selectors.stress import STORE
from studio.models import Kiln, Studio
from studio.tenancy import StudioQuerySet
from studio.viewer import Viewer

# Elements and thermocouples age by hours of red heat. 932 °F; own rule, no source.
HOT_C = 500.0
KEPT_S = 30 * 24 * 3600

Mark: TypeAlias = tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """How much a kiln was used on a day."""

    kiln: int
    day: date
    hours: float


def uses(studio: Studio, kilns: Iterable[Kiln], *, has_hours: bool) -> list[Use]:
    """Return a use for every finished firing; hours from readings, else by the plan."""
    ended = Firing.owned.for_studio(studio).filter(
        kiln__in=list(kilns), finished_at__isnull=False
    )
    zone = Viewer.of_studio(studio).zone
    hours = _hours(studio, ended) if has_hours else {}
    return [
        Use(kiln=kiln, day=at.astimezone(zone).date(), hours=hours.get(pk, 0.0))
        for pk, kiln, at in ended.values_list("pk", "kiln", "finished_at")
        if at is not None
    ]


def _hours(studio: Studio, ended: StudioQuerySet[Firing]) -> dict[int, float]:
    """Return for how long kilns were hot in each of their finished firings [h].

    Curves are long: each is read once, and what came of it kept beside a mark of it.
    """
    hours: dict[int, float] = {}
    for kiln, marks in _marks(studio, ended).items():
        key = f"hot-hours-{studio.pk}-{kiln}"
        kept: dict[int, tuple[Mark, float]] = caches[STORE].get(key) or {}
        standing = {pk: one for pk, one in kept.items() if marks.get(pk) == one[0]}
        unread = marks.keys() - standing.keys()
        if unread:
            read = _read(studio, unread)
            standing |= {pk: (marks[pk], hot_h) for pk, hot_h in read.items()}
            caches[STORE].set(key, standing, KEPT_S)
        hours |= {pk: hot_h for pk, (_, hot_h) in standing.items()}
    return hours


def _marks(studio: Studio, ended: StudioQuerySet[Firing]) -> dict[int, dict[int, Mark]]:
    """Return what changes with the curve, read or planned, of firings by their kiln."""
    files = ReadingImport.owned.for_studio(studio).filter(firing__in=ended)
    corrections = PushedCorrection.owned.for_studio(studio).filter(firing__in=ended)
    # More of them can only come from a logger. Counted by their index alone, with those of
    # files that are just coming or going.
    heard = ended.filter(kiln__in=KilnLogger.owned.for_studio(studio).values("kiln"))
    readings = Reading.with_unfinished.filter(firing__in=heard)
    read: dict[int, Mark] = defaultdict(tuple)
    kinds = (
        files.values_list("firing").annotate(
            Count("pk"), Max("pk"), Sum("row_count"), Sum("highest_c")
        ),
        corrections.values_list("firing").annotate(Max("pk")),
        readings.values_list("firing").annotate(Count("pk")),
    )
    for kind, rows in enumerate(kinds):
        for pk, *mark in rows.order_by():
            read[pk] += (kind, *mark)  # One kind is not taken for another.
    # Its length and not the curve, which would have to be read for it.
    length = Length(Cast("booking__planned_curve", TextField()))
    planned = ended.annotate(curve=length).values_list("kiln", "pk", "curve")
    marks: dict[int, dict[int, Mark]] = defaultdict(dict)
    for kiln, pk, of_plan in planned:
        marks[kiln][pk] = (of_plan, *read[pk])
    return marks


def _read(studio: Studio, wanted: Collection[int]) -> dict[int, float]:
    firings = list(
        Firing.owned.for_studio(studio).filter(pk__in=wanted).select_related("booking")
    )
    recorded = recorded_curves(studio, firings)
    begins = {one.pk: one.booking.starts_at for one in firings}
    pushed = Reading.owned.for_studio(studio).filter(firing__in=firings, source=None)
    pushed = pushed.order_by()
    for pk, at, celsius in pushed.values_list("firing", "at", "temperature_c"):
        recorded.setdefault(pk, []).append(((at - begins[pk]).total_seconds(), celsius))
    return {
        one.pk: hours_above(
            recorded.get(one.pk) or [(s, c) for s, c in one.booking.planned_curve],
            HOT_C,
        )
        for one in firings
    }
