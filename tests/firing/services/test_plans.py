"""A plan becomes bookings: taken whole or in part, confirmed, replaced, taken over."""

import dataclasses
import datetime as dt

import pytest

from firing.models import Booking, Firing, Plan, PlannedFiring, PlannedWork
from firing.selectors.plan_holding import holding_of
from firing.selectors.planned import planned_firings, planned_stack, standing_plan
from firing.selectors.planning import compute
from firing.selectors.plans import plans_the_clock_broke
from firing.selectors.proposals import propose_load
from firing.services import bookings, firings, moves, plans, running
from firing.services.plan_watch import keep_holding, look_at_the_clock
from studio.errors import Refused
from studio.models import HistoryEntry, Job, Layer
from studio.services import layers
from tests import make
from tests.firing import plans as build

MONDAY, DAY = build.MONDAY, build.DAY

pytestmark = pytest.mark.django_db


def planned(cast):
    return list(planned_firings(cast.studio))


def lose_a_layer(cast, piece, *, number=1, at=MONDAY):
    """Lose a layer that was burnt: it is made again."""
    layers.make_again(
        layer=Layer.across_studios.get(piece=piece, number=number),
        reason="Cracked on the light table",
        by=cast.owner,
        at=at,
    )


def burnt(cast, piece, *, numbers, at=MONDAY):
    for of_pass in make.passes_of(piece):
        if of_pass.sheet.layer.number in numbers:
            layers.record_painted(passes=[of_pass], by=cast.owner, at=at, minutes=60)
            layers.record_outcome(of_pass=of_pass, outcome="fine", by=cast.owner, at=at)


def again(cast, *, at=MONDAY):
    """Order a re-plan and do it here."""
    plan = plans.ask_for_plan(studio=cast.studio, wish="again", by=cast.owner, at=at)
    made = compute(
        plan, now=at, watch=lambda _: None, fence=lambda: False, units=build.UNITS
    )
    plans.keep_plan(plan=plan, made=made, at=at)
    return plan


def test_a_taken_plan_is_provisional_bookings_with_their_curves_and_loads(cast):
    piece = build.work(cast)
    plan = build.accepted(cast)
    rows = planned(cast)
    assert [row.kind for row in rows] == ["enamel", "full fuse"]
    for row in rows:
        assert row.booking.is_provisional
        assert row.booking.planned_curve
        assert row.booking.opens_at <= row.unload_at < row.booking.ends_at
    assert {item.layer.number for item in rows[0].items.all()} == {1, 2, 3}
    assert [item.piece for item in rows[1].items.all()] == [piece]
    assert rows[1].booking.title == "Full fuse and anneal of Reed bed"
    tasks = PlannedWork.owned.for_studio(cast.studio).filter(plan=plan)
    assert sorted(tasks.values_list("task", flat=True)) == [
        "assembly",
        "coldwork",
        "paint",
        "paint",
        "paint",
    ]
    line = HistoryEntry.owned.for_studio(cast.studio).filter(
        what="Accepted plan 1 of the kilns: 2 firings"
    )
    assert line.exists()


def test_a_plan_is_taken_once(cast):
    build.work(cast)
    plan = build.made(cast)
    plans.accept_plan(plan=plan, option="whole", by=cast.owner, at=MONDAY)
    with pytest.raises(Refused, match="Plan 1 was accepted already by"):
        plans.accept_plan(plan=plan, option="whole", by=cast.maker, at=MONDAY)


def test_of_two_plans_from_the_same_facts_the_second_is_refused_and_told_why(cast):
    build.work(cast)
    first, second = build.made(cast), build.made(cast)
    Plan.across_studios.filter(pk=first.pk).update(state="ready")
    plans.accept_plan(plan=first, option="whole", by=cast.owner, at=MONDAY)
    with pytest.raises(plans.PlanOutdated, match="Plan 1 was accepted by .* after"):
        plans.accept_plan(plan=second, option="whole", by=cast.maker, at=MONDAY)
    assert standing_plan(cast.studio) == first


