"""Looking through a piece in a real browser, and the first screen of the demo's pages."""

import itertools

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from commissions.models import ShareLink
from commissions.selectors.share_links import link_token
from firing.loads.selectors.firings import firings
from firing.readings.selectors.verdict_inputs import inputs_sha256, judge_firing
from firing.readings.services.judging import keep_judgement
from studio.models import Piece
from tests import make
from tests.browser.screen import SCREENS, enter, faults_of, px_too_wide
from tests.studio.services.test_depth_pictures import jpeg, photograph
from tests.worker import run_waiting_jobs

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SLIDER = "[data-depth-slider]"


@pytest.fixture
def piece(cast):
    """Three layers with pictures under one without."""
    made = make.piece(studio=cast.studio, glass=cast.glass, layers=4, title="Shoal")
    for number, colour in ((1, "#c0d0ff"), (2, "#ffd0c0"), (3, "#d0ffc0")):
        photograph(made, number, jpeg(colour))
    run_waiting_jobs()
    run_waiting_jobs()
    return made


def passed(page):
    """Return the numbers of the layers that are looked past."""
    found = page.locator(".depth-layer[data-passed]").all()
    return [int(one.get_attribute("data-depth-layer")) for one in found]


def moved(page):
    return page.locator(".depth-layer").evaluate_all(
        "layers => layers.map(one => one.style.transform)"
    )


@pytest.mark.parametrize(("size", "scheme"), SCREENS)
def test_the_piece_fits_and_is_accessible(visit, piece, screenshot, size, scheme):
    page, complaints = visit(
        reverse("studio:piece_detail", args=[piece.pk]), size=size, scheme=scheme
    )
    page.wait_for_load_state("networkidle")
    assert faults_of(page) == []
    assert complaints == []
    assert px_too_wide(page) <= 0
    screenshot(f"piece-{size}-{scheme}")


def test_arrow_keys_look_past_the_front_and_say_where_one_is(visit, piece):
    page, _ = visit(reverse("studio:piece_detail", args=[piece.pk]))
    slider = page.locator(SLIDER)
    slider.focus()
    assert slider.get_attribute("aria-valuetext") == "Layer 4 of 4: clear"
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    assert passed(page) == [3, 4]
    assert slider.get_attribute("aria-valuetext").startswith("Layer 2 of 4")
    expect(page.locator("[data-depth-words]")).to_contain_text("Layer 2 of 4")
    expect(page.locator("[data-layer-card] a").first).to_have_text("Layer 2")
    page.keyboard.press("Home")
    assert passed(page) == [2, 3, 4]
    page.keyboard.press("End")
    assert passed(page) == []


def test_the_card_opens_on_the_layer_with_a_next_step(visit, piece):
    page, _ = visit(reverse("studio:piece_detail", args=[piece.pk]))
    card = page.locator("[data-layer-card]")
    expect(card.get_by_role("link", name="Layer 1", exact=True)).to_be_visible()
    card.get_by_role("link", name="Paint: layer 1").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(
        "Which layers did you paint?"
    )


def test_a_tap_on_the_strip_gets_the_band_under_the_finger(visit, cast):
    """Forty bands are thinner than a finger; the thick one is half of the strip."""
    thin = make.piece(studio=cast.studio, glass=cast.glass, layers=40)
    thick = make.glass(studio=cast.studio, name="Slab")
    thick.sheet_thickness_mm = 39 * cast.glass.sheet_thickness_mm
    thick.save()
    thin.layers.filter(number=20).update(glass=thick)
    photograph(thin, 1, jpeg("teal"))
    page, _ = visit(reverse("studio:piece_detail", args=[thin.pk]), size="phone")
    box = page.locator("[data-depth-strip]").bounding_box()
    assert box["width"] >= 44
    assert px_too_wide(page) <= 0
    for share, number in ((0, 40), (0.01, 40), (0.12, 31), (0.5, 20), (0.999, 1)):
        page.mouse.click(box["x"] + 20, box["y"] + share * (box["height"] - 1))
        expect(page.locator(SLIDER)).to_have_value(str(number))
    handle = page.locator("[data-depth-handle]").bounding_box()
    assert handle["y"] + handle["height"] == pytest.approx(
        box["y"] + box["height"], abs=12
    )


