"""All on one shelf or not: against published packings with known optima."""

import itertools
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firing.planning.packing.packing import (
    Packing,
    _PatternSearch,
    holes_round,
    inflated,
    pack,
    place_in,
)
from firing.planning.problem.loads import EMPTY, FULL, Shelf
from tests.firing.planning.instances import DATA, EXPECTED, fill_bins

STRIPS = [name for name in EXPECTED if name.startswith("strip_packing")]
BINS = [name for name in EXPECTED if name.startswith("bin_packing")]


def check(sizes, packing, width, depth):
    boxes = []
    for (w, d), (x, y, turned) in zip(sizes, packing.spots, strict=True):
        if turned:
            w, d = d, w
        assert x >= 0
        assert y >= 0
        assert x + w <= width + 1e-6
        assert y + d <= depth + 1e-6
        boxes.append((x, y, x + w, y + d))
    for a, b in itertools.combinations(boxes, 2):
        assert max(b[0] - a[2], a[0] - b[2], b[1] - a[3], a[1] - b[3]) >= -1e-6


@pytest.mark.parametrize("name", STRIPS)
def test_a_strip_within_a_tenth_of_its_optimum(name):
    data = json.loads((DATA / name).read_text())
    optimum = EXPECTED[name]["optimum"]
    sizes = [tuple(map(float, item)) for item in data["items"]]
    assert sum(w * d for w, d in sizes) == data["strip_width"] * optimum
    packing = pack(sizes, width_mm=data["strip_width"], depth_mm=optimum * 1.1)
    assert packing.spots is not None
    check(sizes, packing, data["strip_width"], optimum * 1.1)
    # Nothing lies on less than its own area, and that is known, not only not found.
    less = pack(sizes, width_mm=data["strip_width"], depth_mm=optimum - 0.5)
    assert less.spots is None
    assert less.is_proved


@pytest.mark.parametrize("name", ["HT_C1_1", "BKW_N1"])
def test_a_perfect_packing_is_found(name):
    data = json.loads((DATA / "strip_packing" / f"{name}.json").read_text())
    optimum = EXPECTED[f"strip_packing/{name}.json"]["optimum"]
    sizes = [tuple(map(float, item)) for item in data["items"]]
    packing = pack(
        sizes, width_mm=data["strip_width"], depth_mm=optimum, node_limit=5000
    )
    assert packing.spots is not None
    check(sizes, packing, data["strip_width"], optimum)


@pytest.mark.parametrize("name", BINS)
def test_bins_filled_one_after_the_other_are_near_the_optimum(name):
    data = json.loads((DATA / name).read_text())
    width, depth = data["bin_width"], data["bin_height"]
    bins = fill_bins(name)
    assert sorted(item for held in bins for item in held) == sorted(
        tuple(map(float, item)) for item in data["items"]
    )
    for held in bins:
        found = pack(
            held,
            width_mm=width,
            depth_mm=depth,
            may_turn=False,
            node_limit=200,
            wants_proof=False,
        )
        check(held, found, width, depth)
        assert not any(turned for _, _, turned in found.spots)
    assert EXPECTED[name]["optimum"] <= len(bins) <= EXPECTED[name]["optimum"] + 1


def test_what_cannot_be_is_proved():
    # Two 600 x 600 on 1000 x 800: less area than the shelf, and no way to lie.
    answer = pack([(600, 600)] * 2, width_mm=1000, depth_mm=800)
    assert answer.spots is None
    assert answer.is_proved


def test_five_round_a_middle_are_found():
    # Four 2 x 1 round a middle of 1 x 1 fill 3 x 3.
    sizes = [(2, 1), (2, 1), (2, 1), (2, 1), (1, 1)]
    answer = pack(sizes, width_mm=3, depth_mm=3)
    assert answer.spots is not None
    check(sizes, answer, 3, 3)


def test_a_search_that_gave_up_proves_nothing():
    sizes = [(4, 3)] * 7
    answer = pack(sizes, width_mm=11, depth_mm=8, node_limit=1)
    assert answer.spots is not None or not answer.is_proved


sides = st.integers(min_value=1, max_value=6)


