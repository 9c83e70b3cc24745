"""What a studio's own times say: by piece, about its rules, and what is likely next."""

import datetime as dt
from decimal import Decimal

import pytest

from firing.firings.services.firings import make_up_enamel_firing
from firing.firings.services.running import finish_firing, start_firing
from studio.models import Technique
from studio.selectors.bench_times import minutes_by_rule, own_records, tasks_of
from studio.selectors.piece_times import likely_task, piece_times
from studio.selectors.pieces import fresh
from studio.selectors.task_times import minutes_by_task
from studio.services import layers
from studio.services.pieces import LayerPlan, finish_piece, plan_piece
from studio.services.task_times import record_time, take_back_time
from tests import make
from tests.firing.build import READ_COLD

NOW = make.NOW


def recorded(piece, by, task="stacking", minutes=60):
    return record_time(
        piece=piece,
        task=task,
        minutes=minutes,
        day=NOW.date(),
        note="",
        by=by,
        at=NOW,
    )


def finished(cast, **more):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=6, **more)
    make.paint_and_fuse(piece)
    finish_piece(piece=piece, by=cast.maker, at=NOW)
    return piece


def test_minutes_by_piece_and_task_with_those_of_the_passes(cast):
    first = finished(cast)
    second = make.piece(studio=cast.studio, glass=cast.glass)
    recorded(first, cast.helper, minutes=50)
    recorded(first, cast.maker, minutes=20)
    take_back_time(time=recorded(second, cast.helper), by=cast.helper, at=NOW)
    found = minutes_by_task(first.studio, [first.pk, second.pk])
    # Five painted layers, 60 minutes each: see `make.paint_and_fire`.
    assert found == {first.pk: {"stacking": 70, "painting": 300}}


def test_decals_have_their_own_task(cast):
    decal = LayerPlan(technique=Technique.DECAL, passes=1, glass=cast.glass)
    piece = plan_piece(
        studio=cast.studio,
        title="Reed edge",
        width_mm=200,
        height_mm=100,
        glass=cast.glass,
        layers=[decal] * 2,
        by=None,
        at=NOW,
    )
    layers.record_painted(
        passes=make.passes_of(piece), minutes=15, by=cast.maker, at=NOW
    )
    assert minutes_by_task(piece.studio, [piece.pk]) == {piece.pk: {"decals": 30}}


def test_five_finished_pieces_say_something_about_a_rule(cast):
    pieces = [finished(cast) for _ in range(5)]
    # The rule: 30 min, and 12 for each of six layers.
    rule = 30 + 6 * 12
    taken = [51, 102, 204, 102, 153]
    for piece, minutes in zip(pieces[:4], taken, strict=False):
        recorded(piece, cast.helper, minutes=minutes)
    assert "stacking" not in own_records(cast.studio)
    # Two sittings at one piece are one record of it.
    recorded(pieces[4], cast.helper, minutes=100)
    recorded(pieces[4], cast.maker, minutes=53)
    record = own_records(cast.studio)["stacking"]
    # Sorted 0.5, 1, 1, 1.5, 2 of the rule. Of five values the quartiles are the second
    # and the fourth: type 7 of Hyndman and Fan, Am. Stat. 50 (1996) 361, from memory.
    assert rule == 102
    assert (record.count, record.ratio) == (5, 1)
    assert (record.low, record.high) == (1, Decimal("1.5"))
    assert record.words == (
        "5 of your pieces took 100% of this, half of them 100% to 150%"
    )


def test_what_is_taken_over_is_the_rule_scaled(cast):
    for _ in range(5):
        recorded(finished(cast), cast.helper, minutes=153)
    rule = own_records(cast.studio)["stacking"].taken_over
    assert (rule.minutes, rule.minutes_each) == (Decimal("45.0"), Decimal("18.0"))


def test_only_finished_pieces_and_what_stands_count(cast):
    for _ in range(5):
        recorded(make.piece(studio=cast.studio, glass=cast.glass), cast.helper)
    for _ in range(5):
        take_back_time(
            time=recorded(finished(cast), cast.helper), by=cast.helper, at=NOW
        )
    assert "stacking" not in own_records(cast.studio)


def loaded(cast, passes, days, kiln=None):
    """Return a firing of some passes, loaded so many days from now and unloaded later."""
    starts_at = NOW + dt.timedelta(days=days)
    firing = make_up_enamel_firing(
        studio=cast.studio,
        kiln=kiln or cast.kiln,
        passes=passes,
        starts_at=starts_at,
        by=None,
        at=starts_at,
    )
    start_firing(firing=firing, by=None, at=starts_at)
    return finish_firing(
        firing=firing,
        outcomes={item.pk: ("fine", "") for item in firing.items.all()},
        by=None,
        at=starts_at + dt.timedelta(hours=26),
        hand=READ_COLD,
    )


def loading(cast, piece, days, minutes):
    at = NOW + dt.timedelta(days=days)
    return record_time(
        piece=piece,
        task="loading",
        minutes=minutes,
        day=at.date(),
        note="",
        by=cast.helper,
        at=at,
    )


