"""The page “Your data” in a real browser, in every state its owner may see."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from studio.models import Studio
from studio.services.exports import ask_for_export
from tests.browser.screen import SCREENS, faults_of, px_too_wide
from tests.worker import run_waiting_jobs

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize(("size", "scheme"), SCREENS)
def test_the_pages_fit_and_are_accessible(
    visit, sign_in, cast, screenshot, size, scheme
):
    now = timezone.now()
    sign_in("owner")

    def look(name, address):
        page, complaints = visit(reverse(address), size=size, scheme=scheme)
        assert faults_of(page) == []
        assert complaints == []
        assert px_too_wide(page) <= 0
        screenshot(f"yours-{name}-{size}-{scheme}")

    look("empty", "studio:yours")
    ask_for_export(studio=cast.studio, by=cast.owner, at=now)
    look("making", "studio:yours")
    run_waiting_jobs()
    Studio.objects.filter(pk=cast.studio.pk).update(delete_at=now + timedelta(days=7))
    look("ready-and-leaving", "studio:yours")
    look("settings", "studio:settings")
    look("delete", "studio:studio_delete")
    Studio.objects.filter(pk=cast.studio.pk).update(delete_at=None, is_demo=True)
    look("demo", "studio:yours")
