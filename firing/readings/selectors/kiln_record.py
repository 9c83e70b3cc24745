"""What the studio's recorded firings say about a kiln, beside its settings."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from django.core.cache import cache
from django.db.models import Count, Exists, Max, OuterRef, Sum

from firing.models import Firing, KilnComparison, KilnEvenness, Reading
from firing.physics.kiln.fit import KilnFit, Measured, RecordedFiring, fit_kiln
from firing.physics.kiln.offset import (
    LEAST_ERROR_K,
    MOST_ERROR_K,
    Comparison,
    FoundOffset,
    offset_of,
)
from firing.physics.kiln.recorded import filtered_readings
from firing.physics.schedule import PhysicsProblem
from firing.planning.problem import practice
from firing.schedules.selectors.evenness import last_measurements
from firing.schedules.selectors.schedules import programme_of
from firing.schedules.selectors.stress import ENGINE, SHAPE
from firing.schedules.selectors.typed import standing_typed
from studio.models import Kiln, Studio
from studio.tenancy import StudioQuerySet
from studio.viewer import Viewer

# A kiln ages: its last firings tell what it is like now.
FIRINGS_USED = 6
KEPT_S = 24 * 3600
# Whole minutes and tenths of a per cent, as in the kiln's form.
MINUTE_S, PER_CENT, TENTH = 60.0, 100.0, 0.001
# A thermocouple ages: its last comparisons tell what it is like now.
COMPARISONS_USED = 8
OFFSET_STEP_K = 0.1
# A kiln's middle and its corners differ by more than this; own rule, without a source.
LEAST_SURE_K = 2.0
# What is shown after ±: about 19 kilns in 20 are within it.
SHOWN_ERRORS = 2.0
NOTHING_YET = (
    "Nothing is measured yet. Import the controller's file of a firing in this kiln and "
    "finish the firing: how it fell until it was cold gives the cooling time."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnRecord:
    """A kiln's fit to its last recorded firings, or why there is none."""

    fit: KilnFit | None
    problem: str
    firing_count: int
    unread: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class OffsetRecord:
    """A kiln's comparisons, newest first, and the offset that follows from them."""

    comparisons: tuple[KilnComparison, ...]
    found: FoundOffset | None
    problem: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NewValues:
    """The new values of the kiln's own fields; none where one cannot be known."""

    cooling_time_constant_s: float | None
    holding_fraction: float | None
    offset_k: float | None
    offset_uncertainty_k: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredRow:
    """One value as set and as measured, in words."""

    what: str
    is_set: str
    measured: str
    rests_on: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparisonRow:
    """One comparison in words."""

    pk: int
    day: str
    words: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredView:
    """A kiln's measured values for its page."""

    rows: tuple[MeasuredRow, ...]
    problems: tuple[str, ...]
    meaning: tuple[str, ...]
    """What the numbers say, and what they cannot."""
    may_be_used: bool
    comparisons: tuple[ComparisonRow, ...]
    evenness: tuple[ComparisonRow, ...]


def kiln_record(kiln: Kiln) -> KilnRecord:
    """Fit a kiln to its last finished firings with readings; cached while they stay."""
    readings = Reading.owned.for_studio(kiln.studio)
    firings = list(
        Firing.owned.for_studio(kiln.studio)
        .filter(kiln=kiln, finished_at__isnull=False)
        .filter(Exists(readings.filter(firing=OuterRef("pk"))))
        # They left the schedule that the kiln is compared with.
        .exclude(pk__in=standing_typed(kiln.studio).values("firing"))
        .select_related("schedule")
        .prefetch_related("schedule__segments")
        .order_by("-started_at", "-pk")[:FIRINGS_USED]
    )
    if not firings:
        return KilnRecord(fit=None, problem=NOTHING_YET, firing_count=0)
    what = readings_mark(kiln, firings)
    key = f"kiln-record-{hashlib.sha256(what.encode()).hexdigest()}"
    found: KilnRecord | None = cache.get(key)
    if found is None:
        found = _fitted(kiln, firings)
        cache.set(key, found, KEPT_S)
    return found


def readings_mark(kiln: Kiln, firings: Sequence[Firing]) -> str:
    """Return what changes with the readings of a kiln's firings."""
    sums = (
        Reading.owned.for_studio(kiln.studio)
        .filter(firing__in=firings)
        .order_by("-firing__started_at", "-firing")
        .values_list("firing")
        .annotate(Count("pk"), Max("pk"), Sum("temperature_c"))
    )
    told = [f"{pk}.{count}.{newest}.{total:.2f}" for pk, count, newest, total in sums]
    return f"{ENGINE}.{SHAPE} {kiln.pk} {kiln.max_temperature_c} {' '.join(told)}"


