"""A firing's curve in miniature."""

import re

from hypothesis import given
from hypothesis import strategies as st

from firing.drawings.curve_mark import HEIGHT, WIDTH, build_curve_mark

PAIR = re.compile(r"(-?\d+\.\d),(-?\d+\.\d)")
points = st.lists(
    st.tuples(st.floats(0, 1e6), st.floats(-20, 1400)), min_size=2, max_size=30
)


@given(points, points)
def test_no_curve_leaves_its_frame(planned, recorded):
    mark = build_curve_mark(planned=planned, recorded=recorded)
    for path in (mark.line, mark.area):
        for x, y in PAIR.findall(path):
            assert 0 <= float(x) <= WIDTH
            assert 0 <= float(y) <= HEIGHT


def test_a_longer_firing_is_drawn_wider():
    def widest(hours):
        mark = build_curve_mark(planned=[(0, 20), (hours * 3600, 50)], recorded=[])
        return max(float(x) for x, _ in PAIR.findall(mark.line))

    assert widest(10) < widest(100) < widest(200) == WIDTH


def test_what_was_not_recorded_is_not_filled():
    mark = build_curve_mark(planned=[(0, 20), (3600, 800)], recorded=[])
    assert mark.line
    assert mark.area == ""
