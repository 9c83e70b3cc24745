"""The designer's chart in a real browser: the power cut dragged, keyed, and zoomed.

On a phone and at a desk, in light and dark, with axe-core on what is visible.
"""

import re

import pytest
from django.urls import reverse

from tests.browser.screen import SCREENS, SIZES, faults_of, px_too_wide

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PLACE = re.compile(r"3 h cut, starts .+ in, kiln at \d+ °F")


@pytest.fixture
def designer(cast, visit):
    """Return a function that opens the designer, and what the browser complained of."""

    def show(**how):
        page, complaints = visit(reverse("firing:schedule_designer"), **how)
        page.locator("#cut-grip:visible").wait_for()
        return page, complaints

    return show


def words(page):
    return page.locator("#cut-grip").get_attribute("aria-valuetext")


def hour(page):
    return float(page.locator("#cut-grip").get_attribute("aria-valuenow"))


def middle(box):
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def wait_for_words(page, other_than):
    page.wait_for_function(
        "before => document.getElementById('cut-grip').getAttribute('aria-valuetext')"
        " !== before",
        arg=other_than,
    )


@pytest.mark.parametrize(("size", "scheme"), SCREENS)
def test_the_power_cut_is_dragged_and_answers_on_the_way(
    designer, screenshot, size, scheme
):
    page, complaints = designer(size=size, scheme=scheme)
    assert "With the power cut" not in page.locator("#design-drawing").inner_text()
    assert words(page) == "No power cut yet"
    handle = page.locator(".cut-grip-handle")
    handle.scroll_into_view_if_needed()
    x, y = middle(handle.bounding_box())
    before = hour(page)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 30, y, steps=5)
    wait_for_words(page, "No power cut yet")
    on_the_way = words(page)
    assert PLACE.fullmatch(on_the_way), "it answers before it is let go"
    assert "With the power cut" in page.locator("#design-drawing").inner_text()
    page.mouse.move(x - 60, y, steps=5)
    wait_for_words(page, on_the_way)
    page.mouse.up()
    assert hour(page) < before
    assert page.locator("#id_is_cut").is_checked()
    assert float(page.locator("#id_cut_at_h").input_value()) == hour(page)
    assert "Power off for 3 h" in page.locator("#cut-said").inner_text()
    assert "Power off for 3 h" in page.locator("#design-what-ifs").inner_text()
    at = middle(page.locator(".cut-grip-handle").bounding_box())
    assert at[0] == pytest.approx(x - 60, abs=8), "it stands where it was let go"
    page.reload()
    assert float(page.locator("#id_cut_at_h").input_value()) == hour(page)
    assert PLACE.fullmatch(words(page)), "the address holds it"
    assert faults_of(page) == []
    assert complaints == []
    assert px_too_wide(page) <= 0
    screenshot(f"designer-{size}-{scheme}")


def test_the_power_cut_is_dragged_by_a_finger(designer):
    page, complaints = designer(size="phone")
    handle = page.locator(".cut-grip-handle")
    handle.scroll_into_view_if_needed()
    x, y = middle(handle.bounding_box())
    before, scrolled = hour(page), page.evaluate("scrollY")
    finger = page.context.new_cdp_session(page)
    finger.send("Emulation.setTouchEmulationEnabled", {"enabled": True})

    def touch(kind, *points):
        finger.send(
            "Input.dispatchTouchEvent",
            {"type": kind, "touchPoints": [{"x": px, "y": py} for px, py in points]},
        )

    touch("touchStart", (x, y))
    for step in range(1, 8):
        touch("touchMove", (x - 8 * step, y + 4 * step))
    wait_for_words(page, "No power cut yet")
    touch("touchEnd")
    assert hour(page) < before
    assert PLACE.fullmatch(words(page))
    assert page.evaluate("scrollY") == scrolled, "the page stays while it is dragged"
    now = middle(page.locator(".cut-grip-handle").bounding_box())[1]
    assert now == pytest.approx(y, abs=1), "what is said moves no chart"
    assert complaints == []


