"""Placing rectangles on a shelf: inside, apart, and what does not fit is reported."""

import itertools
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firing.planning.packing.shelf import Flat, capacity, fits_alone, lay_out
from tests.firing.planning.instances import DATA

sides = st.floats(min_value=20, max_value=500)


def flats(sizes):
    return [Flat(key=n, width_mm=w, depth_mm=d) for n, (w, d) in enumerate(sizes)]


@settings(max_examples=60, deadline=None)
@given(
    sizes=st.lists(st.tuples(sides, sides), max_size=14),
    width=st.floats(min_value=100, max_value=900),
    depth=st.floats(min_value=100, max_value=900),
    gap=st.floats(min_value=0, max_value=30),
)
def test_everything_lies_inside_and_apart(sizes, width, depth, gap):
    given_flats = flats(sizes)
    load = lay_out(given_flats, width_mm=width, depth_mm=depth, gap_mm=gap)
    check(load, given_flats, width, depth, gap)


def check(load, given_flats, width, depth, gap):
    for p in load.placed:
        assert p.x_mm >= 0
        assert p.y_mm >= 0
        assert p.x_mm + p.width_mm <= width + 1e-3
        assert p.y_mm + p.depth_mm <= depth + 1e-3
        flat = given_flats[p.key]
        across, deep = flat.width_mm, flat.depth_mm
        if p.is_turned:
            across, deep = deep, across
        assert (p.width_mm, p.depth_mm) == (across, deep)
    for a, b in itertools.combinations(load.placed, 2):
        apart_x = max(b.x_mm - a.x_mm - a.width_mm, a.x_mm - b.x_mm - b.width_mm)
        apart_y = max(b.y_mm - a.y_mm - a.depth_mm, a.y_mm - b.y_mm - b.depth_mm)
        assert max(apart_x, apart_y) >= gap - 1e-3
    keys = sorted([p.key for p in load.placed] + list(load.left_out))
    assert keys == list(range(len(given_flats)))


@given(width=sides, depth=sides, shelf=st.tuples(sides, sides))
def test_what_fits_alone_is_laid(width, depth, shelf):
    one = Flat(key=7, width_mm=width, depth_mm=depth)
    alone = fits_alone(one, width_mm=shelf[0], depth_mm=shelf[1])
    load = lay_out([one], width_mm=shelf[0], depth_mm=shelf[1], gap_mm=12)
    assert bool(load.placed) is alone


def test_turning_is_tried():
    load = lay_out(flats([(100, 300)]), width_mm=320, depth_mm=120, gap_mm=10)
    assert load.placed[0].is_turned


def test_two_side_by_side_need_their_gap():
    pair = flats([(150, 100), (150, 100)])
    assert not lay_out(pair, width_mm=310, depth_mm=100, gap_mm=10).left_out
    assert lay_out(pair, width_mm=309, depth_mm=100, gap_mm=10).left_out == (1,)


@pytest.mark.parametrize(
    ("shelf", "expected"), [((560, 560), 4), ((290, 220), 1), ((250, 150), 0)]
)
def test_capacity_of_equal_sheets(shelf, expected):
    # Two across need 572 mm; on 560 four lie round a middle (280 + 12 + 200 = 492).
    found = capacity(
        Flat(key=0, width_mm=280, depth_mm=200),
        count=9,
        width_mm=shelf[0],
        depth_mm=shelf[1],
        gap_mm=12,
    )
    assert found == expected


@pytest.mark.parametrize(
    "wrong",
    [
        {"width_mm": 0, "depth_mm": 10, "gap_mm": 1},
        {"width_mm": 10, "depth_mm": 0, "gap_mm": 1},
        {"width_mm": 10, "depth_mm": 10, "gap_mm": -1},
    ],
)
def test_nonsense_is_refused(wrong):
    with pytest.raises(ValueError, match="above zero"):
        lay_out(flats([(5, 5)]), **wrong)


@pytest.mark.parametrize("size", [(0, 5), (5, 0), (-1, 5)])
def test_a_rectangle_without_a_side_is_refused(size):
    with pytest.raises(ValueError, match="above zero"):
        lay_out(flats([size]), width_mm=10, depth_mm=10, gap_mm=0)


def test_a_millimetre_on_a_millimetre_is_laid():
    load = lay_out(flats([(1, 1)]), width_mm=1, depth_mm=1, gap_mm=0)
    assert not load.left_out


def test_a_key_twice_is_refused():
    twice = [Flat(key=1, width_mm=5, depth_mm=5)] * 2
    with pytest.raises(ValueError, match="key"):
        lay_out(twice, width_mm=100, depth_mm=100, gap_mm=1)


def test_what_the_quick_tries_leave_out_is_searched_for():
    # Cut from one sheet of 200 x 200 (Hopper & Turton C1_1, ten times as large).
    data = json.loads((DATA / "strip_packing" / "HT_C1_1.json").read_text())
    sizes = [(10 * w, 10 * d) for w, d in data["items"]]
    load = lay_out(flats(sizes), width_mm=200, depth_mm=200, gap_mm=0)
    assert load.left_out == ()
    check(load, flats(sizes), 200, 200, 0)
    assert any(placed.is_turned for placed in load.placed)
