"""The main job in a real browser, from a client's request to a finished piece.

Ten steps, half of them on a phone and half at a desk, with a real worker for the PDF.
Every page on the way is checked on both, with axe-core on the one in hand. The clock is
moved on where a kiln needs days.
"""

import datetime as dt
import re

import numpy as np
import pytest
from django.utils import timezone
from playwright.sync_api import expect

from firing.models import Firing
from firing.schedules.selectors.programmes import run_of
from studio.models import Document, Material, Piece
from studio.units import celsius_to_fahrenheit
from tests.browser.test_bench import photograph
from tests.browser.walk import Walk
from tests.conftest import keeper

pytestmark = [
    pytest.mark.browser,
    pytest.mark.worker,
    pytest.mark.slow,
    pytest.mark.django_db(transaction=True),
]

MINUTE = dt.timedelta(minutes=1)


class Clock:
    """The doors' clock, which a test may move on."""

    def __init__(self, real):
        self.real = real
        self.ahead = dt.timedelta()

    def __call__(self):
        return self.real() + self.ahead

    def move_to(self, instant):
        self.ahead += max(instant - self(), dt.timedelta())


@pytest.fixture
def clock(monkeypatch):
    moved = Clock(timezone.now)
    monkeypatch.setattr("django.utils.timezone.now", moved)
    return moved


@pytest.fixture
def workshop(transactional_db, cast):
    Material.across_studios.create(
        studio=cast.studio,
        name="Enamel black",
        kind="enamel",
        unit="g",
        cost_per_unit="0.40",
        used_per="pass area",
        amount_used=50,
    )
    return cast