def test_what_happened_since_is_told_when_a_plan_no_longer_fits(cast):
    build.work(cast)
    plan = build.made(cast)
    for row in plan.options[0]["record"]["firings"]:
        bookings.book_kiln(
            studio=cast.studio,
            kiln=cast.kiln,
            kind="rental",
            title="Bowls",
            starts_at=dt.datetime.fromisoformat(row["starts_at"]),
            ends_at=dt.datetime.fromisoformat(row["ends_at"]),
            by=None,
            at=MONDAY,
        )
    with pytest.raises(plans.PlanOutdated, match="no longer fits") as refused:
        plans.accept_plan(plan=plan, option="whole", by=cast.owner, at=MONDAY)
    assert any("“Bowls” in" in one for one in refused.value.changes)
    assert not PlannedFiring.across_studios.exists()
    assert standing_plan(cast.studio) is None


def test_what_does_not_touch_the_plan_does_not_stop_it(cast):
    piece = build.work(cast)
    plan = build.made(cast)
    layers.record_painted(
        passes=make.passes_of(piece)[:1], by=cast.owner, at=MONDAY, minutes=60
    )
    plans.accept_plan(plan=plan, option="whole", by=cast.owner, at=MONDAY)
    assert len(planned(cast)) == 2


def test_a_plan_whose_first_loading_is_over_is_too_old(cast):
    build.work(cast)
    plan = build.made(cast)
    with pytest.raises(plans.PlanOutdated, match="too old"):
        plans.accept_plan(plan=plan, option="whole", by=cast.owner, at=MONDAY + 9 * DAY)


def test_a_newer_plan_replaces_provisional_bookings_and_keeps_confirmed_ones(cast):
    piece = build.work(cast)
    build.accepted(cast)
    enamel, fuse = planned(cast)
    plans.confirm(
        studio=cast.studio, bookings=[enamel.booking_id], by=cast.owner, at=MONDAY
    )
    build.work(cast, titles=("Saltmarsh",))
    newer = again(cast)
    assert newer.wish == "again"
    plans.accept_plan(
        plan=newer, option=newer.options[0]["name"], by=cast.owner, at=MONDAY
    )
    kept = Booking.across_studios.get(pk=enamel.booking_id)
    assert kept.cancelled_at is None
    assert not kept.is_provisional
    rows = planned(cast)
    assert {row.plan_id for row in rows} == {newer.pk}
    assert enamel.booking_id in {row.booking_id for row in rows}
    # The fuse of the first piece stays where it was: its booking is the same one.
    assert fuse.booking_id in {row.booking_id for row in rows}
    states = Plan.owned.for_studio(cast.studio).order_by("number")
    assert list(states.values_list("state", flat=True)) == ["superseded", "accepted"]
    # The painting for the confirmed firing was handed on to the plan that stands.
    handed = PlannedWork.across_studios.filter(plan=newer, piece=piece, task="paint")
    assert handed.count() == 3


def test_confirming_a_fuse_confirms_what_must_be_fired_before(cast):
    build.work(cast)
    build.accepted(cast)
    fuse = planned(cast)[-1]
    count = plans.confirm(
        studio=cast.studio, bookings=[fuse.booking_id], by=cast.owner, at=MONDAY
    )
    assert count == 2
    assert not any(row.booking.is_provisional for row in planned(cast))
    with pytest.raises(Refused, match="no provisional booking"):
        plans.confirm(studio=cast.studio, bookings=None, by=cast.owner, at=MONDAY)


def test_what_was_given_back_while_one_waited_is_not_confirmed(cast, monkeypatch):
    build.work(cast)
    build.accepted(cast)

    def waits(studio):
        # As somebody who takes another plan leaves it.
        rows = Booking.owned.for_studio(studio).filter(is_provisional=True)
        rows.update(cancelled_at=MONDAY)

    monkeypatch.setattr(plans, "lock_all_kilns", waits)
    before = HistoryEntry.owned.for_studio(cast.studio).count()
    with pytest.raises(Refused, match="no provisional booking"):
        plans.confirm(studio=cast.studio, bookings=None, by=cast.owner, at=MONDAY)
    assert HistoryEntry.owned.for_studio(cast.studio).count() == before


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


