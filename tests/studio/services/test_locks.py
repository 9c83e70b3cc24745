"""Locked rows: which ones, and that what is decided on is what stands now.

That people queue and nobody waits forever is in `tests.firing.test_locks`.
"""

import pytest
from django.db import transaction

from studio.models import Kiln, Piece
from studio.services.locks import free, held, lock_piece
from studio.services.pieces import mark_lost
from studio.stages import Stage
from tests import make
from tests.make import NOW


def test_only_the_rows_themselves_are_locked_and_others_may_point_at_them(cast):
    asked = held(Kiln.owned.for_studio(cast.studio).select_related("studio")).query
    assert asked.select_for_update
    assert asked.select_for_update_of == ("self",)
    assert asked.select_for_no_key_update
    with transaction.atomic():
        rows = held(Kiln.owned.for_studio(cast.studio))
        assert list(rows) == [cast.kiln], "still only this studio's"


def test_free_rows_are_locked_without_waiting_for_those_that_are_not(cast):
    asked = free(Kiln.owned.for_studio(cast.studio)).query
    assert asked.select_for_update_of == ("self",)
    assert asked.select_for_no_key_update
    assert asked.select_for_update_skip_locked


def test_a_locked_piece_is_as_somebody_else_left_it(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    mine = Piece.across_studios.get(pk=piece.pk)
    Piece.across_studios.filter(pk=piece.pk).update(title="Weir")
    mark_lost(piece=piece, note="Dropped", by=None, at=NOW)
    with transaction.atomic():
        view = lock_piece(mine)
    assert (view.piece.title, view.stage) == ("Weir", Stage.LOST)


def test_a_piece_that_is_gone_cannot_be_locked(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    gone = Piece(pk=piece.pk + 1, studio=cast.studio)
    with pytest.raises(Piece.DoesNotExist), transaction.atomic():
        lock_piece(gone)
