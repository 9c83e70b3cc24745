"""A load made up by hand takes over its planned booking, and says what it displaces."""

import dataclasses
import datetime as dt

import pytest

from firing.firings.selectors.proposals import propose_load
from firing.firings.services import firings
from firing.kiln_time.selectors.possible import gives_way
from firing.kiln_time.services import bookings
from firing.loads.selectors.planned import planned_stack, standing_plan
from firing.models import Booking, Plan, PlannedWork
from firing.plans.selectors.facts import plan_facts
from firing.plans.selectors.holding import holding_of
from firing.plans.selectors.places import lost_places
from firing.plans.selectors.planning import compute
from firing.plans.services import acceptance, plans
from firing.plans.services.replace_planned import (
    REASON,
    book_over_plan,
    cancel_and_put_back,
    take_over,
)
from firing.plans.services.watch import keep_holding
from studio.models import HistoryEntry, Job, Kiln, Piece
from studio.services import layers
from tests import make
from tests.firing import planned_time
from tests.firing import plans_build as build

MONDAY = build.MONDAY

pytestmark = pytest.mark.django_db


def painted(cast, piece):
    passes = make.passes_of(piece)
    layers.record_painted(passes=passes, by=cast.owner, at=MONDAY, minutes=60)
    return passes


def made_up(cast, passes, *, at_row, kiln=None, later=dt.timedelta(0)):
    return firings.make_up_enamel_firing(
        studio=cast.studio,
        kiln=kiln or at_row.booking.kiln,
        passes=passes,
        starts_at=at_row.booking.starts_at + later,
        by=cast.owner,
        at=MONDAY,
    )


def proposed(cast):
    """What the form for a load proposes before anything is ticked."""
    return propose_load(
        studio=cast.studio,
        kilns=[cast.kiln],
        kiln=None,
        ticked=None,
        viewer=cast.viewer(),
        now=MONDAY,
    )


@pytest.fixture
def shared(cast):
    """A planned firing that holds the layers of two pieces, and these."""
    first = build.work(cast, titles=("Reed bed", "Saltmarsh"), layers=3)
    plan = build.accepted(cast)
    row = build.planned(cast)[0]
    assert {item.piece.title for item in row.items.all()} == {"Reed bed", "Saltmarsh"}
    other = Piece.owned.for_studio(cast.studio).get(title="Saltmarsh")
    return plan, row, first, other


def test_a_load_made_up_by_hand_takes_its_planned_booking_over(cast):
    piece = build.work(cast)
    build.accepted(cast)
    enamel = build.planned(cast)[0]
    for of_pass in make.passes_of(piece):
        layers.record_painted(passes=[of_pass], by=cast.owner, at=MONDAY, minutes=60)
    firing = firings.make_up_enamel_firing(
        studio=cast.studio,
        kiln=cast.kiln,
        passes=make.passes_of(piece),
        starts_at=enamel.booking.starts_at + dt.timedelta(minutes=30),
        by=cast.owner,
        at=MONDAY,
    )
    assert firing.booking_id == enamel.booking_id
    assert not firing.booking.is_provisional
    assert [row.kind for row in build.planned(cast)] == ["full fuse"]
    standing = Booking.owned.for_studio(cast.studio).filter(cancelled_at=None)
    assert standing.count() == 2


def test_a_load_made_up_elsewhere_gives_the_planned_booking_back(cast):
    piece = build.work(cast)
    other = make.kiln(studio=cast.studio, name="Other", max_temperature_c=700)
    plan = build.accepted(cast)
    enamel = build.planned(cast)[0]
    elsewhere = other if enamel.booking.kiln == cast.kiln else cast.kiln
    for of_pass in make.passes_of(piece):
        layers.record_painted(passes=[of_pass], by=cast.owner, at=MONDAY, minutes=60)
    firing = firings.make_up_enamel_firing(
        studio=cast.studio,
        kiln=elsewhere,
        passes=make.passes_of(piece),
        starts_at=enamel.booking.starts_at,
        by=cast.owner,
        at=MONDAY,
    )
    enamel.booking.refresh_from_db()
    assert enamel.booking.cancelled_at == MONDAY
    assert firing.booking_id != enamel.booking_id
    assert holding_of(plan, now=MONDAY).holds


