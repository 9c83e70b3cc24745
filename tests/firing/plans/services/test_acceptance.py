"""Accepting a plan, whole or in part, turns it into provisional bookings."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from firing.firings.services import firings
from firing.kiln_time.services.bookings import KilnTaken
from firing.loads.selectors.planned import standing_plan
from firing.models import Booking, Firing, Plan, PlannedFiring, PlannedWork
from firing.plans.selectors.events import NOT_KNOWN
from firing.plans.selectors.fact_kinds import VERSION, fingerprint
from firing.plans.selectors.facts import plan_facts
from firing.plans.services import acceptance, confirmation, planned_rows
from studio.errors import Refused
from studio.models import Closure, HistoryEntry
from studio.services import layers
from tests import make
from tests.firing import plans_build as build

MONDAY, DAY = build.MONDAY, build.DAY

pytestmark = pytest.mark.django_db


def test_a_taken_plan_is_provisional_bookings_with_their_curves_and_loads(cast):
    piece = build.work(cast)
    plan = build.accepted(cast)
    rows = build.planned(cast)
    assert [row.kind for row in rows] == ["enamel", "full fuse"]
    for row in rows:
        assert row.booking.is_provisional
        assert row.booking.planned_curve
        assert row.booking.opens_at <= row.unload_at < row.booking.ends_at
    assert {item.layer.number for item in rows[0].items.all()} == {1, 2, 3}
    assert [item.piece for item in rows[1].items.all()] == [piece]
    assert rows[1].booking.title == "Full fuse and anneal: Reed bed"
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
    acceptance.accept_plan(plan=plan, option="whole", by=cast.owner, at=MONDAY)
    with pytest.raises(Refused, match="Plan 1 was accepted already by"):
        acceptance.accept_plan(plan=plan, option="whole", by=cast.maker, at=MONDAY)


def test_of_two_plans_from_the_same_facts_the_second_is_refused_and_told_why(cast):
    build.work(cast)
    first, second = build.made(cast), build.made(cast)
    Plan.across_studios.filter(pk=first.pk).update(state="ready")
    acceptance.accept_plan(plan=first, option="whole", by=cast.owner, at=MONDAY)
    with pytest.raises(
        acceptance.PlanOutdated, match="Plan 1 was accepted by .* after"
    ):
        acceptance.accept_plan(plan=second, option="whole", by=cast.maker, at=MONDAY)
    assert standing_plan(cast.studio) == first


def test_what_happened_since_is_told_when_a_plan_no_longer_fits(cast):
    build.work(cast)
    plan = build.made(cast)
    for row in plan.options[0]["record"]["firings"]:
        build.rented_out(cast, row)
    with pytest.raises(acceptance.PlanOutdated, match="no longer fits") as refused:
        acceptance.accept_plan(plan=plan, option="whole", by=cast.owner, at=MONDAY)
    assert any("“Bowls” in" in one for one in refused.value.changes)
    assert not PlannedFiring.across_studios.exists()
    assert standing_plan(cast.studio) is None


@pytest.mark.parametrize("is_rented_out", [False, True])
def test_a_plan_with_facts_of_an_old_form_is_checked_anew(cast, is_rented_out):
    build.work(cast)
    plan = build.made(cast)
    plan.facts, plan.facts_sha256 = build.OLD_FACTS, "0" * 64
    plan.save()
    take = {"plan": plan, "option": "whole", "by": cast.owner, "at": MONDAY}
    if is_rented_out:
        build.rented_out(cast, plan.options[0]["record"]["firings"][0])
        with pytest.raises(acceptance.PlanOutdated) as refused:
            acceptance.accept_plan(**take)
        assert refused.value.changes == (NOT_KNOWN,)
    else:
        assert acceptance.accept_plan(**take).facts["version"] == VERSION


def test_what_does_not_touch_the_plan_does_not_stop_it(cast):
    piece = build.work(cast)
    plan = build.made(cast)
    layers.record_painted(
        passes=make.passes_of(piece)[:1], by=cast.owner, at=MONDAY, minutes=60
    )
    acceptance.accept_plan(plan=plan, option="whole", by=cast.owner, at=MONDAY)
    assert len(build.planned(cast)) == 2


def test_a_plan_whose_first_loading_is_over_is_too_old(cast):
    build.work(cast)
    plan = build.made(cast)
    with pytest.raises(acceptance.PlanOutdated, match="too old"):
        acceptance.accept_plan(
            plan=plan, option="whole", by=cast.owner, at=MONDAY + 9 * DAY
        )


def test_a_newer_plan_replaces_provisional_bookings_and_keeps_confirmed_ones(cast):
    piece = build.work(cast)
    build.accepted(cast)
    enamel, fuse = build.planned(cast)
    confirmation.confirm(
        studio=cast.studio, bookings=[enamel.booking_id], by=cast.owner, at=MONDAY
    )
    build.work(cast, titles=("Saltmarsh",))
    newer = build.again(cast)
    assert newer.wish == "again"
    acceptance.accept_plan(
        plan=newer, option=newer.options[0]["name"], by=cast.owner, at=MONDAY
    )
    kept = Booking.across_studios.get(pk=enamel.booking_id)
    assert kept.cancelled_at is None
    assert not kept.is_provisional
    rows = build.planned(cast)
    assert {row.plan_id for row in rows} == {newer.pk}
    assert enamel.booking_id in {row.booking_id for row in rows}
    # The fuse of the first piece stays where it was: its booking is the same one.
    assert fuse.booking_id in {row.booking_id for row in rows}
    states = Plan.owned.for_studio(cast.studio).order_by("number")
    assert list(states.values_list("state", flat=True)) == ["superseded", "accepted"]
    # The painting for the confirmed firing was handed on to the plan that stands.
    handed = PlannedWork.across_studios.filter(plan=newer, piece=piece, task="paint")
    assert handed.count() == 3


def test_a_part_of_a_re_plan_leaves_the_other_pieces_where_they_were(cast):
    first = build.work(cast, titles=("Reed bed", "Saltmarsh"))
    build.burnt(cast, first, numbers={1})
    build.accepted(cast)
    build.lose_a_layer(cast, first)
    plan = build.again(cast)
    others = {
        row.booking_id: row.booking.starts_at
        for row in build.planned(cast)
        if row.kind == "full fuse" and row.items.get().piece != first
    }
    acceptance.accept_plan(
        plan=plan,
        option=plan.options[-1]["name"],
        by=cast.owner,
        at=MONDAY,
        pieces=[first.pk],
    )
    taken = standing_plan(cast.studio)
    assert taken == plan
    assert taken.taken == "part"
    rows = {row.booking_id: row.booking.starts_at for row in build.planned(cast)}
    changed = {one["piece"] for one in taken.options[0]["changes"]}
    if changed == {first.pk}:
        assert others.items() <= rows.items()
    again_in = [
        item
        for row in build.planned(cast)
        for item in row.items.all()
        if item.piece == first and item.layer_id and item.layer.number == 1
    ]
    assert [item.attempt for item in again_in] == [2]


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
    assert [row.kind for row in build.planned(cast)] == ["full fuse"]
    assert build.planned(cast)[0].booking.starts_at >= kept.ends_at


def taken_in(cast, plan) -> int:
    """Take a plan and return how many queries that was."""
    with CaptureQueriesContext(connection) as asked:
        acceptance.accept_plan(
            plan=plan, option=plan.options[0]["name"], by=cast.owner, at=MONDAY
        )
    return len(asked)


def test_a_plan_of_many_firings_is_taken_in_no_more_queries(cast, strangers):
    build.work(cast)
    few = taken_in(cast, build.made(cast))
    build.work(strangers, titles=("Reed bed", "Saltmarsh", "Weir"))
    many = taken_in(strangers, build.made(strangers))
    assert len(build.planned(strangers)) >= 2 + len(build.planned(cast))
    assert many == few
    # What stays, what moves and what is confirmed: the next plan is as quick to take.
    first = build.planned(strangers)[0]
    confirmation.confirm(
        studio=strangers.studio, bookings=[first.booking_id], by=None, at=MONDAY
    )
    build.work(strangers, titles=("Groyne",))
    before = {row.booking_id for row in build.planned(strangers)}
    again = taken_in(strangers, build.again(strangers))
    assert before & {row.booking_id for row in build.planned(strangers)}
    assert again <= few + 16


def test_the_booking_or_the_closure_in_the_way_of_a_plan_is_named(cast):
    """Past every look at the facts: what comes between is refused in words, and whole."""
    build.work(cast)
    plan = build.made(cast)
    record = plan.options[0]["record"]
    row = max([*record["firings"], *record["fuses"]], key=lambda one: one["starts_at"])
    rows = planned_rows.prepare(cast.studio, record)
    booked = build.rented_out(cast, row)
    with pytest.raises(KilnTaken, match="is taken by “Bowls”"):
        planned_rows.write(plan, rows, record["work"], by=None, at=MONDAY)
    booked.delete()
    Closure.across_studios.create(
        studio=cast.studio,
        kiln=cast.kiln,
        starts_at=row["starts_at"],
        ends_at=row["ends_at"],
        reason="New elements",
    )
    with pytest.raises(KilnTaken, match="is closed from .*: New elements"):
        planned_rows.write(plan, rows, record["work"], by=None, at=MONDAY)
    assert not Booking.owned.for_studio(cast.studio).exists()


def between(monkeypatch, happens):
    """Let something happen each time that a plan was worked out and no row is held."""
    prepare, times = planned_rows.prepare, []

    def prepared(studio, record):
        found = prepare(studio, record)
        times.append(None)
        happens(len(times))
        return found

    monkeypatch.setattr(planned_rows, "prepare", prepared)
    return times


def paint(cast, of_pass):
    layers.record_painted(passes=[of_pass], by=cast.owner, at=MONDAY, minutes=60)


def test_what_is_recorded_while_a_plan_is_worked_out_is_looked_at_before_it_stands(
    cast, monkeypatch
):
    piece = build.work(cast)
    plan = build.made(cast)
    passes = make.passes_of(piece)

    def happens(time):
        if time == 1:
            paint(cast, passes[0])

    times = between(monkeypatch, happens)
    acceptance.accept_plan(plan=plan, option="whole", by=cast.owner, at=MONDAY)
    assert len(times) == 2
    taken = standing_plan(cast.studio)
    assert taken.facts_sha256 == fingerprint(plan_facts(cast.studio, MONDAY))
    paints = PlannedWork.owned.for_studio(cast.studio).filter(plan=taken, task="paint")
    assert passes[0].pk not in paints.values_list("of_pass", flat=True)


def test_who_books_the_kiln_while_a_plan_is_worked_out_keeps_it(cast, monkeypatch):
    build.work(cast)
    plan = build.made(cast)
    row = plan.options[0]["record"]["firings"][0]

    def happens(time):
        build.rented_out(cast, row)

    between(monkeypatch, happens)
    with pytest.raises(acceptance.PlanOutdated, match="no longer fits") as refused:
        acceptance.accept_plan(plan=plan, option="whole", by=cast.owner, at=MONDAY)
    assert any("“Bowls” in" in one for one in refused.value.changes)
    held = Booking.owned.for_studio(cast.studio).filter(cancelled_at=None)
    assert [one.title for one in held] == ["Bowls"]


def test_where_all_the_while_something_is_recorded_nothing_is_taken(cast, monkeypatch):
    piece = build.work(cast, layers=6)
    plan = build.made(cast)
    passes = make.passes_of(piece)
    between(monkeypatch, lambda time: paint(cast, passes[time]))
    with pytest.raises(Refused, match="Plan 1 was not taken; take it again"):
        acceptance.accept_plan(plan=plan, option="whole", by=cast.owner, at=MONDAY)
    assert standing_plan(cast.studio) is None
    assert not Booking.owned.for_studio(cast.studio).exists()


def holding_nothing(module, name, computed):
    """Wrap a function of a module: it must not be called inside a transaction."""
    does = getattr(module, name)

    def called(*given, **named):
        computed.append(name)
        assert not connection.in_atomic_block
        return does(*given, **named)

    return called


@pytest.mark.django_db(transaction=True)
def test_nothing_is_held_while_a_plan_is_worked_out(cast, monkeypatch):
    piece = build.work(cast)
    plan = build.made(cast)
    # Another fact, so that the plan is checked anew as well.
    paint(cast, make.passes_of(piece)[0])
    computed = []
    for module, name in (
        (planned_rows, "propose_enamel"),
        (planned_rows, "propose_stack"),
        (acceptance, "source_of"),
        (acceptance, "check_plan"),
    ):
        monkeypatch.setattr(module, name, holding_nothing(module, name, computed))
    acceptance.accept_plan(plan=plan, option="whole", by=cast.owner, at=MONDAY)
    assert set(computed) == {
        "propose_enamel",
        "propose_stack",
        "source_of",
        "check_plan",
    }
