"""At the kiln without a connection: started, unloaded, with a note and a picture."""

import datetime as dt
import io

import pytest
from django.utils import timezone
from PIL import Image
from playwright.sync_api import expect

from firing.firings.services.running import start_firing
from studio.models import Pass, Picture, SentOnce
from tests.browser.offline.waiting import BOX, held, wait_until_empty
from tests.firing import build
from tests.firing.pages import address

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_firing_is_started_once(cast, visit):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=timezone.now())
    page = held(visit, address("firing_detail", firing.pk))
    page.context.set_offline(True)
    page.get_by_role("button", name="Started now").click()
    expect(page.locator(BOX)).to_contain_text("1 record waits for the connection")
    firing.refresh_from_db()
    assert firing.started_at is None
    page.context.set_offline(False)
    wait_until_empty(page)
    firing.refresh_from_db()
    assert firing.started_at is not None
    assert SentOnce.objects.count() == 1


def test_a_load_is_unloaded_with_its_note_and_picture(cast, visit, tmp_path):
    began = timezone.now() - dt.timedelta(days=3)
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=began)
    start_firing(firing=firing, by=None, at=began)
    file = io.BytesIO()
    Image.new("RGB", (80, 60), "teal").save(file, "JPEG")
    page = held(visit, address("firing_finish", firing.pk))
    page.context.set_offline(True)
    tile = page.locator("[data-tile]").first
    tile.get_by_text("Note").first.click()
    tile.get_by_role("textbox").fill("A speck at the corner")
    tile.locator("input[type=file]").set_input_files(
        {"name": "out.jpg", "mimeType": "image/jpeg", "buffer": file.getvalue()}
    )
    page.locator("button[name=all_fine]").click()
    expect(page.locator(BOX)).to_contain_text("1 record waits for the connection")
    assert not Picture.across_studios.exists()
    page.context.set_offline(False)
    wait_until_empty(page)
    firing.refresh_from_db()
    assert firing.finished_at is not None
    told = Pass.owned.for_studio(cast.studio).exclude(outcome_note="")
    assert [one.outcome_note for one in told] == ["A speck at the corner"]
    assert Picture.owned.for_studio(cast.studio).count() == 1
    assert SentOnce.objects.count() == 1