def test_what_the_load_leaves_behind_loses_its_place_and_is_told(cast, shared):
    plan, row, first, other = shared
    passes = painted(cast, first)
    Job.owned.for_studio(cast.studio).delete()
    firing = made_up(cast, passes, at_row=row)
    assert firing.booking_id == row.booking_id
    viewer = cast.viewer()
    when = viewer.moment(row.booking.starts_at, MONDAY)
    what = (
        f"Layers 1, 2 lose their planned place in {row.booking.kiln}, {when}: "
        "that firing was made up without them"
    )
    assert lost_places(firing.booking, at=MONDAY) == [f"Saltmarsh: {what}."]
    line = HistoryEntry.owned.for_studio(cast.studio).get(what=what)
    assert (line.piece, line.by) == (other, cast.owner)
    watching = Job.owned.for_studio(cast.studio).filter(name="firing.watch_plan")
    assert watching.count() == 1


def test_the_plan_notices_what_was_displaced_and_finds_it_another_place(cast, shared):
    plan, row, first, other = shared
    passes = painted(cast, first)
    made_up(cast, passes, at_row=row)
    found = holding_of(plan, now=MONDAY)
    assert not found.holds
    why = "Layers 1, 2 of Saltmarsh, pass 1: no place in the plan any more."
    assert why in found.sentences
    ordered = keep_holding(plan=plan, found=found, at=MONDAY)
    assert why in ordered.why
    made = compute(
        ordered,
        now=MONDAY,
        watch=lambda _: None,
        fence=lambda: False,
        units=build.UNITS,
    )
    plans.keep_plan(plan=ordered, made=made, at=MONDAY)
    taken = acceptance.accept_plan(
        plan=ordered, option=ordered.options[0]["name"], by=cast.owner, at=MONDAY
    )
    again = [
        item.layer.number
        for one in build.planned(cast)
        for item in one.items.all()
        if item.piece == other and item.layer is not None
    ]
    assert sorted(again) == [1, 2]
    assert holding_of(taken, now=MONDAY).holds


def test_nothing_is_told_where_the_whole_planned_load_is_made_up(cast, shared):
    plan, row, first, other = shared
    passes = [*painted(cast, first), *painted(cast, other)]
    firing = made_up(cast, passes, at_row=row)
    assert lost_places(firing.booking, at=MONDAY) == []
    assert holding_of(plan, now=MONDAY).holds


def test_a_load_taken_out_of_a_planned_one_leaves_the_others_their_place(cast, shared):
    plan, row, first, other = shared
    elsewhere = make.kiln(studio=cast.studio, name="Other", max_temperature_c=700)
    firing = made_up(cast, painted(cast, first), at_row=row, kiln=elsewhere)
    assert firing.booking_id != row.booking_id
    assert lost_places(firing.booking, at=MONDAY) == []
    kept = build.planned(cast)[0]
    assert kept.booking_id == row.booking_id
    assert {item.piece for item in kept.items.all()} == {other}
    assert kept.booking.title == "Enamel: Saltmarsh 1, 2"


def test_the_form_says_beforehand_what_would_lose_its_place(cast, shared):
    plan, row, first, other = shared
    painted(cast, first)
    load = proposed(cast)
    assert ": layers 1, 2 of Reed bed; layers 1, 2 of Saltmarsh." in load.planned
    assert "Layers left out will be rescheduled" in load.planned
    assert "Not painted yet: layers 1, 2 of Saltmarsh." in load.planned


def test_a_place_lost_by_a_cancelled_booking_is_told_too(cast, shared):
    plan, row, first, other = shared
    bookings.cancel_booking(
        booking=row.booking, reason="Kiln wash", by=cast.owner, at=MONDAY
    )
    told = holding_of(plan, now=MONDAY).sentences
    assert any("no longer stands" in one for one in told)
    assert "Layers 1, 2 of Saltmarsh, pass 1: no place in the plan any more." in told


def test_the_forms_propose_what_the_plan_has(cast):
    piece = build.work(cast)
    make.kiln(studio=cast.studio, name="Other")
    build.accepted(cast)
    enamel, fuse = build.planned(cast)
    for of_pass in make.passes_of(piece):
        layers.record_painted(passes=[of_pass], by=cast.owner, at=MONDAY, minutes=60)
    load = proposed(cast)
    assert (load.kiln, load.offer.starts_at) == (
        enamel.booking.kiln,
        enamel.booking.starts_at,
    )
    assert ": layers 1, 2, 3 of Reed bed." in load.planned
    assert planned_stack(piece, after=MONDAY) == fuse


