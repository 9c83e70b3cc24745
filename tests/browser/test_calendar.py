"""The kilns' calendar in a real browser: dragged, moved by keys, put back, read out."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from firing.models import Booking
from studio.models import AccessHours
from tests import make
from tests.browser.screen import SCREENS, SIZES, faults_of, px_too_wide
from tests.firing import build

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

HOUR = dt.timedelta(hours=1)
DAY = 24 * HOUR


@pytest.fixture
def load(cast):
    """An enamel load at noon the day after tomorrow, in a studio that never closes."""
    AccessHours.owned.for_studio(cast.studio).delete()
    make.kiln(studio=cast.studio, name="Second kiln")
    zone = cast.viewer().zone
    noon = (timezone.now().astimezone(zone) + 2 * DAY).replace(
        hour=12, minute=0, second=0, microsecond=0
    )
    firing = build.enamel(
        kiln=cast.kiln, glass=cast.glass, starts_at=noon.astimezone(dt.UTC)
    )
    return firing.booking


@pytest.fixture
def calendar(visit):
    """Return a function that opens the kilns' page, and what the browser complained of."""

    def show(*, query="", **how):
        return visit(reverse("firing:kiln_list") + query, **how)

    return show


def shape_of(page, booking):
    hook = reverse("firing:booking_place", args=[booking.pk])
    return page.locator(f"[data-move='{hook}']:visible")


def start_of(booking):
    return Booking.across_studios.get(pk=booking.pk).starts_at


def wait_for(page, words):
    page.locator("[data-move-panel]").get_by_text(words).first.wait_for(timeout=9000)


def hour_px(page):
    per_pixel = page.locator("[data-ribbon]:visible").get_attribute(
        "data-seconds-per-pixel"
    )
    return 3600 / float(per_pixel)


def middle(shape):
    shape.evaluate("shape => shape.scrollIntoView({ block: 'center' })")
    # A label may run on beside a short booking; what is touched is its own place.
    box = shape.locator(".ribbon-hit").bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] * 0.75


@pytest.mark.parametrize("query", ["", "?show=month", "?show=quarter"])
@pytest.mark.parametrize(("size", "scheme"), SCREENS)
def test_every_range_fits_and_is_accessible(
    calendar, load, screenshot, size, query, scheme
):
    page, complaints = calendar(size=size, scheme=scheme, query=query)
    assert px_too_wide(page) <= 0
    ribbon = page.locator("[data-ribbon]:visible")
    assert ribbon.count() == 1
    assert ribbon.evaluate("box => box.scrollWidth - box.clientWidth") <= 0
    assert faults_of(page) == []
    assert complaints == []
    screenshot(f"kilns-{size}-{query.removeprefix('?show=') or 'week'}-{scheme}")


@pytest.mark.parametrize("size", list(SIZES))
def test_a_booking_is_dragged_along_its_row(calendar, load, screenshot, size):
    page, complaints = calendar(size=size)
    shape = shape_of(page, load)
    x, y = middle(shape)
    far = 6 * hour_px(page)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + far / 2, y, steps=3)
    page.mouse.move(x + far, y, steps=3)
    wait_for(page, "may be opened")
    assert start_of(load) == load.starts_at, "dragging alone moves nothing"
    screenshot(f"kilns-dragged-{size}")
    page.mouse.up()
    wait_for(page, "is moved")
    moved = start_of(load)
    assert abs(moved - load.starts_at - 6 * HOUR) <= HOUR
    assert moved.minute % 15 == 0
    assert page.url.endswith(reverse("firing:kiln_list")), "the drag opened no page"
    page.get_by_role("button", name="Put it back").click()
    page.locator("[data-move-undo]").wait_for(state="hidden")
    assert start_of(load) == load.starts_at
    assert complaints == []


@pytest.mark.browser_context_args(has_touch=True, is_mobile=True)
def test_a_finger_sideways_drags_and_up_and_down_scrolls(calendar, load):
    page, complaints = calendar(size="phone")
    fingers = page.context.new_cdp_session(page)

    def touch(kind, *at):
        points = [{"x": x, "y": y} for x, y in at]
        asked = {"type": kind, "touchPoints": points}
        fingers.send("Input.dispatchTouchEvent", asked)

    def swipe(by_x, by_y):
        x, y = middle(shape_of(page, load))
        touch("touchStart", (x, y))
        for part in range(1, 9):
            touch("touchMove", (x + by_x * part / 8, y + by_y * part / 8))
            page.wait_for_timeout(40)
        touch("touchEnd")

    swipe(0, -120)
    assert page.locator("[data-move-words]").inner_text() == ""
    assert start_of(load) == load.starts_at
    swipe(30, 0)
    wait_for(page, "is moved")
    assert start_of(load) > load.starts_at
    assert complaints == []


