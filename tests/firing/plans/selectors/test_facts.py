"""The facts that a plan is computed from."""

import datetime as dt

import pytest

from firing.firings.services import firings
from firing.plans.selectors.events import changes_between
from firing.plans.selectors.fact_kinds import PassFact, fingerprint
from firing.plans.selectors.facts import plan_facts
from studio.services import layers
from tests import make
from tests.firing import build as heat
from tests.firing import plans_build as build

pytestmark = pytest.mark.django_db
MONDAY, DAY = build.MONDAY, build.DAY


def test_nothing_done_is_no_change_on_any_day(cast):
    build.work(cast)
    heat.booking(kiln=cast.kiln, starts_at=MONDAY + DAY)
    before = plan_facts(cast.studio, MONDAY)
    later = plan_facts(cast.studio, MONDAY + dt.timedelta(hours=3))
    assert fingerprint(before) == fingerprint(later)
    # Its time passed, and nobody did anything.
    after = plan_facts(cast.studio, MONDAY + 9 * DAY)
    over = MONDAY + 9 * DAY
    assert changes_between(before, after, viewer=cast.viewer(), now=over) == []


def test_where_a_pass_is_to_be_fired_is_a_fact(cast):
    piece = build.work(cast)

    def places():
        facts = plan_facts(cast.studio, MONDAY)
        return {one.place for one in facts.values() if isinstance(one, PassFact)}

    assert places() == {""}
    build.accepted(cast)
    assert places() == {"planned"}
    passes = make.passes_of(piece)
    layers.record_painted(passes=passes, by=cast.owner, at=MONDAY, minutes=60)
    row = build.planned(cast)[0]
    firing = firings.make_up_enamel_firing(
        studio=cast.studio,
        kiln=cast.kiln,
        passes=passes,
        starts_at=row.booking.starts_at,
        by=cast.owner,
        at=MONDAY,
    )
    assert places() == {"loaded"}
    firings.cancel_firing(firing=firing, reason="", by=cast.owner, at=MONDAY)
    assert places() == {"planned"}, "it has its place back"
