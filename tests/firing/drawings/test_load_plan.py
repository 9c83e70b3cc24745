"""The load plan: to scale, the front at the bottom, words only where there is room."""

import pytest

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
        things, width_mm=width_mm, depth_mm=depth_mm, title="The shelf"
    )


def test_sides_keep_their_proportion():
    plan = draw(thing())
    (shape,) = plan.shapes
    assert shape.width / shape.height == pytest.approx(1.5, abs=0.01)
    assert plan.shelf_width / shape.width == pytest.approx(2, abs=0.01)


def test_the_front_is_at_the_bottom():
    front, back = draw(thing(), thing(y_mm=200)).shapes
    assert front.y > back.y
    assert front.y + front.height == pytest.approx(2 + draw().shelf_height, abs=0.2)


def test_words_shrink_and_go_with_the_room():
    (roomy,) = draw(thing()).shapes
    assert (roomy.label, roomy.under) == ("4", "Low water")
    (narrow,) = draw(thing(width_mm=80)).shapes
    assert narrow.label == "4"
    assert narrow.under.endswith("…")
    (tiny,) = draw(thing(width_mm=10, depth_mm=10)).shapes
    assert (tiny.label, tiny.under) == ("", "")


def test_everything_is_named_in_words():
    assert draw(thing()).words == ("Layer 4 of Low water",)


def test_a_shelf_without_size_is_refused():
    with pytest.raises(ValueError, match="above zero"):
        draw(width_mm=0)