def test_the_form_ticks_what_the_plan_has_in_that_firing_first(cast):
    first = build.work(cast, layers=3)
    build.accepted(cast)
    # More layers than go onto the shelf wait as well, and come before by their title.
    others = build.work(cast, titles=("Ahead of all", "Before it"), layers=9)
    for piece in (first, others, Piece.owned.for_studio(cast.studio).latest("pk")):
        painted(cast, piece)
    load = proposed(cast)
    ticked = {
        (row.of_pass.sheet.layer.piece, row.of_pass.sheet.layer.number)
        for group in load.groups
        for row in group.rows
        if row.is_ticked
    }
    assert load.laid_count < load.waiting_count
    assert ticked == {(first, 1), (first, 2)}
    rows = {r.of_pass.pk: r for group in load.groups for r in group.rows}
    assert not any(rows[p.pk].is_without_room for p in make.passes_of(first))


def test_the_form_finds_the_planned_firing_of_a_pass_whose_number_has_moved(cast):
    piece = build.work(cast)
    build.accepted(cast)
    enamel = build.planned(cast)[0]
    for of_pass in painted(cast, piece):
        # As when a pass before it is to be fired again.
        of_pass.number += 1
        of_pass.save(update_fields=["number"])
    assert ": layers 1, 2, 3 of Reed bed." in proposed(cast).planned
    assert proposed(cast).offer.starts_at == enamel.booking.starts_at


HOUR = dt.timedelta(hours=1)


def taken(cast, *, starts_at, **what):
    """Take a load or a stack out of the plan for a firing of ten hours."""
    return take_over(
        studio=cast.studio,
        kiln=cast.kiln,
        starts_at=starts_at,
        ends_at=starts_at + 10 * HOUR,
        at=MONDAY,
        **what,
    ).booking


def hand_work(cast, plan, piece, *, task, **more):
    return PlannedWork.across_studios.create(
        studio=cast.studio,
        plan=plan,
        person=cast.maker,
        piece=piece,
        task=task,
        starts_at=MONDAY + 4 * HOUR,
        ends_at=MONDAY + 6 * HOUR,
        **more,
    )


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass)


def test_without_a_plan_there_is_nothing_to_take(cast, strangers, piece):
    theirs = make.piece(studio=strangers.studio, glass=strangers.glass)
    plan = planned_time.standing(strangers.studio)
    planned_time.keep(plan, theirs, starts_at=MONDAY, kiln=strangers.kiln)
    assert taken(cast, starts_at=MONDAY, passes=make.passes_of(piece)) is None
    assert len(build.planned(strangers)) == 1


def test_a_firing_at_another_time_gives_the_planned_one_back(cast, piece):
    plan = planned_time.standing(cast.studio)
    kept = planned_time.keep(plan, piece, starts_at=MONDAY + 10 * HOUR, kiln=cast.kiln)
    assert taken(cast, starts_at=MONDAY, passes=make.passes_of(piece)) is None
    kept.refresh_from_db()
    assert (kept.cancelled_at, kept.cancelled_reason) == (MONDAY, REASON)
    assert build.planned(cast) == []


def test_a_firing_that_overlaps_by_any_time_takes_the_booking(cast, piece):
    plan = planned_time.standing(cast.studio)
    kept = planned_time.keep(plan, piece, starts_at=MONDAY + 9 * HOUR, kiln=cast.kiln)
    assert taken(cast, starts_at=MONDAY, passes=make.passes_of(piece)) == kept
    kept.refresh_from_db()
    assert kept.cancelled_at is None


def test_a_fuse_takes_its_stacking_along_and_leaves_enamel_and_cold_work(cast, piece):
    plan = planned_time.standing(cast.studio)
    enamel = planned_time.keep(plan, piece, starts_at=MONDAY, kiln=cast.kiln)
    fuse = planned_time.keep(
        plan, piece, starts_at=MONDAY + 48 * HOUR, kind="full fuse", kiln=cast.kiln
    )
    for task in ("assembly", "coldwork"):
        hand_work(cast, plan, piece, task=task)
    assert taken(cast, starts_at=MONDAY + 50 * HOUR, piece=piece) == fuse
    assert [row.booking for row in build.planned(cast)] == [enamel]
    left = PlannedWork.owned.for_studio(cast.studio)
    assert [row.task for row in left] == ["coldwork"]


def test_painting_what_is_in_the_load_is_over_and_other_painting_stays(cast, piece):
    plan = planned_time.standing(cast.studio)
    planned_time.keep(plan, piece, starts_at=MONDAY, kiln=cast.kiln)
    first, second = make.passes_of(piece)[:2]
    for one in (first, second):
        hand_work(
            cast,
            plan,
            piece,
            task="paint",
            layer=one.sheet.layer,
            of_pass=one,
            number=1,
        )
    taken(cast, starts_at=MONDAY + 50 * HOUR, passes=[first])
    left = PlannedWork.owned.for_studio(cast.studio)
    assert [row.of_pass for row in left] == [second]
    (row,) = build.planned(cast)
    assert [item.layer for item in row.items.all()] == [second.sheet.layer]
    assert row.booking.title == "Enamel: Low water at the sluice 2"