def test_confirmed_firings_are_fixed_for_the_next_plan(cast):
    build.work(cast)
    build.accepted(cast)
    plans.confirm(studio=cast.studio, bookings=None, by=cast.owner, at=MONDAY)
    before = {row.booking_id: row.booking.starts_at for row in planned(cast)}
    newer = again(cast)
    record = newer.options[0]["record"]
    assert record["firings"] == record["fuses"] == []
    assert [row["task"] for row in record["work"]] == ["coldwork"]
    plans.accept_plan(
        plan=newer, option=newer.options[0]["name"], by=cast.owner, at=MONDAY
    )
    after = {row.booking_id: row.booking.starts_at for row in planned(cast)}
    assert after == before


def test_a_lost_layer_breaks_the_plan_and_another_is_ordered_with_the_reason(cast):
    piece = build.work(cast)
    burnt(cast, piece, numbers={1})
    plan = build.accepted(cast)
    lose_a_layer(cast, piece)
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


def test_painting_as_planned_and_starting_on_time_break_nothing(cast):
    piece = build.work(cast)
    plan = build.accepted(cast)
    for of_pass in make.passes_of(piece):
        layers.record_painted(passes=[of_pass], by=cast.owner, at=MONDAY, minutes=60)
    assert holding_of(plan, now=MONDAY).holds


def test_a_loading_that_nobody_did_breaks_the_plan(cast):
    build.work(cast)
    plan = build.accepted(cast)
    later = planned(cast)[0].booking.starts_at + dt.timedelta(hours=1)
    found = holding_of(plan, now=later)
    assert not found.holds
    assert "was to be loaded" in found.sentences[0]


def test_a_cancelled_booking_breaks_the_plan(cast):
    build.work(cast)
    plan = build.accepted(cast)
    enamel = planned(cast)[0]
    bookings.cancel_booking(
        booking=enamel.booking, reason="Kiln wash", by=cast.owner, at=MONDAY
    )
    found = holding_of(plan, now=MONDAY)
    assert not found.holds
    assert "no longer stands" in found.sentences[0]


def test_a_re_plan_lists_what_moves_and_moves_no_more(cast):
    piece = build.work(cast, titles=("Reed bed", "Saltmarsh"))
    burnt(cast, piece, numbers={1})
    build.accepted(cast)
    lose_a_layer(cast, piece)
    plan = again(cast)
    changed = {
        (one["what"], one["piece"], one["before"] is None)
        for one in plan.options[0]["changes"]
    }
    # The layer made again is fired anew, and nothing is dropped.
    assert ("firing", piece.pk, True) in changed
    assert all(one["after"] for one in plan.options[0]["changes"])


def test_a_part_of_a_re_plan_leaves_the_other_pieces_where_they_were(cast):
    first = build.work(cast, titles=("Reed bed", "Saltmarsh"))
    burnt(cast, first, numbers={1})
    build.accepted(cast)
    lose_a_layer(cast, first)
    plan = again(cast)
    others = {
        row.booking_id: row.booking.starts_at
        for row in planned(cast)
        if row.kind == "full fuse" and row.items.get().piece != first
    }
    plans.accept_plan(
        plan=plan,
        option=plan.options[-1]["name"],
        by=cast.owner,
        at=MONDAY,
        pieces=[first.pk],
    )
    taken = standing_plan(cast.studio)
    assert taken == plan
    assert taken.taken == "part"
    rows = {row.booking_id: row.booking.starts_at for row in planned(cast)}
    changed = {one["piece"] for one in taken.options[0]["changes"]}
    if changed == {first.pk}:
        assert others.items() <= rows.items()
    again_in = [
        item
        for row in planned(cast)
        for item in row.items.all()
        if item.piece == first and item.layer_id and item.layer.number == 1
    ]
    assert [item.attempt for item in again_in] == [2]


