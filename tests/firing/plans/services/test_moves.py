"""Moving a booking: the rules in words, what follows, and what is written."""

import datetime as dt
import threading

import pytest
from django.db import connection

from firing.firings.services.running import finish_firing, start_firing
from firing.kiln_time.selectors.moving import SNAP, judge_move, movable, why_fixed
from firing.kiln_time.services import bookings
from firing.models import Booking, Firing
from firing.planning.problem import practice
from firing.plans.services.moves import NotMoved, move_booking
from studio.errors import Refused
from studio.models import AccessHours, Closure, HistoryEntry, PieceEvent
from tests import make
from tests.firing import build
from tests.make import NOW

HOUR = dt.timedelta(hours=1)
DAY = 24 * HOUR
# Nine in the morning in New York, on the day after.
MORNING = NOW + DAY + 5 * HOUR


def judged(cast, booking, *, kiln=None, starts_at):
    return judge_move(
        booking,
        kiln=kiln or booking.kiln,
        starts_at=starts_at,
        viewer=cast.viewer(),
        now=NOW,
    )


def moved(booking, *, kiln=None, starts_at, by=None):
    return move_booking(
        booking=booking,
        kiln=kiln or booking.kiln,
        starts_at=starts_at,
        by=by,
        at=NOW,
    )


@pytest.fixture
def firing(cast):
    made = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=MORNING)
    return Firing.across_studios.select_related("booking__kiln").get(pk=made.pk)


@pytest.fixture
def booking(firing):
    return firing.booking


def test_a_free_place_is_taken_and_the_curve_kept(cast, booking):
    curve, lasts = booking.planned_curve, booking.ends_at - booking.starts_at
    start = MORNING + 3 * DAY
    assert judged(cast, booking, starts_at=start).problems == ()
    moved(booking, starts_at=start, by=cast.maker)
    booking.refresh_from_db()
    assert (booking.starts_at, booking.ends_at) == (start, start + lasts)
    assert booking.planned_curve == curve
    line = HistoryEntry.owned.for_studio(cast.studio).latest("pk")
    assert line.what.startswith("Moved “Enamel: Ebb 1, 2” from Kiln")
    assert line.by == cast.maker
    assert line.piece.title == "Ebb"


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        (-30, "is past"),
        (13, "Nobody is in to load it"),
        (50, "is taken by “Class”"),
        (24 * 9, "is closed from"),
    ],
)
def test_each_rule_is_named_and_a_place_near_it_offered(cast, booking, hours, said):
    build.booking(kiln=cast.kiln, starts_at=MORNING + 48 * HOUR, title="Class")
    Closure.across_studios.create(
        studio=cast.studio,
        starts_at=MORNING + 24 * 9 * HOUR - HOUR,
        ends_at=MORNING + 24 * 10 * HOUR,
        reason="Painting the walls",
    )
    asked = MORNING + hours * HOUR
    verdict = judged(cast, booking, starts_at=asked)
    assert said in " ".join(verdict.problems)
    assert judged(cast, booking, starts_at=verdict.nearest).is_permitted
    with pytest.raises(NotMoved, match="nearest start is") as refusal:
        moved(booking, starts_at=asked)
    assert refusal.value.verdict.nearest == verdict.nearest
    booking.refresh_from_db()
    assert booking.starts_at == MORNING


@pytest.fixture
def cold_at_night(cast, booking):
    """Begin the booking when the studio opens: cold before it opens on the next day."""
    start = MORNING - HOUR
    cold = start + dt.timedelta(seconds=booking.planned_curve[-1][0])
    local = cold.astimezone(cast.viewer().zone)
    assert local.date() == start.date() + dt.timedelta(days=1)
    assert dt.time(6) < local.time() < dt.time(7, 15)
    return start


def test_a_kiln_that_nobody_empties_in_time_is_refused(cast, booking, cold_at_night):
    moved(booking, starts_at=MORNING + 9 * DAY)
    class_at = cold_at_night + 23 * HOUR + HOUR / 2
    build.booking(kiln=cast.kiln, starts_at=class_at, title="Class")
    verdict = judged(cast, booking, starts_at=cold_at_night)
    assert "is empty only by Fri 08:30" in verdict.problems[0]
    assert "“Class” begins" in verdict.problems[0]


def test_what_stands_before_must_be_emptied_first(cast, booking, cold_at_night):
    moved(booking, starts_at=cold_at_night)
    other = build.enamel(
        kiln=make.kiln(studio=cast.studio),
        glass=cast.glass,
        starts_at=MORNING,
        title="Flood",
    ).booking
    opening = cold_at_night + 24 * HOUR
    verdict = judged(cast, other, kiln=cast.kiln, starts_at=opening + HOUR / 4)
    assert "before it can be unloaded only by" in verdict.problems[0]
    assert verdict.nearest == opening + HOUR / 2
    assert verdict.snap_to == verdict.nearest


