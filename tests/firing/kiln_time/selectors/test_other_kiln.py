"""How the load of a booking would run in another kiln, or why it cannot."""

from types import SimpleNamespace

import pytest

from firing.kiln_time.selectors.booking_loads import (
    EMPTY,
    BookingLoad,
    LoadThing,
    booking_loads,
)
from firing.kiln_time.selectors.other_kiln import hottest_glass, load_s, placement_in
from firing.models import Booking, FiringKind
from firing.planning.problem import practice
from tests import make
from tests.firing import build


def thing(*, layer=1, thick=3.0, enamel_c=593.0, pk=1):
    glass = SimpleNamespace(pk=pk, sheet_thickness_mm=thick, enamel_c=enamel_c)
    return LoadThing(piece=None, glass=glass, layer_pk=layer)


def load_of(*things):
    return BookingLoad(kind=FiringKind.ENAMEL, things=things)


def test_the_thickest_glass_decides_then_the_hottest_then_the_first():
    thin_hot, thick, thick_hot, again = (
        thing(enamel_c=700, pk=1),
        thing(thick=6, pk=2),
        thing(thick=6, enamel_c=600, pk=3),
        thing(thick=6, enamel_c=600, pk=4),
    )
    assert hottest_glass(load_of(thin_hot, thick)).pk == 2
    assert hottest_glass(load_of(thick, thick_hot, thin_hot)).pk == 3
    assert hottest_glass(load_of(again, thick_hot)).pk == 3


def test_a_stack_takes_longer_to_load_than_sheets():
    assert load_s(load_of(thing(), thing())) == practice.LOAD_SHEETS_S
    assert load_s(load_of(thing(), thing(layer=None))) == practice.LOAD_STACK_S


@pytest.fixture
def enamel(strangers):
    firing = build.enamel(kiln=strangers.kiln, glass=strangers.glass, layers=4)
    return Booking.owned.for_studio(strangers.studio).get(pk=firing.booking_id)


def placed(cast, booking, kiln, load=None):
    if load is None:
        load = booking_loads(cast.studio, [booking]).get(booking.pk, EMPTY)
    return placement_in(booking, load, kiln, cast.viewer())


def test_its_own_kiln_changes_nothing(strangers, enamel):
    found = placed(strangers, enamel, strangers.kiln)
    assert found.problems == ()
    assert found.proposal is None
    assert found.curve == enamel.planned_curve
    assert found.task.lasts == enamel.ends_at - enamel.starts_at
    assert found.task.load.total_seconds() == practice.LOAD_SHEETS_S


def test_another_kiln_gets_a_programme_and_places_of_its_own(strangers, enamel):
    slow = make.kiln(studio=strangers.studio, cooling_time_constant_s=40_000)
    found = placed(strangers, enamel, slow)
    assert found.problems == ()
    assert found.proposal.kiln == slow
    assert len(found.placed) == 3
    assert found.task.lasts > enamel.ends_at - enamel.starts_at


@pytest.mark.parametrize(
    ("kiln", "told"),
    [
        ({"is_retired": True}, "is no longer in use"),
        ({"shelf_width_mm": 310, "shelf_depth_mm": 210}, "Only 1 of its 3 layers fit"),
        ({"max_temperature_c": 590}, "It needs 593 °C"),
    ],
)
def test_what_another_kiln_cannot_do_is_said(strangers, enamel, kiln, told):
    (problem,) = placed(
        strangers, enamel, make.kiln(studio=strangers.studio, **kiln)
    ).problems
    assert told in problem


def test_a_firing_of_something_unknown_stays_where_it_is(strangers, enamel):
    other = make.kiln(studio=strangers.studio)
    (problem,) = placed(strangers, enamel, other, load=EMPTY).problems
    assert problem.startswith("What is in it is not known")


def test_a_rental_may_go_into_any_kiln_that_is_in_use(strangers):
    rental = build.booking(kiln=strangers.kiln)
    assert placed(strangers, rental, make.kiln(studio=strangers.studio)).problems == ()
    gone = make.kiln(studio=strangers.studio, is_retired=True)
    assert placed(strangers, rental, gone).problems


def test_a_stack_that_another_kiln_cannot_take_is_named(strangers):
    piece = build.stacked(
        studio=strangers.studio, glass=strangers.glass, layer_count=3, title="Reed bed"
    )
    firing = build.fuse(piece=piece, kiln=strangers.kiln)
    booking = Booking.owned.for_studio(strangers.studio).get(pk=firing.booking_id)
    larger = make.kiln(studio=strangers.studio)
    found = placed(strangers, booking, larger)
    assert found.problems == ()
    assert found.proposal.rule == firing.schedule.rule
    small = make.kiln(studio=strangers.studio, shelf_width_mm=300, shelf_depth_mm=300)
    (problem,) = placed(strangers, booking, small).problems
    assert problem.startswith(f"{small} cannot take Reed bed. Its shelf is")


def test_a_designed_schedule_belongs_to_its_kiln(strangers, enamel):
    schedule = enamel.firing.schedule
    schedule.rule = "computed"
    schedule.save()
    other = make.kiln(studio=strangers.studio)
    (problem,) = placed(strangers, enamel, other).problems
    assert problem.startswith(f"Its schedule was designed for {strangers.kiln}.")
