"""The facts behind a plan: compared, stored, read again, whatever things are called."""

import json
from dataclasses import asdict

import pytest
from hypothesis import HealthCheck, given, settings

from firing.firings.services import running
from firing.models import Booking
from firing.plans.selectors.events import changes_between, events_between
from firing.plans.selectors.fact_kinds import (
    KINDS,
    facts_as_json,
    facts_from_json,
    fingerprint,
)
from firing.plans.selectors.facts import plan_facts
from studio.models import BenchTerms, Closure, DaysAway, Kiln, Membership, Piece
from studio.services import layers
from tests import make
from tests.firing import build as heat
from tests.firing import plans_build as build
from tests.names import NAMES, alike, call_everything, downwards

pytestmark = pytest.mark.django_db
MONDAY, DAY = build.MONDAY, build.DAY
# A whole studio is read for each name.
FEW = settings(
    max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@pytest.fixture
def busy(cast):
    """A studio with facts of every kind, of two pieces of one title."""
    piece = build.work(cast, titles=("Reed bed", "Reed bed"))
    build.lose_a_layer(cast, piece, number=2)
    first = make.passes_of(piece)[0]
    layers.record_painted(passes=[first], by=None, at=MONDAY, minutes=9)
    layers.record_outcome(of_pass=first, outcome="cracked", by=None, at=MONDAY)
    firing = heat.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=MONDAY)
    running.start_firing(firing=firing, by=None, at=MONDAY)
    heat.booking(kiln=cast.kiln, starts_at=MONDAY + 9 * DAY, title="Bowls")
    Closure.across_studios.create(
        studio=cast.studio,
        kiln=cast.kiln,
        starts_at=MONDAY + 15 * DAY,
        ends_at=MONDAY + 16 * DAY,
        reason="New elements",
    )
    member = Membership.owned.for_studio(cast.studio).get(person=cast.helper)
    BenchTerms.across_studios.create(studio=cast.studio, membership=member)
    DaysAway.across_studios.create(
        studio=cast.studio,
        membership=member,
        starts_date=(MONDAY + DAY).date(),
        ends_date=(MONDAY + DAY).date(),
    )
    return cast


def named(facts):
    return {key: asdict(fact) for key, fact in facts.items()}


def test_facts_of_every_kind_are_read_back_as_they_were_stored(busy):
    facts = plan_facts(busy.studio, MONDAY)
    assert {fact.kind for fact in facts.values()} == set(KINDS)
    again = facts_from_json(json.loads(json.dumps(facts_as_json(facts))))
    assert named(again) == named(facts)
    assert fingerprint(again) == fingerprint(facts)


@FEW
@given(name=NAMES)
def test_no_name_changes_the_facts(busy, name):
    before = plan_facts(busy.studio, MONDAY)
    call_everything(busy.studio, downwards(name))
    after = plan_facts(busy.studio, MONDAY)
    assert fingerprint(after) == fingerprint(before)
    viewer = busy.viewer()
    assert changes_between(before, after, viewer=viewer, now=MONDAY) == []
    again = facts_from_json(json.loads(json.dumps(facts_as_json(after))))
    assert named(again) == named(after)


@FEW
@given(name=NAMES)
def test_no_name_changes_what_is_told_of_a_booking(busy, name):
    """A kiln "Heron | front loader" once hid the moved end of what was confirmed."""
    call_everything(busy.studio, alike(name))
    kiln = Kiln.owned.for_studio(busy.studio).get()
    when = "Wed 11 Mar 06:00"
    booking = Booking.owned.for_studio(busy.studio).latest("starts_at")

    def change(before, **changes):
        Booking.across_studios.filter(pk=booking.pk).update(**changes)
        after = plan_facts(busy.studio, MONDAY)
        return changes_between(before, after, viewer=busy.viewer(), now=MONDAY)

    change({}, is_provisional=True, ends_at=booking.ends_at)
    before = plan_facts(busy.studio, MONDAY)
    assert change(before, is_provisional=False) == [
        f"“{name}” in {kiln} ({when}) was confirmed."
    ]
    (told,) = change(before, ends_at=booking.ends_at + DAY)
    assert told.startswith(f"“{name}” in {kiln}, {when} ends ")


@FEW
@given(name=NAMES)
def test_a_new_pass_is_a_repeat_only_if_it_is_one(busy, name):
    """A piece called "Once more, again" once counted as fired again."""
    call_everything(busy.studio, alike(name))
    facts = plan_facts(busy.studio, MONDAY)
    before = {key: fact for key, fact in facts.items() if fact.kind != "pass"}
    told = {"viewer": busy.viewer(), "now": MONDAY}
    assert events_between(before, facts, **told) == []
    assert f"Layers 1, 2, 3 of {name}, pass 1 is new." in changes_between(
        before, facts, **told
    )


def test_layers_of_two_pieces_of_one_title_are_told_apart(busy):
    before = plan_facts(busy.studio, MONDAY)
    for piece in Piece.owned.for_studio(busy.studio).filter(title="Reed bed"):
        build.lose_a_layer(busy, piece, number=3)
    after = plan_facts(busy.studio, MONDAY)
    told = events_between(before, after, viewer=busy.viewer(), now=MONDAY)
    one = "Layer 3 of Reed bed: set aside and made again (Cracked on the light table)."
    assert told == [one, one]


@pytest.mark.parametrize(
    "stored", [{}, build.OLD_FACTS, {"version": 99, "facts": [{"kind": "moon"}]}]
)
def test_facts_of_another_form_are_not_guessed_at(stored):
    assert facts_from_json(stored) is None
