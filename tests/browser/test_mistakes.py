"""A commission in which everything goes wrong, on a phone: each mistake has its way out.

A wrong tap at every step, a power cut in the fuse, a piece that is lost and made again.
"""

import datetime as dt

import numpy as np
import pytest
from django.utils import timezone
from playwright.sync_api import expect

from commissions.models import CommissionedPiece
from commissions.selectors.share_links import link_token
from firing.models import Firing, TypedProgramme
from firing.schedules.selectors.programmes import run_of
from studio.models import Piece
from studio.selectors.pieces import fresh
from studio.stages import LayerState, Stage
from tests.browser.test_ten_steps import clock, workshop  # noqa: F401
from tests.browser.walk import Walk
from tests.commissions import build as work
from tests.worker import run_waiting_jobs

pytestmark = [
    pytest.mark.browser,
    pytest.mark.slow,
    pytest.mark.django_db(transaction=True),
]

HOUR, MINUTE = dt.timedelta(hours=1), dt.timedelta(minutes=1)
# The power went while the kiln cooled through this [°C], and stayed away [h].
CUT_C, COOLS_H = 600.0, 8.0


def undo(walk):
    """Press Undo in the message on top of the page."""
    walk.page.locator(".messages").get_by_role("button", name="Undo").click()


def cut_log(firing):
    """Return the kiln's readings up to three hours after the power went, in °C."""
    run = run_of(firing.kiln, firing.schedule)
    hottest = int(np.argmax(run.temperature_c))
    after = np.flatnonzero(run.temperature_c[hottest:] <= CUT_C)[0] + hottest
    cut_s = float(run.time_s[after])
    times = np.arange(0, cut_s + 3 * 3600, 300)
    shown = np.where(
        times <= cut_s,
        np.interp(times, run.time_s, run.temperature_c),
        20 + (CUT_C - 20) * np.exp(-(times - cut_s) / (COOLS_H * 3600)),
    )
    rows = [f"{s:.0f},{c:.1f}" for s, c in zip(times, shown, strict=True)]
    return "\n".join(["Seconds,Temp (°C)", *rows]).encode(), float(times[-1])


def cold_log(firing, from_s, last_s):
    """Return readings of a kiln that goes on cooling by itself until it is cold."""
    times = np.arange(from_s, last_s, 600)
    shown = 20 + 340 * np.exp(-(times - from_s) / (COOLS_H * 3600))
    rows = [f"{s:.0f},{c:.1f}" for s, c in zip(times, shown, strict=True)]
    return "\n".join(["Seconds,Temp (°C)", *rows]).encode()


def take_in(walk, firing, name, data):
    walk.go(f"/firings/{firing.pk}/readings/")
    walk.page.locator("input[type=file]").set_input_files(
        {"name": name, "mimeType": "text/csv", "buffer": data}
    )
    walk.press("Import the readings")
    expect(walk.page).to_have_url(f"{walk.address}/firings/{firing.pk}/")


def now_of(firing):
    return Firing.across_studios.select_related("booking").get(pk=firing.pk)


