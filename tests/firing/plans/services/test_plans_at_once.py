"""Two people accept plans or book kiln time at the same moment: one wins, one learns
why.
"""

import pytest
from django.db import IntegrityError, transaction

from firing.firings.services import firings
from firing.kiln_time.services import bookings
from firing.loads.selectors.planned import planned_firings, standing_plan
from firing.models import Booking, Plan
from firing.plans.services import acceptance, plans
from firing.plans.services.replace_planned import book_over_plan, cancel_and_put_back
from tests import make
from tests.firing import build as heat
from tests.firing import planned_time
from tests.firing import plans_build as build
from tests.threads import at_once

pytestmark = pytest.mark.django_db(transaction=True)


def two_ready(cast) -> list[Plan]:
    build.work(cast, titles=("Reed bed", "Saltmarsh"))
    made = [build.made(cast), build.made(cast)]
    Plan.owned.for_studio(cast.studio).update(state="ready")
    return made


def accepting(plan, by):
    return lambda: acceptance.accept_plan(
        plan=plan, option="whole", by=by, at=build.MONDAY
    )


def test_of_two_who_accept_at_once_one_wins_and_the_other_is_told(cast):
    first, second = two_ready(cast)
    ends = at_once(accepting(first, cast.owner), accepting(second, cast.maker))
    won = [one for one in ends if isinstance(one, Plan)]
    lost = [one for one in ends if not isinstance(one, Plan)]
    assert len(won) == len(lost) == 1, ends
    assert isinstance(lost[0], acceptance.PlanOutdated), lost
    assert f"{won[0]} was accepted by" in str(lost[0])
    assert standing_plan(cast.studio) == won[0]
    held = Booking.owned.for_studio(cast.studio).filter(cancelled_at=None)
    assert held.count() == len(won[0].options[0]["record"]["firings"]) + 2
    assert held.count() == planned_firings(cast.studio).count()
    # The loser's fresh plan starts from the one that won.
    fresh = plans.ask_for_plan(
        studio=cast.studio, wish="again", by=cast.maker, at=build.MONDAY
    )
    assert fresh.state == "making"
    assert fresh.wish == "again"


def test_of_who_accepts_and_who_books_that_time_at_once_one_is_told_of_the_other(cast):
    build.work(cast)
    plan = build.made(cast)
    row = plan.options[0]["record"]["firings"][0]

    def book():
        return build.rented_out(cast, row, by=cast.maker)

    taken, booked = at_once(accepting(plan, cast.owner), book)
    if isinstance(taken, Plan):
        assert isinstance(booked, bookings.KilnTaken), booked
        assert "Enamel firing" in str(booked)
    else:
        assert isinstance(booked, Booking), (taken, booked)
        assert isinstance(taken, acceptance.PlanOutdated), taken
        assert any("“Bowls” in" in one for one in taken.changes)
    held = Booking.owned.for_studio(cast.studio).filter(cancelled_at=None)
    assert held.filter(kiln=cast.kiln, starts_at=row["starts_at"]).count() == 1


def test_the_database_itself_lets_one_plan_stand(cast):
    first, second = two_ready(cast)
    Plan.across_studios.filter(pk=first.pk).update(state="accepted")
    with pytest.raises(IntegrityError), transaction.atomic():
        Plan.across_studios.filter(pk=second.pk).update(state="accepted")


@pytest.fixture
def kept(cast):
    """Kiln time that a plan keeps for nothing, and painted layers of another piece."""
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    plan = planned_time.standing(cast.studio)
    held = planned_time.keep(plan, piece, starts_at=build.MONDAY, kiln=cast.kiln)
    other = make.piece(studio=cast.studio, glass=cast.glass, title="Weir")
    return held, heat.painted(other)


def renting(cast, held):
    return lambda: book_over_plan(
        studio=cast.studio,
        kiln=cast.kiln,
        kind="rental",
        title="Bowls",
        starts_at=held.starts_at,
        ends_at=held.ends_at,
        by=cast.maker,
        at=build.MONDAY,
    )


def loading(cast, held, passes):
    return lambda: firings.make_up_enamel_firing(
        studio=cast.studio,
        kiln=cast.kiln,
        passes=passes,
        starts_at=held.starts_at,
        by=cast.owner,
        at=build.MONDAY,
    )


def test_of_two_who_want_a_kiln_kept_for_nothing_one_gets_it(cast, kept):
    held, passes = kept
    ends = at_once(loading(cast, held, passes), renting(cast, held))
    lost = [one for one in ends if isinstance(one, Exception)]
    assert len(lost) == 1, ends
    assert isinstance(lost[0], bookings.KilnTaken), lost
    standing = Booking.owned.for_studio(cast.studio).filter(cancelled_at=None)
    assert standing.count() == 1
    assert planned_firings(cast.studio).count() == 0


def test_undoing_and_booking_at_once_leave_the_kiln_to_one(cast, kept):
    held, passes = kept
    bowls = renting(cast, held)()

    def undo():
        return cancel_and_put_back(
            booking=bowls, reason="", by=cast.maker, at=build.MONDAY
        )

    told, firing = at_once(undo, loading(cast, held, passes))
    standing = Booking.owned.for_studio(cast.studio).filter(cancelled_at=None)
    if isinstance(firing, Exception):
        assert isinstance(firing, bookings.KilnTaken), firing
        assert told, "the plan has its place again"
        assert standing.get() == held
    else:
        assert standing.get() == firing.booking
