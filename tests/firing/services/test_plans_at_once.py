"""Two people accept two plans at the same moment: one wins, the other is told why."""

import threading

import pytest
from django.db import IntegrityError, connection, transaction

from firing.models import Booking, Plan
from firing.selectors.planned import planned_firings, standing_plan
from firing.services import plan_acceptance, plans
from tests.firing import plans as build
from tests.patience import LONG_S

pytestmark = pytest.mark.django_db(transaction=True)


def two_ready(cast) -> list[Plan]:
    build.work(cast, titles=("Reed bed", "Saltmarsh"))
    made = [build.made(cast), build.made(cast)]
    Plan.owned.for_studio(cast.studio).update(state="ready")
    return made


def test_of_two_who_accept_at_once_one_wins_and_the_other_is_told(cast):
    ready = two_ready(cast)
    start = threading.Barrier(2)
    ends: dict[int, object] = {}

    def accept(plan, by):
        try:
            start.wait(timeout=LONG_S)
            ends[plan.pk] = plan_acceptance.accept_plan(
                plan=plan, option="whole", by=by, at=build.MONDAY
            )
        except Exception as problem:  # noqa: BLE001 - looked at below
            ends[plan.pk] = problem
        finally:
            connection.close()

    threads = [
        threading.Thread(target=accept, args=row)
        for row in zip(ready, (cast.owner, cast.maker), strict=True)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=LONG_S)
    won = [one for one in ends.values() if isinstance(one, Plan)]
    lost = [one for one in ends.values() if not isinstance(one, Plan)]
    assert len(won) == len(lost) == 1, ends
    assert isinstance(lost[0], plan_acceptance.PlanOutdated), lost
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


def test_the_database_itself_lets_one_plan_stand(cast):
    first, second = two_ready(cast)
    Plan.across_studios.filter(pk=first.pk).update(state="accepted")
    with pytest.raises(IntegrityError), transaction.atomic():
        Plan.across_studios.filter(pk=second.pk).update(state="accepted")