def test_one_layer_has_no_slider(visit, cast):
    alone = make.piece(studio=cast.studio, glass=cast.glass, layers=1)
    photograph(alone, 1, jpeg("teal"))
    page, complaints = visit(reverse("studio:piece_detail", args=[alone.pk]))
    page.locator("[data-depth-stage]").click()
    assert not page.locator(SLIDER).count()
    assert complaints == []


def test_the_wheel_turns_pages_of_the_stack_only_once_it_was_touched(visit, piece):
    page, _ = visit(reverse("studio:piece_detail", args=[piece.pk]))
    page.locator("[data-depth-stage]").hover()
    page.mouse.wheel(0, 100)
    page.wait_for_timeout(100)
    assert passed(page) == []
    page.locator(SLIDER).focus()
    page.locator("[data-depth-stage]").hover()
    page.mouse.wheel(0, 100)
    expect(page.locator(".depth-layer[data-passed]")).to_have_count(1)


def test_dragging_over_the_picture_goes_through_the_layers(visit, piece):
    page, _ = visit(reverse("studio:piece_detail", args=[piece.pk]))
    box = page.locator("[data-depth-stage]").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 40, y, steps=5)
    page.mouse.up()
    assert passed(page) == [3, 4]


def test_the_pointer_moves_deep_layers_further_and_the_front_not(visit, piece):
    page, _ = visit(reverse("studio:piece_detail", args=[piece.pk]))
    page.emulate_media(reduced_motion="no-preference")
    box = page.locator("[data-depth-stage]").bounding_box()
    page.mouse.move(box["x"] + 5, box["y"] + box["height"] / 2)
    page.wait_for_timeout(100)
    across = [float(one.split("(")[1].split("px")[0]) for one in moved(page)]
    assert across == sorted(across, reverse=True)
    assert across[0] > 1
    assert across[-1] == 0


def test_reduced_motion_keeps_the_picture_still(visit, piece):
    page, _ = visit(reverse("studio:piece_detail", args=[piece.pk]))
    page.emulate_media(reduced_motion="reduce")
    box = page.locator("[data-depth-stage]").bounding_box()
    page.mouse.move(box["x"] + 5, box["y"] + 5)
    page.wait_for_timeout(100)
    assert set(moved(page)) == {""}


def test_a_picture_that_cannot_be_read_leaves_its_edge(visit, piece):
    for one in piece.pictures.all():
        one.depth.storage.delete(one.depth.name)
    page, _ = visit(reverse("studio:piece_detail", args=[piece.pk]))
    expect(page.locator(".depth-edge")).to_have_count(4)


def test_without_scripts_the_layers_lie_over_each_other(
    browser, sign_in, page, piece, live_server
):
    sign_in("maker")
    still = browser.new_context(java_script_enabled=False)
    still.add_cookies(page.context.cookies())
    plain = still.new_page()
    plain.goto(live_server.url + reverse("studio:piece_detail", args=[piece.pk]))
    assert plain.locator("img.depth-layer").count() == 3
    assert not plain.locator(SLIDER).is_visible()
    plain.get_by_text("All 4 layers").click()
    assert plain.get_by_role("link", name="Layer 2", exact=True).is_visible()
    still.close()


