"""Reads of when each person works by hand, what they can do, and when they are away."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, time

from django.core.exceptions import ObjectDoesNotExist

from studio.models import (
    BenchHours,
    BenchTerms,
    DaysAway,
    Membership,
    Role,
    Studio,
    Weekday,
)
from studio.tenancy import StudioQuerySet

PAINT, ASSEMBLE, COLDWORK = "paint", "assemble", "coldwork"
EVERY_SKILL = frozenset({PAINT, ASSEMBLE, COLDWORK})
SKILLS_BY_ROLE: dict[str, frozenset[str]] = {
    Role.OWNER: EVERY_SKILL,
    Role.MAKER: EVERY_SKILL,
    Role.HELPER: frozenset({COLDWORK}),
    Role.TECHNICIAN: frozenset(),
}
SKILL_WORDS = {PAINT: "paint", ASSEMBLE: "stack", COLDWORK: "do cold work"}
MINUTES_PER_HOUR = 60
LAST_MINUTE = time(23, 59)


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchSpan:
    """A span on one weekday in the studio's local time."""

    weekday: int
    starts: time
    ends: time


@dataclass(frozen=True, slots=True, kw_only=True)
class Worker:
    """Somebody who belongs to the studio, and their work by hand.

    Attributes
    ----------
    spans : tuple
        Empty where nobody told their hours.
    hours_a_week : int or None
        Their own limit; none where only the hours bind.
    skills : frozenset of str
        Of `EVERY_SKILL`: as set, else by the role.
    away : tuple of (first, last) date
        Both days included.
    """

    person_id: int
    name: str
    role: str
    spans: tuple[BenchSpan, ...]
    hours_a_week: int | None
    skills: frozenset[str]
    has_own_skills: bool
    away: tuple[tuple[date, date], ...]


def workers(studio: Studio) -> tuple[Worker, ...]:
    """Return every active person of the studio, by name, in a fixed number of queries."""
    rows = (
        Membership.owned.for_studio(studio)
        .filter(is_active=True)
        .select_related("person", "bench_terms")
        .prefetch_related("bench_hours", "days_away")
        .order_by("person__name", "pk")
    )
    return tuple(_worker(row) for row in rows)


def _worker(row: Membership) -> Worker:
    terms = _terms(row)
    spans = [
        BenchSpan(weekday=one.weekday, starts=one.starts, ends=one.ends)
        for one in row.bench_hours.all()
    ]
    return Worker(
        person_id=row.person_id,
        name=str(row.person),
        role=row.role,
        spans=tuple(sorted(spans, key=lambda one: (one.weekday, one.starts))),
        hours_a_week=None if terms is None else terms.hours_a_week,
        skills=_skills(row, terms),
        has_own_skills=terms is not None and terms.has_own_skills,
        away=tuple(sorted((a.starts_date, a.ends_date) for a in row.days_away.all())),
    )


def _terms(row: Membership) -> BenchTerms | None:
    try:
        found: BenchTerms = row.bench_terms
    except ObjectDoesNotExist:
        return None
    return found


def _skills(row: Membership, terms: BenchTerms | None) -> frozenset[str]:
    if terms is None or not terms.has_own_skills:
        return SKILLS_BY_ROLE[row.role]
    own = (
        (PAINT, terms.can_paint),
        (ASSEMBLE, terms.can_assemble),
        (COLDWORK, terms.can_coldwork),
    )
    return frozenset(name for name, can in own if can)


def bench_hours(membership: Membership) -> StudioQuerySet[BenchHours]:
    """Return a member's hours, Monday first."""
    found: StudioQuerySet[BenchHours] = BenchHours.owned.for_studio(membership.studio)
    return found.filter(membership=membership).order_by("weekday", "starts", "pk")


def days_away_to_come(membership: Membership, today: date) -> StudioQuerySet[DaysAway]:
    """Return a member's days away that are not over, the next first."""
    found: StudioQuerySet[DaysAway] = DaysAway.owned.for_studio(membership.studio)
    return found.filter(membership=membership, ends_date__gte=today).order_by(
        "starts_date", "pk"
    )


def worker_of(membership: Membership) -> Worker:
    """Return one member's work by hand."""
    row = (
        Membership.owned.for_studio(membership.studio)
        .select_related("person", "bench_terms")
        .prefetch_related("bench_hours", "days_away")
        .get(pk=membership.pk)
    )
    return _worker(row)


def skill_words(skills: frozenset[str]) -> str:
    """Say what somebody can do: "paint, stack and do cold work"."""
    words = [told for name, told in SKILL_WORDS.items() if name in skills]
    if len(words) < 2:
        return "".join(words) or "nothing by hand"
    return f"{', '.join(words[:-1])} and {words[-1]}"


def hours_words(spans: tuple[BenchSpan, ...]) -> str:
    """Say hours briefly, days with the same hours together: "Mon, Wed 18:00–21:00"."""
    by_day: dict[int, list[str]] = {}
    for span in spans:
        told = f"{span.starts:%H:%M}–{span.ends:%H:%M}"
        by_day.setdefault(span.weekday, []).append(told)
    days_of: dict[str, list[int]] = {}
    for day, parts in by_day.items():
        days_of.setdefault(" and ".join(parts), []).append(day)
    return "; ".join(f"{_days(days)} {told}" for told, days in days_of.items())


def _days(days: list[int]) -> str:
    runs: list[list[int]] = []
    for day in days:
        if runs and day == runs[-1][-1] + 1:
            runs[-1].append(day)
        else:
            runs.append([day])
    return ", ".join(_run_words(run) for run in runs)


def _run_words(run: list[int]) -> str:
    names = [Weekday(day).label[:3] for day in run]
    return f"{names[0]} to {names[-1]}" if len(names) > 2 else ", ".join(names)


def week_minutes(spans: tuple[BenchSpan, ...]) -> int:
    """Return the total hours of a week [min]."""
    return sum(_minutes(spans))


def _minutes(spans: tuple[BenchSpan, ...]) -> Iterator[int]:
    for span in spans:
        end = span.ends.hour * MINUTES_PER_HOUR + span.ends.minute
        if span.ends >= LAST_MINUTE:
            end = 24 * MINUTES_PER_HOUR
        yield end - span.starts.hour * MINUTES_PER_HOUR - span.starts.minute
