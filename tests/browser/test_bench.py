"""Painting, loading and unloading on a phone: tiles, shots, a line that drops."""

import io
import re
import time

import pytest
from django.urls import reverse
from PIL import Image
from playwright.sync_api import expect

from firing.firings.services.running import start_firing
from studio.models import Material, Outcome, Picture
from tests import make
from tests.browser.screen import SCREENS, faults_of, px_too_wide
from tests.firing import build
from tests.patience import LONG_S

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

TRAY = ".shots-tray"


@pytest.fixture
def piece(cast):
    """Eight layers to paint and a cap."""
    for name in ("Umber", "Slate", "Rust"):
        Material.across_studios.create(
            studio=cast.studio, name=name, kind="enamel", unit="g", cost_per_unit=1
        )
    return make.piece(studio=cast.studio, glass=cast.glass, layers=9, title="Shoal")


@pytest.fixture
def paint(piece):
    return reverse("studio:piece_paint", args=[piece.pk])


@pytest.fixture
def running(cast):
    """Eight layers in a kiln that has long been cold."""
    firing = build.enamel(kiln=large_kiln(cast), glass=cast.glass, layers=9)
    return start_firing(firing=firing, by=None, at=make.NOW)


def large_kiln(cast):
    return make.kiln(
        studio=cast.studio,
        inner_width_mm=1500,
        inner_depth_mm=1000,
        shelf_width_mm=1400,
        shelf_depth_mm=900,
    )


class Thumb:
    """One thumb: it counts what it taps; taking the shot itself is the camera's."""

    def __init__(self, page):
        self.page = page
        self.taps = 0

    def tap(self, target):
        target.click()
        self.taps += 1

    def shoot(self, tile, name="shot.jpg", content=None):
        with self.page.expect_file_chooser() as opened:
            self.tap(tile.locator(".shot"))
        opened.value.set_files(
            {
                "name": name,
                "mimeType": "image/jpeg",
                "buffer": content or photograph(self.taps),
            }
        )


def photograph(number):
    out = io.BytesIO()
    Image.new("RGB", (120, 80), (number * 20 % 255, 90, 120)).save(out, "JPEG")
    return out.getvalue()


def kept(cast):
    return Picture.owned.for_studio(cast.studio)


# The tray alone does not tell: it is empty until the page has looked what waits.
WAITING = """() => new Promise((resolve) => {
  const opening = indexedDB.open("slowcool-shots", 1);
  opening.onsuccess = () => {
    const counted = opening.result.transaction("shots").objectStore("shots").count();
    counted.onsuccess = () => { opening.result.close(); resolve(counted.result); };
  };
})"""


def wait_until_sent(page):
    until = time.monotonic() + LONG_S
    while page.evaluate(WAITING):
        assert time.monotonic() < until, "shots still wait in the browser"
        page.wait_for_timeout(50)
    expect(page.locator(TRAY)).to_be_empty(timeout=20_000)


def test_eight_painted_layers_with_a_picture_each_in_fourteen_taps(
    visit, cast, piece, paint
):
    page, complaints = visit(paint, size="phone")
    thumb = Thumb(page)
    tiles = page.locator("[data-tile]")
    expect(tiles).to_have_count(8)
    for tile in tiles.all():
        thumb.shoot(tile)
        expect(tile.get_by_role("checkbox")).to_be_checked()
        expect(tile.get_by_alt_text("The picture just taken")).to_be_visible()
    thumb.tap(page.get_by_label("Umber"))
    thumb.tap(page.get_by_label("Rust"))
    thumb.tap(page.get_by_label(re.compile("^Time for each")))
    page.keyboard.type("45")
    thumb.tap(page.get_by_role("button", name="Mark as painted"))
    expect(page.get_by_text("8 layers recorded as painted.")).to_be_visible()
    assert thumb.taps <= 14
    wait_until_sent(page)
    painted = [one for one in make.passes_of(piece) if one.painted_at]
    assert len(painted) == 8
    assert {one.minutes for one in painted} == {45}
    for one in painted:
        assert {str(each) for each in one.materials.all()} == {"Umber", "Rust"}
    assert {one.of_pass_id for one in kept(cast)} == {one.pk for one in painted}
    assert kept(cast).count() == 8
    assert complaints == []


def test_a_dropped_line_loses_no_shot_and_sends_each_once(visit, cast, piece, paint):
    page, _ = visit(paint, size="phone")
    thumb = Thumb(page)
    page.context.set_offline(True)
    for tile in page.locator("[data-tile]").all()[:2]:
        thumb.shoot(tile)
    expect(page.locator(TRAY)).to_contain_text(
        "2 pictures will be sent once the connection is back."
    )
    assert kept(cast).count() == 0
    page.context.set_offline(False)
    wait_until_sent(page)
    assert kept(cast).count() == 2
    page.get_by_role("button", name="Mark as painted").click()
    expect(page.get_by_text("2 layers recorded as painted.")).to_be_visible()
    page.reload()
    wait_until_sent(page)
    assert kept(cast).count() == 2