@pytest.mark.parametrize(("width", "height"), [(390, 844), (1280, 900)])
def test_the_demos_piece_shows_what_to_do_first_and_stays_short(
    demo, page, live_server, screenshot, width, height
):
    """The heights that the product owner set for the 20-layer piece."""
    run_waiting_jobs()
    run_waiting_jobs()
    enter(page, live_server, demo)
    piece = Piece.owned.for_studio(demo).get(title="Spring tide at the sluice")
    page.set_viewport_size({"width": width, "height": height})
    sent = []
    page.on(
        "response",
        lambda answer: sent.append(answer) if "/depth/" in answer.url else None,
    )
    page.goto(live_server.url + reverse("studio:piece_detail", args=[piece.pk]))
    page.wait_for_load_state("networkidle")
    button = page.locator("main .button-main").first.bounding_box()
    assert button["y"] + button["height"] < height
    assert page.locator(".depth").bounding_box()["y"] < height / 2
    assert len({answer.url for answer in sent}) == 19
    weights = {answer.url: len(answer.body()) for answer in sent}
    assert sum(weights.values()) < 300_000
    tall = page.evaluate("document.documentElement.scrollHeight")
    assert tall < (2600 if width == 390 else 2000)
    screenshot(f"demo-piece-{width}")


@pytest.mark.parametrize(
    "name", ["studio:today", "firing:kiln_list", "firing:firing_judgement"]
)
def test_the_demos_first_pages_stay_short_on_a_phone(
    demo, page, live_server, screenshot, name
):
    enter(page, live_server, demo)
    page.set_viewport_size({"width": 390, "height": 844})
    given = []
    if name == "firing:firing_judgement":
        cut = firings(demo).get(
            kind="full fuse", items__piece__title="Groyne in winter"
        )
        sha256, found = inputs_sha256(cut), judge_firing(cut)
        keep_judgement(firing=cut, sha256=sha256, found=found, at=timezone.now())
        given = [cut.pk]
    page.goto(live_server.url + reverse(name, args=given))
    assert page.evaluate("document.documentElement.scrollHeight") < 2600
    assert px_too_wide(page) <= 0
    screenshot(f"demo-{name.partition(':')[2]}-390")


def test_the_clients_first_screen_says_where_the_piece_is_and_what_comes(
    demo, page, live_server
):
    page.set_viewport_size({"width": 390, "height": 844})
    links = {
        link.commission.title: f"{live_server.url}/c/{link_token(link)}/"
        for link in ShareLink.owned.for_studio(demo).select_related("commission")
    }
    page.goto(links["Spring tide at the sluice"])
    write = page.get_by_role("link", name="Write to us")
    assert write.get_attribute("href") == (
        "mailto:kilns@example.org?subject=Spring%20tide%20at%20the%20sluice"
    )
    picture = page.locator(".depth-stage")
    sentence = page.get_by_text("cooling in the kiln")
    for part in (picture, sentence, page.get_by_text("Next:"), write):
        box = part.bounding_box()
        assert box["y"] + box["height"] < 844
    assert page.evaluate("document.documentElement.scrollHeight") < 2600

    page.goto(links["The fleet comes in"])
    answer = page.get_by_role("link", name="Answer the quote")
    assert answer.bounding_box()["y"] < 800
    answer.click()
    expect(page.locator("#part-answer")).to_be_in_viewport()
    assert page.evaluate("document.documentElement.scrollHeight") < 2600


def test_forced_colours_leave_the_handle_and_the_pictures(visit, piece):
    page, _ = visit(reverse("studio:piece_detail", args=[piece.pk]))
    page.emulate_media(forced_colors="active")
    colours = page.locator("[data-depth-handle]").evaluate(
        "one => [getComputedStyle(one).borderTopColor,"
        " getComputedStyle(document.body).backgroundColor]"
    )
    assert colours[0] != colours[1]
    assert faults_of(page) == []


def test_large_letters_move_nothing_over_each_other(visit, piece):
    """The places and the studio's name, with letters of twice the size."""
    for size in ("phone", "desk"):
        page, _ = visit(reverse("studio:piece_detail", args=[piece.pk]), size=size)
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        parts = page.locator(".mark, .places a, .masthead-find, .studio-menu")
        boxes = [box for one in parts.all() if (box := one.bounding_box())]
        for one, other in itertools.combinations(boxes, 2):
            across = one["x"] < other["x"] + other["width"] - 1 and (
                other["x"] < one["x"] + one["width"] - 1
            )
            down = one["y"] < other["y"] + other["height"] - 1 and (
                other["y"] < one["y"] + one["height"] - 1
            )
            assert not (across and down)
        assert px_too_wide(page) <= 0