def test_loading_goes_by_firings_whichever_piece_it_was_noted_with(cast):
    taken = [(15, 0), (30, 0), (20, 40), (15, 15), (0, 45)]
    for number, (before, after) in enumerate(taken):
        assert "loading" not in own_records(cast.studio)
        one, other = (
            make.piece(studio=cast.studio, glass=cast.glass, layers=2) for _ in "ab"
        )
        layers.record_painted(passes=make.passes_of(one), minutes=9, by=None, at=NOW)
        layers.record_painted(passes=make.passes_of(other), minutes=9, by=None, at=NOW)
        passes = [*make.passes_of(one), *make.passes_of(other)]
        loaded(cast, passes, days=3 * number)
        # Loaded on one day with the one, unloaded on the next with the other.
        for piece, day, minutes in ((one, 0, before), (other, 1, after)):
            if minutes:
                loading(cast, piece, 3 * number + day, minutes)
    record = own_records(cast.studio)["loading"]
    # Of the usual 30 min: 15, 30, 60, 30 and 45, so 0.5, 1, 1, 1.5, 2 of it.
    assert (record.count, record.of, record.ratio) == (5, "firings", 1)
    assert (record.low, record.high) == (1, Decimal("1.5"))
    assert record.taken_over.minutes_each == 30
    # Noted on a day on which the piece was in no kiln, it says nothing of a firing.
    loading(cast, one, 2, 300)
    assert own_records(cast.studio)["loading"] == record


def test_a_time_that_two_firings_may_have_taken_counts_for_neither(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=9)
    layers.record_painted(passes=make.passes_of(piece), minutes=9, by=None, at=NOW)
    passes = make.passes_of(piece)
    for number in range(6):
        loaded(cast, passes[number : number + 1], days=2 * number)
        loading(cast, piece, 2 * number, 30)
    assert own_records(cast.studio)["loading"].count == 6
    # Loaded when the sixth was unloaded: the time of that day may be either's.
    loaded(cast, passes[6:7], days=11, kiln=make.kiln(studio=cast.studio))
    assert own_records(cast.studio)["loading"].count == 6
    loading(cast, piece, 11, 40)
    assert own_records(cast.studio)["loading"].count == 5


def test_loading_of_pieces_in_no_firing_says_nothing(cast):
    for _ in range(5):
        recorded(finished(cast), cast.helper, task="loading")
    assert "loading" not in own_records(cast.studio)


def test_painting_still_goes_by_passes(cast):
    recorded(finished(cast), cast.helper, task="painting", minutes=999)
    record = own_records(cast.studio)["painting"]
    assert (record.count, record.of) == (5, "passes")


def test_another_studio_says_nothing_about_ours(cast, strangers):
    for _ in range(5):
        recorded(finished(strangers), strangers.helper)
    assert own_records(cast.studio) == {}


def likely(piece):
    view, tasks = fresh(piece), tasks_of(piece.studio)
    found = likely_task(
        view, tasks, minutes_by_task(piece.studio, [piece.pk]).get(piece.pk, {})
    )
    return None if found is None else found.key


def test_the_likely_task_follows_the_piece(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=6)
    assert likely(piece) == "design"
    recorded(piece, cast.helper, task="design")
    assert likely(piece) == "cutting"
    recorded(piece, cast.helper, task="cutting")
    assert likely(piece) == "painting"
    layers.record_painted(passes=make.passes_of(piece), by=cast.maker, at=NOW)
    assert likely(piece) == "loading"
    for of_pass in make.passes_of(piece):
        layers.record_outcome(of_pass=of_pass, outcome="fine", by=None, at=NOW)
    assert likely(piece) == "stacking"
    recorded(piece, cast.helper, task="stacking")
    assert likely(piece) == "dams"


def test_a_finished_piece_has_its_edges_to_packing_in_order(cast):
    piece = finished(cast)
    for task in ("edges", "faces", "inspecting", "photographs", "packing"):
        assert likely(piece) == task
        recorded(piece, cast.helper, task=task)
    assert likely(piece) == "packing"


def test_a_pieces_bars_stand_to_one_scale_in_the_order_of_the_work(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=6)
    recorded(piece, cast.helper, task="stacking", minutes=51)
    recorded(piece, cast.helper, task="cutting", minutes=144)
    work = piece_times(fresh(piece), tasks_of(cast.studio))
    # Cutting by its rule: four cuts a layer, 3 minutes each.
    assert [(b.name, b.minutes, b.usual) for b in work.bars] == [
        ("Cutting and cleaning", 144, 72),
        ("Registration and stacking", 51, 102),
    ]
    assert [(b.width, b.usual_x) for b in work.bars] == [(1000, 500), (354, 708)]
    assert work.total == 195


def test_a_maquette_is_measured_by_its_own_rule(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=6)
    small = plan_piece(
        studio=cast.studio,
        title="Maquette",
        width_mm=100,
        height_mm=100,
        glass=cast.glass,
        layers=[LayerPlan(technique=Technique.PAINTED, passes=1, glass=cast.glass)],
        maquette_of=piece,
        by=None,
        at=NOW,
    )
    by_key = {task.key: task for task in tasks_of(cast.studio)}
    assert minutes_by_rule(fresh(small), by_key["packing"]) == 0
    assert minutes_by_rule(fresh(piece), by_key["packing"]) == 60


@pytest.mark.parametrize("days", [1, 400])
def test_old_times_count_as_new_ones(cast, days):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    record_time(
        piece=piece,
        task="dams",
        minutes=5,
        day=NOW.date() - dt.timedelta(days=days),
        note="",
        by=cast.helper,
        at=NOW,
    )
    assert minutes_by_task(piece.studio, [piece.pk]) == {piece.pk: {"dams": 5}}
