"""Plans are ordered, saved when they are made, and put aside."""

import datetime as dt

import pytest

from firing.loads.selectors.planned import standing_plan
from firing.models import Booking, Plan, PlannedWork
from firing.plans.selectors.holding import holding_of
from firing.plans.services import acceptance, plans
from studio import jobs
from studio.errors import Refused
from studio.services.pieces import mark_lost
from tests.firing import plans_build as build

MONDAY, DAY = build.MONDAY, build.DAY

pytestmark = pytest.mark.django_db


def test_a_re_plan_lists_what_moves_and_moves_no_more(cast):
    piece = build.work(cast, titles=("Reed bed", "Saltmarsh"))
    build.burnt(cast, piece, numbers={1})
    build.accepted(cast)
    build.lose_a_layer(cast, piece)
    plan = build.again(cast)
    changed = {
        (one["what"], one["piece"], one["before"] is None)
        for one in plan.options[0]["changes"]
    }
    # The layer made again is fired anew, and nothing is dropped.
    assert ("firing", piece.pk, True) in changed
    assert all(one["after"] for one in plan.options[0]["changes"])


def test_a_plan_put_aside_books_nothing(cast):
    build.work(cast)
    plan = build.made(cast)
    plans.refuse_plan(plan=plan, by=cast.owner, at=MONDAY)
    assert not Booking.owned.for_studio(cast.studio).exists()
    with pytest.raises(Refused, match="cannot be taken: not taken"):
        acceptance.accept_plan(plan=plan, option="whole", by=cast.owner, at=MONDAY)
    with pytest.raises(Refused, match="not waiting"):
        plans.refuse_plan(plan=plan, by=cast.owner, at=MONDAY)


def kept(cast) -> list[tuple[int, bool, bool]]:
    """Return of each plan its number and whether options and facts are there."""
    rows = Plan.owned.for_studio(cast.studio).order_by("number")
    return [(one.number, bool(one.options), bool(one.facts)) for one in rows]


def test_what_old_plans_had_planned_is_forgotten_a_month_after_a_newer_one(cast):
    build.work(cast)
    old = build.accepted(cast)
    build.work(cast, titles=("Saltmarsh",))
    stands = build.again(cast)
    acceptance.accept_plan(
        plan=stands, option=stands.options[0]["name"], by=cast.owner, at=MONDAY
    )
    put_aside = build.again(cast)
    plans.refuse_plan(plan=put_aside, by=cast.owner, at=MONDAY)
    build.again(cast, at=MONDAY + DAY)
    everything = [(number, True, True) for number in (1, 2, 3, 4)]
    jobs.forget_old(now=MONDAY + 30 * DAY)
    assert kept(cast) == everything
    before = Plan.across_studios.get(pk=old.pk)
    # The first was followed by the second on Monday, the third by the last on Tuesday.
    jobs.forget_old(now=MONDAY + 30 * DAY + dt.timedelta(hours=1))
    assert kept(cast) == [(1, False, False), *everything[1:]]
    after = Plan.across_studios.get(pk=old.pk)
    for name in ("state", "taken", "closed_at", "closed_by", "facts_sha256", "made_at"):
        assert getattr(after, name) == getattr(before, name), name
    assert not PlannedWork.owned.for_studio(cast.studio).filter(plan=old).exists()
    assert jobs.forget_old(now=MONDAY + 32 * DAY) == 1
    # The standing plan and the newest keep theirs, however old they are.
    assert jobs.forget_old(now=MONDAY + 400 * DAY) == 0
    assert kept(cast) == [
        (1, False, False),
        (2, True, True),
        (3, False, False),
        (4, True, True),
    ]
    assert holding_of(standing_plan(cast.studio), now=MONDAY).holds


def test_the_newest_plan_is_kept_though_it_was_put_aside(cast, strangers):
    build.work(cast)
    plan = build.made(cast)
    plans.refuse_plan(plan=plan, by=cast.owner, at=MONDAY)
    # Another studio's newer plans are nothing to this one.
    build.work(strangers)
    build.made(strangers)
    build.made(strangers)
    assert plans.forget_contents(MONDAY + 400 * DAY) == 1
    assert kept(cast) == [(1, True, True)]
    assert kept(strangers) == [(1, False, False), (2, True, True)]


def test_where_nothing_waits_no_plan_is_ordered(cast):
    for order in (
        lambda: plans.ask_for_plan(
            studio=cast.studio, wish="new", by=cast.owner, at=MONDAY
        ),
        lambda: build.made(cast),
    ):
        with pytest.raises(Refused, match="Nothing waits to be planned"):
            order()
    piece = build.work(cast)
    mark_lost(piece=piece, by=cast.owner, at=MONDAY, note="Dropped")
    with pytest.raises(Refused, match="Plan a piece first"):
        plans.ask_for_plan(studio=cast.studio, wish="new", by=cast.owner, at=MONDAY)
    assert not Plan.owned.for_studio(cast.studio).exists()


def test_an_empty_plan_gives_back_what_was_booked_for_a_lost_piece(cast):
    piece = build.work(cast)
    build.accepted(cast)
    mark_lost(piece=piece, by=cast.owner, at=MONDAY, note="Dropped")
    plan = build.again(cast)
    acceptance.accept_plan(
        plan=plan, option=plan.options[0]["name"], by=cast.owner, at=MONDAY
    )
    standing = Booking.owned.for_studio(cast.studio).filter(cancelled_at=None)
    assert not standing.exists()
    # Now there is nothing left that another plan could move.
    with pytest.raises(Refused, match="Nothing waits"):
        build.again(cast)


def test_where_no_piece_can_be_planned_the_reasons_are_said_instead(cast):
    piece = build.work(cast)
    piece.height_mm = 5000
    piece.save()
    with pytest.raises(Refused, match="No piece in work can be planned.") as refused:
        build.made(cast)
    assert "Reed bed is not reckoned with." in str(refused.value)
