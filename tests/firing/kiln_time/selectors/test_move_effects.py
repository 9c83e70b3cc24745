"""What moving a planned firing does to the firings and the work around it."""

import datetime as dt

import pytest

from firing.kiln_time.selectors.booking_loads import EMPTY, booking_loads, booking_name
from firing.kiln_time.selectors.bookings import bookings
from firing.kiln_time.selectors.move_effects import effects
from firing.kiln_time.selectors.moving import judge_move
from firing.kiln_time.selectors.unloading import Unloading
from firing.models import Booking, PlannedWork
from firing.plans.services.moves import move_booking
from tests import make
from tests.firing import build, planned_time
from tests.make import NOW

HOUR = dt.timedelta(hours=1)
DAY = 24 * HOUR
MORNING = NOW + DAY + 5 * HOUR


@pytest.fixture
def plan(cast):
    return planned_time.standing(cast.studio)


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass, passes=2)


def planned(plan, piece, *, day, **more):
    return planned_time.keep(plan, piece, starts_at=MORNING + day * DAY, **more)


def told(cast, booking, *, day, hours=0):
    """Return what follows if a booking begins on another day, at another hour."""
    booking = bookings(cast.studio).select_related("planned_firing").get(pk=booking.pk)
    unloading = Unloading(cast.studio, NOW)
    starts_at = MORNING + day * DAY + hours * HOUR
    free_at = unloading.free_at(booking) + (starts_at - booking.starts_at)
    loads = booking_loads(cast.studio, [booking])
    found = effects(
        booking,
        loads.get(booking.pk, EMPTY),
        starts_at=starts_at,
        free_at=free_at,
        unloading=unloading,
        viewer=cast.viewer(),
        now=NOW,
    )
    return " ".join(found)


def test_a_later_pass_that_would_come_first_is_named(cast, plan, piece):
    first = planned(plan, piece, day=0)
    second = planned(plan, piece, day=4, number=2)
    assert "next pass Sun" not in told(cast, first, day=1)
    words = told(cast, first, day=5)
    assert (
        f"Layers 1 and 2 lie in “{booking_name(second)}” for their next pass" in words
    )
    assert "Move that as well" in words
    words = told(cast, second, day=0)
    assert f"are out of “{booking_name(first)}” only by" in words


def test_a_fuse_before_its_layers_are_burnt_on_is_named(cast, plan, piece):
    enamel = planned(plan, piece, day=0)
    fuse = planned(plan, piece, day=4, kind="full fuse", hours=72)
    assert "The fuse of" not in told(cast, enamel, day=1)
    words = told(cast, enamel, day=5)
    assert f"The fuse of {piece} is booked for" in words
    assert "before these layers are burnt on" in words
    words = told(cast, fuse, day=0)
    assert (
        f"Layers of {piece} are burnt on in “{booking_name(enamel)}” only by" in words
    )


def test_other_pieces_do_not_matter(cast, plan, piece):
    enamel = planned(plan, piece, day=0)
    other = make.piece(studio=cast.studio, glass=cast.glass, title="Flood")
    planned(plan, other, day=4, kind="full fuse")
    words = told(cast, enamel, day=6)
    assert "Flood" not in words
    assert "later than now" in words


def test_work_that_would_not_be_done_is_named(cast, plan, piece):
    enamel = planned(plan, piece, day=3)
    layer = piece.layers.order_by("number").first()
    hand_work(
        plan,
        cast,
        piece,
        task="paint",
        layer=layer,
        number=1,
        starts_at=MORNING + DAY,
        ends_at=MORNING + DAY + 3 * HOUR,
    )
    assert "would not be ready" not in told(cast, enamel, day=4)
    words = told(cast, enamel, day=1)
    assert f"Layer 1 of {piece} is {cast.maker}'s work until" in words
    assert "would not be ready" in words


def hand_work(plan, cast, piece, *, task, layer=None, number=0, **when):
    return PlannedWork.across_studios.create(
        studio=cast.studio,
        plan=plan,
        person=cast.maker,
        piece=piece,
        task=task,
        layer=layer,
        number=number,
        **when,
    )