def test_a_plan_put_aside_books_nothing(cast):
    build.work(cast)
    plan = build.made(cast)
    plans.refuse_plan(plan=plan, by=cast.owner, at=MONDAY)
    assert not Booking.owned.for_studio(cast.studio).exists()
    with pytest.raises(Refused, match="cannot be taken: not taken"):
        plans.accept_plan(plan=plan, option="whole", by=cast.owner, at=MONDAY)
    with pytest.raises(Refused, match="not waiting"):
        plans.refuse_plan(plan=plan, by=cast.owner, at=MONDAY)


def test_no_real_firing_is_moved_by_a_plan(cast):
    piece = build.work(cast)
    for of_pass in make.passes_of(piece):
        layers.record_painted(passes=[of_pass], by=cast.owner, at=MONDAY, minutes=60)
    firing = firings.make_up_enamel_firing(
        studio=cast.studio,
        kiln=cast.kiln,
        passes=make.passes_of(piece),
        starts_at=MONDAY + DAY,
        by=cast.owner,
        at=MONDAY,
    )
    before = (firing.booking.starts_at, firing.booking.ends_at)
    build.accepted(cast)
    kept = Firing.across_studios.get(pk=firing.pk).booking
    assert (kept.starts_at, kept.ends_at) == before
    assert [row.kind for row in planned(cast)] == ["full fuse"]
    assert planned(cast)[0].booking.starts_at >= kept.ends_at


def test_a_planned_load_that_a_person_moves_stays_where_it_was_put(cast):
    build.work(cast)
    plan = build.accepted(cast)
    enamel, fuse = planned(cast)
    bookings.cancel_booking(
        booking=fuse.booking, reason="Later", by=cast.owner, at=MONDAY
    )
    moved = moves.move_booking(
        booking=enamel.booking,
        kiln=cast.kiln,
        starts_at=enamel.booking.starts_at - dt.timedelta(hours=1),
        by=cast.owner,
        at=MONDAY,
    )
    assert not moved.is_provisional
    newer = again(cast)
    assert newer.options[0]["record"]["firings"] == []
    assert len(newer.options[0]["record"]["fuses"]) == 1
    assert newer.based_on == plan


def test_the_forms_propose_what_the_plan_has(cast):
    piece = build.work(cast)
    make.kiln(studio=cast.studio, name="Other")
    build.accepted(cast)
    enamel, fuse = planned(cast)
    for of_pass in make.passes_of(piece):
        layers.record_painted(passes=[of_pass], by=cast.owner, at=MONDAY, minutes=60)
    load = propose_load(
        studio=cast.studio,
        kilns=[cast.kiln],
        kiln=None,
        ticked=None,
        reader=cast.reader(),
        now=MONDAY,
    )
    assert (load.kiln, load.starts_at) == (
        enamel.booking.kiln,
        enamel.booking.starts_at,
    )
    assert "The plan has layers 1, 2, 3 of Reed bed in" in load.planned
    assert planned_stack(piece, after=MONDAY) == fuse


def test_a_firing_that_runs_over_breaks_the_plan_and_what_follows_moves(cast):
    piece = build.work(cast)
    plan = build.accepted(cast)
    enamel, fuse = planned(cast)
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
    late = planned(cast)[0].booking.starts_at + dt.timedelta(hours=1)
    looks = Job.owned.for_studio(cast.studio).filter(name="firing.watch_plan")
    look_at_the_clock(late)
    look_at_the_clock(late)
    assert looks.count() == 1
    looks.update(state="failed", finished_at=late)
    look_at_the_clock(late + dt.timedelta(minutes=59))
    assert looks.count() == 1
    look_at_the_clock(late + dt.timedelta(minutes=61))
    assert looks.filter(state="waiting").count() == 1
