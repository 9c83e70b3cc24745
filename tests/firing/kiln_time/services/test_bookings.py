"""Booking kilns: never two at once, guarded by the database itself and refused in
words.
"""

import datetime as dt
import threading

import pytest
from django.db import IntegrityError, OperationalError, connection, transaction

from firing.kiln_time.services import bookings
from firing.kiln_time.services.bookings import KilnTaken
from firing.models import Booking
from studio.errors import Refused
from studio.models import Closure, HistoryEntry
from tests import make
from tests.cast import NOW
from tests.firing import build
from tests.patience import LONG_S

HOUR = dt.timedelta(hours=1)


def row(kiln, *, start_h=0.0, hours=5.0, **more):
    """Return a booking that came past every service."""
    return Booking(
        studio=kiln.studio,
        kiln=kiln,
        title="Past the services",
        starts_at=NOW + start_h * HOUR,
        ends_at=NOW + (start_h + hours) * HOUR,
        booked_at=NOW,
        **more,
    )


def test_a_booking_is_kept_with_its_history(cast):
    made = build.booking(kiln=cast.kiln, title="Testing new elements")
    assert Booking.owned.for_studio(cast.studio).get() == made
    written = HistoryEntry.owned.for_studio(cast.studio).latest("pk")
    assert "Testing new elements" in written.what
    assert "04:00" in written.what, "the studio's zone, not UTC"


def test_a_taken_kiln_names_the_other_booking_and_the_next_free_time(cast):
    other = build.booking(kiln=cast.kiln, title="Glaze tests", hours=5)
    build.booking(kiln=cast.kiln, title="Later", starts_at=NOW + 6 * HOUR, hours=2)
    with pytest.raises(KilnTaken) as caught:
        build.booking(kiln=cast.kiln, starts_at=NOW + 2 * HOUR, hours=3)
    refusal = caught.value
    assert refusal.other == other
    assert refusal.next_free.starts_at == NOW + 8 * HOUR
    assert refusal.next_free.ends_at is None
    assert "“Glaze tests”" in str(refusal)
    assert "today 12:00 on" in str(refusal), "17:00 UTC in the studio's zone"
    assert Booking.owned.for_studio(cast.studio).count() == 2


def test_a_hole_between_two_bookings_is_offered_with_its_end(cast):
    build.booking(kiln=cast.kiln, hours=5)
    build.booking(kiln=cast.kiln, starts_at=NOW + 9 * HOUR, hours=5)
    with pytest.raises(KilnTaken) as caught:
        build.booking(kiln=cast.kiln, starts_at=NOW + HOUR, hours=3)
    assert caught.value.next_free.starts_at == NOW + 5 * HOUR
    assert caught.value.next_free.ends_at == NOW + 9 * HOUR


def test_spans_may_touch(cast):
    build.booking(kiln=cast.kiln, hours=5)
    build.booking(kiln=cast.kiln, starts_at=NOW + 5 * HOUR, hours=1)
    build.booking(kiln=cast.kiln, starts_at=NOW - HOUR, hours=1)
    assert Booking.owned.for_studio(cast.studio).count() == 3


def test_another_kiln_is_free(cast):
    build.booking(kiln=cast.kiln)
    build.booking(kiln=make.kiln(studio=cast.studio))


def test_a_cancelled_booking_frees_its_time(cast):
    first = build.booking(kiln=cast.kiln)
    bookings.cancel_booking(booking=first, reason="Rained off", by=None, at=NOW)
    build.booking(kiln=cast.kiln)
    first.refresh_from_db()
    assert first.cancelled_reason == "Rained off"


def test_cancelling_twice_is_refused(cast):
    first = build.booking(kiln=cast.kiln)
    bookings.cancel_booking(booking=first, reason="", by=None, at=NOW)
    with pytest.raises(Refused, match="cancelled already"):
        bookings.cancel_booking(booking=first, reason="", by=None, at=NOW)


def test_a_span_needs_a_length(cast):
    with pytest.raises(Refused, match="after the start"):
        build.booking(kiln=cast.kiln, hours=0)


def test_a_retired_kiln_is_refused(cast):
    kiln = make.kiln(studio=cast.studio, is_retired=True)
    with pytest.raises(Refused, match="no longer in use"):
        build.booking(kiln=kiln)


