"""People's own hours, skills and days away in the planner's problem, and in words."""

import datetime as dt

import pytest

from firing.planning.problem.problem import SLOTS_PER_DAY, SLOTS_PER_WEEK, Skill
from firing.plans.selectors.events import changes_between
from firing.plans.selectors.fact_kinds import fingerprint
from firing.plans.selectors.facts import plan_facts
from firing.plans.selectors.ids import person_id
from firing.plans.selectors.people import BENCH_HOURS_A_DAY, BENCH_HOURS_A_WEEK
from studio.models import Closure
from studio.services import bench
from tests.cast import NOW
from tests.firing.plans.selectors.test_problem import DAY, translate

EVENING = (dt.time(17), dt.time(20))


def hours(membership, weekdays, span=EVENING):
    starts, ends = span
    bench.add_bench_hours(
        membership=membership,
        weekdays=weekdays,
        starts=starts,
        ends=ends,
        by=None,
        at=NOW,
    )


def away(membership, first, last):
    return bench.add_days_away(
        membership=membership,
        starts_date=first,
        ends_date=last,
        reason="holiday",
        note="",
        by=None,
        at=NOW,
    )


def limit(membership, count):
    bench.set_weekly_limit(membership=membership, hours_a_week=count, by=None, at=NOW)


def skills(membership, *names):
    every = {"paint": False, "assemble": False, "coldwork": False}
    bench.set_skills(
        membership=membership,
        by_role=False,
        by=None,
        at=NOW,
        **every | dict.fromkeys(names, True),
    )


def person(source, who):
    return next(one for one in source.problem.people if one.id == person_id(who.pk))


def told(source):
    return " ".join((*source.known, *source.assumptions))


def test_own_hours_replace_the_assumption_for_that_person_alone(cast):
    hours(cast.membership("helper"), [0, 2])
    source = translate(cast.studio, weeks=3)
    helper, maker = person(source, cast.helper), person(source, cast.maker)
    instants = [source.calendar.instant(a) for a, _ in helper.available]
    assert {(at.weekday(), at.hour) for at in instants} == {(0, 17), (2, 17)}
    assert {b - a for a, b in helper.available} == {6}
    assert helper.weekly_cap == SLOTS_PER_WEEK
    assert maker.weekly_cap == BENCH_HOURS_A_WEEK * 2
    assert max(b - a for a, b in maker.available) == BENCH_HOURS_A_DAY * 2
    assumed = " ".join(source.assumptions)
    assert f"{cast.maker} and {cast.owner}: at most 6 h a day and 20 h" in assumed
    assert f"{cast.helper}: at most" not in assumed
    assert f"{cast.helper} works Mon, Wed 17:00–20:00, as set." in source.known


def test_nothing_is_assumed_of_hours_when_everybody_set_theirs(cast):
    for role in ("owner", "maker", "helper"):
        hours(cast.membership(role), range(5))
    assert "Assumed" not in told(translate(cast.studio))


def test_a_limit_binds_with_and_without_hours(cast):
    limit(cast.membership("maker"), 8)
    hours(cast.membership("owner"), range(5))
    limit(cast.membership("owner"), 10)
    source = translate(cast.studio)
    assert person(source, cast.maker).weekly_cap == 16
    assert person(source, cast.owner).weekly_cap == 20
    assert "assumed, and 8 h a week as set" in told(source)
    assert "at most 10 h a week, as set" in told(source)


def test_days_away_are_free_of_work_and_said(cast):
    monday, friday = dt.date(2026, 3, 9), dt.date(2026, 3, 13)
    for role in ("maker", "helper"):
        away(cast.membership(role), monday, friday)
    hours(cast.membership("helper"), range(7))
    source = translate(cast.studio, weeks=3)
    for who in (cast.maker, cast.helper):
        one = person(source, who)
        days = {source.calendar.instant(a).date() for a, _ in one.available}
        assert not days & {monday + n * DAY for n in range(5)}
        assert friday + DAY in days
        lost = {source.calendar.instant(a).date() for a, _ in one.away}
        assert lost == {monday + n * DAY for n in range(5)}
        assert f"{who} is away Mon 9 Mar 2026 to Fri 13 Mar 2026." in source.known
    assert person(source, cast.owner).away == ()


