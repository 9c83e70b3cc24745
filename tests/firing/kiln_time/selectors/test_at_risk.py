"""What is late or at risk: promised dates, late starts, kilns that are not free in time."""

import datetime as dt

import pytest

from firing.firings.services import running
from firing.kiln_time.selectors.at_risk import risks
from firing.models import Booking
from firing.planning.problem import practice
from studio.services import pieces
from tests import make
from tests.firing import build
from tests.make import NOW

HOUR = dt.timedelta(hours=1)
DAY = 24 * HOUR
MORNING = NOW + DAY + 5 * HOUR


@pytest.fixture
def promise():
    """Return a function that promises a piece so many days from now."""

    def promised(piece, days):
        make.promised(piece, (NOW + days * DAY).date())

    return promised


def found(cast, now=NOW):
    return risks(cast.viewer(), now)


def test_nothing_is_at_risk_where_nothing_is_promised_or_booked(cast):
    make.piece(studio=cast.studio, glass=cast.glass)
    assert found(cast) == ()


def test_what_is_left_is_reckoned_against_the_date(cast, promise):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=6, passes=2)
    promise(piece, 60)
    assert found(cast) == ()
    promise(piece, 1)
    (risk,) = found(cast)
    assert risk.is_late
    assert risk.piece == piece
    assert "2 more enamel firings and the fuse (" in risk.words
    assert "not booked yet" in risk.words
    assert "late, out of the kiln on" in risk.words


def test_from_late_to_at_risk_to_fine_day_by_day(cast, promise):
    """Every day more in hand, never back."""
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=9)
    told = []
    for days in range(1, 14):
        promise(piece, days)
        told += [found(cast)[0].flag if found(cast) else "fine"]
    order = ["late", "at risk", "fine"]
    assert [order.index(one) for one in told] == sorted(order.index(o) for o in told)
    assert set(told) == set(order)
    assert told.count("at risk") == practice.DAYS_IN_HAND


def test_a_booked_fuse_counts_by_its_own_end(cast, promise):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    fuse = build.fuse(piece=piece, kiln=cast.kiln, starts_at=MORNING + 9 * DAY)
    promise(piece, 10)
    (risk,) = found(cast)
    assert risk.is_late
    assert risk.bookings == (fuse.booking.pk,)
    assert "not booked" not in risk.words
    promise(piece, 40)
    assert found(cast) == ()


def test_a_stacked_piece_without_a_booking_needs_its_fuse(cast, promise):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    promise(piece, 1)
    (risk,) = found(cast)
    assert "the fuse (" in risk.words
    assert "enamel" not in risk.words


def test_a_piece_that_no_kiln_takes_is_not_called_quick(cast, promise):
    cast.kiln.max_temperature_c = 400
    cast.kiln.save()
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    promise(piece, 90)
    (risk,) = found(cast)
    assert risk.is_late
    assert "no kiln here takes it" in risk.words


def test_lost_pieces_are_not_late(cast, promise):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    promise(piece, -3)
    assert found(cast)[0].is_late
    pieces.mark_lost(piece=piece, note="Dropped", by=None, at=NOW)
    assert found(cast) == ()


def test_a_firing_that_nobody_started_is_late(cast):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=MORNING)
    assert found(cast, MORNING + HOUR / 2) == ()
    (risk,) = found(cast, MORNING + 2 * HOUR)
    assert risk.is_late
    assert "is not started" in risk.words
    assert risk.bookings == (firing.booking.pk,)
    running.start_firing(firing=firing, by=None, at=MORNING + 2 * HOUR)
    assert found(cast, MORNING + 3 * HOUR) == ()


def test_who_comes_next_is_told_that_the_kiln_is_not_free(cast):
    firing = build.enamel(
        kiln=cast.kiln, glass=cast.glass, starts_at=MORNING - HOUR, title="Ebb"
    )
    opens = firing.booking.opens_at
    class_ = build.booking(
        kiln=cast.kiln, starts_at=firing.booking.ends_at, title="Class"
    )
    assert opens.astimezone(cast.viewer().zone).hour < 8, "cold before anybody is in"
    (risk,) = found(cast)
    assert not risk.is_late
    assert risk.bookings == (class_.pk,)
    assert "can be emptied of “Enamel: Ebb 1, 2” only by" in risk.words
    Booking.across_studios.filter(pk=class_.pk).update(
        starts_at=class_.starts_at + 3 * HOUR, ends_at=class_.ends_at + 3 * HOUR
    )
    assert found(cast) == ()


def test_another_studios_promises_are_not_seen(cast, strangers, promise):
    piece = make.piece(studio=strangers.studio, glass=strangers.glass)
    promise(piece, 1)
    assert found(cast) == ()
