"""Changing what a piece is called: only what differs is written and told."""

import pytest

from studio.models import HistoryEntry
from studio.services.details import change_details
from tests import make


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass, title="Ebb")


def change(cast, piece, **changes):
    said = {"title": piece.title, "maker": piece.maker, "note": piece.note} | changes
    change_details(piece=piece, by=cast.owner, at=make.NOW, **said)
    piece.refresh_from_db()


def told(cast):
    found = HistoryEntry.owned.for_studio(cast.studio).order_by("pk")
    return [one.what for one in found if one.what.startswith("Changed")]


def test_each_thing_that_differs_is_named_and_the_old_title_kept(cast, piece):
    change(cast, piece, title="Flood", maker=cast.maker)
    assert (piece.title, piece.maker) == ("Flood", cast.maker)
    change(cast, piece, note="Kiln wash on the back")
    assert told(cast) == ["Changed title, before “Ebb”, maker", "Changed note"]


def test_what_is_the_same_is_not_told(cast, piece):
    change(cast, piece)
    assert told(cast) == []


def test_what_somebody_changed_meanwhile_is_compared_with_what_is_stored(cast, piece):
    stale = type(piece).owned.for_studio(cast.studio).get(pk=piece.pk)
    change(cast, piece, title="Flood")
    change_details(
        piece=stale, title="Flood", maker=None, note="", by=None, at=make.NOW
    )
    assert told(cast) == ["Changed title, before “Ebb”"]
