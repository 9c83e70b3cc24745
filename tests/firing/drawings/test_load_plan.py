"""The load plan: to scale, the front at the bottom, words only where there is room."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.drawings.load_plan import LaidThing, build_load_plan


def thing(**changes):
    values = {
        "title": "Layer 4 of Low water",
        "short": "4",
        "under": "Low water",
        "x_mm": 0,
        "y_mm": 0,
        "width_mm": 300,
        "depth_mm": 200,
    }
    return LaidThing(**(values | changes))


def draw(*things, width_mm=600, depth_mm=400):
    return build_load_plan(
        things,
        width_mm=width_mm,
        depth_mm=depth_mm,
        title="The shelf",
        length=lambda mm: f"{mm:.0f} mm",
    )


def test_sides_keep_their_proportion():
    plan = draw(thing())
    (shape,) = plan.shapes
    assert shape.width / shape.height == pytest.approx(1.5, abs=0.01)
    assert plan.shelf_width / shape.width == pytest.approx(2, abs=0.01)


def test_the_front_is_at_the_bottom():
    front, back = draw(thing(), thing(y_mm=200)).shapes
    assert front.y > back.y
    assert front.y + front.height == pytest.approx(
        draw().shelf_y + draw().shelf_height, abs=0.2
    )


def test_words_shrink_and_go_with_the_room():
    (roomy,) = draw(thing(size="300 × 200 mm")).shapes
    assert (roomy.label, [line for line, _ in roomy.lines_at]) == (
        "4",
        ["Low water", "300 × 200 mm"],
    )
    (narrow,) = draw(thing(width_mm=80)).shapes
    assert narrow.label == "4"
    assert narrow.lines_at[0][0].endswith("…")
    (tiny,) = draw(thing(width_mm=10, depth_mm=10)).shapes
    assert (tiny.label, tiny.lines_at) == ("", ())


def test_the_outermost_glass_is_measured_to_each_edge():
    plan = draw(thing(x_mm=40, y_mm=30), thing(x_mm=290, y_mm=170))
    assert [one.label for one in plan.clearances] == [
        "40 mm",
        "10 mm",
        "30 mm",
        "30 mm",
    ]
    left = plan.clearances[0]
    assert left.x2 == plan.shelf_x
    assert left.x1 == min(shape.x for shape in plan.shapes)
    assert not draw().clearances


@given(
    x_mm=st.floats(0, 300),
    y_mm=st.floats(0, 200),
    width_mm=st.floats(1, 300),
    depth_mm=st.floats(1, 200),
)
def test_everything_drawn_stays_inside_the_drawing(x_mm, y_mm, width_mm, depth_mm):
    plan = draw(thing(x_mm=x_mm, y_mm=y_mm, width_mm=width_mm, depth_mm=depth_mm))
    for one in plan.clearances:
        assert min(one.x1, one.x2, one.label_x) >= 0
        assert max(one.x1, one.x2, one.label_x) <= plan.width
        assert min(one.y1, one.y2, one.label_y) >= 0
        assert max(one.y1, one.y2, one.label_y) <= plan.height


def test_a_picture_turns_with_its_sheet():
    (flat,) = draw(thing()).shapes
    assert flat.upright == (flat.x, flat.y, flat.width, flat.height)
    (turned,) = draw(thing(is_turned=True)).shapes
    x, y, width, height = turned.upright
    assert (width, height) == (turned.height, turned.width)
    assert x + width / 2 == pytest.approx(turned.middle_x)
    assert y + height / 2 == pytest.approx(turned.middle_y)


def test_everything_is_named_in_words():
    assert draw(thing()).words == ("Layer 4 of Low water",)


def test_a_shelf_without_size_is_refused():
    with pytest.raises(ValueError, match="above zero"):
        draw(width_mm=0)