def test_work_on_the_stack_is_named_but_not_the_coldwork_after_it(cast, plan, piece):
    fuse = planned(plan, piece, day=3, kind="full fuse", hours=72)
    when = {"starts_at": MORNING + DAY, "ends_at": MORNING + DAY + 3 * HOUR}
    hand_work(plan, cast, piece, task="coldwork", **when)
    assert "would not be ready" not in told(cast, fuse, day=1)
    hand_work(plan, cast, piece, task="assembly", **when)
    assert f"{cast.maker} works on the stack of {piece} until" in told(
        cast, fuse, day=1
    )
    assert "would not be ready" not in told(cast, fuse, day=2), "done by then"


def test_another_pass_of_the_layer_is_nobodys_hindrance(cast, plan, piece):
    enamel = planned(plan, piece, day=3)
    hand_work(
        plan,
        cast,
        piece,
        task="paint",
        layer=piece.layers.order_by("number").first(),
        number=2,
        starts_at=MORNING + DAY,
        ends_at=MORNING + DAY + 3 * HOUR,
    )
    assert "would not be ready" not in told(cast, enamel, day=1)


def test_how_much_later_or_sooner_the_kiln_is_empty(cast, plan, piece):
    fuse = planned(plan, piece, day=3, kind="full fuse", hours=72)
    assert told(cast, fuse, day=3) == ""
    assert told(cast, fuse, day=3, hours=0.9) == "", "less than an hour"
    assert "The kiln is empty again by" in told(cast, fuse, day=3, hours=2)
    assert "2 h later than now" in told(cast, fuse, day=3, hours=2)
    assert "1 d sooner than now" in told(cast, fuse, day=2)


def test_time_without_a_load_changes_nothing(cast):
    rental = build.booking(kiln=cast.kiln, starts_at=MORNING)
    assert told(cast, rental, day=9) == ""


def test_every_promised_day_of_what_is_inside_is_told(cast, plan, piece):
    fuse = planned(plan, piece, day=3, kind="full fuse", hours=72)
    make.promised(piece, (MORNING + 8 * DAY).date())
    assert "late" not in told(cast, fuse, day=3)
    words = told(cast, fuse, day=20)
    assert str(piece) in words
    assert "late" in words.replace("later than now", "")


def test_a_moved_planned_firing_keeps_its_plan_and_its_unloading(cast, plan, piece):
    booking = planned(plan, piece, day=0, hours=22.0)
    move_booking(
        booking=booking,
        kiln=booking.kiln,
        starts_at=MORNING + 2 * DAY - HOUR,
        by=cast.owner,
        at=NOW,
    )
    booking.refresh_from_db()
    row = booking.planned_firing
    row.refresh_from_db()
    assert not booking.is_provisional, "a person put it there: no plan moves it"
    assert row.plan == plan
    opens = booking.opens_at.astimezone(cast.viewer().zone)
    assert opens.hour < 8, "cold before anybody is in"
    unload = row.unload_at.astimezone(cast.viewer().zone)
    assert (unload.date(), unload.hour) == (opens.date(), 8)


def test_a_planned_firing_holds_no_longer_than_it_takes_where_it_goes(
    cast, plan, piece
):
    booking = planned(plan, piece, day=0, hours=20.0)
    Booking.across_studios.filter(pk=booking.pk).update(
        ends_at=booking.ends_at + 9 * HOUR
    )
    booking.refresh_from_db()
    start = MORNING + 3 * DAY
    move_booking(booking=booking, kiln=booking.kiln, starts_at=start, by=None, at=NOW)
    booking.refresh_from_db()
    assert booking.ends_at == start + 20 * HOUR


def test_a_planned_load_may_go_to_another_kiln(cast, plan, piece):
    booking = planned(plan, piece, day=0)
    fuse = planned(plan, piece, day=9, kind="full fuse", hours=72)
    for one in (booking, fuse):
        verdict = judge_move(
            one,
            kiln=cast.kiln,
            starts_at=one.starts_at,
            viewer=cast.viewer(),
            now=NOW,
        )
        assert verdict.problems == ()
        move_booking(
            booking=one,
            kiln=cast.kiln,
            starts_at=one.starts_at,
            by=None,
            at=NOW,
        )
        one.refresh_from_db()
        assert one.kiln == cast.kiln
        assert one.planned_firing.items.first().x_mm >= 0


def test_kiln_time_whose_load_is_not_known_stays_in_its_kiln(cast, plan, piece):
    booking = planned(plan, piece, day=0)
    booking.planned_firing.items.all().delete()
    verdict = judge_move(
        booking,
        kiln=cast.kiln,
        starts_at=booking.starts_at,
        viewer=cast.viewer(),
        now=NOW,
    )
    assert "What is in it is not known" in verdict.problems[0]
