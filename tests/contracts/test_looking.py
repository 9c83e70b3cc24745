"""Looking at a page orders no work and leaves nothing behind in a browser."""

import pytest
from django.urls import reverse

from studio.models import Job, Membership, Role
from tests.contracts.test_permissions import ADDRESSES, arguments_of, world  # noqa: F401

NO_PAGES = {"studio:sign_out"}


@pytest.fixture
def owner(world, client):  # noqa: F811
    person = Membership.owned.for_studio(world).filter(role=Role.OWNER).first().person
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


def asked(browser, url, **headers):
    answer = browser.get(url, headers=headers)
    answer.getvalue()  # Closes a file that is sent.
    return answer


def test_nobody_may_store_any_answer(world, owner):  # noqa: F811
    for address in ADDRESSES:
        if address.name in NO_PAGES:
            continue
        url = reverse(address.name, kwargs=arguments_of(address, world))
        assert "no-store" in asked(owner, url)["Cache-Control"], address.name
    assert "no-store" in asked(owner, "/no/such/page/")["Cache-Control"]
    assert (
        "no-store" not in asked(owner, "/static/studio/css/base.css")["Cache-Control"]
    )


def test_no_page_of_the_demo_orders_a_job(world, owner, settings):  # noqa: F811
    settings.DESIGN_BUDGET_SECONDS = 0.0
    before = Job.across_studios.count()
    ordering = []
    for address in ADDRESSES:
        if address.name in NO_PAGES:
            continue
        url = reverse(address.name, kwargs=arguments_of(address, world))
        asked(owner, url)
        asked(owner, f"{url}?when=1&part=1&lasts=90+min", hx_request="true")
        if Job.across_studios.count() != before:
            ordering.append(address.name)
            before = Job.across_studios.count()
    assert not ordering
