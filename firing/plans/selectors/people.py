"""Who works when, for the planner: the hours, skills and days away that people set, and
what is assumed about everybody else, in words.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from firing.kiln_time.selectors.access import closures
from firing.planning.problem.problem import (
    SLOTS_PER_DAY,
    SLOTS_PER_HOUR,
    SLOTS_PER_WEEK,
    PlannedPerson,
    Skill,
    Window,
    cut_out,
    joined,
)
from firing.planning.spans.bench import is_away, worked_spans
from firing.planning.spans.free_time import Span, without
from firing.planning.spans.slots import slot_from, slot_until
from firing.plans.selectors.calendar import PlanCalendar, bench_hours
from firing.plans.selectors.ids import person_id
from studio.models import Studio
from studio.selectors.bench import (
    Worker,
    hours_words,
    skill_words,
    workers,
)

# For people who set no hours: a guess without a source.
BENCH_HOURS_A_WEEK, BENCH_HOURS_A_DAY = 20, 6


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPeople:
    """Who works by hand, and what was assumed of whom.

    Attributes
    ----------
    people : tuple
        Everybody with a skill, by key: names decide nothing.
    called : dict
        What they are called, by the person's key; each name once.
    assumptions : tuple of str
        Sentences: what nobody set, and what was taken instead.
    known : tuple of str
        Sentences: hours and days away as they were set.
    """

    people: tuple[PlannedPerson, ...]
    called: dict[int, str]
    assumptions: tuple[str, ...]
    known: tuple[str, ...]
    away_days: dict[str, frozenset[int]]


def plan_people(studio: Studio, calendar: PlanCalendar) -> PlanPeople:
    """Return who works from now on, within which hours."""
    able = [one for one in workers(studio) if one.skills]
    names = each_once([(one.person_id, one.name) for one in able])
    usual = bench_hours(calendar, most=BENCH_HOURS_A_DAY * SLOTS_PER_HOUR)
    shut = _shut(studio, calendar) if any(one.spans for one in able) else ()
    return PlanPeople(
        people=tuple(
            _person(one, calendar, usual, shut)
            for one in sorted(able, key=lambda one: one.person_id)
        ),
        called=names,
        assumptions=tuple(_assumed(able, names)),
        known=tuple(_known(able, names, calendar)),
        away_days={
            person_id(one.person_id): frozenset(
                day
                for day in range(calendar.horizon // SLOTS_PER_DAY)
                if is_away(calendar.date_of(day), one.away)
            )
            for one in able
            if one.away
        },
    )


def each_once(rows: Sequence[tuple[int, str]]) -> dict[int, str]:
    """Return names by key; those that come twice get their key behind them."""
    count = Counter(name for _, name in rows)
    return {key: name if count[name] == 1 else f"{name} ({key})" for key, name in rows}


def _shut(studio: Studio, calendar: PlanCalendar) -> tuple[Span, ...]:
    """Return when the whole studio is closed: nobody works in it then."""
    until = calendar.instant(calendar.horizon)
    return tuple(
        Span(starts_at=one.starts_at, ends_at=one.ends_at)
        for one in closures(studio, calendar.now, until)
        if one.kiln_id is None
    )


def _person(
    one: Worker,
    calendar: PlanCalendar,
    usual: tuple[Window, ...],
    shut: Sequence[Span],
) -> PlannedPerson:
    available = _available(one, calendar, usual, shut)
    away: tuple[Window, ...] = ()
    if one.away:
        there = _available(replace(one, away=()), calendar, usual, shut)
        away = cut_out(there, available)
    return PlannedPerson(
        id=person_id(one.person_id),
        skills=frozenset(Skill(skill) for skill in one.skills),
        available=available,
        weekly_cap=_weekly_cap(one),
        away=away,
    )


def _available(
    one: Worker,
    calendar: PlanCalendar,
    usual: tuple[Window, ...],
    shut: Sequence[Span],
) -> tuple[Window, ...]:
    if not one.spans:
        return tuple(
            window
            for window in usual
            if not is_away(calendar.instant(window[0]).date(), one.away)
        )
    spans = worked_spans(
        [(span.weekday, span.starts, span.ends) for span in one.spans],
        one.away,
        zone=calendar.zone,
        starts_at=calendar.now,
        ends_at=calendar.instant(calendar.horizon),
    )
    windows = []
    for span in without(spans, shut):
        start = slot_from(span.starts_at, calendar.origin)
        end = min(slot_until(span.ends_at, calendar.origin), calendar.horizon)
        if start < end:
            windows.append((start, end))
    return joined(tuple(windows))


def _weekly_cap(one: Worker) -> int:
    if one.hours_a_week is not None:
        return min(one.hours_a_week * SLOTS_PER_HOUR, SLOTS_PER_WEEK)
    return SLOTS_PER_WEEK if one.spans else BENCH_HOURS_A_WEEK * SLOTS_PER_HOUR


def _assumed(able: Sequence[Worker], names: dict[int, str]) -> list[str]:
    told = []
    without_hours = [one for one in able if not one.spans]
    unlimited = [one for one in without_hours if one.hours_a_week is None]
    limited = [one for one in without_hours if one.hours_a_week is not None]
    if unlimited:
        told.append(
            f"{_listed(unlimited, names)}: at most {BENCH_HOURS_A_DAY} h a day and "
            f"{BENCH_HOURS_A_WEEK} h a week at the bench, from the start of the "
            "studio's access hours. Assumed, as no hours are set."
        )
    told += [
        f"{names[one.person_id]}: at most {BENCH_HOURS_A_DAY} h a day at the bench "
        "from the start of the studio's access hours, assumed, and "
        f"{one.hours_a_week} h a week as set."
        for one in limited
    ]
    by_skills: dict[frozenset[str], list[Worker]] = {}
    for one in able:
        if not one.has_own_skills:
            by_skills.setdefault(one.skills, []).append(one)
    for skills, group in by_skills.items():
        told.append(
            f"{_listed(group, names)} can {skill_words(skills)}: by their part in the "
            "studio, as no skills are set."
        )
    return told


def _known(
    able: Sequence[Worker], names: dict[int, str], calendar: PlanCalendar
) -> list[str]:
    told = []
    today = calendar.instant(calendar.start).date()
    for one in able:
        name = names[one.person_id]
        if one.spans:
            limit = ""
            if one.hours_a_week is not None:
                limit = f", at most {one.hours_a_week} h a week"
            told.append(f"{name} works {hours_words(one.spans)}{limit}, as set.")
        if one.has_own_skills:
            told.append(f"{name} can {skill_words(one.skills)}, as set.")
        told += [
            f"{name} is away {first:%a %-d %b %Y}"
            + ("." if first == last else f" to {last:%a %-d %b %Y}.")
            for first, last in one.away
            if last >= today
        ]
    return told


def _listed(group: Sequence[Worker], names: dict[int, str]) -> str:
    told = [names[one.person_id] for one in group]
    return told[0] if len(told) == 1 else f"{', '.join(told[:-1])} and {told[-1]}"
