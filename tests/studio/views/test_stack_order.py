"""The layers of a stack changed in the browser, each change with its way back."""

from html import unescape

import pytest

from studio.selectors.pieces import fresh, layer_view, taken_out_layers
from tests import make
from tests.studio.views.pages import address, text_of


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass, layers=3, passes=1)


@pytest.fixture
def browser(signed_in):
    return signed_in()


def undo(browser, response):
    """Press the Undo button of the page that follows."""
    page = response.content.decode()
    before, _, _ = page.partition(">Undo</button>")
    action = before.rpartition('action="')[2].partition('"')[0]
    return browser.post(unescape(action), follow=True)


def count(piece):
    return len(fresh(piece).layers)


def test_a_layer_is_added_and_the_adding_undone(cast, browser, piece):
    url = address("layer_add", piece.pk)
    page = browser.get(url)
    assert "1 is at the back, 4 in front of the others." in text_of(page)
    sent = {
        "place": 2,
        "title": "Far shore",
        "technique": "painted",
        "passes": 2,
        "glass": cast.glass.pk,
    }
    done = browser.post(url, sent, follow=True)
    assert "Layer 2 is added." in text_of(done)
    assert layer_view(fresh(piece), 2).layer.title == "Far shore"
    undone = undo(browser, done)
    assert count(piece) == 3
    assert "Far shore, was layer 2" in text_of(undone)


def test_a_wrong_place_keeps_what_was_typed(cast, browser, piece):
    sent = {
        "place": 9,
        "title": "Far shore",
        "technique": "painted",
        "passes": 2,
        "glass": cast.glass.pk,
    }
    page = browser.post(address("layer_add", piece.pk), sent)
    assert page.status_code == 409
    assert "The places are 1, at the back, to 4" in text_of(page)
    assert "Far shore" in page.content.decode()


def test_taking_a_layer_out_is_undone_with_one_tap(browser, piece):
    done = browser.post(address("layer_take_out", piece.pk, 2), follow=True)
    assert "Layer 2 is taken out." in text_of(done)
    assert count(piece) == 2
    undo(browser, done)
    assert count(piece) == 3
    assert not taken_out_layers(piece).exists()


def test_a_move_is_undone_with_one_tap(browser, piece):
    first = fresh(piece).layers[0].layer
    done = browser.post(address("layer_move", piece.pk, 1), {"place": 3}, follow=True)
    assert "Layer 1 is layer 3 now." in text_of(done)
    undo(browser, done)
    assert fresh(piece).layers[0].layer.pk == first.pk


def test_a_place_that_is_no_number_is_said_beside_the_field(browser, piece):
    page = browser.post(address("layer_move", piece.pk, 1), {"place": "front"})
    assert page.status_code == 422
    assert "Write a whole number." in text_of(page)


def test_another_pass_and_its_undo(browser, piece):
    make.paint_and_fire(piece)
    done = browser.post(address("pass_add", piece.pk, 1), follow=True)
    assert "Layer 1 gets pass 2." in text_of(done)
    undo(browser, done)
    assert len(layer_view(fresh(piece), 1).passes) == 1
