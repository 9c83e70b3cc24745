"""Sets when a person works by hand, what they can do, and when they are away.

Changes to one person's hours wait for a lock on their membership: if two overlapping
spans are added at once, the second sees the first. The history says that somebody is
away but never why, because everybody in the studio reads it.
"""

from collections.abc import Sequence
from datetime import date, datetime, time

from django.db import transaction

from studio.errors import Refused
from studio.models import BenchHours, BenchTerms, DaysAway, Membership, Person
from studio.models.bench import MOST_HOURS_A_WEEK
from studio.services import history
from studio.services.locks import held

LONGEST_AWAY_DAYS = 366


@transaction.atomic
def add_bench_hours(
    *,
    membership: Membership,
    weekdays: Sequence[int],
    starts: time,
    ends: time,
    by: Person | None,
    at: datetime,
) -> list[BenchHours]:
    """Add the same span to several weekdays.

    Raises
    ------
    Refused
        When it ends before it starts or overlaps with hours of that day; then no day
        gets any.
    """
    if starts == ends:
        raise Refused("It ends when it starts. Make one of the two later or earlier.")
    if ends < starts:
        raise Refused(
            "It must end after it starts. For a night, add two spans: one up to 23:59 "
            "and one from 00:00 on the next day."
        )
    member = _held(membership)
    there = BenchHours.owned.for_studio(member.studio).filter(
        membership=member, weekday__in=weekdays, starts__lt=ends, ends__gt=starts
    )
    if overlaps := ", ".join(map(str, there.order_by("weekday", "starts", "pk"))):
        raise Refused(f"Overlaps with {overlaps}. Remove that first.")
    made = [
        BenchHours.across_studios.create(
            studio=member.studio,
            membership=member,
            weekday=weekday,
            starts=starts,
            ends=ends,
        )
        for weekday in sorted(set(weekdays))
    ]
    told = ", ".join(map(str, made))
    _note(member, by, at, f"Added bench hours of {member.person}: {told}")
    return made


@transaction.atomic
def remove_bench_hours(
    *, membership: Membership, pk: int, by: Person | None, at: datetime
) -> None:
    """Remove a span; removing it twice changes nothing."""
    member = _held(membership)
    found = BenchHours.owned.for_studio(member.studio)
    row = found.filter(membership=member, pk=pk).first()
    if row is None:
        return
    told = str(row)
    row.delete()
    _note(member, by, at, f"Removed bench hours of {member.person}: {told}")


@transaction.atomic
def set_weekly_limit(
    *,
    membership: Membership,
    hours_a_week: int | None,
    by: Person | None,
    at: datetime,
) -> None:
    """Set the most hours a person works in a week; none removes the limit.

    Raises
    ------
    Refused
        When a week has no such number of hours.
    """
    if hours_a_week is not None and not 1 <= hours_a_week <= MOST_HOURS_A_WEEK:
        raise Refused(
            f"Write a whole number of hours from 1 to {MOST_HOURS_A_WEEK}, or leave it "
            "empty. Somebody who does no work by hand has no skills ticked."
        )
    member = _held(membership)
    terms, _ = BenchTerms.across_studios.get_or_create(
        membership=member, defaults={"studio": member.studio}
    )
    if terms.hours_a_week == hours_a_week:
        return
    terms.hours_a_week = hours_a_week
    terms.save()
    limit = "no limit a week" if hours_a_week is None else f"{hours_a_week} h a week"
    _note(member, by, at, f"Bench work of {member.person}: {limit}")


@transaction.atomic
def set_skills(
    *,
    membership: Membership,
    by_role: bool,
    paint: bool,
    assemble: bool,
    coldwork: bool,
    by: Person | None,
    at: datetime,
) -> None:
    """Set what a person can do by hand, or let it follow from their role again."""
    member = _held(membership)
    terms, _ = BenchTerms.across_studios.get_or_create(
        membership=member, defaults={"studio": member.studio}
    )
    wanted = (not by_role, paint, assemble, coldwork)
    if by_role:
        wanted = (False, False, False, False)
    fields = ("has_own_skills", "can_paint", "can_assemble", "can_coldwork")
    if tuple(getattr(terms, name) for name in fields) == wanted:
        return
    for name, value in zip(fields, wanted, strict=True):
        setattr(terms, name, value)
    terms.save()
    able = [
        word
        for word, can in (
            ("painting", paint),
            ("stacking", assemble),
            ("cold work", coldwork),
        )
        if can
    ]
    told = "by their role" if by_role else ", ".join(able) or "none"
    _note(member, by, at, f"Skills of {member.person}: {told}")


@transaction.atomic
def add_days_away(
    *,
    membership: Membership,
    starts_date: date,
    ends_date: date,
    reason: str,
    note: str,
    by: Person | None,
    at: datetime,
) -> DaysAway:
    """Record that a person is away on these days, first and last included.

    Raises
    ------
    Refused
        When they end before they start, last longer than a year, or overlap with others.
    """
    if ends_date < starts_date:
        raise Refused("The last day is before the first. Exchange them.")
    if (ends_date - starts_date).days >= LONGEST_AWAY_DAYS:
        raise Refused(
            "That is more than a year. Look at the year you wrote; for somebody who "
            "left, end their access in the settings."
        )
    member = _held(membership)
    there = DaysAway.owned.for_studio(member.studio).filter(
        membership=member, starts_date__lte=ends_date, ends_date__gte=starts_date
    )
    if overlaps := "; ".join(map(str, there.order_by("starts_date", "pk"))):
        raise Refused(f"Overlaps with days away already there: {overlaps}.")
    made: DaysAway = DaysAway.across_studios.create(
        studio=member.studio,
        membership=member,
        starts_date=starts_date,
        ends_date=ends_date,
        reason=reason,
        note=note,
    )
    _note(member, by, at, f"{member.person} is away: {made}")
    return made


@transaction.atomic
def remove_days_away(
    *, membership: Membership, pk: int, by: Person | None, at: datetime
) -> None:
    """Remove days away; doing so twice changes nothing."""
    member = _held(membership)
    row = DaysAway.owned.for_studio(member.studio).filter(membership=member, pk=pk)
    found = row.first()
    if found is None:
        return
    told = str(found)
    found.delete()
    _note(member, by, at, f"{member.person} is not away after all: {told}")


def _held(membership: Membership) -> Membership:
    found: Membership = (
        held(Membership.owned.for_studio(membership.studio))
        .select_related("person", "studio")
        .get(pk=membership.pk)
    )
    return found


def _note(member: Membership, by: Person | None, at: datetime, what: str) -> None:
    history.record(
        studio=member.studio,
        by=by,
        at=at,
        what=what,
        subject=f"membership {member.pk}",
    )