@settings(max_examples=80, deadline=None)
@given(
    sizes=st.lists(st.tuples(sides, sides), min_size=1, max_size=4),
    width=st.integers(min_value=2, max_value=8),
    depth=st.integers(min_value=2, max_value=8),
)
def test_small_sets_agree_with_trying_every_place(sizes, width, depth):
    answer = pack(sizes, width_mm=width, depth_mm=depth, node_limit=100_000)
    assert (answer.spots is not None) is everywhere(sizes, width, depth)
    assert answer.is_proved
    if answer.spots is not None:
        check(sizes, answer, width, depth)


def everywhere(sizes, width, depth, laid=()):
    if len(laid) == len(sizes):
        return True
    w, d = sizes[len(laid)]
    for wide, deep in {(w, d), (d, w)}:
        for x in range(width - wide + 1):
            for y in range(depth - deep + 1):
                box = (x, y, x + wide, y + deep)
                if all(
                    box[0] >= o[2] or o[0] >= box[2] or box[1] >= o[3] or o[1] >= box[3]
                    for o in laid
                ) and everywhere(sizes, width, depth, (*laid, box)):
                    return True
    return False


def test_three_with_gaps_need_930_mm():
    sizes, width, depth = inflated(
        [(300, 300)] * 3, width_mm=930, depth_mm=300, gap_mm=15
    )
    assert pack(sizes, width_mm=width, depth_mm=depth).spots is not None
    sizes, width, depth = inflated(
        [(300, 300)] * 3, width_mm=929, depth_mm=300, gap_mm=15
    )
    assert pack(sizes, width_mm=width, depth_mm=depth).spots is None


def test_a_shelf_remembers_and_forgets_nothing():
    shelf = Shelf([(300, 300), (450, 400)], width_mm=930, depth_mm=300, gap_mm=15)
    one = shelf.add(EMPTY, 0)
    three = shelf.add(shelf.add(one, 0), 0)
    assert shelf.add(three, 0) == FULL
    assert shelf.add(EMPTY, 1) == FULL
    packed = shelf.packed
    assert shelf.add(shelf.add(one, 0), 0) == three
    assert shelf.take(shelf.take(three, 0), 0) == one
    assert shelf.packed == packed


def test_what_is_laid_at_once_or_is_too_long_needs_no_search():
    assert pack([(4, 3)], width_mm=4, depth_mm=3).nodes == 0
    assert pack([(3, 4)], width_mm=4, depth_mm=3).spots == ((0, 0, True),)
    for long in ((20, 1), (1, 20)):
        answer = pack([long], width_mm=10, depth_mm=10)
        assert (answer.spots, answer.is_proved, answer.nodes) == (None, True, 0)
    upright = pack([(3, 4)], width_mm=4, depth_mm=3, may_turn=False)
    assert upright.spots is None
    assert upright.is_proved


def test_without_a_search_nothing_is_proved():
    answer = pack([(600, 600)] * 2, width_mm=1000, depth_mm=800, node_limit=0)
    assert (answer.spots, answer.is_proved, answer.nodes) == (None, False, 0)


@pytest.mark.parametrize(("count", "is_proved"), [(7, True), (8, False)])
def test_seven_are_the_most_that_are_proved_impossible(count, is_proved):
    sizes = [(600, 600)] * 2 + [(1, 1)] * (count - 2)
    answer = pack(sizes, width_mm=1000, depth_mm=800)
    assert answer.spots is None
    assert answer.is_proved is is_proved


def test_equal_squares_are_laid_from_the_front_left():
    answer = pack([(1, 1)] * 4, width_mm=2, depth_mm=2)
    assert [spot[:2] for spot in answer.spots] == [(0, 0), (1, 0), (0, 1), (1, 1)]


def free_rectangles(boxes, width, depth):
    """Return the largest free rectangles of a shelf, found by trying all of them."""
    free = {
        (x, y, right, back)
        for x, right in itertools.combinations(range(width + 1), 2)
        for y, back in itertools.combinations(range(depth + 1), 2)
        if all(
            right <= left or r <= x or back <= front or b <= y
            for left, front, r, b in boxes
        )
    }
    return {
        one
        for one in free
        if not any(
            other != one
            and other[0] <= one[0]
            and other[1] <= one[1]
            and other[2] >= one[2]
            and other[3] >= one[3]
            for other in free
        )
    }


