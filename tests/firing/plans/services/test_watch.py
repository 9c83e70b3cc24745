"""Looking after the standing plan: noticing when it breaks, and ordering another."""

import dataclasses
import datetime as dt

import pytest

from firing.firings.services import firings, running
from firing.plans.selectors.fact_kinds import facts_from_json, fingerprint
from firing.plans.selectors.holding import holding_of
from firing.plans.selectors.planning import compute
from firing.plans.selectors.plans import plans_the_clock_broke
from firing.plans.services import plans
from firing.plans.services.watch import keep_holding, look_at_the_clock
from studio.models import Job
from studio.services import layers
from tests import make
from tests.firing import plans_build as build

MONDAY = build.MONDAY

pytestmark = pytest.mark.django_db


def test_an_earlier_look_that_ends_late_does_not_replace_a_later_one(cast):
    build.work(cast)
    plan = build.accepted(cast)
    found = holding_of(plan, now=MONDAY)
    broken = dataclasses.replace(found, holds=False, sentences=("It was late.",))
    later = MONDAY + dt.timedelta(minutes=1)
    keep_holding(plan=plan, found=found, at=later)
    assert keep_holding(plan=plan, found=broken, at=MONDAY) is None
    plan.refresh_from_db()
    assert (plan.holds, plan.troubles, plan.troubles_at) == (True, [], later)


def test_a_lost_layer_breaks_the_plan_and_another_is_ordered_with_the_reason(cast):
    piece = build.work(cast)
    build.burnt(cast, piece, numbers={1})
    plan = build.accepted(cast)
    build.lose_a_layer(cast, piece)
    watching = Job.owned.for_studio(cast.studio).filter(name="firing.watch_plan")
    assert watching.count() == 1
    found = holding_of(plan, now=MONDAY)
    assert not found.holds
    assert found.sentences == (
        "Layer 1 of Reed bed: set aside and made again (Cracked on the light table).",
    )
    ordered = keep_holding(plan=plan, found=found, at=MONDAY)
    assert ordered.wish == "again"
    assert ordered.why == list(found.sentences)
    plan.refresh_from_db()
    assert not plan.holds
    # One that is being made is not ordered a second time.
    assert keep_holding(plan=plan, found=found, at=MONDAY) is None


def test_a_plan_that_holds_forgets_facts_of_an_old_form(cast):
    build.work(cast)
    plan = build.accepted(cast)
    plan.facts, plan.facts_sha256 = build.OLD_FACTS, "0" * 64
    plan.save()
    found = holding_of(plan, now=MONDAY)
    assert (found.holds, found.sentences) == (True, ())
    keep_holding(plan=plan, found=found, at=MONDAY)
    plan.refresh_from_db()
    assert facts_from_json(plan.facts) == found.facts
    assert plan.facts_sha256 == fingerprint(found.facts)


def test_a_firing_that_runs_over_breaks_the_plan_and_what_follows_moves(cast):
    piece = build.work(cast)
    plan = build.accepted(cast)
    enamel, fuse = build.planned(cast)
    for of_pass in make.passes_of(piece):
        layers.record_painted(passes=[of_pass], by=cast.owner, at=MONDAY, minutes=60)
    firing = firings.make_up_enamel_firing(
        studio=cast.studio,
        kiln=enamel.booking.kiln,
        passes=make.passes_of(piece),
        starts_at=enamel.booking.starts_at,
        by=cast.owner,
        at=MONDAY,
    )
    running.start_firing(firing=firing, by=cast.owner, at=firing.booking.starts_at)
    firing.booking.refresh_from_db()
    in_time = firing.booking.ends_at - dt.timedelta(minutes=30)
    assert holding_of(plan, now=in_time).holds
    assert plans_the_clock_broke(in_time) == []
    # Nobody opens it: an hour before the fuse the layers are still in the kiln.
    late = fuse.booking.starts_at - dt.timedelta(hours=1)
    assert plans_the_clock_broke(late) == [plan]
    found = holding_of(plan, now=late)
    assert not found.holds
    assert "holds its kiln longer than planned" in found.sentences[0]
    ordered = keep_holding(plan=plan, found=found, at=late)
    made = compute(
        ordered, now=late, watch=lambda _: None, fence=lambda: False, units=build.UNITS
    )
    plans.keep_plan(plan=ordered, made=made, at=late)
    ordered.refresh_from_db()
    moved = [one for one in ordered.options[0]["changes"] if one["what"] == "fuse"]
    assert [one["piece"] for one in moved] == [piece.pk]
    assert moved[0]["before"] < moved[0]["after"]


def test_a_look_that_failed_is_not_ordered_again_at_every_sweep(cast):
    build.work(cast)
    build.accepted(cast)
    Job.owned.for_studio(cast.studio).delete()
    late = build.planned(cast)[0].booking.starts_at + dt.timedelta(hours=1)
    looks = Job.owned.for_studio(cast.studio).filter(name="firing.watch_plan")
    look_at_the_clock(late)
    look_at_the_clock(late)
    assert looks.count() == 1
    looks.update(state="failed", finished_at=late)
    look_at_the_clock(late + dt.timedelta(minutes=59))
    assert looks.count() == 1
    look_at_the_clock(late + dt.timedelta(minutes=61))
    assert looks.filter(state="waiting").count() == 1
