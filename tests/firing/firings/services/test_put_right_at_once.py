"""One puts something right while another builds on it: one wins, one learns why."""

import datetime as dt

import pytest

from firing.firings.services import put_right, running
from firing.firings.services.firings import (
    book_fuse,
    cancel_firing,
    make_up_enamel_firing,
)
from firing.loads.selectors.known import ReadByHand
from firing.models import Booking, Firing, LoadItem
from studio.errors import Refused
from studio.models import Pass, PieceEvent, Sheet
from studio.selectors.pieces import fresh
from studio.services import layers, pieces
from studio.services import put_right as bench_put_right
from tests import make
from tests.firing import build
from tests.make import NOW
from tests.threads import at_once

pytestmark = pytest.mark.django_db(transaction=True)

HOUR = dt.timedelta(hours=1)
COLD = ReadByHand(shown_c=20.0, is_confirmed=True)


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass, layers=3, passes=1)


def said(hours=0):
    return {"by": None, "at": NOW + hours * HOUR}


def loaded(cast, piece):
    return make_up_enamel_firing(
        studio=cast.studio,
        kiln=cast.kiln,
        passes=build.painted(piece),
        starts_at=NOW,
        **said(),
    )


def fine(firing):
    return {item.pk: ("fine", "") for item in firing.items.all()}


def one_won(ends):
    """Return which of two went, once the other was refused in words."""
    refused = [number for number, end in enumerate(ends) if isinstance(end, Refused)]
    assert len(refused) == 1, ends
    assert str(ends[refused[0]])
    assert not isinstance(ends[1 - refused[0]], Exception), ends
    return 1 - refused[0]


def test_unloading_and_not_started_after_all(cast, piece):
    firing = running.start_firing(firing=loaded(cast, piece), **said())
    winner = one_won(
        at_once(
            lambda: put_right.not_started(firing=firing, reason="", **said()),
            lambda: running.finish_firing(
                firing=firing, outcomes=fine(firing), hand=COLD, **said()
            ),
        )
    )
    found = Firing.across_studios.get(pk=firing.pk)
    assert (found.started_at is None) == (winner == 0)
    assert (found.finished_at is None) == (winner == 0)
    burnt = Pass.across_studios.filter(outcome="fine").count()
    assert burnt == (0 if winner == 0 else firing.items.count())


def test_two_who_take_the_same_start_back(cast, piece):
    firing = running.start_firing(firing=loaded(cast, piece), **said())
    before = firing.before_start

    def back():
        return put_right.not_started(firing=firing, reason="", **said())

    one_won(at_once(back, back))
    booking = Booking.across_studios.get()
    assert booking.starts_at.isoformat() == before["starts_at"]
    assert booking.ends_at.isoformat() == before["ends_at"]


def test_painting_taken_back_while_the_layer_is_loaded(cast, piece):
    passes = build.painted(piece)
    winner = one_won(
        at_once(
            lambda: layers.take_back_painting(of_pass=passes[0], **said()),
            lambda: loaded_by(cast, passes),
        )
    )
    passes[0].refresh_from_db()
    assert (passes[0].painted_at is None) == (winner == 0)
    assert LoadItem.across_studios.exists() == (winner == 1)


def loaded_by(cast, passes):
    return make_up_enamel_firing(
        studio=cast.studio, kiln=cast.kiln, passes=passes, starts_at=NOW, **said()
    )


def test_a_stack_check_taken_back_while_its_kiln_is_booked(cast):
    stacked = build.stacked(studio=cast.studio, glass=cast.glass)
    event = PieceEvent.across_studios.get(piece=stacked)
    schedule = build.schedule(piece=stacked, kiln=cast.kiln)
    winner = one_won(
        at_once(
            lambda: bench_put_right.take_back_event(
                event=event, reason="Counted wrongly", **said()
            ),
            lambda: book_fuse(
                piece=stacked,
                kiln=cast.kiln,
                schedule=schedule,
                starts_at=NOW,
                **said(),
            ),
        )
    )
    assert Firing.across_studios.exists() == (winner == 1)
    assert bool(fresh(stacked).events) == (winner == 1)


def test_made_again_and_taken_back_twice(cast, piece):
    layer = piece.layers.order_by("number").first()
    layers.make_again(layer=layer, reason="Scratched", **said())

    def back():
        return bench_put_right.take_back_again(layer=layer, reason="", **said())

    one_won(at_once(back, back))
    (sheet,) = Sheet.across_studios.filter(layer=layer)
    assert sheet.set_aside_at is None


def test_lost_and_not_unloaded_after_all(cast):
    stacked = build.stacked(studio=cast.studio, glass=cast.glass)
    fuse = build.fuse(piece=stacked, kiln=cast.kiln, starts_at=NOW)
    running.start_firing(firing=fuse, **said())
    running.finish_firing(firing=fuse, outcomes=fine(fuse), hand=COLD, **said(1))
    winner = one_won(
        at_once(
            lambda: put_right.not_unloaded(firing=fuse, reason="", **said(1)),
            lambda: pieces.mark_lost(piece=stacked, note="Dropped", **said(1)),
        )
    )
    kinds = [event.kind for event in fresh(stacked).events]
    assert kinds[-1] == ("into kiln" if winner == 0 else "lost"), kinds
    assert (Firing.across_studios.get().finished_at is None) == (winner == 0)


def test_a_cancelled_load_says_in_words_what_a_taken_back_sheet_was(cast, piece):
    layer = piece.layers.order_by("number").first()
    layers.make_again(layer=layer, reason="Scratched", **said())
    firing = loaded(cast, piece)
    painted = [item.of_pass for item in firing.items.all()]
    cancel_firing(firing=firing, reason="", **said())
    for one in painted:
        layers.take_back_painting(of_pass=one, **said())
    bench_put_right.take_back_again(layer=layer, reason="", **said())
    told = {str(item) for item in firing.items.all()}
    assert f"{layer}, pass 1 of {piece.title}" in told
