"""The page “Your data”: an archive for the owner, and the studio's end."""

import io
import zipfile
from datetime import timedelta

import pytest
from django.utils import timezone

from studio.models import Export, Job, Person, Studio
from studio.services.leaving import GRACE
from tests.studio.views.pages import address, assert_asks_to_sign_in, statuses, text_of
from tests.worker import run_waiting_jobs

OWNER_ONLY = {"owner": 200, "maker": 403, "helper": 403, "technician": 403}


@pytest.mark.parametrize("name", ["yours", "studio_delete", "export_state"])
def test_only_owners_see_it(signed_in, client, name):
    assert statuses(signed_in, address(name)) == OWNER_ONLY
    assert_asks_to_sign_in(client, address(name))


def test_settings_lead_there(signed_in):
    url = address("yours")
    assert url in text_of(signed_in("owner").get(address("settings")))
    assert url not in text_of(signed_in("maker").get(address("settings")))


def test_the_owner_has_an_archive_made_and_takes_it(signed_in, cast):
    browser = signed_in("owner")
    assert "Make an archive" in text_of(browser.get(address("yours")))
    browser.post(address("export_make"))
    answer = text_of(browser.get(address("yours")))
    assert "The archive waits for its turn." in answer
    assert address("export_state") in answer

    run_waiting_jobs()
    part = text_of(browser.get(address("export_state"), headers={"HX-Request": "true"}))
    assert "<html" not in part
    assert "Download" in part

    sent = browser.get(address("export_download"))
    assert sent["Content-Disposition"].startswith('attachment; filename="gullmarsh-')
    assert "no-store" in sent["Cache-Control"]
    with zipfile.ZipFile(io.BytesIO(b"".join(sent.streaming_content))) as opened:
        assert "manifest.json" in opened.namelist()


def test_nobody_else_takes_it(signed_in, cast, strangers, client):
    signed_in("owner").post(address("export_make"))
    run_waiting_jobs()
    url = address("export_download")
    assert_asks_to_sign_in(client, url)
    for role in ("maker", "helper", "technician"):
        assert signed_in(role).get(url).status_code == 403
    theirs = signed_in("owner", strangers).get(url, follow=True)
    assert "There is no archive. Make one first." in text_of(theirs)
    assert Export.across_studios.get().studio == cast.studio


def test_an_archive_whose_file_is_gone_is_said_to_be(signed_in, cast):
    browser = signed_in("owner")
    browser.post(address("export_make"))
    run_waiting_jobs()
    export = Export.across_studios.get()
    export.file.storage.delete(export.file.name)
    answer = browser.get(address("export_download"), follow=True)
    assert "There is no archive" in text_of(answer)


def test_the_typed_name_has_it_deleted_in_a_week_and_everybody_is_told(signed_in, cast):
    browser = signed_in("owner")
    answer = browser.post(address("studio_delete"), {"name": "Gulmarsh"})
    assert answer.status_code == 409
    assert "type its name: Gullmarsh" in text_of(answer)

    answer = browser.post(address("studio_delete"), {"name": "Gullmarsh"}, follow=True)
    cast.studio.refresh_from_db()
    left = cast.studio.delete_at - timezone.now()
    assert GRACE - timedelta(minutes=5) < left <= GRACE
    told = "Gullmarsh will be deleted on"
    assert told in text_of(answer)
    helper = text_of(signed_in("helper").get(address("today")))
    assert told in helper
    assert "Keep it" not in helper
    assert signed_in("helper").post(address("studio_keep")).status_code == 403

    assert "Keep it" in text_of(browser.get(address("today")))
    answer = text_of(browser.post(address("studio_keep"), follow=True))
    assert "Gullmarsh stays." in answer
    assert told not in answer
    cast.studio.refresh_from_db()
    assert cast.studio.delete_at is None


def test_the_demos_owner_removes_it_in_one_step(signed_in, cast, strangers):
    Studio.objects.filter(pk=cast.studio.pk).update(is_demo=True)
    browser = signed_in("owner")
    assert "Remove the demo" in text_of(browser.get(address("yours")))
    answer = browser.post(address("demo_remove"), follow=True)
    assert "The demo is gone." in text_of(answer)
    assert answer.redirect_chain[-1][0].startswith(address("sign_in"))
    assert list(Studio.objects.all()) == [strangers.studio]
    assert not Person.objects.filter(pk=cast.owner.pk).exists()
    assert not Job.across_studios.exists()


def test_a_real_studio_is_not_removed_as_a_demo(signed_in, cast):
    assert signed_in("owner").post(address("demo_remove")).status_code == 404
    assert Studio.objects.filter(pk=cast.studio.pk).exists()
