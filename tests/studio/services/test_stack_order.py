"""Layers added, taken out, put back, moved, and more passes, until the stack is checked."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from firing.firings.services import firings
from firing.loads.selectors.loads import waiting_passes
from studio.errors import Refused
from studio.models import Layer, Technique
from studio.selectors.pieces import fresh, layer_view, taken_out_layers
from studio.services import layers
from studio.services.pieces import LayerPlan, check_stack
from studio.services.stack_order import (
    add_layer,
    add_pass,
    move_layer,
    put_back_layer,
    take_out_layer,
    take_out_pass,
)
from studio.stages import MOST_PASSES, LayerState
from tests import make
from tests.cast import NOW, gather

SAID = {"by": None, "at": NOW}


@pytest.fixture
def piece(cast):
    """Layers a, b and a cap, two passes each."""
    made = make.piece(studio=cast.studio, glass=cast.glass, layers=3, passes=2)
    name(made, "abc")
    return made


def name(piece, letters):
    for number, letter in enumerate(letters, start=1):
        Layer.across_studios.filter(piece=piece, number=number).update(title=letter)


def order(piece):
    return "".join(one.layer.title for one in fresh(piece).layers)


def numbers(piece):
    return [one.number for one in fresh(piece).layers]


def layer(piece, number):
    return layer_view(fresh(piece), number).layer


def plan(cast, title="x", technique=Technique.PAINTED, passes=3):
    return LayerPlan(technique=technique, passes=passes, glass=cast.glass, title=title)


def paint(piece, number):
    of_pass = layer_view(fresh(piece), number).pass_to_paint
    layers.record_painted(passes=[of_pass], **SAID)
    return of_pass


@pytest.mark.parametrize(("place", "expected"), [(1, "xabc"), (3, "abxc"), (4, "abcx")])
def test_a_layer_is_added_at_its_place_with_its_passes(cast, piece, place, expected):
    added = add_layer(piece=piece, place=place, plan=plan(cast), **SAID)
    assert order(piece) == expected
    assert numbers(piece) == [1, 2, 3, 4]
    own = layer_view(fresh(piece), place)
    assert own.layer.pk == added.pk
    assert (len(own.passes), own.state) == (3, LayerState.PLANNED)


def test_a_place_that_is_not_there_is_named(cast, piece):
    with pytest.raises(Refused, match="1, at the back, to 4, at the front"):
        add_layer(piece=piece, place=5, plan=plan(cast), **SAID)


def test_a_painted_layer_taken_out_keeps_its_record_and_leaves_the_bench(cast, piece):
    of_pass = paint(piece, 1)
    assert list(waiting_passes(cast.studio)) == [of_pass]
    take_out_layer(layer=layer(piece, 1), **SAID)
    assert order(piece) == "bc"
    assert not waiting_passes(cast.studio).exists()
    gone = taken_out_layers(piece).get()
    assert gone.sheets.get().passes.get(number=1).painted_at == NOW
    put_back_layer(layer=gone, **SAID)
    assert order(piece) == "abc"
    assert list(waiting_passes(cast.studio)) == [of_pass]


def test_the_last_layer_and_one_in_a_load_stay(cast, piece):
    kiln = make.kiln(studio=cast.studio)
    of_pass = paint(piece, 1)
    firings.make_up_enamel_firing(
        studio=cast.studio, kiln=kiln, passes=[of_pass], starts_at=NOW, **SAID
    )
    with pytest.raises(Refused, match="lies in a load"):
        take_out_layer(layer=layer(piece, 1), **SAID)
    take_out_layer(layer=layer(piece, 3), **SAID)
    take_out_layer(layer=layer(piece, 2), **SAID)
    with pytest.raises(Refused, match="at least one layer"):
        take_out_layer(layer=layer(piece, 1), **SAID)


def test_nothing_moves_once_the_stack_is_checked(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=2, passes=1)
    make.paint_and_fire(piece)
    check_stack(
        piece=piece,
        layers_counted=2,
        measured_height_mm=fresh(piece).stack_height_mm,
        is_order_right=True,
        **SAID,
    )
    own = layer(piece, 1)
    for act in (
        lambda: add_layer(piece=piece, place=1, plan=plan(cast), **SAID),
        lambda: take_out_layer(layer=own, **SAID),
        lambda: move_layer(layer=own, place=2, **SAID),
        lambda: add_pass(layer=own, **SAID),
    ):
        with pytest.raises(Refused, match="stay as they are: stacked and checked"):
            act()


def test_a_burnt_layer_gets_another_pass_and_waits_for_it(cast, piece):
    make.paint_and_fire(piece)
    assert layer_view(fresh(piece), 1).is_done
    added = add_pass(layer=layer(piece, 1), **SAID)
    own = layer_view(fresh(piece), 1)
    assert own.state is LayerState.NEXT_PASS
    assert own.pass_to_paint == added
    again = layers.make_again(layer=own.layer, reason="Scratched", **SAID)
    assert again.passes.count() == 3, "a new sheet has the added pass too"


def test_an_added_pass_is_taken_out_again_until_it_is_painted(cast, piece):
    own = layer(piece, 1)
    add_pass(layer=own, **SAID)
    take_out_pass(layer=own, **SAID)
    assert len(layer_view(fresh(piece), 1).passes) == 2
    make.paint_and_fire(piece)
    add_pass(layer=own, **SAID)
    paint(piece, 1)
    with pytest.raises(Refused, match="no pass that can be taken out"):
        take_out_pass(layer=own, **SAID)


def test_a_clear_layer_and_a_full_one_get_none(cast, piece):
    add_layer(piece=piece, place=4, plan=plan(cast, technique=Technique.CLEAR), **SAID)
    with pytest.raises(Refused, match="is clear"):
        add_pass(layer=layer(piece, 4), **SAID)
    for _ in range(MOST_PASSES - 2):
        add_pass(layer=layer(piece, 1), **SAID)
    with pytest.raises(Refused, match=f"has {MOST_PASSES} passes"):
        add_pass(layer=layer(piece, 1), **SAID)


STEPS = st.lists(
    st.tuples(st.sampled_from(["add", "out", "back", "move"]), st.integers(1, 5)),
    max_size=8,
)


class AnyOrder(TestCase):
    """Any sequence of changes keeps the numbers and loses no layer."""

    @settings(deadline=None)
    @given(steps=STEPS)
    def test_the_stack_follows_a_plain_list(self, steps):
        cast = gather("Any order", in_fahrenheit=False)
        piece = make.piece(studio=cast.studio, glass=cast.glass, layers=3, passes=1)
        name(piece, "abc")
        stack, out = list("abc"), []
        for at, (what, place) in enumerate(steps):
            if what == "add" and place <= len(stack) + 1:
                add_layer(piece=piece, place=place, plan=plan(cast, str(at)), **SAID)
                stack.insert(place - 1, str(at))
            elif what == "out" and place <= len(stack) and len(stack) > 1:
                take_out_layer(layer=layer(piece, place), **SAID)
                out.append((stack.pop(place - 1), place))
            elif what == "back" and out:
                title, was = out.pop()
                gone = taken_out_layers(piece).get(title=title)
                put_back_layer(layer=gone, **SAID)
                stack.insert(min(was, len(stack) + 1) - 1, title)
            elif what == "move" and place <= len(stack):
                move_layer(layer=layer(piece, 1), place=place, **SAID)
                stack.insert(place - 1, stack.pop(0))
        assert [one.layer.title for one in fresh(piece).layers] == stack
        assert numbers(piece) == list(range(1, len(stack) + 1))
        assert set(taken_out_layers(piece).values_list("title", flat=True)) == {
            title for title, _ in out
        }
