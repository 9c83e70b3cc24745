"""The backups on the settings page: for the owner, and loud only when it must be."""

import json
from datetime import timedelta

import pytest
from django.utils import timezone

from studio.selectors.backups import DAILY, FAILED, name_of
from tests.studio.views.pages import ROLES, address, text_of


@pytest.fixture
def folder(settings, tmp_path):
    settings.BACKUP_DIR = tmp_path
    return tmp_path


@pytest.mark.parametrize("role", ROLES)
def test_only_the_owner_sees_how_backups_stand(signed_in, cast, folder, role):
    page = text_of(signed_in(role).get(address("settings")))
    assert ("Backups</h2>" in page) == (role == "owner")


@pytest.mark.parametrize(("days", "is_late"), [(0, False), (3, True)])
def test_the_last_one_is_shown_and_an_old_one_warned_of(
    signed_in, cast, folder, days, is_late
):
    (folder / name_of(DAILY, timezone.now() - timedelta(days=days))).touch()
    page = text_of(signed_in("owner").get(address("settings")))
    assert "not yet" not in page
    assert ("No backup for two days" in page) == is_late
    assert "The daily backup failed" not in page


def test_an_old_studio_on_a_new_server_is_not_warned_at_once(signed_in, cast, folder):
    cast.studio.created_at = timezone.now() - timedelta(days=30)
    cast.studio.save(update_fields=["created_at"])
    page = text_of(signed_in("owner").get(address("settings")))
    assert "not yet" in page
    assert "No backup for two days" not in page


def test_a_failure_is_shown_with_its_words(signed_in, cast, folder):
    told = {"at": timezone.now().isoformat(), "words": "The disk has 12 MB free."}
    (folder / FAILED).write_text(json.dumps(told))
    page = text_of(signed_in("owner").get(address("settings")))
    assert "The daily backup failed" in page
    assert "The disk has 12 MB free." in page


def test_daily_backups_switched_off_are_called_that(signed_in, cast, folder, settings):
    settings.BACKUPS_KEPT = 0
    page = text_of(signed_in("owner").get(address("settings")))
    assert "switched off" in page
    assert "No backup for two days" not in page