def test_a_rental_needs_nobody_in(cast):
    rental = build.booking(kiln=cast.kiln, starts_at=MORNING)
    night = MORNING + 15 * HOUR
    assert judged(cast, rental, starts_at=night).is_permitted


def test_what_was_started_is_over_or_cancelled_stays(cast, firing, booking):
    rental = build.booking(
        kiln=make.kiln(studio=cast.studio), starts_at=NOW - HOUR, at=NOW - DAY
    )
    assert "has begun" in why_fixed(rental, NOW)
    started = start_firing(firing=firing, by=None, at=NOW)
    running = Booking.owned.for_studio(cast.studio).get(pk=booking.pk)
    assert "never moved" in why_fixed(running, NOW)
    verdict = judged(cast, running, starts_at=MORNING + 9 * DAY)
    assert verdict.problems == (why_fixed(running, NOW),)
    assert verdict.snap_to is None
    with pytest.raises(NotMoved, match="running firing"):
        moved(running, starts_at=MORNING + 9 * DAY)
    finish_firing(
        firing=started,
        outcomes={item.pk: ("fine", "") for item in started.items.all()},
        by=None,
        at=NOW + HOUR,
        hand=build.READ_COLD,
    )
    over = Booking.owned.for_studio(cast.studio).get(pk=booking.pk)
    assert "is over" in why_fixed(over, NOW + HOUR)
    bookings.cancel_booking(booking=rental, reason="", by=None, at=NOW)
    rental.refresh_from_db()
    assert "is cancelled" in why_fixed(rental, NOW)


def test_a_firing_that_was_never_started_can_be_moved_on(cast, booking):
    late = NOW + 9 * DAY
    assert movable(booking, late)
    verdict = judge_move(
        booking,
        kiln=booking.kiln,
        starts_at=MORNING + 9 * DAY,
        viewer=cast.viewer(),
        now=late,
    )
    assert verdict.is_permitted


def test_another_kiln_gives_its_own_schedule_length_and_places(cast, firing, booking):
    slow = make.kiln(
        studio=cast.studio, name="Slow", cooling_time_constant_s=9 * 3600.0
    )
    moved(booking, kiln=slow, starts_at=MORNING)
    booking.refresh_from_db()
    firing.refresh_from_db()
    assert booking.kiln == firing.kiln == firing.schedule.kiln == slow
    cold_s = booking.planned_curve[-1][0]
    assert booking.ends_at - booking.starts_at == dt.timedelta(
        seconds=cold_s + practice.UNLOAD_S
    )
    assert all(item.x_mm is not None for item in firing.items.all())
    assert "Slow" in HistoryEntry.owned.for_studio(cast.studio).latest("pk").what


def test_a_fuse_in_another_kiln_is_computed_for_it(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    fuse = build.fuse(piece=piece, kiln=cast.kiln, starts_at=MORNING)
    slow = make.kiln(
        studio=cast.studio, name="Slow", cooling_time_constant_s=9 * 3600.0
    )
    moved(fuse.booking, kiln=slow, starts_at=MORNING)
    fuse.refresh_from_db()
    assert fuse.schedule.kiln == slow
    assert fuse.schedule.rule == "next row"
    assert fuse.schedule.piece == piece


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"shelf_width_mm": 100, "shelf_depth_mm": 100}, "layers fit on the shelf"),
        ({"max_temperature_c": 500}, "reaches 932 °F"),
        ({"controller_segments": 2}, "segments"),
        ({"is_retired": True}, "no longer in use"),
    ],
)
def test_a_kiln_that_cannot_take_it_says_why(cast, booking, changes, said):
    other = make.kiln(studio=cast.studio, **changes)
    verdict = judged(cast, booking, kiln=other, starts_at=MORNING)
    assert said in " ".join(verdict.problems)
    assert verdict.nearest is None


