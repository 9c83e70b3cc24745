"""A studio's rows as the planner's problem: hours, kilns, people, pieces and states."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from firing.firings.services.running import start_firing
from firing.kiln_time.services.bookings import cancel_booking
from firing.planning.problem.problem import SLOTS_PER_DAY, SLOTS_PER_WEEK, Skill
from firing.planning.problem.problem_tables import Facts
from firing.planning.problem.reading import read_problem
from firing.planning.proofs.check import check_plan
from firing.planning.search.construct import first_plan
from firing.planning.search.feasible import check_feasible
from firing.planning.search.publish import to_plan
from firing.plans.selectors.ids import person_id
from firing.plans.selectors.people import BENCH_HOURS_A_DAY, BENCH_HOURS_A_WEEK
from firing.plans.selectors.problem import plan_problem
from studio.labour import BenchTimes
from studio.models import AccessHours, Closure, Membership, Studio
from studio.services import layers
from tests import make, plain
from tests.cast import NOW
from tests.demo import MONDAY_MORNING
from tests.firing import build

BENCH = BenchTimes(
    painting_minutes_per_pass=90,
    decal_minutes_per_pass=90,
    cutting_minutes_per_layer=10,
    assembly_minutes=180,
    coldwork_minutes=240,
)
# The same for every piece, whatever its size.
TASKS = plain.tasks(painting=90, cutting=10, stacking=180, edges=240)
HOUR, DAY = dt.timedelta(hours=1), dt.timedelta(days=1)


def translate(studio, *, now=NOW, weeks=20, due_dates=None):
    return plan_problem(
        studio=studio, now=now, weeks=weeks, tasks=TASKS, due_dates=due_dates or {}
    )


def as_json(problem):
    """The problem in the format that `plan_kilns` reads."""
    return {
        "horizon": problem.horizon,
        "access": [list(w) for w in problem.access],
        "kinds": [
            {
                "id": k.id,
                "temp_f": k.temp_f,
                "run": k.run,
                "load": k.load,
                "unload": k.unload,
                "gap_mm": k.gap_mm,
            }
            for k in problem.kinds
        ],
        "kilns": [
            {
                "id": k.id,
                "width_mm": k.width_mm,
                "depth_mm": k.depth_mm,
                "height_mm": k.height_mm,
                "max_temp_f": k.max_temp_f,
                "kwh_per_firing_burn": k.kwh_per_enamel_firing,
                "kwh_per_day_fuse": k.kwh_per_day_fuse,
                "maintenance": [list(w) for w in k.maintenance],
            }
            for k in problem.kilns
        ],
        "people": [
            {
                "id": p.id,
                "skills": sorted(p.skills),
                "available": [list(w) for w in p.available],
                "weekly_cap": p.weekly_cap,
            }
            for p in problem.people
        ],
        "fixed": [
            {"id": f.id, "kiln": f.kiln, "start": f.start, "end": f.end}
            for f in problem.fixed
        ],
        "pieces": [_piece_json(p) for p in problem.pieces],
    }


def _piece_json(p):
    fuse = {"fused": True}
    if p.fuse is not None:
        fuse = {
            "fuse_temp_f": p.fuse.temp_f,
            "fuse_run": p.fuse.run,
            "fuse_load": p.fuse.load,
            "fuse_unload": p.fuse.unload,
        }
    return fuse | {
        "id": p.id,
        "artist": p.artist,
        "release": p.release,
        "due_day": p.due_day,
        "weight": p.weight,
        "width_mm": p.width_mm,
        "depth_mm": p.depth_mm,
        "height_mm": p.height_mm,
        "layers": [
            [
                {
                    "kind": one.kind,
                    "painted": not one.labour,
                    "labour": one.labour,
                    "not_before": one.not_before,
                }
                for one in layer
            ]
            for layer in p.layers
        ],
        "layer_height_mm": p.layer_height_mm,
        "assembly": p.assembly,
        "coldwork": p.coldwork,
        "ship_days": p.ship_days,
        "layers_not_in": sorted(p.layers_not_in),
        "stack_not_in": sorted(p.stack_not_in),
    }


def planned(source):
    plan = to_plan(first_plan(Facts(source.problem)))
    verdict = check_plan(source.problem, plan)
    assert verdict.is_valid, verdict.faults
    return plan


def test_the_demo_is_accepted_by_viewer_and_validator_and_its_plan_by_the_checker(demo):
    for studio in Studio.objects.order_by("pk"):
        source = translate(studio, now=MONDAY_MORNING)
        read = read_problem(as_json(source.problem))
        assert read.pieces == source.problem.pieces
        assert read.fixed == source.problem.fixed
        check_feasible(source.problem)
        plan = planned(source)
        assert not plan.undelivered
    source = translate(demo, now=MONDAY_MORNING)
    names = {source.call(one.id) for one in source.problem.pieces}
    assert "Mud flats, last light" in names


def test_the_demo_s_states_come_over(demo):
    source = translate(demo, now=MONDAY_MORNING)
    pieces = {source.call(one.id): one for one in source.problem.pieces}
    cooling = pieces["Spring tide at the sluice"]
    assert cooling.fuse is None
    assert cooling.assembly == 0
    heron = max(f.end for f in source.problem.fixed if source.call(f.kiln) == "Heron")
    assert cooling.release == heron
    assert source.calendar.instant(heron) > MONDAY_MORNING + DAY
    broken = pieces["Groyne in winter"]
    assert broken.fuse.temp_f == pytest.approx(900)
    assert not any(broken.layers)
    flats = pieces["Mud flats, last light"]
    assert any(len(layer) == 2 for layer in flats.layers)
    assert any(one.labour == 0 for layer in flats.layers for one in layer)
    assert flats.fuse.temp_f == pytest.approx(1500)


def test_people_are_those_who_make_and_help_within_stated_hours(cast):
    source = translate(cast.studio)
    people = {one.id: one for one in source.problem.people}
    assert person_id(cast.technician.pk) not in people
    assert people[person_id(cast.helper.pk)].skills == {Skill.COLDWORK}
    assert people[person_id(cast.maker.pk)].skills == set(Skill)
    assert source.artists == (person_id(cast.owner.pk), person_id(cast.maker.pk))
    for one in people.values():
        assert one.weekly_cap == BENCH_HOURS_A_WEEK * 2
        assert all(b - a <= BENCH_HOURS_A_DAY * 2 for a, b in one.available)
        assert all(
            any(o <= a and b <= c for o, c in source.problem.access)
            for a, b in one.available
        )


def test_somebody_who_left_does_not_work(cast):
    Membership.owned.for_studio(cast.studio).filter(person=cast.maker).update(
        is_active=False
    )
    assert translate(cast.studio).artists == (person_id(cast.owner.pk),)


def test_access_follows_the_clock_across_its_change(cast):
    # In New York clocks go forward on Sunday 8 March 2026.
    source = translate(cast.studio, weeks=3)
    calendar = source.calendar
    opened = [calendar.instant(a) for a, _ in source.problem.access]
    assert opened[0] == NOW + 4 * HOUR  # now it is 04:00 there
    assert {at.hour for at in opened} == {8}
    assert {at.utcoffset() for at in opened} == {-5 * HOUR, -4 * HOUR}


def test_access_begins_no_earlier_than_now_and_closed_days_have_none(cast):
    noon = dt.datetime(2026, 3, 4, 17, 0, tzinfo=dt.UTC)
    Closure.across_studios.create(
        studio=cast.studio,
        starts_at=noon + DAY,
        ends_at=noon + 2 * DAY,
        reason="Stocktaking",
    )
    source = translate(cast.studio, now=noon)
    start = source.calendar.start
    assert source.problem.access[0] == (start, start + 16)
    shut = (start + SLOTS_PER_DAY, start + 2 * SLOTS_PER_DAY)
    assert not any(a < shut[1] and b > shut[0] for a, b in source.problem.access)
    assert source.problem.kilns[0].maintenance == (shut,)


def test_a_studio_that_is_always_open_still_has_working_days(cast):
    AccessHours.owned.for_studio(cast.studio).delete()
    source = translate(cast.studio, weeks=3)
    assert source.problem.access == ((source.calendar.start, 3 * SLOTS_PER_WEEK),)
    windows = source.problem.people[0].available
    assert len(windows) == 19  # from Wednesday on
    begins = {source.calendar.instant(a).hour for a, _ in windows}
    assert begins == {8}


def test_bookings_rentals_and_closures_hold_the_kiln_and_never_meet(cast):
    first = build.booking(kiln=cast.kiln, starts_at=NOW + DAY, hours=5.25)
    build.booking(kiln=cast.kiln, starts_at=first.ends_at, hours=3)
    gone = build.booking(kiln=cast.kiln, starts_at=NOW + 3 * DAY)
    cancel_booking(booking=gone, reason="Not wanted", by=None, at=NOW)
    Closure.across_studios.create(
        studio=cast.studio,
        kiln=cast.kiln,
        starts_at=NOW + DAY + 4 * HOUR,
        ends_at=NOW + DAY + 20 * HOUR,
        reason="New lid",
    )
    source = translate(cast.studio)
    one, other = source.problem.fixed
    assert (one.end - one.start, other.start - one.end) == (11, 0)
    assert source.calendar.instant(other.end) >= first.ends_at + 3 * HOUR
    (window,) = source.problem.kilns[0].maintenance
    assert window[0] == other.end
    assert read_problem(as_json(source.problem)).fixed == source.problem.fixed


def test_a_running_firing_holds_its_kiln_until_somebody_may_open_it(cast):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass)
    start_firing(firing=firing, by=cast.owner, at=NOW)
    firing.booking.refresh_from_db()
    late = firing.booking.ends_at + 30 * HOUR  # nobody has unloaded it
    source = translate(cast.studio, now=late)
    (fixed,) = source.problem.fixed
    assert source.calendar.instant(fixed.end) > late
    (piece,) = source.problem.pieces
    assert not any(piece.layers)
    assert piece.release == fixed.end


def test_passes_in_a_booked_load_are_waited_for_and_painted_ones_are_not_painted(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=4, passes=2)
    ready = build.painted(piece)
    build.firings.make_up_enamel_firing(
        studio=cast.studio,
        kiln=cast.kiln,
        passes=ready[:1],
        starts_at=NOW + DAY,
        by=None,
        at=NOW,
    )
    source = translate(cast.studio)
    (found,) = source.problem.pieces
    (fixed,) = source.problem.fixed
    in_load, waiting, *_ = found.layers
    assert [(p.labour, p.not_before) for p in in_load] == [(3, fixed.end)]
    assert [(p.labour, p.not_before) for p in waiting] == [(0, 0), (3, 0)]
    assert found.layers[-1] == ()
    planned(source)


def test_a_booked_fuse_leaves_cold_work_only(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    (before,) = translate(cast.studio).problem.pieces
    assert before.fuse is not None
    build.fuse(piece=piece, kiln=cast.kiln, starts_at=NOW + DAY)
    source = translate(cast.studio)
    (found,) = source.problem.pieces
    assert found.fuse is None
    assert found.release == source.problem.fixed[0].end
    assert found.coldwork == 8


def test_a_layer_to_be_made_again_is_painted_again(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=3)
    make.paint_and_fire(piece)
    of_pass = make.passes_of(piece)[0]
    layers.make_again(layer=of_pass.sheet.layer, reason="Cracked", by=None, at=NOW)
    (found,) = translate(cast.studio).problem.pieces
    assert sum(one.labour > 0 for layer in found.layers for one in layer) == 1


def test_a_piece_that_no_kiln_takes_is_left_out_and_said(cast):
    make.piece(studio=cast.studio, glass=cast.glass, layers=90, title="Pillar")
    source = translate(cast.studio)
    assert source.problem.pieces == ()
    assert any("Pillar" in told and "No kiln" in told for told in source.left_out)


def test_promised_dates_become_due_days(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    due = dt.date(2026, 4, 2)
    source = translate(cast.studio, due_dates={piece.pk: due})
    (found,) = source.problem.pieces
    assert source.calendar.date_of(found.due_day) == due
    assert found.weight == 1


def test_other_studios_never_enter(cast, strangers):
    before = translate(cast.studio).problem
    make.piece(studio=strangers.studio, glass=strangers.glass, title="Theirs")
    build.booking(kiln=strangers.kiln, starts_at=NOW + DAY)
    build.enamel(kiln=strangers.kiln, glass=strangers.glass, starts_at=NOW + 2 * DAY)
    Closure.across_studios.create(
        studio=strangers.studio,
        starts_at=NOW,
        ends_at=NOW + DAY,
        reason="Theirs",
    )
    assert translate(cast.studio).problem == before


def test_the_queries_do_not_grow_with_the_work(cast):
    def count():
        with CaptureQueriesContext(connection) as caught:
            translate(cast.studio)
        return len(caught)

    build.enamel(kiln=cast.kiln, glass=cast.glass)
    few = count()
    for number in range(4):
        make.piece(studio=cast.studio, glass=cast.glass, title=f"More {number}")
        build.booking(kiln=cast.kiln, starts_at=NOW + (number + 3) * DAY)
    build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=NOW + 10 * DAY)
    assert count() == few <= 22
