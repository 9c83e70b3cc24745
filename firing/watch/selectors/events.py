"""What happens in running firings: read from their readings, and as it is kept."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from firing.loads.selectors.known import Known, Source
from firing.models import MAY_BE_OPENED, Firing, FiringEvent, KilnLogger, Reading
from firing.physics.judging.watching import Event, WatchRequest, watch
from firing.physics.schedule import Curve
from firing.readings.selectors.verdict_inputs import readings_of, typed_at
from firing.schedules.selectors.programmes import kiln_model
from firing.schedules.selectors.schedules import programme_of
from studio.models import Studio
from studio.tenancy import StudioQuerySet


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """An event as the readings tell it now, on the clock."""

    kind: str
    segment: str = ""
    begins_at: datetime
    ended_at: datetime | None = None
    begins_c: float
    worst_c: float
    amount: float = 0.0


def seen_in(firing: Firing, known: Known | None, *, now: datetime) -> list[Seen]:
    """Return what happens in a running firing by all that was read of it.

    Of a kiln that is known to be cold nobody needs more readings.
    """
    is_cold = known is not None and known.is_cold and known.source is Source.READINGS
    programme = programme_of(firing.schedule)
    kiln = kiln_model(firing.kiln)
    time_s, temperature_c = readings_of(firing)
    if not programme.segments or not time_s.size:
        return []
    curve = np.array(firing.booking.planned_curve, dtype=np.float64).reshape(-1, 2)
    found = watch(
        WatchRequest(
            time_s=time_s,
            temperature_c=temperature_c,
            planned=programme,
            typed=typed_at(firing),
            expected=Curve(time_s=curve[:, 0], temperature_c=curve[:, 1])
            if len(curve) > 1
            else None,
            kiln=kiln,
            hottest_c=firing.kiln.max_temperature_c,
            silent_s=0.0 if is_cold else _silent_s(firing, now),
        )
    )
    return [_on_the_clock(one, firing.booking.starts_at) for one in found]


def _silent_s(firing: Firing, now: datetime) -> float:
    """Return for how long no logger was heard that sent of this firing [s]."""
    last = (
        Reading.owned.for_studio(firing.studio)
        .filter(firing=firing, logger__isnull=False)
        .order_by("-at", "-pk")
        .values_list("logger", flat=True)
        .first()
    )
    if last is None:
        return 0.0
    logger = (
        KilnLogger.owned.for_studio(firing.studio)
        .filter(pk=last, revoked_at__isnull=True)
        .first()
    )
    # By when it spoke, not by what it told: it may be sending what it missed.
    if logger is None or logger.heard_at is None:
        return 0.0
    return max((now - logger.heard_at).total_seconds(), 0.0)


def _on_the_clock(event: Event, starts_at: datetime) -> Seen:
    def at(seconds: float) -> datetime:
        return starts_at + timedelta(seconds=round(seconds))

    return Seen(
        kind=event.kind.value,
        segment=event.segment,
        begins_at=at(event.begins_s),
        ended_at=None if event.ends_s is None else at(event.ends_s),
        begins_c=event.begins_c,
        worst_c=event.worst_c,
        amount=event.amount,
    )


def opening_of(known: Known | None) -> Seen | None:
    """Return the event that a kiln may be opened, once it may."""
    if known is None or not known.is_cold:
        return None
    shown_c = known.last.temperature_c if known.last else known.opening_c
    return Seen(
        kind=MAY_BE_OPENED,
        # What only the plan says is to be read at the kiln first.
        segment="" if known.source is Source.READINGS else Source.PLAN.value,
        begins_at=known.opens_at,
        begins_c=shown_c,
        worst_c=shown_c,
    )


def events_of(firing: Firing) -> StudioQuerySet[FiringEvent]:
    """Return what happened in a firing, what was withdrawn left out."""
    return (
        FiringEvent.owned.for_studio(firing.studio)
        .filter(firing=firing, withdrawn_at__isnull=True)
        .select_related("acknowledged_by")
        .order_by("begins_at", "pk")
    )


def faults_of(firing: Firing) -> list[FiringEvent]:
    """Return what went wrong in a firing, in order of time."""
    return list(events_of(firing).exclude(kind=MAY_BE_OPENED))


def all_events(studio: Studio) -> StudioQuerySet[FiringEvent]:
    """Return the studio's events that stand."""
    return (
        FiringEvent.owned.for_studio(studio)
        .filter(withdrawn_at__isnull=True)
        .select_related("firing__kiln", "firing__booking", "firing__studio")
        .order_by("begins_at", "pk")
    )


def open_faults(studio: Studio) -> list[FiringEvent]:
    """Return what went wrong in running firings and nobody has seen to."""
    return list(
        all_events(studio)
        .filter(
            acknowledged_at__isnull=True,
            firing__started_at__isnull=False,
            firing__finished_at__isnull=True,
        )
        .exclude(kind=MAY_BE_OPENED)
    )


def matched(
    seen: Iterable[Seen], standing: Sequence[FiringEvent], *, apart: timedelta
) -> list[tuple[Seen, FiringEvent | None]]:
    """Return each event with the row of it: of the same kind, and of the same time."""
    left = list(standing)
    found: list[tuple[Seen, FiringEvent | None]] = []
    for one in seen:
        row = next((row for row in left if _is_same(one, row, apart)), None)
        if row is not None:
            left.remove(row)
        found.append((one, row))
    return found


def _is_same(one: Seen, row: FiringEvent, apart: timedelta) -> bool:
    if one.kind != row.kind:
        return False
    is_before = one.ended_at is not None and one.ended_at + apart < row.begins_at
    is_after = row.ended_at is not None and row.ended_at + apart < one.begins_at
    return not (is_before or is_after)
