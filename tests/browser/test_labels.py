"""A label's number typed, or its code scanned, ticks its layer while painting."""

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from tests import make

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass, layers=4, title="Shoal")


def test_a_label_ticks_its_layer_and_no_other(visit, piece):
    page, _ = visit(f"/pieces/{piece.pk}/paint/", size="phone")
    field = page.get_by_label("Layer, typed or scanned")
    told = page.locator("[data-scan] [role=status]")
    origin = page.evaluate("window.location.origin")

    def scan(text):
        field.fill(text)
        field.press("Enter")

    scan("2")
    expect(told).to_have_text("Layer 2 is ticked.")
    # What a reader of codes types is what the code says.
    scan(f"{origin}/pieces/{piece.pk}/layers/3/")
    expect(told).to_have_text("Layer 3 is ticked.")
    scan(f"{origin}/pieces/{piece.pk + 1}/layers/1/")
    expect(told).to_have_text("This is layer 1 of another piece, or another studio's.")
    for forged in ("https://evil.example/pieces/1/layers/1/", "nonsense", "0x1"):
        scan(forged)
        expect(told).to_have_text("This is no label of this studio.")
    scan("40")
    expect(told).to_have_text("Layer 40 waits for no paint.")
    ticked = page.locator("input[name=passes]:checked")
    expect(ticked).to_have_count(2)
    assert page.url.endswith(f"/pieces/{piece.pk}/paint/")


CAMERA = """
window.told = [];
navigator.mediaDevices.getUserMedia = async () => {
  const canvas = document.createElement("canvas");
  canvas.getContext("2d").fillRect(0, 0, 9, 9);
  window.stream = canvas.captureStream(10);
  return window.stream;
};
window.BarcodeDetector = class {
  async detect() { return window.seen ? [{ rawValue: window.seen }] : []; }
};
"""


def test_the_camera_ticks_what_it_sees_and_is_closed_again(cast, visit, page):
    """The camera and the browser's own reader of codes are stood in for."""
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=4, title="Ebb")
    page.add_init_script(CAMERA)
    path = reverse("studio:piece_paint", args=[piece.pk])
    page, complaints = visit(path, size="phone")
    page.get_by_role("button", name="Scan labels").click()
    expect(page.locator("[data-scan] video")).to_be_visible()
    label = f"{page.url.removesuffix(path)}/pieces/{piece.pk}/layers/2/"
    page.evaluate("code => { window.seen = code }", label)
    expect(page.locator("[data-scan] [role=status]")).to_have_text("Layer 2 is ticked.")
    page.get_by_role("button", name="Close the camera").click()
    expect(page.locator("[data-scan] video")).to_be_hidden()
    assert page.evaluate(
        "window.stream.getTracks().every(one => one.readyState === 'ended')"
    )
    assert complaints == []
