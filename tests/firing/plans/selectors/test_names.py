"""Names on a plan's pages: what is gone is said to be gone, and nobody else's shows."""

import pytest

from firing.plans.selectors.names import Names
from tests import make


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass, title="Reed bed")


def layer(piece, number):
    return piece.layers.get(number=number).pk


def test_what_is_gone_or_another_studios_has_no_name(cast, strangers, piece):
    theirs = make.piece(studio=strangers.studio, glass=strangers.glass)
    names = Names(cast.studio)
    assert names.piece(piece.pk) == "Reed bed"
    assert names.piece(theirs.pk) == names.piece(0) == "A piece that is gone"
    assert names.kiln(cast.kiln.pk) == cast.kiln.name
    assert names.kiln(strangers.kiln.pk) == "a kiln that is gone"
    assert cast.maker.pk in names.people
    assert strangers.maker.pk not in names.people


def test_a_firing_is_named_by_its_pieces_and_their_layers(cast, piece):
    other = make.piece(studio=cast.studio, glass=cast.glass, title="Weir")
    items = [
        {"piece": piece.pk, "layer": layer(piece, 2)},
        {"piece": other.pk, "layer": layer(other, 1)},
        {"piece": piece.pk, "layer": layer(piece, 1)},
    ]
    names = Names(cast.studio)
    assert names.firing("enamel", items) == "Enamel: Reed bed 1, 2 + Weir 1"
    stack = [{"piece": other.pk, "layer": None}]
    assert names.firing("full fuse", stack) == "Full fuse and anneal: Weir"


def test_the_fill_is_glass_over_shelf(cast, piece):
    items = [{"piece": piece.pk, "layer": layer(piece, n)} for n in (1, 2)]
    names = Names(cast.studio)
    # Two sheets of 300 by 200 mm on 560 by 560 mm.
    assert names.fill(items, cast.kiln.pk) == "2 layers, 38 % of the shelf"
    assert names.fill(items[:1], cast.kiln.pk) == "1 layer, 19 % of the shelf"
    assert names.fill(items, 0) == "", "a kiln that is gone has no shelf"
    gone = [{"piece": 0, "layer": 0}]
    assert names.fill(gone, cast.kiln.pk) == "1 layer, 0 % of the shelf"
