"""Timers and typed times: one at once, nothing lost, each put right."""

import datetime as dt

import pytest
from django.db import IntegrityError, transaction

from studio.errors import Refused
from studio.models import BenchTask, HistoryEntry, TaskTime
from studio.selectors.task_times import minutes_by_task, running_timer
from studio.services import layers
from studio.services.pieces import mark_lost
from studio.services.task_times import (
    correct_time,
    put_back_time,
    record_time,
    resume_timer,
    start_timer,
    stop_timer,
    take_back_time,
)
from tests import make

MINUTE, HOUR = dt.timedelta(minutes=1), dt.timedelta(hours=1)
NOW = make.NOW  # 04:00 in the studio


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass, layers=6)


@pytest.fixture
def start(cast, piece):
    def begin(task="cutting", *, of=piece, by=cast.helper, at=NOW):
        return start_timer(piece=of, task=task, by=by, at=at)

    return begin


def typed(piece, by, task="cutting", minutes=40, at=NOW, **more):
    asked = {"day": make.NOW.date(), "note": "", **more}
    return record_time(piece=piece, task=task, minutes=minutes, by=by, at=at, **asked)


def taken(piece):
    return minutes_by_task(piece.studio, [piece.pk]).get(piece.pk, {})


def lines(piece):
    found = HistoryEntry.owned.for_studio(piece.studio).filter(piece=piece)
    return list(found.order_by("pk").values_list("what", flat=True))


def test_a_timer_counts_from_its_start_to_its_stop(cast, piece, start):
    time = start()
    assert taken(piece) == {}, "It runs: nothing is known yet."
    assert running_timer(cast.studio, cast.helper.pk, NOW + 9 * MINUTE).minutes == 9
    stop_timer(time=time, by=cast.helper, at=NOW + 47 * MINUTE)
    assert taken(piece) == {"cutting": 47}
    assert running_timer(cast.studio, cast.helper.pk, NOW + HOUR) is None
    assert lines(piece)[-1].startswith("Cutting and cleaning: 47 min on Wed 4 Mar 2026")


def test_a_stop_within_seconds_is_a_minute(cast, piece, start):
    stop_timer(time=start(), by=cast.helper, at=NOW + dt.timedelta(seconds=5))
    assert taken(piece) == {"cutting": 1}


def test_pressing_twice_changes_nothing(cast, piece, start):
    time = start()
    assert start(at=NOW + MINUTE) == time
    stop_timer(time=time, by=cast.helper, at=NOW + 20 * MINUTE)
    stop_timer(time=time, by=cast.helper, at=NOW + 25 * MINUTE)
    assert taken(piece) == {"cutting": 20}


def test_another_task_stops_the_one_before(cast, piece, start):
    start("cutting")
    start("dams", at=NOW + 30 * MINUTE)
    assert taken(piece) == {"cutting": 30}
    assert running_timer(cast.studio, cast.helper.pk, NOW + HOUR).time.task == "dams"


def test_each_person_has_a_timer_and_only_one(cast, piece, start):
    first = start()
    other = start(by=cast.maker)
    assert first != other
    with pytest.raises(IntegrityError), transaction.atomic():
        TaskTime.across_studios.create(
            studio=cast.studio,
            piece=piece,
            task="dams",
            task_name="Dams",
            person=cast.maker,
            started_at=NOW,
            day=NOW.date(),
            recorded_at=NOW,
        )


@pytest.mark.parametrize(
    ("started", "stopped", "is_forgotten"),
    [
        # In the studio, five hours behind: 16:00 to 8:00, 22:00 to 1:30, 7:00 to 18:30.
        (dt.time(21), 16 * HOUR, True),
        (dt.time(3), 3.5 * HOUR, False),
        (dt.time(3), 4.5 * HOUR, True),
        (dt.time(12), 11.5 * HOUR, False),
        (dt.time(12), 12.5 * HOUR, True),
    ],
)
def test_a_timer_left_on_over_night_asks_how_long_it_took(
    cast, piece, start, started, stopped, is_forgotten
):
    began = dt.datetime.combine(dt.date(2026, 3, 4), started, dt.UTC)
    time = start(at=began)
    ended = began + stopped
    assert (
        running_timer(cast.studio, cast.helper.pk, ended).is_forgotten == is_forgotten
    )
    if not is_forgotten:
        stop_timer(time=time, by=cast.helper, at=ended)
        return
    with pytest.raises(Refused, match="Say how long it took"):
        stop_timer(time=time, by=cast.helper, at=ended)
    with pytest.raises(Refused, match="Say how long it took"):
        start("dams", at=ended)
    stop_timer(time=time, minutes=95, by=cast.helper, at=ended)
    assert taken(piece) == {"cutting": 95}


def test_a_stop_by_a_slip_of_the_finger_goes_on_counting(cast, piece, start):
    time = start()
    stop_timer(time=time, by=cast.helper, at=NOW + 20 * MINUTE)
    resume_timer(time=time, by=cast.helper, at=NOW + 21 * MINUTE)
    stop_timer(time=time, by=cast.helper, at=NOW + 50 * MINUTE)
    assert taken(piece) == {"cutting": 50}
    with pytest.raises(Refused, match="a while ago"):
        resume_timer(time=time, by=cast.helper, at=NOW + 3 * HOUR)


def test_no_second_timer_by_going_on(cast, start):
    time = start()
    start("dams", at=NOW + 5 * MINUTE)
    with pytest.raises(Refused, match="Another timer runs"):
        resume_timer(time=time, by=cast.helper, at=NOW + 6 * MINUTE)
    take_back_time(time=time, by=cast.helper, at=NOW + 7 * MINUTE)
    put_back_time(time=time, by=cast.helper, at=NOW + 8 * MINUTE)


