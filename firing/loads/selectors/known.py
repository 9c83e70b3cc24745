"""What is known of a running kiln: may its glass be taken out, else about when.

The one place that decides it; every page asks here and says where it comes from. A
reading above the opening temperature beats the clock, however old it is: the kiln may
have been held. A reading below it counts only if the kiln was hot before and can have
cooled so far since; where nothing usable was read, the plan is all there is.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

import numpy as np
from django.db.models import F, OuterRef, Q, Subquery

from firing.models import Firing, Reading
from firing.physics.kiln.left_to_cool import cooling_time_s, fitted_time_constant_s
from firing.planning.problem.practice import ROOM_C
from firing.schedules.selectors.stress_words import next_quarter
from studio.models import Studio
from studio.viewer import Viewer

# Colder or hotter than this no kiln is: a thermocouple is broken.
COLDEST_C, ABOVE_HIGHEST_K = 1.0, 50.0
# So much of the past shows how a kiln cools.
LATE = timedelta(hours=2)
LATE_POINTS = 120
# A kiln follows its plan within this share of its heat, or this much [K]; own rule.
FOLLOWS_SHARE, FOLLOWS_K = 0.05, 2.0
# A fall within these shares of the kiln's own time constant is a kiln without power.
FASTEST, SLOWEST = 0.5, 2.0
# Less time than this share of its own cooling, and a cold reading is not believed.
BELIEVED_SHARE = 0.7


class Source(StrEnum):
    """What an answer rests on."""

    READINGS = "readings"
    COOLING = "cooling"
    PLAN = "plan"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A temperature that the kiln showed."""

    at: datetime
    temperature_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """The plan of a firing under way, and its kiln."""

    starts_at: datetime
    opens_at: datetime
    opening_c: float
    """What the kiln must show, made for the glass; `usual_c` is the kiln's own."""
    usual_c: float
    time_constant_s: float
    curve: Sequence[Sequence[float]]

    @property
    def is_thick(self) -> bool:
        """Whether its glass is so far behind the kiln that the plan waits for it."""
        return self.opening_c < self.usual_c

    def left_s(self, from_c: float, to_c: float) -> float:
        """Return how long the kiln by itself takes to cool [s]."""
        return cooling_time_s(
            from_c, to_c, room_c=ROOM_C, time_constant_s=self.time_constant_s
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is known of a running kiln at an instant."""

    opening_c: float
    last: Shown | None
    is_cold: bool
    is_due: bool
    """Not known to be cold, though by now it should be: somebody must read it."""
    opens_at: datetime
    source: Source

    @property
    def is_read(self) -> bool:
        """Whether it rests on something that was read, and not on the plan alone."""
        return self.source is not Source.PLAN

    @property
    def about(self) -> datetime:
        """The opening, up to the next quarter of an hour: no estimate is better."""
        return next_quarter(self.opens_at)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadByHand:
    """What somebody read at the kiln, and whether they know what hot glass does."""

    shown_c: float | None = None
    is_confirmed: bool = False


NOTHING_READ = ReadByHand()


def known_of(
    studio: Studio, firings: Iterable[Firing], *, now: datetime
) -> dict[int, Known]:
    """Return what is known of those firings that are under way, in two queries."""
    running = {
        one.pk: one
        for one in firings
        if one.started_at is not None and one.finished_at is None
    }
    if not running:
        return {}
    plans = {pk: _planned(one) for pk, one in running.items()}
    seen = _last_readings(studio, running, now)
    firsts = {pk: credible(plans[pk], *seen[pk]) for pk in running}
    late = _late_readings(
        studio,
        {
            pk: last
            for pk, last in firsts.items()
            if last is not None
            and last.temperature_c >= plans[pk].opening_c
            and not follows(plans[pk], last)
        },
    )
    return {
        pk: known_from(plans[pk], firsts[pk], late.get(pk, ()), now) for pk in running
    }


def known_words(known: Known, viewer: Viewer, now: datetime) -> str:
    """Say what is known of a kiln: "135 °F at 11:00, opens about 12:15"."""
    last = known.last
    if last is None and known.is_cold:
        since = viewer.moment(min(known.about, now), now)
        return f"May be opened since about {since}, nothing was read"
    if last is None:
        left = viewer.left(known.opens_at, now)
        return f"Closed until about {viewer.moment(known.about, now)}, {left} left"
    shown = f"{viewer.temperature(last.temperature_c)} {_at(last.at, viewer, now)}"
    if known.is_cold:
        return f"{shown}, may be opened"
    if known.is_due:
        return f"{shown}, perhaps cold by now: read the kiln"
    return f"{shown}, opens about {soon(known.about, viewer, now)}"


def soon(at: datetime, viewer: Viewer, now: datetime) -> str:
    """Show an instant; of today the time alone."""
    is_today = viewer.day(at) == viewer.day(now)
    return viewer.clock(at) if is_today else viewer.moment(at, now)


def _at(at: datetime, viewer: Viewer, now: datetime) -> str:
    is_today = viewer.day(at) == viewer.day(now)
    return f"at {viewer.clock(at)}" if is_today else viewer.moment(at, now)


def credible(plan: Planned, last: Shown | None, hot: Shown | None) -> Shown | None:
    """Return the last reading that can be true of the kiln after it was hot.

    `hot` is the last one above the kiln's own opening temperature. Without one, a cold
    reading is from before the kiln was heated and says nothing. A thermocouple that
    broke, or a kiln that was opened, shows the room while its glass is hot.
    """
    if last is None or last.temperature_c >= plan.opening_c:
        return last
    if hot is None:
        return None
    must_s = BELIEVED_SHARE * plan.left_s(hot.temperature_c, plan.usual_c)
    return last if (last.at - hot.at).total_seconds() >= must_s else hot


def follows(plan: Planned, last: Shown) -> bool:
    """Return whether a reading is where the plan wants the kiln."""
    if not plan.curve or last.at > plan.opens_at:
        return False
    times, temperatures = np.array(plan.curve, dtype=np.float64).T
    at_s = (last.at - plan.starts_at).total_seconds()
    off_k = abs(last.temperature_c - float(np.interp(at_s, times, temperatures)))
    return off_k <= max(FOLLOWS_K, FOLLOWS_SHARE * (last.temperature_c - ROOM_C))


def known_from(
    plan: Planned, last: Shown | None, late: Sequence[Shown], now: datetime
) -> Known:
    """Decide what is known, from the plan and the credible readings."""
    opens_at, source, is_cold = plan.opens_at, Source.PLAN, False
    if last is None:
        is_cold = plan.opens_at <= now
    elif last.temperature_c < plan.opening_c:
        # Cooled faster than planned, thick glass is further behind than planned.
        is_cold = plan.opens_at <= now or not plan.is_thick
        if is_cold:
            opens_at, source = last.at, Source.READINGS
    elif not follows(plan, last):
        opens_at, source = _expected(plan, last, late)
    return Known(
        opening_c=plan.opening_c,
        last=last,
        is_cold=is_cold,
        is_due=not is_cold and opens_at <= now,
        opens_at=opens_at,
        source=source,
    )


def _expected(
    plan: Planned, last: Shown, late: Sequence[Shown]
) -> tuple[datetime, Source]:
    """Return when a kiln that is not where it was planned is cold enough.

    Cooling by itself it goes on so. Else it has the rest of its plan before it, and no
    kiln cools faster than without power.
    """
    fitted_s = fitted_time_constant_s(
        np.array([(one.at - last.at).total_seconds() for one in late]),
        np.array([one.temperature_c for one in late]),
        room_c=ROOM_C,
    )
    own_s = plan.left_s(last.temperature_c, plan.opening_c)
    if fitted_s is not None and fitted_s <= SLOWEST * plan.time_constant_s:
        share = max(fitted_s / plan.time_constant_s, FASTEST)
        opens_at = last.at + timedelta(seconds=own_s * share)
        earliest = plan.opens_at if plan.is_thick else opens_at
        return max(opens_at, earliest), Source.COOLING
    rest = timedelta(seconds=max(own_s, _rest_s(plan, last)))
    opens_at = last.at + rest
    if opens_at <= plan.opens_at:
        return plan.opens_at, Source.PLAN
    return opens_at, Source.COOLING


def _rest_s(plan: Planned, last: Shown) -> float:
    """Return how much of the plan is left from where the kiln is [s].

    That is the first time that the plan is there while it heats, the last time after.
    """
    if not plan.curve:
        return 0.0
    times, temperatures = np.array(plan.curve, dtype=np.float64).T
    is_there = np.flatnonzero(
        temperatures >= min(last.temperature_c, temperatures.max())
    )
    peak = np.flatnonzero(temperatures == temperatures.max())[-1]
    is_heating = (last.at - plan.starts_at).total_seconds() < times[peak]
    inner = is_there[0] if is_heating else is_there[-1]
    outer = inner - 1 if is_heating else inner + 1
    if not 0 <= outer < times.size:
        return float(times[-1] - times[inner])
    # From the colder of the two points, as `interp` wants them in order.
    pair = [outer, inner]
    crossed_s = np.interp(last.temperature_c, temperatures[pair], times[pair])
    return float(times[-1] - crossed_s)


def _planned(firing: Firing) -> Planned:
    booking, kiln = firing.booking, firing.kiln
    return Planned(
        starts_at=booking.starts_at,
        opens_at=booking.opens_at,
        opening_c=booking.opens_below_c,
        usual_c=kiln.opening_temperature_c,
        time_constant_s=kiln.cooling_time_constant_s,
        curve=booking.planned_curve,
    )


def _last_readings(
    studio: Studio, running: dict[int, Firing], now: datetime
) -> dict[int, tuple[Shown | None, Shown | None]]:
    """Return each firing's last possible reading, and its last hot one."""
    # Each is one look into the index by firing and time.
    readings = (
        Reading.owned.for_studio(studio)
        .filter(
            firing=OuterRef("pk"),
            at__lte=now,
            temperature_c__gt=COLDEST_C,
            temperature_c__lt=OuterRef("kiln__max_temperature_c") + ABOVE_HIGHEST_K,
        )
        .order_by("-at", "-pk")
    )
    hot = readings.filter(temperature_c__gt=OuterRef("kiln__opening_temperature_c"))
    rows = (
        Firing.owned.for_studio(studio)
        .filter(pk__in=running)
        .annotate(
            last_at=Subquery(readings.values("at")[:1]),
            last_c=Subquery(readings.values("temperature_c")[:1]),
            hot_at=Subquery(hot.values("at")[:1]),
            hot_c=Subquery(hot.values("temperature_c")[:1]),
        )
        .values_list("pk", "last_at", "last_c", "hot_at", "hot_c")
    )
    return {
        pk: (_shown(last_at, last_c), _shown(hot_at, hot_c))
        for pk, last_at, last_c, hot_at, hot_c in rows
    }


def _shown(at: datetime | None, temperature_c: float | None) -> Shown | None:
    if at is None or temperature_c is None:
        return None
    return Shown(at=at, temperature_c=temperature_c)


def _late_readings(studio: Studio, last: dict[int, Shown]) -> dict[int, list[Shown]]:
    """Return the readings of the last hours before each firing's last one."""
    if not last:
        return {}
    spans = Q()
    for pk, one in last.items():
        spans |= Q(firing=pk, at__gt=one.at - LATE, at__lte=one.at)
    found: dict[int, list[Shown]] = defaultdict(list)
    rows = (
        Reading.owned.for_studio(studio)
        .filter(
            spans,
            temperature_c__gt=COLDEST_C,
            temperature_c__lt=F("firing__kiln__max_temperature_c") + ABOVE_HIGHEST_K,
        )
        .order_by("firing", "at", "pk")
        .values_list("firing_id", "at", "temperature_c")
    )
    for pk, at, celsius in rows.iterator():
        found[pk].append(Shown(at=at, temperature_c=celsius))
    return {pk: rows[:: max(1, len(rows) // LATE_POINTS)] for pk, rows in found.items()}
