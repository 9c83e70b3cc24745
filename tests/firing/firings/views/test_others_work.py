"""Pages of other work in a load: added, corrected, and by whom."""

import pytest

from firing.models import LoadItem
from studio.models import KilnUser
from tests.firing import build
from tests.firing.pages import address, text_of


@pytest.fixture
def potter(cast):
    return KilnUser.across_studios.create(studio=cast.studio, name="Marl Row")


@pytest.fixture
def firing(cast):
    return build.enamel(kiln=cast.kiln, glass=cast.glass)


def test_a_helper_adds_work_and_says_whose(signed_in, firing, potter):
    sent = {"description": "Bowl", "kiln_user": potter.pk}
    helper = signed_in("helper")
    page = helper.post(address("work_add", firing.pk), sent, follow=True)
    assert "Bowl" in text_of(page)
    assert "Marl Row" in text_of(page)
    item = LoadItem.across_studios.get(description="Bowl")
    form = text_of(helper.get(address("work_change", item.pk)))
    assert "It was not in this firing" in form
    sent = {"description": "Plate", "kiln_user": ""}
    page = helper.post(address("work_change", item.pk), sent, follow=True)
    assert "Plate" in text_of(page)
    assert "Marl Row" not in text_of(page)


def test_without_kiln_users_nobody_is_asked_whose(signed_in, firing):
    page = signed_in("helper").get(address("work_add", firing.pk))
    assert "Whose work" not in text_of(page)
    signed_in("helper").post(address("work_add", firing.pk), {"description": "Bowl"})
    assert LoadItem.across_studios.filter(description="Bowl").exists()


@pytest.mark.parametrize("words", ["", "   ", "x" * 161])
def test_work_that_is_not_named_well_is_told(signed_in, firing, words):
    sent = {"description": words}
    page = signed_in("helper").post(address("work_add", firing.pk), sent)
    assert page.status_code == 422


def test_a_layer_leads_back_to_the_firing(signed_in, firing):
    item = firing.items.first()
    page = signed_in().get(address("work_change", item.pk), follow=True)
    assert "its maker is on the piece" in text_of(page)


def test_another_studio_finds_neither(strangers, signed_in, firing):
    browser = signed_in("owner", strangers)
    assert browser.get(address("work_add", firing.pk)).status_code == 404
    item = firing.items.first()
    assert browser.get(address("work_change", item.pk)).status_code == 404