def test_the_whole_path(
    workshop, page, new_context, live_server, screenshot, real_worker, clock
):
    real_worker.start()
    walk = Walk(page, live_server.url, screenshot, name="ten-steps", size="phone")

    # 1. Sign in; Today says what to do next.
    walk.go("/")
    walk.look("sign-in")
    walk.fill(username=workshop.owner.email, password="wrong")
    page.get_by_label("Password").press("Enter")
    walk.look("sign-in-refused")
    walk.fill(password="a long pass phrase")
    page.get_by_label("Password").press("Enter")
    expect(page.get_by_role("heading", name="Today")).to_be_visible()
    walk.look("today-empty")

    # 2. A new client and commission; nonsense first, and nothing typed is lost.
    walk.go("/commissions/new/")
    walk.look("request")
    walk.fill(
        client_name="Ada Fenwright",
        client_email="ada@example.org",
        title="Two reeds",
        width_mm="twelve",
        height_mm="8 in",
        layer_count="3",
        passes_per_layer="2",
    )
    walk.press("Save and quote")
    expect(page.locator("[name=width_mm]")).to_have_value("twelve")
    expect(page.locator("[name=title]")).to_have_value("Two reeds")
    walk.look("request-refused")
    walk.fill(width_mm='11.75"')
    walk.press("Save and quote")

    # 3. The quote: each line explained; PDF by the worker; sent as a private link.
    walk.reads("Total")
    walk.look("quote-draft")
    page.get_by_text("Rates, discount, kilns, tax").click()
    walk.fill(markup_percent="25")
    walk.press("Keep this quote")
    walk.reads("Mark-up")
    walk.look("quote")
    walk.press("Send it to the client")
    walk.look("quote-sent")
    link = page.locator("input[value*='/c/']").first.input_value()
    paper = page.get_by_role("link", name=re.compile("PDF"))
    expect(paper.first).to_be_visible()
    address = live_server.url + paper.first.get_attribute("href")
    assert page.context.request.get(address).body().startswith(b"%PDF")
    assert Document.across_studios.count() == 1

    # 4. The client opens the link without an account and accepts.
    guest_page = new_context(reduced_motion="reduce").new_page()
    guest = Walk(
        guest_page,
        live_server.url,
        keeper(guest_page),
        name="ten-steps-client",
        size="phone",
    )
    guest_page.goto(link)
    guest.look("client-quote")
    guest.press("Accept the quote")
    guest.look("client-forgot")
    guest.fill(name="Ada Fenwright")
    guest_page.get_by_label("I accept this quote").check()
    guest.press("Accept the quote")
    guest.reads("Two reeds")
    guest.look("client-accepted")
    piece = Piece.owned.for_studio(workshop.studio).get(title="Two reeds")
    assert piece.layers.count() == 3

    # 5. Passes are painted, fired and judged, twice over.
    for number in (1, 2):
        look = walk.look if number == 1 else walk.pass_by
        walk.go("/")
        look(f"today-paint-{number}")
        walk.go(f"/pieces/{piece.pk}/paint/")
        for box in page.get_by_role("checkbox").all():
            box.check()
        page.locator("input[type=file]").first.set_input_files(
            {
                "name": "pass.jpg",
                "mimeType": "image/jpeg",
                "buffer": photograph(number),
            }
        )
        look(f"paint-{number}")
        walk.press("Mark as painted")
        walk.reads("recorded as painted.")
        walk.go("/firings/enamel/new/")
        look(f"load-{number}")
        walk.press("Book the kiln")
        firing = Firing.across_studios.latest("pk")
        clock.move_to(firing.booking.starts_at + 30 * MINUTE)
        walk.go(f"/firings/{firing.pk}/")
        look(f"enamel-planned-{number}")
        walk.press("Started now")
        firing.booking.refresh_from_db()
        clock.move_to(firing.booking.opens_at + MINUTE)
        walk.go(f"/firings/{firing.pk}/finish/")
        look(f"enamel-finish-{number}")
        walk.press("All fine")
        walk.reads("is unloaded")
        look(f"enamel-done-{number}")

    # 6. The stack is checked, a wrong height refused, and the schedule computed.
    walk.hold("desk")
    guest.hold("desk")
    walk.go(f"/pieces/{piece.pk}/stack/")
    walk.fill(layers_counted="3", measured_height_mm="2 in")
    page.get_by_role("checkbox").first.check()
    walk.press("Record the check")
    walk.reads("should stand about")
    expect(page.locator("[name=measured_height_mm]")).to_have_value("2 in")
    walk.look("stack-refused")
    walk.fill(measured_height_mm="9.2 mm")
    walk.press("Record the check")
    walk.look("stacked")
    walk.press("Book the fuse")
    walk.reads("Next row")
    walk.look("fuse-plan")
    walk.press("Save and book")

    # 7. The kiln is booked down to the opening temperature.
    walk.look("fuse-book")
    walk.press("Book the kiln")
    fuse = Firing.across_studios.latest("pk")
    assert fuse.kind == "full fuse"
    walk.go("/kilns/")
    walk.look("kilns")
    clock.move_to(fuse.booking.starts_at + 60 * MINUTE)
    walk.go(f"/firings/{fuse.pk}/")
    walk.press("Started now")
    guest_page.reload()
    guest.reads("stays closed until about")
    guest.look("client-cooling")

    # 8. The controller's readings: a bad file names its lines, a good one is drawn.
    walk.go(f"/firings/{fuse.pk}/readings/")
    walk.look("readings")
    page.locator("input[type=file]").set_input_files(
        {
            "name": "bad.csv",
            "mimeType": "text/csv",
            "buffer": b"minutes;temperature \xb0F\n0;70\n5;warm\n10;90\n",
        }
    )
    walk.press("Import the readings")
    walk.reads("'warm' is not a temperature.")
    assert fuse.readings.count() == 0
    walk.look("readings-refused")
    walk.press("Choose another file")
    page.locator("input[type=file]").set_input_files(
        {"name": "log.csv", "mimeType": "text/csv", "buffer": _log_of(fuse)}
    )
    assert page.locator("[data-chosen]").inner_text() == "log.csv"
    walk.press("Import the readings")
    walk.look("chart")
    assert fuse.readings.count() > 100

    # 9. Unload, inspect, finish.
    fuse.booking.refresh_from_db()
    clock.move_to(fuse.booking.opens_at + MINUTE)
    walk.go(f"/firings/{fuse.pk}/finish/")
    # The file ends minutes before the opening, so the kiln itself must be read.
    walk.reads("is not known to be cold")
    walk.look("fuse-finish")
    walk.press("All fine")
    walk.reads("Read the temperature at the kiln")
    walk.fill(shown_c="100 °F")
    page.locator("[name=is_confirmed]").check()
    walk.press("All fine")
    walk.reads("is unloaded")
    walk.go(f"/pieces/{piece.pk}/finish/")
    walk.look("inspect")
    walk.press("Mark as finished")
    walk.go(f"/pieces/{piece.pk}/")
    walk.reads("Finished")
    walk.look("finished")

    # 10. The client's page shows the stage and the layers.
    guest_page.reload()
    guest.reads("finished")
    guest.look("client-finished")
    for one in (walk, guest):
        refusals = [c for c in one.complaints if not re.search(r"\b(409|422)\b", c)]
        assert refusals == []


def _log_of(firing):
    """Write what the kiln did as its controller logs it: every ten minutes, in °F."""
    run = run_of(firing.kiln, firing.schedule)
    minutes = np.arange(0, run.ready_s / 60, 10)
    shown = celsius_to_fahrenheit(
        np.interp(minutes * 60, run.time_s, run.temperature_c)
    )
    rows = [f"{m:.0f};{f:.1f}" for m, f in zip(minutes, shown, strict=True)]
    return "\n".join(["minutes;temperature °F", *rows]).encode()