def test_a_shot_waits_for_the_next_page_and_is_still_on_its_tile(
    visit, cast, paint, live_server
):
    page, _ = visit(paint, size="phone")
    page.route("**/shot/", lambda route: route.abort())
    Thumb(page).shoot(page.locator("[data-tile]").first)
    expect(page.locator(TRAY)).to_contain_text("1 picture will be sent")
    page.reload()
    tile = page.locator("[data-tile]").first
    expect(tile.get_by_alt_text("The picture just taken")).to_be_visible()
    page.unroute("**/shot/")
    page.goto(live_server.url + reverse("studio:today"))
    wait_until_sent(page)
    assert kept(cast).count() == 1


def test_an_answer_that_got_lost_sends_again_but_keeps_one(visit, cast, paint):
    page, _ = visit(paint, size="phone")
    lost = []

    def lose_the_first(route):
        if lost:
            route.continue_()
            return
        lost.append(route.fetch())
        route.abort()

    page.route("**/shot/", lose_the_first)
    Thumb(page).shoot(page.locator("[data-tile]").first)
    expect(page.locator(TRAY)).to_contain_text("1 picture will be sent")
    assert kept(cast).count() == 1
    page.evaluate("window.dispatchEvent(new Event('online'))")
    wait_until_sent(page)
    assert kept(cast).count() == 1


def test_what_is_no_picture_is_given_back(visit, cast, paint):
    page, _ = visit(paint, size="phone")
    Thumb(page).shoot(page.locator("[data-tile]").first, "door.jpg", b"words")
    alert = page.get_by_role("alert")
    expect(alert).to_contain_text("door.jpg")
    link = alert.get_by_role("link", name="Save it on this device")
    assert link.get_attribute("download") == "door.jpg"
    wait_until_sent(page)
    assert kept(cast).count() == 0


def test_without_scripts_pictures_go_with_the_form(
    browser, sign_in, cast, piece, paint, live_server, page
):
    sign_in("maker")
    plain = browser.new_context(java_script_enabled=False)
    plain.add_cookies(page.context.cookies())
    page = plain.new_page()
    page.goto(live_server.url + paint)
    tile = page.locator("[data-tile]").first
    tile.get_by_role("checkbox").check()
    tile.locator("input[type=file]").set_input_files(
        {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": photograph(1)}
    )
    page.get_by_role("button", name="Mark as painted").click()
    expect(page.get_by_text("1 layer recorded as painted.")).to_be_visible()
    plain.close()
    assert kept(cast).count() == 1


def test_eight_fired_layers_with_a_picture_each_in_fourteen_taps(visit, cast, running):
    page, _ = visit(reverse("firing:firing_finish", args=[running.pk]), size="phone")
    thumb = Thumb(page)
    tiles = page.locator("[data-tile]").all()
    assert len(tiles) == 8
    for tile in tiles:
        thumb.shoot(tile)
    button = page.get_by_role("button", name="All fine")
    expect(button).to_be_in_viewport()
    thumb.tap(tiles[3].get_by_label("Fire again"))
    expect(button).to_have_count(0)
    thumb.tap(page.get_by_role("button", name="Save, the rest is fine"))
    expect(page.get_by_text(re.compile("is unloaded"))).to_be_visible()
    assert thumb.taps <= 14
    wait_until_sent(page)
    outcomes = sorted(running.items.values_list("outcome", flat=True))
    assert outcomes == [Outcome.FINE] * 7 + [Outcome.REDO]
    assert kept(cast).count() == 8


def test_ticking_redraws_the_shelf_and_keeps_the_place(visit, cast):
    large_kiln(cast)
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=4, title="Ebb")
    build.painted(piece)
    page, complaints = visit(reverse("firing:load_new"), size="phone")
    boxes = page.locator(".bench-tile input")
    sheets = page.locator(".load-sheet")
    told = page.get_by_text(re.compile("painted layers chosen"))
    expect(sheets).to_have_count(3)
    boxes.first.focus()
    page.keyboard.press("Space")
    expect(sheets).to_have_count(2)
    expect(told).to_contain_text("2 of 3")
    expect(told).to_contain_text("There is room for another.")
    expect(boxes.first).to_be_focused()
    page.keyboard.press("Space")
    expect(sheets).to_have_count(3)
    assert complaints == []


@pytest.mark.parametrize(("size", "scheme"), SCREENS)
def test_the_bench_fits_and_is_accessible(
    visit, cast, piece, paint, running, screenshot, size, scheme
):
    build.painted(make.piece(studio=cast.studio, glass=cast.glass, title="Ebb"))
    for name, path in {
        "paint": paint,
        "load": reverse("firing:load_new"),
        "unload": reverse("firing:firing_finish", args=[running.pk]),
    }.items():
        page, complaints = visit(path, size=size, scheme=scheme)
        assert faults_of(page) == [], name
        assert px_too_wide(page) <= 0, name
        assert complaints == [], name
        screenshot(f"bench-{name}-{size}-{scheme}")
