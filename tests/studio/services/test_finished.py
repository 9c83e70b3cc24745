"""Where finished work is, and what its record says: kept, corrected, taken back."""

import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from studio.errors import Refused
from studio.models import HistoryEntry, PieceMove, Whereabouts
from studio.selectors import finished, piece_record
from studio.selectors.whereabouts import (
    LEFT,
    Went,
    back_due,
    last_moves,
    whereabouts_words,
)
from studio.services.finished import move_works, save_record, take_back_move
from studio.services.pieces import finish_piece
from tests import make
from tests.cast import NOW

TODAY = NOW.date()
DAY = dt.timedelta(days=1)


def work(studio, glass, title="Ebb"):
    piece = make.piece(studio=studio, glass=glass, layers=6, title=title)
    make.paint_and_fuse(piece)
    finish_piece(piece=piece, by=None, at=NOW)
    return piece


@pytest.fixture
def piece(cast):
    return work(cast.studio, cast.glass)


def moved(*pieces, kind=Whereabouts.SHOW, day=TODAY, at=NOW, **more):
    more.setdefault("place", "Net loft")
    went = Went(kind=kind, day=day, **more)
    return move_works(pieces=pieces, went=went, by=None, at=at)[0]


def place_of(piece):
    at = last_moves(piece.studio, [piece.pk]).get(piece.pk)
    return at.kind if at else "studio"


class TestMoves:
    def test_the_last_one_says_where_a_piece_is(self, piece):
        assert place_of(piece) == "studio"
        moved(piece)
        moved(piece, kind=Whereabouts.SOLD, place="Somebody", at=NOW + DAY)
        assert place_of(piece) == "sold"
        assert not finished.pieces_at_hand(piece.studio).exists()
        assert list(finished.pieces_that_left(piece.studio)) == [piece]

    def test_taken_back_it_is_where_it_was(self, piece):
        moved(piece)
        sold = moved(piece, kind=Whereabouts.SOLD, at=NOW + DAY)
        for _ in range(2):
            take_back_move(move=sold, reason="", by=None, at=NOW + DAY)
        assert place_of(piece) == "show"
        told = HistoryEntry.owned.for_studio(piece.studio).filter(piece=piece)
        assert told.filter(what__startswith="Took back: Sold").count() == 1

    def test_late_it_is_taken_back_with_a_reason(self, piece):
        move = moved(piece)
        with pytest.raises(Refused, match="Say why"):
            take_back_move(move=move, reason=" ", by=None, at=NOW + DAY)
        take_back_move(move=move, reason="It stayed", by=None, at=NOW + DAY)
        assert place_of(piece) == "studio"

    @pytest.mark.parametrize(
        ("more", "told"),
        [
            ({"place": " "}, "Write where"),
            ({"back_on": TODAY - DAY}, "before it went"),
            ({"kind": Whereabouts.SOLD, "back_on": TODAY}, "Only what is at a show"),
        ],
    )
    def test_what_cannot_be_is_refused(self, piece, more, told):
        with pytest.raises(Refused, match=told):
            moved(piece, **more)
        assert not PieceMove.across_studios.exists()

    def test_none_goes_if_one_cannot(self, cast, piece):
        unfinished = make.piece(studio=cast.studio, glass=cast.glass, title="Flood")
        with pytest.raises(Refused, match="Flood is not finished yet: planned"):
            moved(piece, unfinished)
        assert place_of(piece) == "studio"

    def test_no_move_comes_before_the_one_that_stands(self, piece):
        moved(piece)
        with pytest.raises(Refused, match="went somewhere later than that: At a show"):
            moved(piece, kind=Whereabouts.SOLD, day=TODAY - DAY)

    def test_what_is_to_be_back_is_due_on_its_day_until_it_moves(self, piece):
        back = TODAY + 10 * DAY
        moved(piece, back_on=back)
        assert back_due(piece.studio, back - DAY) == []
        (due,) = back_due(piece.studio, back)
        assert whereabouts_words(due) == (
            "At a show: Net loft, back on Sat 14 Mar 2026"
        )
        moved(piece, kind=Whereabouts.STUDIO, day=back)
        assert back_due(piece.studio, back) == []


class TestAnyOrderOfMoves(TestCase):
    @settings(max_examples=25, deadline=None)
    @given(
        st.lists(
            st.tuples(st.sampled_from(Whereabouts), st.integers(0, 3), st.booleans()),
            max_size=6,
        )
    )
    def test_a_piece_is_in_one_place_the_last_that_stands(self, steps):
        studio = make.studio()
        piece = work(studio, make.glass(studio=studio))
        day, standing = TODAY, ["studio"]
        for kind, days, is_wrong in steps:
            day += days * DAY
            move = moved(piece, kind=kind, day=day)
            if is_wrong:
                take_back_move(move=move, reason="", by=None, at=NOW)
            else:
                standing.append(kind)
        assert place_of(piece) == standing[-1]
        at_hand = list(finished.pieces_at_hand(studio))
        left = list(finished.pieces_that_left(studio))
        assert at_hand + left == [piece]
        assert bool(left) == (standing[-1] in LEFT)


class TestRecords:
    def test_the_history_names_what_changed_and_money_apart(self, cast, piece):
        told = {"edition": "2 of 5", "weight_kg": 2.6, "value": Decimal(900)}
        save_record(piece=piece, told=told, by=cast.owner, at=NOW)
        kept = piece_record.record_of(piece)
        assert (kept.edition, kept.weight_kg, kept.value) == ("2 of 5", 2.6, 900)
        lines = HistoryEntry.owned.for_studio(cast.studio).order_by("-pk")[:2]
        assert [(one.what, one.is_about_money) for one in lines] == [
            ("Value: 900.00", True),
            ("Changed the record: edition, weight", False),
        ]

    def test_the_same_again_says_nothing(self, cast, piece):
        for _ in range(2):
            save_record(piece=piece, told={"care": "Dust"}, by=cast.owner, at=NOW)
        found = HistoryEntry.owned.for_studio(cast.studio)
        assert found.filter(what__startswith="Changed the record").count() == 1

    def test_an_edition_is_said_as_it_is_typed(self, piece):
        record = piece_record.record_of(piece)
        for typed, said in (
            ("2 of 5", "Edition 2 of 5"),
            ("Unique", "Unique"),
            ("", ""),
        ):
            record.edition = typed
            assert piece_record.edition_words(record) == said
