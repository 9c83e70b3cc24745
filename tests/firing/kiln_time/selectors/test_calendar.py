"""The kiln calendar: what a filter marks, and what is said about being late."""

import datetime as dt

import pytest

from firing.kiln_time.selectors.calendar import CalendarFilter, calendar
from firing.kiln_time.selectors.ribbons import RANGES
from tests import make
from tests.firing import build
from tests.make import NOW

HOUR = dt.timedelta(hours=1)
DAY = 24 * HOUR


@pytest.fixture
def ebb(cast):
    """An enamel firing tomorrow, of a piece called Ebb."""
    return build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=NOW + DAY)


@pytest.fixture
def rental(cast):
    return build.booking(kiln=cast.kiln, starts_at=NOW + 3 * DAY)


def piece_in(firing):
    return firing.items.first().of_pass.sheet.layer.piece


def shown(cast, *, kilns=None, role="owner", of_studio=True, now=NOW, **asked):
    viewer = cast.viewer(role)
    kilns = [cast.kiln] if kilns is None else kilns
    return calendar(
        kilns,
        asked=CalendarFilter(**asked),
        viewer=viewer,
        now=now,
        key="kilns",
        of_studio=of_studio,
    )


def drawn(found):
    """Return the titles in the ribbon, and those that a filter pushes back."""
    every = [shape for row in found.ribbons.wide.rows for shape in row.shapes]
    titles = [shape.words.split(",")[0] for shape in every]
    others = [t for t, shape in zip(titles, every, strict=True) if shape.is_other]
    return set(titles), set(others)


def test_without_a_filter_nothing_is_counted_or_pushed_back(cast, ebb, rental):
    found = shown(cast)
    assert found.wanted_count is None
    assert drawn(found) == ({"Enamel: Ebb 1", "Rental"}, set())
    assert found.pieces == (piece_in(ebb),)
    assert found.can_move


def test_a_piece_is_followed_through_the_kilns(cast, ebb, rental):
    found = shown(cast, piece=piece_in(ebb).pk)
    assert found.wanted_count == 1
    assert drawn(found)[1] == {"Rental"}


def test_a_piece_that_nothing_is_booked_for_stays_a_choice(cast, ebb):
    other = make.piece(studio=cast.studio, glass=cast.glass, title="Barrage")
    found = shown(cast, piece=other.pk)
    assert found.wanted_count == 0
    assert found.piece == other
    assert [one.title for one in found.pieces] == ["Barrage", "Ebb"], "by title"


def test_a_person_is_found_by_what_they_made_or_booked(cast, ebb, rental):
    assert shown(cast, person=cast.maker.pk).wanted_count == 0
    rental.booked_by = cast.maker
    rental.save()
    assert shown(cast, person=cast.maker.pk).wanted_count == 1
    piece = piece_in(ebb)
    piece.maker = cast.maker
    piece.save()
    assert shown(cast, person=cast.maker.pk).wanted_count == 2
    assert shown(cast, person=cast.maker.pk, piece=piece.pk).wanted_count == 1


@pytest.mark.parametrize("hand", ["made_by", "started_by"])
def test_a_person_is_found_by_what_they_loaded_or_started(cast, ebb, hand):
    setattr(ebb, hand, cast.technician)
    ebb.save()
    assert shown(cast, person=cast.technician.pk).wanted_count == 1


def test_another_studios_piece_and_person_filter_nothing(cast, strangers, ebb):
    theirs = make.piece(studio=strangers.studio, glass=strangers.glass)
    found = shown(cast, piece=theirs.pk, person=strangers.owner.pk)
    assert found.wanted_count is None
    assert found.piece is found.person is None
    assert strangers.owner not in found.people


def test_a_calendar_of_one_kiln_leaves_the_others_out(cast, ebb):
    other = make.kiln(studio=cast.studio, name="Second kiln")
    build.booking(kiln=other, starts_at=NOW + DAY, title="Class")
    late = NOW + DAY + 2 * HOUR
    found = shown(cast, kilns=[other], of_studio=False, now=late)
    assert drawn(found)[0] == {"Class"}
    assert found.risks == (), "what waits to be started is in the other kiln"
    (risk,) = shown(cast, of_studio=False, now=late).risks
    assert "is not started" in risk.words


def test_a_late_piece_with_nothing_booked_is_told_for_all_kilns_only(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    make.promised(piece, NOW.date())
    assert [one.piece for one in shown(cast).risks] == [piece]
    assert shown(cast, of_studio=False).risks == ()


def test_only_who_books_kilns_moves_and_only_what_can_be_moved(cast, rental):
    assert shown(cast, role="maker").can_move
    assert not shown(cast, role="helper").can_move
    assert not shown(cast, now=rental.starts_at + HOUR).can_move, "it has begun"


def test_a_booking_outside_the_days_is_not_drawn(cast, rental):
    assert drawn(shown(cast))[0] == {"Rental"}
    assert drawn(shown(cast, first_day=(NOW + 9 * DAY).date()))[0] == set()
    build.booking(kiln=cast.kiln, starts_at=NOW + 12 * DAY, title="Class")
    assert "Class" not in drawn(shown(cast))[0]
    assert "Class" in drawn(shown(cast, range=RANGES[1]))[0]