# --- what the plan keeps for nothing, and the way back -------------------------------

# Ten in the morning there: somebody is in.
AT = MONDAY + 5 * HOUR
SOON = AT + dt.timedelta(minutes=15)


def rented(cast, *, starts_at=SOON, hours=5, at=AT):
    return book_over_plan(
        studio=cast.studio,
        kiln=cast.kiln,
        kind="rental",
        title="Bowls",
        starts_at=starts_at,
        ends_at=starts_at + hours * HOUR,
        by=cast.maker,
        at=at,
    )


def kept(cast, piece, *, starts_at=SOON, **more):
    plan = standing_plan(cast.studio) or planned_time.standing(cast.studio)
    return planned_time.keep(plan, piece, starts_at=starts_at, kiln=cast.kiln, **more)


def put_back(cast, booking, *, at=AT):
    return cancel_and_put_back(booking=booking, reason="", by=cast.maker, at=at)


def state(cast):
    """Everything a plan depends on, and what it has planned, but no booking's key."""
    facts = plan_facts(cast.studio, AT).values()
    return sorted(
        str(
            {
                one.name: getattr(fact, one.name)
                for one in dataclasses.fields(fact)
                if one.compare and (fact.kind, one.name) != ("booking", "pk")
            }
        )
        for fact in facts
    ), [
        (
            row.kind,
            row.booking.kiln,
            row.booking.starts_at,
            row.booking.ends_at,
            sorted((item.piece_id, item.layer_id) for item in row.items.all()),
        )
        for row in build.planned(cast)
    ]


def test_a_load_that_nobody_can_paint_in_time_gives_way_and_comes_back(cast, piece):
    held = kept(cast, piece)
    before = state(cast)
    bowls = rented(cast)
    held.refresh_from_db()
    assert held.cancelled_at == AT
    assert build.planned(cast) == []
    assert lost_places(bowls, at=AT) == [
        f"{piece}: Layers 1, 2 lose their planned place in {cast.kiln}, today 10:15: "
        "they could not be ready by then, and the kiln is booked for other work."
    ]
    assert put_back(cast, bowls) == [
        f"Planned in {cast.kiln}, today 10:15, again: layers 1, 2 of {piece}."
    ]
    assert state(cast) == before


def test_a_stack_that_is_not_stacked_in_time_gives_way(cast, piece):
    held = kept(cast, piece, kind="full fuse")
    before = state(cast)
    bowls = rented(cast)
    held.refresh_from_db()
    assert held.cancelled_at == AT
    (told,) = lost_places(bowls, at=AT)
    assert told.startswith(f"{piece}: The stack loses its planned place in {cast.kiln}")
    put_back(cast, bowls)
    assert state(cast) == before


def test_a_fuse_gives_way_when_its_layers_come_out_too_late(cast, piece):
    kept(cast, piece, starts_at=AT + 20 * HOUR)
    held = planned_time.keep(
        standing_plan(cast.studio),
        piece,
        kind="full fuse",
        starts_at=AT + 40 * HOUR,
        kiln=make.kiln(studio=cast.studio),
    )
    row = next(one for one in build.planned(cast) if one.booking == held)
    assert gives_way(row, AT)
    Booking.across_studios.filter(pk=held.pk).update(
        starts_at=AT + 50 * HOUR, ends_at=AT + 60 * HOUR
    )
    row = next(one for one in build.planned(cast) if one.booking == held)
    assert not gives_way(row, AT)


def painting(cast, piece):
    layers.record_painted(
        passes=make.passes_of(piece), by=cast.owner, at=MONDAY, minutes=60
    )


def confirming(cast, piece):
    Booking.owned.for_studio(cast.studio).update(is_provisional=False)


@pytest.mark.parametrize(
    ("starts_at", "first"),
    [
        (SOON, confirming),
        (SOON, painting),
        (AT + 9 * HOUR, lambda *_: None),
    ],
    ids=["confirmed", "ready", "may be painted by then"],
)
def test_what_can_happen_or_is_confirmed_never_gives_way_to_other_work(
    cast, piece, starts_at, first
):
    kept(cast, piece, starts_at=starts_at)
    first(cast, piece)
    before = state(cast)
    with pytest.raises(bookings.KilnTaken, match="is taken by"):
        rented(cast, starts_at=starts_at)
    assert state(cast) == before


