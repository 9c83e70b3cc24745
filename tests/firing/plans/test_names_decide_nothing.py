"""Whatever kilns, people, pieces and glass are called, the results are the same."""

from dataclasses import asdict

import pytest
from hypothesis import HealthCheck, given, settings

from firing.loads.selectors.planned import standing_plan
from firing.planning.problem.cannot import LacksSkill
from firing.planning.problem.problem import Skill
from firing.plans.selectors.holding import holding_of
from firing.plans.selectors.ids import kiln_id, person_id, piece_id
from firing.plans.selectors.planning import compute, source_of
from firing.plans.selectors.reasons import no_plan_words
from firing.plans.selectors.why import why_of
from firing.plans.services import plans
from firing.promises.selectors.promises import promise_for
from firing.promises.selectors.reserved_work import HeldWork
from studio.models import Closure, Piece
from tests import make
from tests.firing import build as heat
from tests.firing import plans_build as build
from tests.firing.plans.selectors.test_problem import TASKS
from tests.firing.promises.selectors.test_promises import spec
from tests.names import NAMES, alike, call_everything, downwards, upwards
from tests.patience import in_form

pytestmark = pytest.mark.django_db
MONDAY, DAY = build.MONDAY, build.DAY
# What everything is called first, to be found again in what is said.
MARK = "\ue000"
STUDIO_READ, STUDIO_PLANNED = (
    settings(
        max_examples=most,
        suppress_health_check=[HealthCheck.function_scoped_fixture],
    )
    for most in (in_form(8, 12), in_form(2, 6))
)


@pytest.fixture
def busy(cast):
    """Two kilns, two makers, pieces of one title with and without a maker."""
    make.kiln(studio=cast.studio)
    build.work(cast, titles=("Ebb", "Ebb"), layers=3)
    make.piece(studio=cast.studio, glass=cast.glass, layers=2, title="Flood")
    heat.booking(kiln=cast.kiln, starts_at=MONDAY + DAY, title="Bowls", hours=30)
    Closure.across_studios.create(
        studio=cast.studio,
        kiln=cast.kiln,
        starts_at=MONDAY + 4 * DAY,
        ends_at=MONDAY + 6 * DAY,
        reason="New elements",
    )
    call_everything(cast.studio, upwards(MARK))
    return cast


def read(cast):
    return source_of(cast.studio, now=MONDAY, weeks=8)


def called(found, name):
    """Return an answer with a name in the mark's place."""
    if isinstance(found, dict):
        return {key: called(value, name) for key, value in found.items()}
    if isinstance(found, list | tuple):
        return type(found)(called(one, name) for one in found)
    return found.replace(MARK, name) if isinstance(found, str) else found


def test_ids_are_kinds_and_keys(busy):
    problem = read(busy).problem
    assert {one.id for one in problem.pieces} == {
        piece_id(piece.pk) for piece in Piece.owned.for_studio(busy.studio)
    }
    assert kiln_id(busy.kiln.pk) in {one.id for one in problem.kilns}
    assert person_id(busy.owner.pk) in {one.id for one in problem.people}


@STUDIO_READ
@given(name=NAMES)
def test_no_name_changes_the_problem(busy, name):
    call_everything(busy.studio, upwards(MARK))
    before = read(busy)
    for call in (alike(name), downwards(name), upwards(name)):
        call_everything(busy.studio, call)
        after = read(busy)
        assert after.problem == before.problem
    assert after.left_out == called(before.left_out, name)
    assert after.assumptions == called(before.assumptions, name)


@STUDIO_PLANNED
@given(name=NAMES)
def test_no_name_changes_a_plan(busy, name):
    plan = plans.ask_for_plan(studio=busy.studio, wish="new", by=busy.owner, at=MONDAY)

    def options():
        return compute(
            plan, now=MONDAY, watch=lambda _: None, fence=lambda: False, units=2000
        ).options

    call_everything(busy.studio, upwards(MARK))
    before = options()
    call_everything(busy.studio, downwards(name))
    assert options() == before


@STUDIO_PLANNED
@given(name=NAMES)
def test_no_name_changes_a_promise_nor_why_a_piece_comes_on_its_day(busy, name):
    plan = standing_plan(busy.studio) or build.accepted(busy)
    viewer = busy.viewer()

    def promised(call):
        call_everything(busy.studio, call)
        return promise_for(
            studio=busy.studio,
            spec=spec(busy, title=call(0)),
            maquette=spec(busy, title=call(0), layer_count=2, painted_count=1),
            tasks=TASKS,
            due_dates={},
            now=MONDAY,
            held=[held(busy, call(1)), held(busy, call(2), layer_count=4)],
        )

    def answers(call):
        promise = promised(call)
        whys = [
            why_of(
                studio=busy.studio,
                piece=piece.pk,
                standing=plan,
                record=None,
                viewer=viewer,
                now=MONDAY,
            )
            for piece in Piece.owned.for_studio(busy.studio)
        ]
        return [asdict(one) for one in (promise, *whys)]

    before = answers(upwards(MARK))
    assert answers(upwards(name)) == called(before, name)
    turned = promised(downwards(name))
    assert turned.ready_date == before[0]["ready_date"]
    assert turned.date_80 == before[0]["date_80"]
    assert len(turned.reasons) == len(before[0]["reasons"])
    assert holding_of(plan, now=MONDAY).holds


def held(cast, title, **changes):
    return HeldWork(
        title=title,
        spec=spec(cast, title=title, painted_count=1, **({"layer_count": 2} | changes)),
        maquette=None,
        maker=None,
        due_date=MONDAY.date() + 60 * DAY,
        until_date=MONDAY.date() + 9 * DAY,
    )


def test_a_refusal_says_a_name_as_it_is_written(busy):
    call_everything(busy.studio, upwards("ann"))
    source = read(busy)
    piece = source.problem.pieces[0].id
    artist = person_id(busy.owner.pk)
    lacks = LacksSkill(piece=piece, artist=artist, skill=Skill.PAINT)
    told = no_plan_words(lacks, source)
    assert (
        told
        == f"{source.call(artist)} cannot paint, which {source.call(piece)} needs. "
        "Let somebody else make it."
    )
    assert told.startswith("ann")
