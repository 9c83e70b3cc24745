"""Plans are ordered, kept when they are made, and put aside."""

import pytest

from firing.models import Booking
from firing.services import plan_acceptance, plans
from studio.errors import Refused
from tests.firing import plans as build

MONDAY = build.MONDAY

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
        plan_acceptance.accept_plan(plan=plan, option="whole", by=cast.owner, at=MONDAY)
    with pytest.raises(Refused, match="not waiting"):
        plans.refuse_plan(plan=plan, by=cast.owner, at=MONDAY)
