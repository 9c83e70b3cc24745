"""What was recorded of a piece or a layer, taken back in the browser."""

import datetime as dt

import pytest
from django.utils import timezone

from studio.models import Pass
from studio.selectors.pieces import fresh
from studio.services import layers, pieces
from studio.stages import Stage
from tests import make
from tests.studio.views.pages import address, text_of
from tests.studio.views.test_stack_order import undo


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass, layers=3, passes=1)


@pytest.fixture
def browser(signed_in):
    return signed_in()


def said(ago=dt.timedelta()):
    return {"by": None, "at": timezone.now() - ago}


def test_painting_is_undone_with_one_tap(browser, piece):
    chosen = [one.pk for one in make.passes_of(piece)]
    done = browser.post(
        address("piece_paint", piece.pk), {"passes": chosen}, follow=True
    )
    assert "2 layers recorded as painted." in text_of(done)
    assert "Not painted: taken back." in text_of(undo(browser, done))
    assert not Pass.across_studios.filter(painted_at__isnull=False).exists()


def test_a_lost_piece_is_found_again(browser, piece):
    done = browser.post(
        address("piece_lost", piece.pk), {"note": "Dropped"}, follow=True
    )
    assert fresh(piece).stage is Stage.LOST
    assert "Taken back: lost." in text_of(undo(browser, done))
    assert fresh(piece).stage is Stage.PLANNED


def test_a_stack_check_of_yesterday_needs_a_reason(browser, piece):
    make.paint_and_fire(piece)
    event = pieces.check_stack(
        piece=piece,
        layers_counted=3,
        measured_height_mm=9,
        is_order_right=True,
        **said(dt.timedelta(days=1)),
    )
    url = address("event_take_back", event.pk)
    assert url in browser.get(address("piece_detail", piece.pk)).content.decode()
    page = browser.post(url, {"reason": ""})
    assert "Say why: this was recorded a while ago." in text_of(page)
    browser.post(url, {"reason": "A sheet was doubled"})
    assert fresh(piece).stage is Stage.READY_TO_STACK
    told = text_of(browser.get(address("piece_detail", piece.pk)))
    assert "The stack is not checked after all: A sheet was doubled" in told
    twice = browser.post(url, {"reason": "Again"})
    assert "That was taken back already." in text_of(twice)


def test_a_layer_made_again_by_mistake_has_its_sheet_back(browser, piece):
    of_pass = make.passes_of(piece)[0]
    layers.record_painted(passes=[of_pass], **said())
    url = address("layer_make_again", piece.pk, 1)
    done = browser.post(url, {"reason": "Scratched"}, follow=True)
    undo(browser, done)
    assert fresh(piece).layers[0].pass_to_fire == of_pass