def test_every_mistake_has_its_way_out(
    workshop,  # noqa: F811
    page,
    new_context,
    live_server,
    screenshot,
    sign_in,
    clock,  # noqa: F811
):
    sign_in("owner")
    walk = Walk(page, live_server.url, screenshot, name="mistakes", size="phone")
    quote = work.accepted(
        workshop,
        of=work.commission(workshop, layer_count=12, cap_count=10, passes_per_layer=1),
    )
    commission = quote.commission
    piece = CommissionedPiece.across_studios.get(commission=commission).piece

    # Painted on the wrong piece: one tap back.
    walk.go(f"/pieces/{piece.pk}/paint/")
    for box in page.get_by_role("checkbox").all():
        box.check()
    walk.press("Mark as painted")
    undo(walk)
    walk.reads("Not painted: taken back.")
    assert all(v.state is LayerState.PLANNED for v in fresh(piece).layers[:2])
    walk.go(f"/pieces/{piece.pk}/paint/")
    for box in page.get_by_role("checkbox").all():
        box.check()
    walk.press("Mark as painted")
    walk.reads("recorded as painted.")

    # Started by mistake, then at another time than recorded.
    walk.go("/firings/enamel/new/")
    walk.press("Book the kiln")
    enamel = Firing.across_studios.latest("pk")
    clock.move_to(enamel.booking.starts_at + 2 * HOUR)
    walk.go(f"/firings/{enamel.pk}/")
    walk.press("Started now")
    undo(walk)
    walk.reads("Taken back: it was not started.")
    page.get_by_text("It was started earlier").click()
    zone = workshop.viewer().zone
    earlier = (timezone.now() - HOUR).astimezone(zone)
    walk.fill(started_at=f"{earlier:%Y-%m-%dT%H:%M}")
    walk.look("started-earlier")
    walk.press("Started then")
    assert now_of(enamel).started_at < timezone.now() - 50 * MINUTE

    # One tap never unloads a hot kiln; unloaded by mistake it goes back.
    walk.go(f"/firings/{enamel.pk}/finish/")
    walk.look("too-hot")
    walk.press("All fine")
    walk.reads("Read the temperature at the kiln")
    walk.press("Not yet")
    assert now_of(enamel).finished_at is None
    clock.move_to(now_of(enamel).booking.opens_at + MINUTE)
    walk.go(f"/firings/{enamel.pk}/finish/")
    walk.press("All fine")
    undo(walk)
    walk.reads("Taken back: it was not unloaded.")
    walk.go(f"/firings/{enamel.pk}/finish/")
    walk.press("All fine")
    walk.reads("is unloaded")

    # A crack seen later is the reason of the new sheet; that was the wrong layer.
    item = enamel.items.order_by("pk").first()
    walk.go(f"/firings/outcomes/{item.pk}/")
    page.get_by_label("Cracked").check()
    walk.fill(note="A run from the left edge")
    walk.look("outcome")
    walk.press("Save")
    layer = item.of_pass.sheet.layer
    walk.go(f"/pieces/{piece.pk}/layers/{layer.number}/")
    expect(page.locator("[name=reason]")).to_have_value("A run from the left edge")
    walk.press("Start a new sheet")
    undo(walk)
    walk.reads("is not made again")
    walk.go(f"/firings/outcomes/{item.pk}/")
    page.get_by_label("Fine", exact=True).check()
    walk.press("Save")
    assert fresh(piece).stage is Stage.READY_TO_STACK

    # A stack checked too early, a pass added and taken out again.
    walk.go(f"/pieces/{piece.pk}/stack/")
    walk.fill(layers_counted="12", measured_height_mm="36 mm")
    page.get_by_role("checkbox").first.check()
    walk.press("Record the check")
    undo(walk)
    walk.reads("Taken back: stack checked.")
    walk.go(f"/pieces/{piece.pk}/stack/")
    walk.fill(layers_counted="12", measured_height_mm="36 mm")
    page.get_by_role("checkbox").first.check()
    walk.press("Record the check")

    # The fuse: the power goes, and what is typed instead is followed.
    walk.press("Book the fuse")
    walk.press("Save and book")
    walk.press("Book the kiln")
    fuse = Firing.across_studios.latest("pk")
    clock.move_to(fuse.booking.starts_at + 30 * MINUTE)
    walk.go(f"/firings/{fuse.pk}/")
    walk.press("Started now")
    log, last_s = cut_log(fuse)
    clock.move_to(now_of(fuse).started_at + dt.timedelta(seconds=last_s + 60))
    take_in(walk, fuse, "cut.csv", log)
    # The worker's own clock was not moved on, so its jobs are done here.
    walk.go(f"/firings/{fuse.pk}/judgement/")
    run_waiting_jobs()
    walk.go(f"/firings/{fuse.pk}/judgement/")
    walk.reads("Power cut")
    walk.look("power-cut")
    planned_at = now_of(fuse).booking.opens_at
    page.locator("a[href*='type-now']").first.click()
    walk.look("type-now")
    walk.press("I typed this")
    assert TypedProgramme.across_studios.filter(firing=fuse).count() == 1
    assert now_of(fuse).booking.opens_at != planned_at
    walk.look("typed")

    # It comes out in pieces. The client reads nothing before the maker says so.
    clock.move_to(now_of(fuse).booking.opens_at + HOUR)
    take_in(walk, fuse, "cold.csv", cold_log(fuse, last_s + 300, last_s + 60 * 3600))
    walk.go(f"/firings/{fuse.pk}/finish/")
    walk.look("unload")
    if page.locator("[name=shown_c]").count():
        walk.fill(shown_c="30 C")
        page.locator("[name=is_confirmed]").check()
    page.get_by_label("Cracked").check()
    page.locator(".bench-actions button").first.click()
    walk.reads("is unloaded")
    walk.go(f"/pieces/{piece.pk}/lost/")
    walk.fill(note="Cracked through in the cooling")
    walk.press("Mark as lost")
    undo(walk)
    assert fresh(piece).stage is Stage.CRACKED
    walk.go(f"/pieces/{piece.pk}/lost/")
    walk.fill(note="Cracked through in the cooling")
    walk.press("Mark as lost")
    guest_page = new_context(reduced_motion="reduce").new_page()
    guest_page.goto(f"{live_server.url}/c/{link_token(work.link(commission))}/")
    expect(guest_page.locator("main")).not_to_contain_text("lost")

    # The remake inside the commission; then the client is told.
    walk.go(f"/commissions/{commission.pk}/")
    walk.look("lost")
    walk.press("Start the remake")
    walk.look("remake")
    walk.press("Start the remake")
    again = Piece.across_studios.exclude(pk=piece.pk).get()
    assert again.layers.count() == 12
    walk.press("Tell the client")
    walk.press("Put it on their page")
    guest_page.reload()
    expect(guest_page.locator("main")).to_contain_text("lost")
    refusals = ("409", "422")
    assert [c for c in walk.complaints if not any(r in c for r in refusals)] == []
