"""Bench hours, skills and days away: what is saved, refused, and put in the history."""

import datetime as dt

import pytest
from django.db import IntegrityError, transaction

from studio.errors import Refused
from studio.models import BenchHours, BenchTerms, DaysAway, HistoryEntry
from studio.selectors.bench import (
    BenchSpan,
    hours_words,
    skill_words,
    week_minutes,
    worker_of,
    workers,
)
from studio.services import bench
from tests.cast import NOW

MONDAY, TUESDAY = 0, 1
FIRST = dt.date(2026, 3, 9)


@pytest.fixture
def member(cast):
    return cast.membership("helper")


def add(member, *, weekdays=(MONDAY,), starts=(17, 0), ends=(20, 0)):
    return bench.add_bench_hours(
        membership=member,
        weekdays=weekdays,
        starts=dt.time(*starts),
        ends=dt.time(*ends),
        by=member.person,
        at=NOW,
    )


def away(member, *, first=FIRST, last=FIRST, reason="holiday", note=""):
    return bench.add_days_away(
        membership=member,
        starts_date=first,
        ends_date=last,
        reason=reason,
        note=note,
        by=member.person,
        at=NOW,
    )


def told(cast):
    return [e.what for e in HistoryEntry.owned.for_studio(cast.studio).order_by("pk")]


def test_hours_of_several_days_are_kept_and_written_down(cast, member):
    add(member, weekdays=[TUESDAY, MONDAY, MONDAY])
    assert [str(one) for one in worker_of(member).spans] == [
        str(BenchSpan(weekday=day, starts=dt.time(17), ends=dt.time(20)))
        for day in (MONDAY, TUESDAY)
    ]
    assert "Added bench hours of" in told(cast)[-1]
    assert "Monday 17:00–20:00, Tuesday 17:00–20:00" in told(cast)[-1]


def test_several_spans_of_a_day_may_touch(member):
    add(member, starts=(8, 0), ends=(12, 0))
    add(member, starts=(12, 0), ends=(14, 30))
    assert week_minutes(worker_of(member).spans) == 390


@pytest.mark.parametrize(
    ("starts", "ends", "words"),
    [
        ((20, 0), (2, 0), "add two spans: one up to 23:59"),
        ((9, 0), (9, 0), "ends when it starts"),
    ],
)
def test_overnight_and_empty_spans_are_refused_in_words(member, starts, ends, words):
    with pytest.raises(Refused, match=words):
        add(member, starts=starts, ends=ends)
    assert not BenchHours.across_studios.exists()


def test_an_overlap_names_the_rows_and_adds_no_day(member):
    add(member)
    with pytest.raises(Refused, match="Overlaps with Monday 17:00–20:00"):
        add(member, weekdays=[MONDAY, TUESDAY], starts=(19, 0), ends=(21, 0))
    assert BenchHours.across_studios.count() == 1


def test_two_people_may_work_at_the_same_time(cast, member):
    add(member)
    add(cast.membership("maker"))
    assert BenchHours.across_studios.count() == 2


def test_removing_twice_changes_nothing_and_only_one_s_own(cast, member):
    (row,) = add(member)
    bench.remove_bench_hours(
        membership=cast.membership("maker"), pk=row.pk, by=None, at=NOW
    )
    assert BenchHours.across_studios.count() == 1
    before = len(told(cast))
    for _ in range(2):
        bench.remove_bench_hours(membership=member, pk=row.pk, by=None, at=NOW)
    assert len(told(cast)) == before + 1


def test_a_limit_is_set_lifted_and_must_be_possible(cast, member):
    def limit(hours):
        bench.set_weekly_limit(membership=member, hours_a_week=hours, by=None, at=NOW)

    limit(9)
    assert worker_of(member).hours_a_week == 9
    limit(9)
    assert sum("9 h a week" in what for what in told(cast)) == 1
    for hours in (0, 169):
        with pytest.raises(Refused, match="from 1 to 168"):
            limit(hours)
    limit(None)
    assert worker_of(member).hours_a_week is None