def test_a_load_that_was_plainly_missed_gives_way_even_if_it_is_ready(cast, piece):
    kept(cast, piece, starts_at=AT - 2 * HOUR)
    painting(cast, piece)
    assert rented(cast).kiln == cast.kiln
    assert build.planned(cast) == []


@pytest.fixture
def six_others(cast):
    """Six painted layers of another piece."""
    other = make.piece(studio=cast.studio, glass=cast.glass, layers=7, title="Weir")
    return painted(cast, other)


def loaded(cast, passes, *, starts_at, at=AT, kiln=None):
    return firings.make_up_enamel_firing(
        studio=cast.studio,
        kiln=kiln or cast.kiln,
        passes=passes,
        starts_at=starts_at,
        by=cast.maker,
        at=at,
    )


@pytest.fixture
def roomy(cast):
    """The kiln takes six layers at once."""
    Kiln.owned.for_studio(cast.studio).update(
        inner_width_mm=1500,
        inner_depth_mm=1500,
        shelf_width_mm=1400,
        shelf_depth_mm=1400,
    )
    cast.kiln.refresh_from_db()


def test_six_other_layers_at_the_planned_time_take_the_booking_over(
    cast, roomy, piece, six_others
):
    starts_at = AT + 9 * HOUR
    held = kept(cast, piece, starts_at=starts_at)
    before = state(cast)
    firing = loaded(cast, six_others, starts_at=starts_at)
    assert firing.booking == held
    assert not firing.booking.is_provisional
    (told,) = lost_places(firing.booking, at=AT)
    assert "that firing was made up without them" in told
    assert firings.cancel_firing(firing=firing, reason="", by=cast.maker, at=AT)
    assert state(cast) == before


def test_other_layers_at_another_time_do_not_take_it(cast, roomy, piece, six_others):
    starts_at = AT + 9 * HOUR
    kept(cast, piece, starts_at=starts_at)
    with pytest.raises(bookings.KilnTaken):
        loaded(cast, six_others, starts_at=starts_at + 2 * HOUR)


@pytest.mark.parametrize("is_elsewhere", [False, True])
@pytest.mark.parametrize("count", [1, 2])
def test_a_cancelled_load_leaves_the_plan_as_if_it_was_never_made(
    cast, piece, count, is_elsewhere
):
    starts_at = AT + 9 * HOUR
    kept(cast, piece, starts_at=starts_at)
    passes = painted(cast, piece)
    kiln = make.kiln(studio=cast.studio) if is_elsewhere else cast.kiln
    before = state(cast)
    firing = loaded(cast, passes[:count], starts_at=starts_at, kiln=kiln)
    assert state(cast) != before
    firings.cancel_firing(firing=firing, reason="", by=cast.maker, at=AT)
    assert state(cast) == before
    if count == 1 and is_elsewhere:
        assert (
            build.planned(cast)[0].booking.title
            == "Enamel: Low water at the sluice 1, 2"
        )
    # What was put back is taken over again, and comes back again.
    firing = loaded(cast, passes[:count], starts_at=starts_at, kiln=kiln)
    firings.cancel_firing(firing=firing, reason="", by=cast.maker, at=AT)
    assert state(cast) == before


def test_nothing_is_put_back_where_the_kiln_is_taken_or_the_plan_is_another(
    cast, piece
):
    held = kept(cast, piece)
    bowls = rented(cast)
    later = rented(cast, starts_at=SOON + 6 * HOUR)
    assert put_back(cast, bowls) == [], "its last hours are taken"
    held.refresh_from_db()
    assert held.cancelled_at is not None
    assert put_back(cast, later) == []
    kept(cast, piece, starts_at=SOON)
    bowls = rented(cast)
    Plan.owned.for_studio(cast.studio).update(state="superseded")
    assert put_back(cast, bowls) == []
    assert build.planned(cast) == []


def test_a_layer_that_went_into_another_load_is_not_put_back(cast, piece):
    starts_at = AT + 9 * HOUR
    kept(cast, piece, starts_at=starts_at)
    passes = painted(cast, piece)
    first = loaded(cast, passes, starts_at=starts_at)
    firings.cancel_firing(firing=first, reason="", by=cast.maker, at=AT)
    first = loaded(cast, passes[:1], starts_at=starts_at)
    elsewhere = make.kiln(studio=cast.studio)
    loaded(cast, passes[1:2], starts_at=starts_at, kiln=elsewhere)
    firings.cancel_firing(firing=first, reason="", by=cast.maker, at=AT)
    (row,) = build.planned(cast)
    assert [item.of_pass or item.layer for item in row.items.all()] == [
        passes[0].sheet.layer
    ]