def test_a_booking_is_dragged_to_another_kiln(calendar, load):
    page, _ = calendar()
    x, y = middle(shape_of(page, load))
    row = page.locator("[data-ribbon]:visible [data-name='Second kiln']")
    box = row.bounding_box()
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 20, box["y"] + box["height"] / 2, steps=6)
    wait_for(page, "Second kiln,")
    page.mouse.up()
    wait_for(page, "is moved")
    assert Booking.across_studios.get(pk=load.pk).kiln.name == "Second kiln"


def test_a_refused_drop_says_why_and_takes_the_nearest_or_goes_back(calendar, load):
    start = load.ends_at + 4 * HOUR
    build.booking(kiln=load.kiln, starts_at=start, hours=40, title="Class")
    page, complaints = calendar()
    x, y = middle(shape_of(page, load))
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 12 * hour_px(page), y, steps=6)
    wait_for(page, "is taken by “Class”")
    assert page.locator(".ribbon-nearest").count() == 1
    page.mouse.up()
    wait_for(page, "is moved")
    assert load.starts_at < start_of(load) <= load.starts_at + 4 * HOUR
    assert [one for one in complaints if "409" not in one] == []


def test_escape_ends_a_drag(calendar, load):
    page, _ = calendar()
    shape = shape_of(page, load)
    x, y = middle(shape)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 60, y, steps=4)
    assert shape.get_attribute("transform")
    page.keyboard.press("Escape")
    page.mouse.up()
    wait_for(page, "It is where it was")
    assert shape.get_attribute("transform") is None
    assert start_of(load) == load.starts_at
    assert page.url.endswith(reverse("firing:kiln_list")), "the drag opened no page"


@pytest.mark.parametrize("size", list(SIZES))
def test_a_focused_booking_is_moved_by_keys(calendar, load, size):
    page, complaints = calendar(size=size)
    shape = shape_of(page, load)
    shape.focus()
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("ArrowLeft")
    wait_for(page, "may be opened")
    assert page.locator("[role=status][aria-live=polite]:visible").count() >= 1
    page.keyboard.press("Escape")
    wait_for(page, "It is where it was")
    assert start_of(load) == load.starts_at
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    wait_for(page, "is moved")
    assert start_of(load) == load.starts_at + 2 * HOUR
    focused = "document.activeElement.dataset.move"
    assert page.evaluate(focused) == reverse("firing:booking_place", args=[load.pk])
    assert complaints == []


def test_without_a_move_enter_opens_the_booking(calendar, load):
    page, _ = calendar()
    shape_of(page, load).focus()
    page.keyboard.press("Enter")
    page.wait_for_url(f"**{reverse('firing:firing_detail', args=[load.firing.pk])}")


def test_a_dead_line_puts_it_back_and_says_so(calendar, load):
    page, _ = calendar()
    page.route("**/place/**", lambda route: route.abort())
    shape_of(page, load).focus()
    page.keyboard.press("ArrowRight")
    wait_for(page, "does not answer")
    page.keyboard.press("Enter")
    wait_for(page, "The booking is where it was")
    assert start_of(load) == load.starts_at


@pytest.mark.parametrize("size", list(SIZES))
@pytest.mark.parametrize(
    "path", ["free", "move"], ids=["free time", "the page of a move"]
)
def test_the_other_pages_are_accessible_and_fit(
    calendar, load, live_server, screenshot, size, path
):
    page, complaints = calendar(size=size)
    address = {
        "free": reverse("firing:free_time") + "?words=2+days+in+a+purple+kiln",
        "move": reverse("firing:booking_move", args=[load.pk])
        + f"?kiln={load.kiln_id}&starts_at=2001-01-01T09:00",
    }[path]
    page.goto(live_server.url + address)
    assert px_too_wide(page) <= 0
    assert faults_of(page) == []
    assert complaints == []
    screenshot(f"{path}-{size}")
