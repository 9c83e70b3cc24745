"""Making up, starting, finishing and cancelling firings: each rule of the work."""

import datetime as dt
import io

import pytest
from django.db import connection
from PIL import Image

from firing.firings.services import firings, running
from firing.firings.services.running import Upload
from firing.kiln_time.selectors.bookings import next_booking_of
from firing.kiln_time.services.bookings import KilnTaken
from firing.loads.selectors.firings import firings_of_piece, running_firing_of
from firing.models import Booking, Firing, LoadItem
from firing.schedules.services import schedules
from studio.errors import Refused
from studio.models import Glass, GlassFamily, Pass, Picture, PieceEvent
from studio.selectors.pieces import fresh
from studio.services import pieces
from studio.services.photographs import develop
from studio.stages import LayerState, Stage
from tests import make
from tests.cast import NOW
from tests.firing import build

HOUR = dt.timedelta(hours=1)
DAY = dt.timedelta(days=1)


def make_up(cast, passes, *, kiln=None, starts_at=NOW):
    return firings.make_up_enamel_firing(
        studio=cast.studio,
        kiln=kiln or cast.kiln,
        passes=passes,
        starts_at=starts_at,
        by=cast.maker,
        at=NOW,
    )


def start(firing, at=NOW):
    return running.start_firing(firing=firing, by=None, at=at)


def finish(firing, outcome="fine", *, at=NOW + 30 * HOUR, **more):
    return running.finish_firing(
        firing=firing,
        outcomes={item.pk: (outcome, "") for item in firing.items.all()},
        by=None,
        at=at,
        **({"hand": build.READ_COLD} | more),
    )


# Enamel loads --------------------------------------------------------------------------


def test_a_load_is_laid_out_and_booked(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=3)
    firing = make_up(cast, build.painted(piece))
    items = list(firing.items.all())
    assert len(items) == 2
    for item in items:
        assert item.x_mm + (200 if item.is_turned else 300) <= 560
        assert item.y_mm + (300 if item.is_turned else 200) <= 560
    assert firing.booking.title == "Enamel: Low water at the sluice 1, 2"
    assert firing.booking.starts_at == NOW
    assert len(firing.booking.planned_curve) <= 200
    # The kiln may be opened at the end of the curve, half an hour of unloading before
    # the next booking may start.
    assert firing.booking.ends_at - firing.booking.opens_at == HOUR / 2
    last_c = firing.booking.planned_curve[-1][1]
    assert last_c == pytest.approx(cast.kiln.opening_temperature_c, abs=0.1)


def test_a_night_when_clocks_change_takes_the_kiln_no_longer(cast):
    # New York's clocks go forward on 8 March 2026.
    before = dt.datetime(2026, 3, 7, 20, tzinfo=cast.viewer().zone)
    passes = build.painted(make.piece(studio=cast.studio, glass=cast.glass))
    booking = make_up(cast, passes, starts_at=before).booking
    booking.refresh_from_db()
    assert booking.ends_at - booking.opens_at == HOUR / 2


