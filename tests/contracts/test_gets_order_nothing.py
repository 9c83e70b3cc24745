"""Looking at a page orders no work: whoever follows every link fills no queue."""

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
    return browser.get(url, headers=headers).getvalue()


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
