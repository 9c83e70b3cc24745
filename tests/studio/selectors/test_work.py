"""What waits for somebody's hands, and in which words."""

import pytest

from studio.selectors.pieces import open_pieces, open_work
from studio.selectors.work import layers_in_words, work_of
from studio.services import layers, pieces
from tests import make


def made(cast, title, **more):
    return make.piece(studio=cast.studio, glass=cast.glass, title=title, **more)


def titles(views):
    return [view.piece.title for view in views]


@pytest.fixture
def work(cast):
    def now():
        return work_of(open_pieces(cast.studio))

    return now


def test_layers_are_named_by_number():
    assert layers_in_words(["2"]) == "layer 2"
    assert layers_in_words(["2", "3"]) == "layers 2, 3"


def test_what_is_to_be_painted_is_said_by_pass(cast, work):
    piece = made(cast, "Ebb", layers=4, passes=2, caps=1)
    (waiting,) = work().to_paint
    assert waiting.passes_in_words == "Pass 1: layers 1, 2, 3"
    first = make.passes_of(piece)[0]
    layers.record_painted(passes=[first], by=None, at=make.NOW, minutes=30)
    (waiting,) = work().to_paint
    assert waiting.passes_in_words == "Pass 1: layers 2, 3"
    layers.record_outcome(of_pass=first, outcome="fine", by=None, at=make.NOW)
    (waiting,) = work().to_paint
    assert waiting.passes_in_words == "Pass 1: layers 2, 3; pass 2: layer 1"
    assert waiting.layers_in_words == "layers 1, 2, 3"


def test_a_done_piece_waits_to_be_stacked_and_the_oldest_comes_first(cast, work):
    for title in ("Older", "Newer"):
        make.paint_and_fire(made(cast, title, layers=2))
    assert titles(work().to_stack) == ["Older", "Newer"]
    assert work().to_paint == work().to_make_again == ()


def test_a_layer_to_be_made_again_is_not_to_be_painted_too(cast, work):
    piece = made(cast, "Shard", layers=3)
    first = make.passes_of(piece)[0]
    layers.make_again(layer=first.sheet.layer, reason="Chipped", by=None, at=make.NOW)
    (again,) = work().to_make_again
    assert again.layers_in_words == "layer 1"
    (waiting,) = work().to_paint
    assert waiting.passes_in_words == "Pass 1: layer 2"


@pytest.mark.parametrize(
    ("outcome", "place"), [("fine", "to_inspect"), ("cracked", "to_decide")]
)
def test_what_comes_out_of_the_kiln_waits_for_a_look_or_a_decision(
    cast, work, outcome, place
):
    piece = made(cast, "Slab", layers=2)
    make.paint_and_fire(piece)
    pieces.check_stack(
        piece=piece,
        layers_counted=2,
        measured_height_mm=6,
        is_order_right=True,
        by=None,
        at=make.NOW,
    )
    said = {"piece": piece, "firing_kind": "full fuse", "by": None, "at": make.NOW}
    pieces.note_into_kiln(**said)
    pieces.note_out_of_kiln(outcome=outcome, **said)
    found = work()
    assert titles(getattr(found, place)) == ["Slab"]
    other = {"to_inspect": "to_decide", "to_decide": "to_inspect"}[place]
    assert getattr(found, other) == found.to_stack == ()


def test_only_the_studios_own_work_is_there(cast, strangers, work):
    made(strangers, "Theirs")
    assert work().to_paint == ()


def test_done_layers_come_bare_and_all_that_is_left_to_do_is_the_same(cast):
    piece = made(cast, "Ebb", layers=5, passes=1, caps=1)
    made(cast, "Untouched", layers=2)
    fine, again, painted, _ = make.passes_of(piece)
    layers.record_painted(
        passes=[fine, again, painted], by=None, at=make.NOW, minutes=30
    )
    layers.record_outcome(of_pass=fine, outcome="fine", by=None, at=make.NOW)
    layers.record_outcome(of_pass=again, outcome="cracked", by=None, at=make.NOW)
    whole, bare = open_pieces(cast.studio), open_work(cast.studio)

    def told(views):
        return [
            (view.piece, view.stage, view.done_count, view.height_mm)
            + tuple((one.state, one.next_pass) for one in view.layers)
            for view in views
        ]

    assert told(whole) == told(bare)
    ebb = next(view for view in bare if view.piece == piece)
    assert [one.is_done for one in ebb.layers] == [True, False, False, False, True]
    assert not any(one.passes for one in ebb.layers if one.is_done)
    assert work_of(bare).to_make_again
    assert [g.passes_in_words for g in work_of(bare).to_paint] == [
        g.passes_in_words for g in work_of(whole).to_paint
    ]
