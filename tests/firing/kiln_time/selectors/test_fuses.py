"""Which kiln a fuse goes into, and what the rules say of it there."""

import datetime as dt

import pytest

from firing.kiln_time.selectors.fuses import Why, plan_fuse, problems_of
from studio.models import Closure, GlassFamily, Kiln
from studio.selectors.pieces import fresh
from tests import make
from tests.firing import build, planned_time
from tests.make import NOW

HOUR = dt.timedelta(hours=1)
DAY = 24 * HOUR
FUSE = "full fuse"
# A kiln for a stack as thick as the table goes, and slow enough for its last rows.
DEEP = {"inner_height_mm": 600, "slowest_rate_c_per_h": 0.1, "rate_step": 0.01}


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass)


@pytest.fixture
def busy(cast):
    """The studio's first kiln, taken for ten days."""
    build.booking(kiln=cast.kiln, starts_at=NOW + HOUR, hours=240)
    return cast.kiln


def planned(cast, piece, kiln=None):
    return plan_fuse(fresh(piece), kind=FUSE, kiln=kiln, viewer=cast.viewer(), now=NOW)


def row_of(cast, option):
    return cast.viewer().length(option.proposal.basis["rule_thickness_mm"])


def option(plan, kiln):
    return next(one for one in plan.kilns if one.kiln == kiln)


def test_the_kiln_that_could_be_opened_first_is_chosen(cast, piece, busy):
    free = make.kiln(studio=cast.studio, name="Second kiln")
    plan = planned(cast, piece)
    assert plan.kiln == free
    assert option(plan, free).offer.opened_at < option(plan, busy).offer.opened_at
    assert plan.why is Why.FIRST
    assert plan.kind_words == "Full fuse and anneal"


def test_a_kiln_somebody_chose_stays_chosen(cast, piece, busy):
    make.kiln(studio=cast.studio, name="Second kiln")
    plan = planned(cast, piece, busy)
    assert plan.kiln == busy
    assert not plan.why.value, "no sentence claims that it is the first"


def test_the_kiln_and_the_start_that_the_plan_keeps_come_first(cast, piece, busy):
    make.kiln(studio=cast.studio, name="Second kiln")
    plan = planned_time.standing(cast.studio)
    kept = planned_time.keep(
        plan, piece, starts_at=NOW + 20 * DAY, kind=FUSE, kiln=busy
    )
    found = planned(cast, piece)
    assert found.kiln == busy
    assert option(found, busy).offer.starts_at == kept.starts_at
    assert found.why is Why.PLANNED


def test_a_kiln_too_low_is_offered_with_its_reason_and_no_start(cast, piece):
    low = make.kiln(studio=cast.studio, name="Low kiln", inner_height_mm=60)
    found = option(planned(cast, piece), low)
    assert not found.is_fit
    assert "high inside" in found.problems[0]
    assert found.offer is None


def test_without_a_kiln_that_takes_it_there_are_no_rules(cast, piece):
    Kiln.owned.for_studio(cast.studio).update(max_temperature_c=500)
    plan = planned(cast, piece)
    assert plan.kiln is None
    assert plan.rules == ()


def test_a_kiln_taken_for_half_a_year_is_no_choice(cast, piece):
    Closure.across_studios.create(
        studio=cast.studio,
        kiln=cast.kiln,
        starts_at=NOW,
        ends_at=NOW + 400 * DAY,
        reason="Rewired",
    )
    (only,) = planned(cast, piece).kilns
    assert only.problems == ("It is not free for that long within half a year.",)


def test_only_kilns_in_use_here_are_offered(cast, strangers, piece):
    make.kiln(studio=cast.studio, name="Scrapped", is_retired=True)
    assert [one.kiln for one in planned(cast, piece).kilns] == [cast.kiln]


def test_every_rule_of_the_table_is_shown_the_slowest_first(cast, piece):
    *rules, computed = planned(cast, piece).rules
    next_row, row, exact = rules
    assert next_row.name == f"Next row, {row_of(cast, next_row)}"
    assert row.name == f"Published table, {row_of(cast, row)}"
    assert exact.name == "Exact thickness"
    assert computed.name == "Computed design"
    assert computed.is_usable
    assert computed.proposal is None, "a page does not wait for it"
    lasts = [one.proposal.booking_s for one in rules]
    assert lasts == sorted(lasts, reverse=True)
    assert not any(one.problem for one in rules)


def test_past_the_last_row_another_rule_still_gives_the_kiln_a_start(cast):
    # 135 mm: the nearest row of the table is its last, and none is thicker.
    cast.glass.sheet_thickness_mm = 45
    cast.glass.save()
    deep = make.kiln(studio=cast.studio, name="Deep kiln", **DEEP)
    plan = planned(cast, make.piece(studio=cast.studio, glass=cast.glass), deep)
    assert option(plan, deep).offer is not None
    next_row, row, *_ = plan.rules
    assert next_row.proposal is None
    assert next_row.problem
    assert row.proposal is not None
    assert plan.chosen == row, "what is offered first can be used"


def test_past_the_table_the_kiln_says_so(cast):
    cast.glass.sheet_thickness_mm = 60
    cast.glass.save()
    deep = make.kiln(studio=cast.studio, name="Deep kiln", **DEEP)
    plan = planned(cast, make.piece(studio=cast.studio, glass=cast.glass), deep)
    assert len(option(plan, deep).problems) == 1
    assert plan.kiln == deep
    assert all(one.proposal is None and one.problem for one in plan.rules[:3])


def test_glasses_that_do_not_go_together_are_refused_in_every_kiln(cast, piece):
    other = make.glass(studio=cast.studio, family=GlassFamily.EXPANSION_96)
    piece.layers.filter(number=1).update(glass=other)
    view = fresh(piece)
    assert problems_of(cast.kiln, view, FUSE, cast.viewer()) != []
    assert planned(cast, piece).kiln is None


def test_dams_need_room_on_the_shelf(cast, piece):
    # 300 by 200 mm: 50 mm of dam each side make 400 by 300.
    tight = make.kiln(studio=cast.studio, shelf_width_mm=390, shelf_depth_mm=390)
    piece.is_dammed = False
    piece.save()
    assert problems_of(tight, fresh(piece), FUSE, cast.viewer()) == []
    piece.is_dammed = True
    piece.save()
    (problem,) = problems_of(tight, fresh(piece), FUSE, cast.viewer())
    assert "with its dams" in problem
