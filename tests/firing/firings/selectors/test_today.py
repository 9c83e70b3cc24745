"""What to do at the kilns today."""

import datetime as dt

from firing.firings.selectors.today import kilns_today
from firing.firings.services.firings import book_fuse
from firing.schedules.services.schedules import compute_fuse_schedule
from studio.selectors.pieces import open_pieces
from studio.services.pieces import note_into_kiln, note_out_of_kiln
from tests.cast import NOW
from tests.firing import build

HOUR = dt.timedelta(hours=1)


def asked_for(cast, now=NOW):
    work = kilns_today(cast.viewer(), now, open_pieces(cast.studio))
    return [view.piece.title for view in work.to_book]


def test_a_checked_stack_asks_for_a_kiln_until_it_has_one(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass, title="Reed bed")
    assert asked_for(cast) == ["Reed bed"]
    schedule = compute_fuse_schedule(
        piece=piece, kiln=cast.kiln, rule="next row", by=None, at=NOW
    )
    book_fuse(
        piece=piece,
        kiln=cast.kiln,
        schedule=schedule,
        starts_at=NOW + 24 * HOUR,
        by=None,
        at=NOW,
    )
    assert asked_for(cast) == []


def test_a_slab_that_must_be_fired_again_asks_for_a_kiln(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass, title="Groyne")
    note_into_kiln(piece=piece, firing_kind="full fuse", by=None, at=NOW)
    assert asked_for(cast) == []
    note_out_of_kiln(
        piece=piece, firing_kind="full fuse", outcome="redo", by=None, at=NOW + HOUR
    )
    assert asked_for(cast) == ["Groyne"]


def test_a_slab_that_came_out_well_asks_for_its_inspection_only(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    note_into_kiln(piece=piece, firing_kind="full fuse", by=None, at=NOW)
    note_out_of_kiln(
        piece=piece, firing_kind="full fuse", outcome="fine", by=None, at=NOW + HOUR
    )
    assert asked_for(cast) == []


def test_todays_page_links_to_the_booking_of_a_stack(cast, signed_in):
    piece = build.stacked(studio=cast.studio, glass=cast.glass, title="Reed bed")
    page = signed_in("technician").get("/").content.decode()
    assert f"/pieces/{piece.pk}/fuse/" in page
    assert "Book a kiln for Reed bed" in page
    helper = signed_in("helper").get("/").content.decode()
    assert "Book a kiln" not in helper
    assert "Reed bed" in helper
