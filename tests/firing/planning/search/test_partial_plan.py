"""Accepting part of a new plan, and work that is already assigned."""

from dataclasses import replace

from firing.planning.problem.hours import Hours
from firing.planning.problem.problem import PlannedPerson, Skill
from firing.planning.problem.problem_tables import Facts
from firing.planning.problem.solution import FuseFiring
from firing.planning.proofs.check import check_plan
from firing.planning.search.construct import best_first_plan
from firing.planning.search.partial_plan import take_part
from firing.planning.search.publish import to_plan
from firing.planning.search.replan import replan
from tests.firing.planning.instances import one_pass, piece, studio


def person(**changes):
    values = {
        "id": "Wren",
        "skills": frozenset(Skill),
        "available": ((16, 28), (64, 76)),
        "weekly_cap": 20,
    }
    return PlannedPerson(**(values | changes))


def test_booked_work_takes_its_hours_and_counts_towards_the_week():
    hours = Hours(person(booked=((18, 22),)), horizon=336)
    end, shares = hours.take(16, 8)
    assert hours.segments(shares) == [(16, 18), (22, 28)]
    assert end == 28
    # 20 a week, 4 booked and 8 taken: 8 are left, not the 12 of the second day.
    assert hours.take(64, 9) is None
    assert hours.take(64, 8)[0] == 72


def test_booked_work_outside_the_hours_still_counts():
    hours = Hours(person(booked=((100, 118),)), horizon=336)
    assert hours.take(0, 3) is None
    assert hours.take(0, 2)[0] == 18


def plan_of(problem):
    return to_plan(best_first_plan(Facts(problem), tries=1))


def spots(plan, name):
    """Return kiln and start of each firing that holds something of a piece."""
    found = [
        (one.kiln, one.load_start)
        for one in (*plan.firings, *plan.fuses)
        if name
        in (
            {one.piece}
            if isinstance(one, FuseFiring)
            else {item.piece for item in one.items}
        )
    ]
    return sorted(found)


def test_booked_work_shows_to_the_checker():
    problem = studio()
    plan = plan_of(problem)
    segment = plan.work[0].segments[0]
    busy = tuple(
        replace(who, booked=(segment,)) if who.id == plan.work[0].person else who
        for who in problem.people
    )
    faults = check_plan(replace(problem, people=busy), plan).faults
    assert {fault.rule for fault in faults} == {"one thing"}


def test_a_part_leaves_the_others_where_they_stood():
    first, second = piece("A"), piece("B", due_day=40, release=500)
    published = plan_of(studio(first, second))
    # A layer of A is lost: it is painted and fired once more.
    lost = replace(first, layers=(*first.layers, (one_pass(),)))
    now = studio(lost, second)
    proposed = replan(now, published, seed=1).least.plan
    part = take_part(now, published, proposed, ["A"])
    assert part.verdict.is_valid
    assert part.taken == {"A"}
    assert part.left_over == ()
    assert spots(part.plan, "A") == spots(proposed, "A")
    assert spots(part.plan, "B") == spots(published, "B")


def test_what_cannot_stay_and_is_not_taken_is_left_over():
    first, second = piece("A"), piece("B", due_day=40, release=500)
    published = plan_of(studio(first, second))
    lost = replace(first, layers=(*first.layers, (one_pass(),)))
    now = studio(lost, second)
    proposed = replan(now, published, seed=1).least.plan
    part = take_part(now, published, proposed, [])
    assert part.left_over == ("A",)
    assert spots(part.plan, "B") == spots(published, "B")


def test_what_a_taken_piece_pushes_away_comes_with_it():
    """One kiln, and B's fuse goes where A's stood: A cannot stay there."""
    first, second = piece("A", due_day=5), piece("B", due_day=60)
    published = plan_of(studio(first, second))
    turned = studio(replace(first, due_day=60), replace(second, due_day=5))
    proposed = plan_of(turned)
    assert spots(published, "A")[-1] == spots(proposed, "B")[-1]
    part = take_part(turned, published, proposed, ["B"])
    assert part.taken == {"A", "B"}
    assert spots(part.plan, "B") == spots(proposed, "B")
    assert part.left_over == ()


def test_unknown_pieces_are_no_matter():
    problem = studio()
    plan = plan_of(problem)
    part = take_part(problem, plan, plan, ["nobody"])
    assert part.taken == frozenset()
    assert spots(part.plan, "P1") == spots(plan, "P1")