def _fitted(kiln: Kiln, firings: Sequence[Firing]) -> KilnRecord:
    recorded = recorded_firings(kiln, firings)
    unread = len(firings) - len(recorded)
    try:
        fit = fit_kiln(
            recorded,
            max_temperature_c=kiln.max_temperature_c,
            ambient_c=practice.ROOM_C,
        )
    except PhysicsProblem as problem:
        return KilnRecord(
            fit=None, problem=str(problem), firing_count=len(recorded), unread=unread
        )
    return KilnRecord(fit=fit, problem="", firing_count=len(recorded), unread=unread)


def recorded_firings(kiln: Kiln, firings: Sequence[Firing]) -> list[RecordedFiring]:
    """Return the firings as the physics' values, without readings no kiln can have."""
    rows: dict[int, list[tuple[float, float]]] = {one.pk: [] for one in firings}
    readings = (
        Reading.owned.for_studio(kiln.studio)
        .filter(firing__in=firings)
        .order_by("firing", "at", "pk")
        .values_list("firing_id", "at", "temperature_c")
    )
    for firing_pk, at, celsius in readings.iterator():
        rows[firing_pk].append((at.timestamp(), celsius))
    recorded = []
    for one in firings:
        if not rows[one.pk]:
            continue  # taken away since
        times, temperatures = np.array(rows[one.pk]).T
        try:
            filtered_readings(times, temperatures)
        except PhysicsProblem:
            continue  # counted as unread, and said on the page
        recorded.append(
            RecordedFiring(
                time_s=times - times[0],
                temperature_c=temperatures,
                schedule=programme_of(one.schedule),
            )
        )
    return recorded


def comparisons(studio: Studio) -> StudioQuerySet[KilnComparison]:
    """Return the studio's comparisons of kilns."""
    return KilnComparison.owned.for_studio(studio).select_related("kiln", "studio")


def offset_record(kiln: Kiln) -> OffsetRecord:
    """Return a kiln's comparisons; the last few tell its offset now."""
    rows = tuple(
        KilnComparison.owned.for_studio(kiln.studio)
        .filter(kiln=kiln)
        .order_by("-compared_on", "-pk")[:COMPARISONS_USED]
    )
    if not rows:
        return OffsetRecord(comparisons=(), found=None)
    try:
        found = offset_of(
            [
                # The form asks how far it may be off, which is two standard errors.
                Comparison(
                    shown_c=one.shown_c,
                    measured_c=one.measured_c,
                    error_k=max(one.error_k / SHOWN_ERRORS, LEAST_ERROR_K),
                )
                for one in rows
            ]
        )
    except PhysicsProblem as problem:
        return OffsetRecord(comparisons=rows, found=None, problem=str(problem))
    return OffsetRecord(comparisons=rows, found=found)


def new_values(fit: KilnFit | None, offset: OffsetRecord) -> NewValues:
    """Round the measured values as the kiln's form would show them."""
    holding = None if fit is None else fit.holding_fraction
    found = offset.found
    return NewValues(
        cooling_time_constant_s=None
        if fit is None
        else MINUTE_S * round(fit.cooling_time_constant_s.value / MINUTE_S),
        holding_fraction=None if holding is None else _tenths(holding.value),
        offset_k=None if found is None else round(found.value_k, 1),
        offset_uncertainty_k=None if found is None else _sure_k(found),
    )


def _sure_k(found: FoundOffset) -> float:
    """Return how far an offset may be off [K]: never less than a kiln varies."""
    error_k = max(SHOWN_ERRORS * found.standard_error_k, LEAST_SURE_K)
    return round(min(error_k, MOST_ERROR_K), 1)


def _tenths(fraction: float) -> float:
    return round(round(fraction / TENTH) * TENTH, 6)


def is_as_measured(kiln: Kiln, values: NewValues) -> bool:
    """Return whether the kiln is already set as measured."""
    pairs = (
        (kiln.cooling_time_constant_s, values.cooling_time_constant_s, 1.0),
        (kiln.holding_fraction, values.holding_fraction, TENTH / 10),
        (kiln.offset_k, values.offset_k, OFFSET_STEP_K / 2),
        (kiln.offset_uncertainty_k, values.offset_uncertainty_k, OFFSET_STEP_K / 2),
    )
    return all(new is None or abs(old - new) < close for old, new, close in pairs)


