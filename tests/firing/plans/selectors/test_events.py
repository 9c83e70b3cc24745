"""What changed between two states of a studio, in words."""

import pytest

from firing.kiln_time.services import bookings
from firing.plans.selectors.events import changes_between, events_between, in_short
from firing.plans.selectors.fact_kinds import PassFact, fingerprint
from firing.plans.selectors.facts import plan_facts
from studio.models import Closure, DaysAway, Layer, Membership
from studio.services import layers
from tests import make
from tests.firing import build as heat
from tests.firing import plans_build as build

pytestmark = pytest.mark.django_db
MONDAY, DAY = build.MONDAY, build.DAY


def told(cast, before, *, now=MONDAY):
    after = plan_facts(cast.studio, now)
    return events_between(before, after, viewer=cast.viewer(), now=now)


def test_painting_changes_the_facts_and_is_no_event(cast):
    piece = build.work(cast)
    before = plan_facts(cast.studio, MONDAY)
    for of_pass in make.passes_of(piece)[:2]:
        layers.record_painted(passes=[of_pass], by=None, at=MONDAY, minutes=9)
    after = plan_facts(cast.studio, MONDAY)
    assert fingerprint(before) != fingerprint(after)
    viewer = cast.viewer()
    assert events_between(before, after, viewer=viewer, now=MONDAY) == []
    assert "Layers 1, 2 of Reed bed, pass 1: painted." in changes_between(
        before, after, viewer=viewer, now=MONDAY
    )


def test_lost_layers_are_told_together(cast):
    piece = build.work(cast)
    before = plan_facts(cast.studio, MONDAY)
    for number in (1, 3):
        layers.make_again(
            layer=Layer.across_studios.get(piece=piece, number=number),
            reason="Dropped",
            by=None,
            at=MONDAY,
        )
    assert told(cast, before) == [
        "Layers 1, 3 of Reed bed: set aside and made again (Dropped)."
    ]


def test_a_pass_to_be_fired_again_is_told_with_its_repeat(cast):
    piece = build.work(cast)
    (first, *_) = make.passes_of(piece)
    layers.record_painted(passes=[first], by=None, at=MONDAY, minutes=9)
    before = plan_facts(cast.studio, MONDAY)
    layers.record_outcome(of_pass=first, outcome="redo", by=None, at=MONDAY)
    assert told(cast, before) == [
        "Layer 1 of Reed bed, pass 1: to be fired again.",
        "Layer 1 of Reed bed, pass 2, again: to be painted and fired once more.",
    ]


def test_bookings_closures_kilns_people_and_days_away(cast):
    standing = heat.booking(kiln=cast.kiln, starts_at=MONDAY + DAY, title="Bowls")
    before = plan_facts(cast.studio, MONDAY)
    bookings.cancel_booking(booking=standing, reason="", by=None, at=MONDAY)
    heat.booking(kiln=cast.kiln, starts_at=MONDAY + 2 * DAY, title="Plates")
    Closure.across_studios.create(
        studio=cast.studio,
        kiln=cast.kiln,
        starts_at=MONDAY + 5 * DAY,
        ends_at=MONDAY + 6 * DAY,
        reason="New elements",
    )
    make.kiln(studio=cast.studio, name="Dunlin")
    make.member(studio=cast.studio, role="maker", name="Tobin Maresk")
    member = Membership.owned.for_studio(cast.studio).get(person=cast.helper)
    DaysAway.across_studios.create(
        studio=cast.studio,
        membership=member,
        starts_date=(MONDAY + DAY).date(),
        ends_date=(MONDAY + 2 * DAY).date(),
        reason="sick",
        note="A cold",
    )
    found = told(cast, before)
    assert f"“Bowls” in {cast.kiln} (Tue 3 Mar 05:00) no longer stands." in found
    assert f"“Plates” in {cast.kiln} (Wed 4 Mar 05:00) was booked." in found
    assert any("is closed from" in one and "New elements" in one for one in found)
    assert "Dunlin is a new kiln." in found
    assert "Tobin Maresk works here now." in found
    away = [one for one in found if "is away" in one]
    assert away == [f"{cast.helper} is away Tue 3 Mar 2026 to Wed 4 Mar 2026."]
    # Why somebody is away is their own matter.
    assert not any("sick" in one.lower() or "cold" in one for one in found)


def test_a_long_list_is_cut_and_says_so():
    sentences = [f"{n}." for n in range(12)]
    assert in_short(sentences)[-1] == "And 5 more changes."
    assert in_short(sentences[:8]) == sentences[:8]


def crack(cast, piece):
    """Let the first layer crack in the kiln: it waits to be cut again."""
    (first, *_) = make.passes_of(piece)
    layers.record_painted(passes=[first], by=None, at=MONDAY, minutes=9)
    layers.record_outcome(of_pass=first, outcome="cracked", by=None, at=MONDAY)


def test_a_layer_to_be_cut_again_that_loses_its_place_is_told(cast):
    piece = build.work(cast)
    crack(cast, piece)
    build.accepted(cast)
    before = plan_facts(cast.studio, MONDAY)
    row = next(one for one in build.planned(cast) if one.kind == "enamel")
    bookings.cancel_booking(booking=row.booking, reason="", by=None, at=MONDAY)
    found = told(cast, before)
    assert "Layer 1 of Reed bed: no place in the plan any more." in found
    assert "Layers 2, 3 of Reed bed, pass 1: no place in the plan any more." in found


def test_a_layer_that_is_cut_again_as_planned_is_no_event(cast):
    piece = build.work(cast)
    crack(cast, piece)
    build.accepted(cast)
    before = plan_facts(cast.studio, MONDAY)
    build.lose_a_layer(cast, piece)
    assert told(cast, before) == []
    assert (1, 1, False, "planned") in {
        (one.layer, one.number, one.is_painted, one.place)
        for one in plan_facts(cast.studio, MONDAY).values()
        if isinstance(one, PassFact)
    }


def test_a_pass_that_is_numbered_anew_keeps_its_place(cast):
    piece = make.piece(
        studio=cast.studio,
        glass=cast.glass,
        layers=2,
        passes=2,
        title="Reed bed",
        by=cast.owner,
        at=MONDAY,
    )
    (first, second) = make.passes_of(piece)
    layers.record_painted(passes=[first], by=None, at=MONDAY, minutes=9)
    build.accepted(cast)
    before = plan_facts(cast.studio, MONDAY)
    layers.record_outcome(of_pass=first, outcome="redo", by=None, at=MONDAY)
    assert told(cast, before) == [
        "Layer 1 of Reed bed, pass 1: to be fired again.",
        "Layer 1 of Reed bed, pass 2, again: to be painted and fired once more.",
    ]