def test_skills_follow_the_role_until_they_are_set_and_again(member):
    assert worker_of(member).skills == {"coldwork"}

    def skills(*names, by_role=False):
        bench.set_skills(
            membership=member,
            by_role=by_role,
            paint="paint" in names,
            assemble="assemble" in names,
            coldwork="coldwork" in names,
            by=None,
            at=NOW,
        )

    skills("paint", "assemble")
    assert worker_of(member).skills == {"paint", "assemble"}
    skills()
    assert worker_of(member).skills == frozenset()
    assert worker_of(member).has_own_skills
    skills(by_role=True)
    assert worker_of(member).skills == {"coldwork"}
    assert BenchTerms.across_studios.count() == 1


def test_days_away_are_kept_and_the_history_says_not_why(cast, member):
    away(member, last=FIRST + dt.timedelta(days=4), reason="sick", note="Flu")
    (line,) = [what for what in told(cast) if "away" in what]
    assert "Mon 9 Mar 2026 to Fri 13 Mar 2026" in line
    assert "sick" not in line.lower()
    assert "Flu" not in line
    assert worker_of(member).away == ((FIRST, FIRST + dt.timedelta(days=4)),)


@pytest.mark.parametrize(
    ("days", "words"),
    [(-1, "last day is before the first"), (400, "more than a year")],
)
def test_days_that_cannot_be_are_refused(member, days, words):
    with pytest.raises(Refused, match=words):
        away(member, last=FIRST + dt.timedelta(days=days))


def test_overlapping_days_are_refused_and_those_next_to_them_not(member):
    away(member, last=FIRST + dt.timedelta(days=2))
    with pytest.raises(Refused, match="Overlaps with days away"):
        away(member)
    with pytest.raises(Refused, match="Overlaps"):
        away(
            member,
            first=FIRST + dt.timedelta(days=2),
            last=FIRST + dt.timedelta(days=5),
        )
    away(member, first=FIRST + dt.timedelta(days=3), last=FIRST + dt.timedelta(days=5))
    assert DaysAway.across_studios.count() == 2


def test_days_are_taken_back_once(cast, member):
    row = away(member)
    for _ in range(2):
        bench.remove_days_away(membership=member, pk=row.pk, by=None, at=NOW)
    assert not DaysAway.across_studios.exists()
    assert sum("not away after all" in what for what in told(cast)) == 1


def test_the_database_refuses_what_no_service_would_write(cast, member):
    facts = {"studio": cast.studio, "membership": member}
    with pytest.raises(IntegrityError), transaction.atomic():
        BenchHours.across_studios.create(
            **facts, weekday=0, starts=dt.time(9), ends=dt.time(9)
        )
    with pytest.raises(IntegrityError), transaction.atomic():
        DaysAway.across_studios.create(
            **facts, starts_date=FIRST, ends_date=FIRST - dt.timedelta(days=1)
        )


def test_workers_come_in_a_fixed_number_of_queries(
    cast, strangers, django_assert_num_queries
):
    for role in ("owner", "maker", "helper"):
        add(cast.membership(role))
        away(cast.membership(role))
    away(strangers.membership("owner"))
    with django_assert_num_queries(3):
        found = workers(cast.studio)
    assert len(found) == 4
    assert sum(bool(one.spans) for one in found) == 3


def span(day, starts, ends):
    return BenchSpan(weekday=day, starts=dt.time(*starts), ends=dt.time(*ends))


def test_hours_and_skills_in_few_words():
    evening = ((17, 0), (20, 0))
    few = tuple(span(day, *evening) for day in (0, 2, 3))
    assert hours_words(few) == "Mon, Wed, Thu 17:00–20:00"
    week = tuple(span(day, (9, 0), (12, 30)) for day in range(5))
    assert hours_words((*week, span(5, (10, 0), (11, 0)))) == (
        "Mon to Fri 09:00–12:30; Sat 10:00–11:00"
    )
    assert skill_words(frozenset()) == "nothing by hand"
    assert skill_words(frozenset({"coldwork", "paint"})) == "paint and do cold work"
    night = (span(0, (20, 0), (23, 59)),)
    assert week_minutes(night) == 240