def measured_view(
    kiln: Kiln, record: KilnRecord, offset: OffsetRecord, viewer: Viewer
) -> MeasuredView:
    """Put the set and measured values side by side, in the reader's units."""
    fit = record.fit
    problems = [record.problem, offset.problem]
    if record.unread:
        problems.append(
            f"{_firings(record.unread)} left out: what was recorded is no kiln's "
            "temperature."
        )
    rows = [_offset_row(kiln, offset, viewer)]
    if fit is not None:
        rows += [_cooling_row(kiln, fit, viewer), _holding_row(kiln, fit, viewer)]
    return MeasuredView(
        rows=tuple(rows),
        problems=tuple(one for one in problems if one),
        meaning=() if fit is None else tuple(_meaning(fit, viewer)),
        may_be_used=not is_as_measured(kiln, new_values(fit, offset)),
        comparisons=tuple(_comparison_row(one, viewer) for one in offset.comparisons),
        evenness=tuple(_evenness_row(one, viewer) for one in last_measurements(kiln)),
    )


def _offset_row(kiln: Kiln, offset: OffsetRecord, viewer: Viewer) -> MeasuredRow:
    show, found = viewer.temperature_difference, offset.found
    measured = "not known"
    if found is not None:
        measured = f"{show(round(found.value_k, 1))} ± {show(_sure_k(found))}"
    count = len(offset.comparisons)
    return MeasuredRow(
        what="Thermocouple offset",
        is_set=f"{show(kiln.offset_k)} ± {show(kiln.offset_uncertainty_k)}",
        measured=measured,
        rests_on="" if not count else _comparisons(count),
    )


def _comparison_row(one: KilnComparison, viewer: Viewer) -> ComparisonRow:
    return ComparisonRow(
        pk=one.pk,
        day=f"{one.compared_on:%-d %b %Y}",
        words=f"{one.get_compared_by_display()}: {viewer.temperature(one.measured_c)} "
        f"where the kiln showed {viewer.temperature(one.shown_c)}",
        note=one.note,
    )


def _evenness_row(one: KilnEvenness, viewer: Viewer) -> ComparisonRow:
    cooling = (
        f", cooling at {viewer.rate(one.falls_c_per_h)}" if one.falls_c_per_h else ""
    )
    return ComparisonRow(
        pk=one.pk,
        day=f"{one.measured_on:%-d %b %Y}",
        words=f"{viewer.temperature(one.middle_c)} in the middle, "
        f"{viewer.temperature(one.edge_c)} at {viewer.length(one.reach_mm)} from it"
        f"{cooling}",
        note=one.note,
    )


def _comparisons(count: int) -> str:
    return "1 comparison" if count == 1 else f"{count} comparisons"


def _cooling_row(kiln: Kiln, fit: KilnFit, viewer: Viewer) -> MeasuredRow:
    tau = fit.cooling_time_constant_s
    error_s = max(SHOWN_ERRORS * tau.standard_error, MINUTE_S)
    value = viewer.duration(MINUTE_S * round(tau.value / MINUTE_S))
    error = viewer.duration(MINUTE_S * round(error_s / MINUTE_S))
    return MeasuredRow(
        what="Cooling time",
        is_set=viewer.duration(kiln.cooling_time_constant_s),
        measured=f"{value} ± {error}",
        rests_on=_rests_on(tau),
    )


def _holding_row(kiln: Kiln, fit: KilnFit, viewer: Viewer) -> MeasuredRow:
    holding = fit.holding_fraction
    measured, rests_on = "not known", ""
    if holding is not None:
        error = max(SHOWN_ERRORS * holding.standard_error, TENTH) * PER_CENT
        measured = f"{holding.value * PER_CENT:.1f} % ± {error:.1f} %"
        rests_on = _rests_on(holding)
    elif fit.holding_at_most is not None and fit.holding_at_most < 1:
        measured = f"at most {fit.holding_at_most * PER_CENT:.0f} %"
    return MeasuredRow(
        what=f"Power that holds {viewer.temperature(kiln.max_temperature_c)}",
        is_set=f"{kiln.holding_fraction * PER_CENT:.1f} %",
        measured=measured,
        rests_on=rests_on,
    )


def _meaning(fit: KilnFit, viewer: Viewer) -> list[str]:
    notes = [
        "The cooling time is how long the kiln, switched off, takes to fall to 37 % of "
        f"its heat above a room of {viewer.temperature(fit.ambient_c.value)}. The true "
        "value lies within ± of the measured one about 19 times in 20, for loads like "
        "those that were fired."
    ]
    if fit.holding_problem:
        notes.append(fit.holding_problem)
        if fit.holding_at_most is not None and fit.holding_at_most < 1:
            notes.append("How fast it rose tells what the holding power is at most.")
    if fit.left_out:
        notes.append(
            f"{_firings(len(fit.left_out))} left out: the kiln cooled unlike in the "
            "others, as with a lid ajar or a very large load."
        )
    return notes


def _rests_on(measured: Measured) -> str:
    return f"{_firings(measured.firings)}, {measured.readings} readings"


def _firings(count: int) -> str:
    return "1 firing" if count == 1 else f"{count} firings"
