"""All on one shelf or not: against published packings with known optima."""

import itertools
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firing.planning.packing.packing import inflated, pack
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