def test_a_pass_not_painted_is_refused(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    with pytest.raises(Refused, match="not painted yet"):
        make_up(cast, make.passes_of(piece))


def test_a_pass_fired_already_is_refused(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    make.paint_and_fire(piece)
    with pytest.raises(Refused, match="fired already"):
        make_up(cast, make.passes_of(piece))


def test_nothing_makes_no_load(cast):
    with pytest.raises(Refused, match="at least one"):
        make_up(cast, [])


def test_a_pass_lies_in_one_standing_load_only(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    passes = build.painted(piece)
    first = make_up(cast, passes)
    with pytest.raises(Refused, match="another load already"):
        make_up(cast, passes[:1], starts_at=NOW + 5 * DAY)
    firings.cancel_firing(firing=first, reason="No power", by=None, at=NOW)
    make_up(cast, passes)


def test_what_does_not_fit_is_named(cast):
    small = make.kiln(
        studio=cast.studio, shelf_width_mm=310, shelf_depth_mm=210, name="Little"
    )
    passes = build.painted(make.piece(studio=cast.studio, glass=cast.glass))
    with pytest.raises(Refused, match="Not everything goes into Little.*Layer 2"):
        make_up(cast, passes, kiln=small)
    assert not LoadItem.owned.for_studio(cast.studio).exists()
    make_up(cast, passes[:1], kiln=small)


@pytest.mark.parametrize("enamel_c", [593, 640])
def test_glasses_of_other_temperatures_do_not_share_a_load(cast, enamel_c):
    other = make.glass(studio=cast.studio, family=GlassFamily.EXPANSION_96)
    Glass.owned.for_studio(cast.studio).filter(pk=other.pk).update(enamel_c=enamel_c)
    other.refresh_from_db()
    passes = []
    for glass in (cast.glass, other):
        piece = make.piece(studio=cast.studio, glass=glass, layers=2)
        passes += build.painted(piece)
    if enamel_c == 593:
        make_up(cast, passes)
    else:
        with pytest.raises(Refused, match="different temperatures"):
            make_up(cast, passes)


def test_a_kiln_too_cold_for_enamel_is_refused(cast):
    cold = make.kiln(studio=cast.studio, max_temperature_c=550)
    passes = build.painted(make.piece(studio=cast.studio, glass=cast.glass))
    with pytest.raises(Refused, match="reaches 1022 °F"):
        make_up(cast, passes, kiln=cold)


def test_a_taken_kiln_leaves_nothing_behind(cast):
    build.booking(kiln=cast.kiln, starts_at=NOW + HOUR)
    passes = build.painted(make.piece(studio=cast.studio, glass=cast.glass))
    with pytest.raises(KilnTaken):
        make_up(cast, passes)
    assert not Firing.owned.for_studio(cast.studio).exists()


# Fuses ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("layers", "low_days", "high_days"), [(20, 4.3, 5.7), (9, 1.4, 2.6)]
)
def test_the_days_that_a_stack_holds_a_kiln(cast, layers, low_days, high_days):
    """Common practice of the trade, no source: 20 sheets five days, 9 about two."""
    piece = build.stacked(studio=cast.studio, glass=cast.glass, layer_count=layers)
    firing = build.fuse(piece=piece, kiln=cast.kiln)
    held = firing.booking.ends_at - firing.booking.starts_at
    assert low_days <= held / DAY <= high_days


def test_a_fuse_needs_its_own_schedule(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    other = build.stacked(studio=cast.studio, glass=cast.glass, title="Weir")
    made = build.schedule(piece=other, kiln=cast.kiln)
    with pytest.raises(Refused, match="another piece"):
        firings.book_fuse(
            piece=piece, kiln=cast.kiln, schedule=made, starts_at=NOW, by=None, at=NOW
        )
    with pytest.raises(Refused, match="fitted to"):
        firings.book_fuse(
            piece=other,
            kiln=make.kiln(studio=cast.studio),
            schedule=made,
            starts_at=NOW,
            by=None,
            at=NOW,
        )


def test_a_stack_grown_since_needs_a_new_schedule(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    made = build.schedule(piece=piece, kiln=cast.kiln)
    pieces.check_stack(
        piece=piece,
        layers_counted=9,
        measured_height_mm=28.5,
        is_order_right=True,
        by=None,
        at=NOW + HOUR,
    )
    with pytest.raises(Refused, match="measured again"):
        firings.book_fuse(
            piece=piece, kiln=cast.kiln, schedule=made, starts_at=NOW, by=None, at=NOW
        )


def test_a_piece_is_booked_once(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    first = build.fuse(piece=piece, kiln=cast.kiln)
    assert next_booking_of(piece) == first.booking
    with pytest.raises(Refused, match="booked already"):
        build.fuse(piece=piece, kiln=cast.kiln, starts_at=NOW + 9 * DAY)
    firings.cancel_firing(firing=first, reason="", by=None, at=NOW)
    assert next_booking_of(piece) is None
    build.fuse(piece=piece, kiln=cast.kiln)


def test_a_piece_is_out_of_the_kiln_and_annealed_again(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    firing = start(build.fuse(piece=piece, kiln=cast.kiln))
    view = fresh(piece)
    assert view.stage is Stage.IN_KILN
    assert running_firing_of(piece) == firing
    finish(firing, "redo", at=NOW + 60 * HOUR)
    assert fresh(piece).stage is Stage.FIRE_AGAIN
    assert running_firing_of(piece) is None
    made = schedules.compute_fuse_schedule(
        piece=piece, kiln=cast.kiln, rule="next row", by=None, at=NOW + 61 * HOUR
    )
    assert made.kind == "re-anneal"
    again = firings.book_fuse(
        piece=piece,
        kiln=cast.kiln,
        schedule=made,
        starts_at=NOW + 61 * HOUR,
        by=None,
        at=NOW + 61 * HOUR,
    )
    assert again.booking.title == "Re-anneal: Reed bed"
    assert list(firings_of_piece(piece)) == [again, firing]
    again = start(again, at=NOW + 61 * HOUR)
    finish(again, at=NOW + 120 * HOUR)
    assert fresh(piece).stage is Stage.TO_INSPECT


# Starting ------------------------------------------------------------------------------


def test_starting_moves_the_booking_to_the_true_span(cast):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass)
    planned = firing.booking.ends_at - firing.booking.starts_at
    firing = start(firing, at=NOW + 2 * HOUR)
    booking = Booking.owned.for_studio(cast.studio).get()
    assert booking.starts_at == NOW + 2 * HOUR == firing.started_at
    assert booking.ends_at == NOW + 2 * HOUR + planned - HOUR / 2, "loading is done"
    assert firing.note == ""


def test_starting_late_holds_the_kiln_until_the_next_booking_only(cast):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass)
    following = build.booking(
        kiln=cast.kiln, starts_at=firing.booking.ends_at, title="Evening class"
    )
    firing = start(firing, at=NOW + 3 * HOUR)
    assert firing.booking.ends_at == following.starts_at
    assert "“Evening class” is booked" in firing.note


def test_a_kiln_held_by_another_booking_is_not_started(cast):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass)
    build.booking(
        kiln=cast.kiln, starts_at=firing.booking.ends_at, hours=8, title="Class"
    )
    with pytest.raises(Refused, match="held for “Class”"):
        start(firing, at=firing.booking.ends_at + HOUR)


def test_a_kiln_with_something_in_it_is_not_started(cast):
    first = start(build.enamel(kiln=cast.kiln, glass=cast.glass, title="Ebb"))
    second = build.enamel(
        kiln=cast.kiln,
        glass=cast.glass,
        starts_at=first.booking.ends_at,
        title="Flood",
    )
    with pytest.raises(Refused, match="still holds"):
        start(second, at=first.booking.ends_at + HOUR)
    finish(first, at=first.booking.ends_at)
    start(second, at=first.booking.ends_at + HOUR)


def test_a_firing_starts_once(cast):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass)
    start(firing)
    with pytest.raises(Refused, match="started already"):
        start(firing)


def test_a_cancelled_firing_does_not_start(cast):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass)
    firings.cancel_firing(firing=firing, reason="", by=None, at=NOW)
    with pytest.raises(Refused, match="cancelled"):
        start(firing)


def test_a_piece_lost_since_does_not_go_in(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    firing = build.fuse(piece=piece, kiln=cast.kiln)
    PieceEvent.across_studios.create(
        studio=cast.studio, piece=piece, kind="lost", at=NOW, note="Past the services"
    )
    with pytest.raises(Refused, match="not ready for the kiln"):
        start(firing)


def test_a_piece_is_not_lost_while_a_kiln_stands_booked_for_it(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    firing = build.fuse(piece=piece, kiln=cast.kiln)
    with pytest.raises(Refused, match="Cancel that firing first"):
        pieces.mark_lost(piece=piece, by=None, at=NOW, note="Dropped")
    firings.cancel_firing(firing=firing, reason="Dropped", by=None, at=NOW)
    pieces.mark_lost(piece=piece, by=None, at=NOW, note="Dropped")
    assert fresh(piece).stage is Stage.LOST


def test_a_piece_is_not_finished_while_its_re_anneal_is_booked(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    finish(start(build.fuse(piece=piece, kiln=cast.kiln)), at=NOW + 9 * DAY)
    again = build.fuse(piece=piece, kiln=cast.kiln, starts_at=NOW + 10 * DAY)
    assert again.kind == "re-anneal"
    with pytest.raises(Refused, match="Cancel that firing first"):
        pieces.finish_piece(piece=piece, by=None, at=NOW + 9 * DAY)


def test_a_stack_measured_higher_since_its_booking_does_not_go_in(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    firing = build.fuse(piece=piece, kiln=cast.kiln)
    pieces.check_stack(
        piece=piece,
        layers_counted=9,
        measured_height_mm=30,
        is_order_right=True,
        by=None,
        at=NOW,
    )
    with pytest.raises(Refused, match="measured again and is higher"):
        start(firing)


def test_a_running_firing_is_not_cancelled(cast):
    firing = start(build.enamel(kiln=cast.kiln, glass=cast.glass))
    with pytest.raises(Refused, match="was started"):
        firings.cancel_firing(firing=firing, reason="", by=None, at=NOW)


# Finishing -----------------------------------------------------------------------------


def test_outcomes_reach_the_layers(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=4)
    firing = start(make_up(cast, build.painted(piece)))
    fine, redo, cracked = firing.items.all()
    running.finish_firing(
        firing=firing,
        outcomes={
            fine.pk: ("fine", ""),
            redo.pk: ("redo", "pale"),
            cracked.pk: ("cracked", "corner"),
        },
        by=cast.helper,
        at=NOW + 20 * HOUR,
        hand=build.READ_COLD,
    )
    states = [view.state for view in fresh(piece).layers]
    assert states == [
        LayerState.BURNT,
        LayerState.NEXT_PASS,
        LayerState.REMAKE,
        LayerState.CLEAR,
    ]
    assert Pass.owned.for_studio(cast.studio).get(outcome="redo").outcome_note == "pale"


def test_finishing_gives_the_rest_of_the_time_back(cast):
    firing = start(build.enamel(kiln=cast.kiln, glass=cast.glass))
    finish(firing, at=NOW + 6 * HOUR)
    assert Booking.owned.for_studio(cast.studio).get().ends_at == NOW + 6 * HOUR


def test_finishing_late_says_how_long_the_kiln_was_really_held(cast):
    firing = start(build.enamel(kiln=cast.kiln, glass=cast.glass))
    following = build.booking(
        kiln=cast.kiln, starts_at=firing.booking.ends_at + 2 * HOUR
    )
    finish(firing, at=firing.booking.ends_at + 9 * HOUR)
    firing.booking.refresh_from_db()
    assert firing.booking.ends_at == following.starts_at


def test_a_firing_is_started_before_it_is_finished_and_finished_once(cast):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass)
    with pytest.raises(Refused, match="not started"):
        finish(firing)
    start(firing)
    finish(firing)
    with pytest.raises(Refused, match="finished already"):
        finish(firing)


def test_a_missing_outcome_records_nothing(cast):
    firing = start(build.enamel(kiln=cast.kiln, glass=cast.glass))
    first = firing.items.first()
    with pytest.raises(Refused, match="came out"):
        running.finish_firing(
            firing=firing,
            outcomes={first.pk: ("fine", "")},
            by=None,
            at=NOW + HOUR,
            hand=build.READ_COLD,
        )
    assert not Pass.owned.for_studio(cast.studio).exclude(outcome="").exists()


def test_an_outcome_that_is_none_is_refused(cast):
    firing = start(build.enamel(kiln=cast.kiln, glass=cast.glass))
    with pytest.raises(Refused, match="came out"):
        finish(firing, "splendid")


def png():
    out = io.BytesIO()
    Image.new("RGB", (60, 40), "teal").save(out, "PNG")
    out.seek(0)
    return out


def test_a_picture_is_kept_with_its_pass(cast):
    firing = start(build.enamel(kiln=cast.kiln, glass=cast.glass))
    first = firing.items.first()
    finish(firing, pictures_of={first.pk: Upload(file=png(), name="a.png")})
    assert Picture.owned.for_studio(cast.studio).get().of_pass == first.of_pass


def test_a_bad_picture_records_nothing_at_all(cast):
    firing = start(build.enamel(kiln=cast.kiln, glass=cast.glass))
    first = firing.items.first()
    bad = Upload(file=io.BytesIO(b"not a picture"), name="a.png")
    with pytest.raises(Refused, match="not a picture"):
        finish(firing, pictures_of={first.pk: bad})
    firing.refresh_from_db()
    assert firing.finished_at is None
    assert not Pass.owned.for_studio(cast.studio).exclude(outcome="").exists()


@pytest.mark.django_db(transaction=True)
def test_photographs_are_developed_before_anybody_has_to_wait(cast, monkeypatch):
    firing = start(build.enamel(kiln=cast.kiln, glass=cast.glass))
    first = firing.items.first()
    is_in_transaction = []

    def watched(upload, name):
        is_in_transaction.append(connection.in_atomic_block)
        return develop(upload, name)

    monkeypatch.setattr("firing.firings.services.running.develop", watched)
    finish(firing, pictures_of={first.pk: Upload(file=png(), name="a.png")})
    assert is_in_transaction == [False]
    assert Picture.owned.for_studio(cast.studio).get().of_pass == first.of_pass


def test_a_schedule_of_no_kiln_books_none(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    made = build.schedule(piece=piece, kiln=cast.kiln)
    with pytest.raises(Refused, match="no kiln"):
        firings.book_fuse(
            piece=piece, kiln=None, schedule=made, starts_at=NOW, by=None, at=NOW
        )
