"""Where layers appear when the eye moves: Snell's law, order, spacing."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.drawings.depth_view import (
    REFRACTIVE_INDEX,
    DepthSheet,
    apparent_shift_mm,
    build_depth_view,
)
from studio.drawings.edge_view import BandState


def view(count, *, thickness_mm=3.0, width_mm=300.0):
    sheets = [
        DepthSheet(
            number=number,
            thickness_mm=thickness_mm,
            state=BandState.BURNT,
            src=f"/{number}" if number % 2 else "",
        )
        for number in range(1, count + 1)
    ]
    return build_depth_view(sheets, width_mm=width_mm, height_mm=200)


def test_nearly_straight_on_a_depth_appears_divided_by_the_index():
    """Hecht, Optics: apparent depth d/n, from memory."""
    eye = 1e-4
    assert apparent_shift_mm(60, eye) / math.tan(eye) == pytest.approx(
        60 / REFRACTIVE_INDEX, rel=1e-6
    )


def test_from_the_side_the_ray_in_the_glass_stays_below_the_critical_angle():
    """sin of the critical angle is 1/n: 41.1 degrees at 1.52, from memory."""
    steepest = math.atan(apparent_shift_mm(1, math.radians(89.99)))
    assert math.degrees(steepest) == pytest.approx(41.14, abs=0.02)


@given(st.integers(1, 40), st.floats(0.5, 12), st.floats(50, 2000))
def test_deeper_layers_move_further_and_the_front_stays(count, thickness, width):
    drawn = view(count, thickness_mm=thickness, width_mm=width)
    shifts = [layer.shift for layer in drawn.layers]
    assert shifts == sorted(shifts, reverse=True)
    assert shifts[-1] == 0
    assert [layer.number for layer in drawn.layers] == list(range(1, count + 1))


@given(st.integers(1, 40), st.floats(0.5, 12))
def test_the_strip_is_as_high_as_the_stack_with_the_front_on_top(count, thickness):
    drawn = view(count, thickness_mm=thickness)
    assert drawn.layers[-1].y == 0
    total = sum(layer.height for layer in drawn.layers)
    assert total == pytest.approx(drawn.strip_height)
    assert drawn.layers[0].y + thickness == pytest.approx(total, abs=1e-2)


def test_a_layer_says_which_it_is_and_how_far():
    drawn = view(3)
    assert drawn.layers[1].words == "Layer 2 of 3: burnt on"
    assert drawn.has_pictures
    assert not view(0).has_pictures