def test_a_running_timer_is_thrown_away_at_any_time_without_a_reason(
    cast, piece, start
):
    time = start()
    take_back_time(time=time, by=cast.helper, at=NOW + 20 * HOUR)
    assert taken(piece) == {}
    assert running_timer(cast.studio, cast.helper.pk, NOW + 20 * HOUR) is None
    start(at=NOW + 20 * HOUR)
    with pytest.raises(Refused, match="Another timer runs"):
        put_back_time(time=time, by=cast.helper, at=NOW + 20 * HOUR)


def test_a_typed_time_is_taken_back_and_put_back(cast, piece):
    time = typed(piece, cast.helper)
    assert taken(piece) == {"cutting": 40}
    take_back_time(time=time, by=cast.helper, at=NOW + MINUTE)
    assert taken(piece) == {}
    put_back_time(time=time, by=cast.helper, at=NOW + 2 * MINUTE)
    assert taken(piece) == {"cutting": 40}
    with pytest.raises(Refused, match="Say why"):
        take_back_time(time=time, by=cast.helper, at=NOW + 5 * HOUR)
    take_back_time(time=time, reason="Twice", by=cast.helper, at=NOW + 5 * HOUR)
    assert lines(piece)[-1].endswith("taken back: Twice")


def test_a_time_is_corrected_and_the_history_says_what_it_was(cast, piece):
    time = typed(piece, cast.helper)
    kept = {"day": time.day, "note": "With Tobin"}
    correct_time(
        time=time,
        task="dams",
        minutes=70,
        reason="",
        by=cast.maker,
        at=NOW + MINUTE,
        **kept,
    )
    assert taken(piece) == {"dams": 70}
    assert "Corrected Cutting and cleaning: 40 min" in lines(piece)[-1]
    assert "to Dams: 1 h 10 min" in lines(piece)[-1]
    late = {"time": time, "task": "dams", "minutes": 60, "by": cast.maker}
    with pytest.raises(Refused, match="Say why"):
        correct_time(reason=" ", at=NOW + 5 * HOUR, **late, **kept)
    correct_time(reason="Lunch", at=NOW + 5 * HOUR, **late, **kept)
    assert taken(piece) == {"dams": 60}


@pytest.mark.parametrize(
    ("wrong", "why"),
    [
        ({"minutes": 0}, "from a minute to a day"),
        ({"minutes": 1441}, "from a minute to a day"),
        ({"task": "gilding"}, "no longer among"),
        ({"day": dt.date(2026, 3, 5)}, "still to come"),
    ],
)
def test_what_no_time_is(cast, piece, wrong, why):
    with pytest.raises(Refused, match=why):
        typed(piece, cast.helper, **wrong)
    assert taken(piece) == {}


def test_the_name_of_the_task_stays_as_it_was(cast, piece):
    BenchTask.across_studios.create(
        studio=cast.studio, key="own-1", name="Gilding", number=1, minutes=30
    )
    time = typed(piece, cast.helper, task="own-1")
    BenchTask.owned.for_studio(cast.studio).update(name="Leafing")
    time.refresh_from_db()
    assert time.task_name == "Gilding"


def test_a_lost_piece_takes_no_timer_but_what_was_done_before(cast, piece, start):
    mark_lost(piece=piece, note="Dropped", by=cast.maker, at=NOW)
    with pytest.raises(Refused, match="is lost"):
        start()
    typed(piece, cast.helper)
    assert taken(piece) == {"cutting": 40}


def test_timed_painting_goes_into_the_passes_and_counts_once(cast, piece, start):
    start("painting")
    passes = make.passes_of(piece)[:3]
    at = NOW + 100 * MINUTE
    layers.record_painted(passes=passes, by=cast.helper, at=at)
    # 100 minutes among three: the first has the one that is over.
    assert [p.minutes for p in make.passes_of(piece)[:3]] == [34, 33, 33]
    assert taken(piece) == {"painting": 100}
    assert running_timer(cast.studio, cast.helper.pk, at) is None
    time = TaskTime.owned.for_studio(cast.studio).get()
    with pytest.raises(Refused, match="Take that back first"):
        take_back_time(time=time, by=cast.helper, at=at)
    with pytest.raises(Refused, match="Take that back first"):
        resume_timer(time=time, by=cast.helper, at=at)
    layers.take_back_all(passes=make.passes_of(piece)[:3], by=cast.helper, at=at)
    assert taken(piece) == {"painting": 100}, "It counts by itself again."
    layers.record_painted(passes=passes[:1], by=cast.helper, at=at)
    assert make.passes_of(piece)[0].minutes == 100


def test_a_typed_time_of_painting_counts_in_place_of_the_timer(cast, piece, start):
    stop_timer(time=start("painting"), by=cast.helper, at=NOW + 30 * MINUTE)
    layers.record_painted(
        passes=make.passes_of(piece)[:2], minutes=25, by=cast.helper, at=NOW + HOUR
    )
    assert taken(piece) == {"painting": 50}


def test_somebody_elses_timer_stays_out_of_it(cast, piece, start):
    stop_timer(time=start("painting"), by=cast.helper, at=NOW + 30 * MINUTE)
    layers.record_painted(
        passes=make.passes_of(piece)[:1], by=cast.maker, at=NOW + HOUR
    )
    assert make.passes_of(piece)[0].minutes is None
    assert taken(piece) == {"painting": 30}