def test_days_away_that_are_over_are_not_spoken_of(cast):
    away(cast.membership("maker"), NOW.date() - 9 * DAY, NOW.date() - 2 * DAY)
    assert "is away" not in told(translate(cast.studio))


def test_nobody_works_while_the_studio_is_closed(cast):
    hours(cast.membership("maker"), range(7), (dt.time(9), dt.time(12)))
    noon = dt.datetime(2026, 3, 5, 15, 0, tzinfo=dt.UTC)  # 10:00 there
    Closure.across_studios.create(
        studio=cast.studio, starts_at=noon, ends_at=noon + DAY, reason="Stocktaking"
    )
    one = person(translate(cast.studio, weeks=2), cast.maker)
    thursday = 3 * SLOTS_PER_DAY + 18
    assert (thursday, thursday + 2) in one.available
    friday = thursday + SLOTS_PER_DAY
    assert (friday + 2, friday + 6) in one.available


def test_hours_outside_access_are_the_person_s_own_matter(cast):
    hours(cast.membership("maker"), [3], (dt.time(21), dt.time(23, 59)))
    one = person(translate(cast.studio, weeks=1), cast.maker)
    start = 3 * SLOTS_PER_DAY + 42
    assert one.available == ((start, start + 6),)


def test_a_part_of_a_slot_is_never_given_away(cast):
    hours(cast.membership("maker"), [3], (dt.time(9, 10), dt.time(10, 50)))
    one = person(translate(cast.studio, weeks=1), cast.maker)
    start = 3 * SLOTS_PER_DAY + 19
    assert one.available == ((start, start + 2),)


def test_the_clock_changes_and_the_evening_stays_at_five(cast):
    # In New York clocks go forward on Sunday 8 March 2026.
    hours(cast.membership("helper"), [0, 4, 6])
    source = translate(cast.studio, weeks=2)
    begins = [
        source.calendar.instant(a) for a, _ in person(source, cast.helper).available
    ]
    assert {at.hour for at in begins} == {17}
    assert len({at.utcoffset() for at in begins}) == 2


def test_skills_decide_who_makes_and_who_is_no_worker(cast):
    skills(cast.membership("helper"), "paint", "assemble")
    skills(cast.membership("technician"), "coldwork")
    skills(cast.membership("owner"))
    source = translate(cast.studio)
    names = {one.id: one.skills for one in source.problem.people}
    assert names[person_id(cast.helper.pk)] == {Skill.PAINT, Skill.ASSEMBLE}
    assert names[person_id(cast.technician.pk)] == {Skill.COLDWORK}
    assert person_id(cast.owner.pk) not in names
    assert source.artists == (person_id(cast.maker.pk), person_id(cast.helper.pk))
    assert f"{cast.technician} can do cold work, as set." in source.known
    assert f"{cast.maker} can paint, stack and do cold work: by their part" in told(
        source
    )


def test_other_studios_hours_never_enter(cast, strangers):
    before = translate(cast.studio).problem
    hours(strangers.membership("maker"), [0])
    away(strangers.membership("owner"), NOW.date(), NOW.date() + 5 * DAY)
    assert translate(cast.studio).problem == before


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda one: hours(one, [0]), "hours or role were changed"),
        (lambda one: limit(one, 7), "hours or role were changed"),
        (lambda one: skills(one, "paint"), "hours or role were changed"),
        (lambda one: away(one, NOW.date() + DAY, NOW.date() + 3 * DAY), "is away"),
    ],
    ids=["hours", "limit", "skills", "away"],
)
def test_each_of_them_changes_the_facts_of_a_plan(cast, change, words):
    before = plan_facts(cast.studio, NOW)
    change(cast.membership("maker"))
    after = plan_facts(cast.studio, NOW)
    assert fingerprint(before) != fingerprint(after)
    told = changes_between(before, after, viewer=cast.viewer(), now=NOW)
    assert any(words in one for one in told)