@pytest.mark.parametrize("whole_studio", [True, False])
def test_a_closure_is_in_the_way(cast, whole_studio):
    Closure.across_studios.create(
        studio=cast.studio,
        kiln=None if whole_studio else cast.kiln,
        starts_at=NOW + 2 * HOUR,
        ends_at=NOW + 4 * HOUR,
        reason="New elements",
    )
    with pytest.raises(KilnTaken, match="New elements") as caught:
        build.booking(kiln=cast.kiln, hours=5)
    assert caught.value.next_free.starts_at == NOW + 4 * HOUR


def test_another_kilns_closure_is_not(cast):
    Closure.across_studios.create(
        studio=cast.studio,
        kiln=make.kiln(studio=cast.studio),
        starts_at=NOW,
        ends_at=NOW + 4 * HOUR,
        reason="New elements",
    )
    build.booking(kiln=cast.kiln)


def test_a_strangers_kiln_is_a_fault(cast, strangers):
    with pytest.raises(ValueError, match="another studio"):
        bookings.book_kiln(
            studio=cast.studio,
            kiln=strangers.kiln,
            kind="rental",
            title="Mine?",
            starts_at=NOW,
            ends_at=NOW + HOUR,
            by=None,
            at=NOW,
        )


# The database's own guard, past every service ------------------------------------------


def test_a_direct_insert_is_refused(cast):
    row(cast.kiln).save()
    with pytest.raises(IntegrityError, match="one_booking"), transaction.atomic():
        row(cast.kiln, start_h=4).save()


def test_a_bulk_insert_is_refused_whole(cast):
    pair = [row(cast.kiln), row(cast.kiln, start_h=1)]
    with pytest.raises(IntegrityError, match="one_booking"), transaction.atomic():
        Booking.across_studios.bulk_create(pair)
    assert not Booking.owned.for_studio(cast.studio).exists()


def test_a_mass_update_is_refused(cast):
    row(cast.kiln).save()
    row(cast.kiln, start_h=10).save()
    mine = Booking.owned.for_studio(cast.studio)
    with pytest.raises(IntegrityError, match="one_booking"), transaction.atomic():
        mine.filter(starts_at__gt=NOW).update(starts_at=NOW + 4 * HOUR)


def test_taking_a_cancellation_back_is_refused(cast):
    row(cast.kiln).save()
    gone = row(cast.kiln, cancelled_at=NOW)
    gone.save()
    with pytest.raises(IntegrityError, match="one_booking"), transaction.atomic():
        Booking.owned.for_studio(cast.studio).filter(pk=gone.pk).update(
            cancelled_at=None
        )


def test_moving_a_booking_within_itself_is_allowed(cast):
    row(cast.kiln).save()
    Booking.owned.for_studio(cast.studio).update(starts_at=NOW + HOUR)


def test_another_integrity_error_stays_one(cast):
    with (
        pytest.raises(IntegrityError) as caught,
        bookings.kiln_time_guarded(cast.kiln, NOW, NOW + HOUR, NOW),
    ):
        row(cast.kiln, hours=-1).save()
    assert "one_booking" not in str(caught.value)


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("past_the_service", [False, True])
def test_of_two_at_the_same_moment_exactly_one_wins(cast, past_the_service):
    together = threading.Barrier(2, timeout=LONG_S)
    results: list[str] = []

    def book(title):
        try:
            together.wait()
            if past_the_service:
                row(cast.kiln, start_h=1).save()
            else:
                build.booking(kiln=cast.kiln, starts_at=NOW + HOUR, title=title)
            results.append("won")
        except KilnTaken:
            results.append("refused in words")
        except (IntegrityError, OperationalError):
            # PostgreSQL may end two inserts that wait for each other as a deadlock.
            results.append("refused by the database")
        finally:
            connection.close()

    threads = [threading.Thread(target=book, args=(name,)) for name in ("A", "B")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=LONG_S)
    by_whom = "by the database" if past_the_service else "in words"
    assert sorted(results) == [f"refused {by_whom}", "won"]
    assert Booking.owned.for_studio(cast.studio).count() == 1