@pytest.mark.parametrize("size", list(SIZES))
def test_the_power_cut_is_moved_by_keys(designer, size):
    page, complaints = designer(size=size)
    grip = page.locator("#cut-grip")
    box = page.locator(".cut-grip-handle").bounding_box()
    assert min(box["width"], box["height"]) >= 44
    grip.focus()
    start, said = hour(page), words(page)
    for key, by in (("ArrowRight", 0.5), ("PageUp", 6), ("ArrowDown", -0.5)):
        page.keyboard.press(key)
        start += by
        assert hour(page) == start
        wait_for_words(page, said)
        said = words(page)
        assert PLACE.fullmatch(said)
    page.keyboard.press("Home")
    wait_for_words(page, said)
    assert words(page).startswith("3 h cut, starts 0 min in")
    page.keyboard.press("End")
    assert hour(page) == float(grip.get_attribute("aria-valuemax"))
    assert page.evaluate("document.activeElement.id") == "cut-grip"
    assert complaints == []


def test_a_window_made_narrow_is_not_too_wide_before_the_grip_is_placed(page, designer):
    page.add_init_script(
        "addEventListener('resize', (event) => event.stopImmediatePropagation())"
    )
    designer()
    page.set_viewport_size({"width": 320, "height": 700})
    assert px_too_wide(page) <= 0


def test_the_chart_is_zoomed_in_place(designer):
    page, complaints = designer()
    zoom = page.locator("#design-drawing")
    shown = (
        "() => { const { from, to } = document.querySelector('#design-drawing"
        " svg.chart-wide[data-plot]').dataset; return [Number(from), Number(to)] }"
    )
    whole = page.evaluate(shown)

    def wait_for_change(before):
        page.wait_for_function(f"before => ({shown})()[0] !== before", arg=before[0])
        return page.evaluate(shown)

    zoom.focus()
    page.keyboard.press("+")
    closer = wait_for_change(whole)
    assert closer[1] - closer[0] == pytest.approx(0.7 * (whole[1] - whole[0]), rel=0.01)
    page.keyboard.press("ArrowRight")
    along = wait_for_change(closer)
    assert along[0] > closer[0]
    assert page.evaluate("document.activeElement.id") == "design-drawing"
    page.keyboard.press("0")
    assert wait_for_change(along) == whole
    zoom.get_by_role("link", name="Anneal soak").click()
    soak = wait_for_change(whole)
    assert soak[1] - soak[0] < whole[1] - whole[0]
    assert page.locator("#cut-grip:visible").count() == 1
    svg = page.locator("#design-drawing svg.chart-wide").first
    svg.scroll_into_view_if_needed()
    x, y = middle(svg.bounding_box())
    page.mouse.move(x, y)
    page.keyboard.down("Control")
    page.mouse.wheel(0, -100)
    page.keyboard.up("Control")
    near = wait_for_change(soak)
    assert near[1] - near[0] < soak[1] - soak[0]
    # Two fingers, as the browser tells of them: put down 40 apart, drawn to 80.
    page.evaluate(
        """([x, y]) => {
            const chart = document.querySelector("#design-drawing svg.chart-wide");
            const tell = (name, pointerId, at) => chart.dispatchEvent(
                new PointerEvent(name, {
                    pointerId, clientX: at, clientY: y, pointerType: "touch",
                    bubbles: true,
                }),
            );
            tell("pointerdown", 7, x - 20);
            tell("pointerdown", 8, x + 20);
            tell("pointermove", 7, x - 40);
            tell("pointermove", 8, x + 40);
            tell("pointerup", 7, x - 40);
            tell("pointerup", 8, x + 40);
        }""",
        [x, y],
    )
    page.wait_for_function(
        f"half => {{ const [from, to] = ({shown})(); return to - from <= half * 1.02 }}",
        arg=(near[1] - near[0]) / 2,
    )
    assert complaints == []