@given(
    sizes=st.lists(st.tuples(sides, sides), max_size=4),
    width=st.integers(min_value=2, max_value=8),
    depth=st.integers(min_value=2, max_value=8),
)
def test_holes_are_all_the_largest_free_rectangles(sizes, width, depth):
    answer = pack(sizes, width_mm=width, depth_mm=depth)
    spots = answer.spots or ()
    sizes = sizes if spots else []
    boxes = []
    for (w, d), (x, y, turned) in zip(sizes, spots, strict=True):
        across, deep = (d, w) if turned else (w, d)
        boxes.append((x, y, x + across, y + deep))
    holes = holes_round(sizes, spots, width_mm=width, depth_mm=depth)
    assert len(set(holes)) == len(holes)
    assert set(holes) == free_rectangles(boxes, width, depth)


def test_one_more_goes_where_it_leaves_the_narrowest_strip():
    # Left of 10 x 8 round 4 x 3 in its corner: 6 x 8 on the right, 10 x 5 behind.
    holes = holes_round([(4, 3)], [(0, 0, False)], width_mm=10, depth_mm=8)
    assert place_in(holes, (6, 8)) == (4, 0, False)
    assert place_in(holes, (2, 9)) == (0, 3, True)
    assert place_in(holes, (5, 6)) == (4, 0, True)
    assert place_in(holes, (9, 6)) is None
    assert place_in([], (1, 1)) is None


@pytest.mark.parametrize(
    ("sizes", "shelf", "node_limit"),
    [
        # The skyline finds this one, and only because it turns some.
        ([(10, 9), (3, 9), (6, 2), (4, 6)], (12, 14), 2000),
        # With so few nodes it gives up on these, and all positions are searched.
        ([(5, 2), (5, 1), (4, 4), (2, 2), (4, 2), (1, 3), (3, 3)], (7, 8), 300),
        ([(4, 6), (4, 1), (5, 4), (5, 3), (2, 5), (5, 1)], (9, 9), 400),
        ([(6, 3), (3, 5), (5, 1), (3, 2), (7, 4), (4, 4), (2, 2)], (12, 8), 500),
        ([(6, 5), (5, 7), (6, 5), (6, 1), (6, 3), (1, 5)], (11, 12), 450),
    ],
)
def test_what_quick_tries_miss_is_found_by_the_searches(sizes, shelf, node_limit):
    width, depth = shelf
    answer = pack(sizes, width_mm=width, depth_mm=depth, node_limit=node_limit)
    assert answer.nodes > 0
    assert answer.is_proved
    check(sizes, answer, width, depth)
    flat = pack(sizes, width_mm=width, depth_mm=depth, may_turn=False)
    assert flat.spots is None


def laid_by_patterns(sizes, width, depth, *, may_turn=True):
    """Search with the last of the searches alone: quicker ones come before it."""
    search = _PatternSearch(sizes, width, depth, may_turn, node_limit=100_000)
    spots = search.run()
    assert not search.gave_up
    return Packing(spots=spots, is_proved=True, nodes=search.nodes)


@pytest.mark.parametrize(("long", "wide"), [(5, 1), (5, 2), (7, 2)])
@pytest.mark.parametrize("may_turn", [True, False])
def test_the_largest_is_found_in_the_very_middle(long, wide, may_turn):
    # Four round a square: it lies as far into its quarter of the shelf as there is.
    middle = long - wide
    sizes = [(middle, middle), *[(long, wide)] * 2, *[(wide, long)] * 2]
    side = long + wide
    found = laid_by_patterns(sizes, side, side, may_turn=may_turn)
    assert found.spots is not None
    assert found.spots[0][:2] == (wide, wide)
    check(sizes, found, side, side)


@given(
    sizes=st.lists(st.tuples(sides, sides), min_size=1, max_size=4),
    width=st.integers(min_value=2, max_value=8),
    depth=st.integers(min_value=2, max_value=8),
)
def test_all_positions_are_as_good_as_every_place(sizes, width, depth):
    found = laid_by_patterns(sizes, width, depth)
    assert (found.spots is not None) is everywhere(sizes, width, depth)
    if found.spots is not None:
        check(sizes, found, width, depth)
