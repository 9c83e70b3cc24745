"""What leaves compressed, and how much a first look at a page takes."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from studio.models import Membership
from tests import make
from tests.studio.services.test_depth_pictures import jpeg, photograph

pytestmark = pytest.mark.django_db
PARTS = re.compile(r'<(?:link|script)[^>]+(?:href|src)="(/static/[^"]+)"')
MOST_BYTES = 150_000


def get(browser, url):
    return browser.get(url, headers={"Accept-Encoding": "gzip"})


def size(answer):
    return len(answer.getvalue() if answer.streaming else answer.content)


def test_a_page_is_compressed_for_who_asks_for_it(client):
    page = get(client, reverse("studio:sign_in"))
    assert page["Content-Encoding"] == "gzip"
    assert "Accept-Encoding" in page["Vary"]
    assert "Content-Encoding" not in client.get(reverse("studio:sign_in"))


def test_a_picture_is_sent_as_it_is(signed_in, cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    picture = photograph(piece, 1, jpeg("white"))
    answer = get(signed_in(), reverse("studio:picture", args=[picture.pk, "small"]))
    assert "Content-Encoding" not in answer
    answer.close()


@pytest.mark.parametrize(
    "name",
    [
        "studio:today",
        "studio:piece_list",
        "firing:kiln_list",
        "firing:schedule_designer",
    ],
)
def test_a_first_look_takes_less_than_150_kb_without_pictures(demo, name):
    browser = Client()
    owner = Membership.owned.for_studio(demo).get(role="owner").person
    browser.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    page = get(browser, reverse(name))
    total = size(page)
    addresses = set(PARTS.findall(browser.get(reverse(name)).content.decode()))
    assert len(addresses) > 15
    for address in addresses:
        part = get(browser, address)
        assert part.status_code == 200, address
        total += size(part)
    assert total < MOST_BYTES