def test_a_stack_too_high_for_the_other_kiln_stays(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    fuse = build.fuse(piece=piece, kiln=cast.kiln, starts_at=MORNING)
    low = make.kiln(studio=cast.studio, inner_height_mm=100)
    verdict = judged(cast, fuse.booking, kiln=low, starts_at=MORNING)
    assert "cannot take Reed bed" in verdict.problems[0]


def test_a_drop_far_from_anything_free_goes_back(cast, booking):
    build.booking(kiln=cast.kiln, starts_at=MORNING + 3 * DAY, hours=24 * 20)
    verdict = judged(cast, booking, starts_at=MORNING + 12 * DAY)
    assert abs(verdict.nearest - verdict.starts_at) > SNAP
    assert verdict.snap_to is None


def test_the_database_has_the_last_word(cast, booking, monkeypatch):
    build.booking(kiln=cast.kiln, starts_at=MORNING + 48 * HOUR, title="Class")
    monkeypatch.setattr(
        "firing.kiln_time.selectors.moving.taken_in", lambda *_, **__: []
    )
    with pytest.raises(bookings.KilnTaken, match="taken by “Class”"):
        moved(booking, starts_at=MORNING + 48 * HOUR)
    booking.refresh_from_db()
    assert booking.starts_at == MORNING


def test_a_strangers_kiln_is_refused(cast, strangers, booking):
    with pytest.raises(Exception, match="studio"):
        moved(booking, kiln=strangers.kiln, starts_at=MORNING)


def test_what_moved_to_a_third_kiln_meanwhile_is_looked_at_again(cast, booking):
    seen = Booking.owned.for_studio(cast.studio).select_related("kiln").get()
    third = make.kiln(studio=cast.studio, name="Third")
    moved(booking, kiln=third, starts_at=MORNING)
    with pytest.raises(Refused, match="Third meanwhile"):
        moved(seen, starts_at=MORNING + DAY)


def test_the_promised_date_is_told(cast, booking, firing):
    piece = firing.items.first().of_pass.sheet.layer.piece
    due = (NOW + 9 * DAY).date()
    make.promised(piece, due)
    soon = " ".join(judged(cast, booking, starts_at=MORNING + DAY).consequences)
    assert "Ebb is promised for Fri 13 Mar" in soon
    assert "the fuse" in soon
    assert "late" not in soon.replace("later than now", "")
    far = " ".join(judged(cast, booking, starts_at=MORNING + 20 * DAY).consequences)
    assert "days late" in far
    assert "later than now; their next pass or the fuse waits for that" in far


def test_hours_of_access_that_do_not_hold_loading_are_no_place(cast, booking):
    AccessHours.owned.for_studio(cast.studio).update(
        opens=dt.time(8), closes=dt.time(8, 20)
    )
    verdict = judged(cast, booking, starts_at=MORNING + DAY)
    assert verdict.nearest is None
    assert "Nobody is in to load it" in verdict.problems[0]


def test_a_lost_piece_needs_no_words_about_its_date(cast, booking, firing):
    other = make.piece(studio=cast.studio, glass=cast.glass)
    make.promised(other, NOW.date())
    told = judged(cast, booking, starts_at=MORNING + DAY).consequences
    assert not any("promised" in one for one in told)
    assert not PieceEvent.owned.for_studio(cast.studio).filter(kind="lost").exists()


@pytest.mark.parametrize("kind", ["enamel", "fuse"])
def test_a_designed_schedule_belongs_to_its_kiln(cast, booking, firing, kind):
    if kind == "fuse":
        piece = build.stacked(studio=cast.studio, glass=cast.glass)
        firing = build.fuse(piece=piece, kiln=cast.kiln, starts_at=MORNING + 4 * DAY)
    firing.schedule.rule = "computed"
    firing.schedule.save()
    found = Booking.across_studios.select_related("firing__schedule", "kiln").get(
        pk=firing.booking_id
    )
    other = make.kiln(studio=cast.studio)
    verdict = judged(cast, found, kiln=other, starts_at=found.starts_at + DAY)
    assert "was designed for" in verdict.problems[0]
    assert judged(cast, found, starts_at=found.starts_at + DAY).is_permitted


@pytest.mark.django_db(transaction=True)
def test_two_who_move_into_one_place_at_once_leave_one_there(cast):
    """One wins; the other is told what is there, and its booking stays."""
    wanted = make.kiln(studio=cast.studio, name="Wanted")
    rows = [
        build.booking(kiln=make.kiln(studio=cast.studio), starts_at=MORNING, title=name)
        for name in ("A", "B")
    ]
    gate, told = threading.Barrier(2), {}

    def move(booking):
        try:
            gate.wait(timeout=20)
            moved(booking, kiln=wanted, starts_at=MORNING)
            told[booking.title] = "moved"
        except Refused as refusal:
            told[booking.title] = str(refusal)
        finally:
            connection.close()

    threads = [threading.Thread(target=move, args=(row,)) for row in rows]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=40)
    there = Booking.owned.for_studio(cast.studio).filter(kiln=wanted)
    assert there.count() == 1
    winner = there.get().title
    (loser,) = {"A", "B"} - {winner}
    assert told[winner] == "moved"
    assert f"taken by “{winner}”" in told[loser]
