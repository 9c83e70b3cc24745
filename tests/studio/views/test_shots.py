"""Shots that the bench sends behind its forms."""

from uuid import UUID, uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from studio.models import Picture
from studio.services.pictures import keep_shot
from tests import make
from tests.firing import build
from tests.studio.views.pages import address
from tests.studio.views.test_painting import photograph
from tests.threads import at_once

# Made up for these tests.
KEY = "8a3a7bd0-7d3b-4c7e-9d0a-0f5f4a3e2b11"


@pytest.fixture
def of_pass(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=2)
    return make.passes_of(piece)[0]


def send(browser, of_pass, key=KEY, picture=None):
    return browser.post(
        address("pass_shot", of_pass.pk),
        {"shot": key, "picture": picture or photograph()},
    )


def test_a_shot_is_kept_once_however_often_it_is_sent(signed_in, cast, of_pass):
    browser = signed_in("helper")
    assert [send(browser, of_pass).status_code for _ in range(3)] == [200] * 3
    (kept,) = Picture.owned.for_studio(cast.studio)
    assert (kept.of_pass, kept.layer) == (of_pass, of_pass.sheet.layer)
    assert kept.by == cast.helper
    assert send(browser, of_pass, key=str(uuid4())).status_code == 200
    assert Picture.owned.for_studio(cast.studio).count() == 2


def test_another_studios_same_key_is_another_shot(signed_in, cast, strangers, of_pass):
    piece = make.piece(studio=strangers.studio, glass=strangers.glass)
    keep_shot(
        shot=UUID(KEY),
        studio=strangers.studio,
        upload=photograph().file,
        name="a.jpg",
        by=None,
        at=make.NOW,
        of_pass=make.passes_of(piece)[0],
    )
    assert send(signed_in("helper"), of_pass).status_code == 200
    assert Picture.owned.for_studio(cast.studio).count() == 1


@pytest.mark.parametrize(
    ("key", "picture", "status", "told"),
    [
        ("no key", None, 422, "Enter a valid UUID"),
        (KEY, SimpleUploadedFile("a.jpg", b"words"), 409, "a.jpg"),
        (KEY, SimpleUploadedFile("a.jpg", b""), 409, "a.jpg"),
    ],
)
def test_what_is_not_taken_is_told_in_plain_words(
    signed_in, cast, of_pass, key, picture, status, told
):
    answer = send(signed_in("helper"), of_pass, key=key, picture=picture)
    assert answer.status_code == status
    assert answer["Content-Type"].startswith("text/plain")
    assert told in answer.content.decode()
    assert not Picture.owned.for_studio(cast.studio).exists()


def test_a_shot_of_something_unloaded_goes_to_its_layer(signed_in, cast):
    firing = build.enamel(kiln=make.kiln(studio=cast.studio), glass=cast.glass)
    item = firing.items.first()
    answer = signed_in("technician").post(
        reverse("firing:item_shot", args=[item.pk]),
        {"shot": KEY, "picture": photograph()},
    )
    assert answer.status_code == 200
    (kept,) = Picture.owned.for_studio(cast.studio)
    assert kept.layer == item.of_pass.sheet.layer
    assert kept.caption == f"{item.of_pass} out of the kiln"


@pytest.mark.database
@pytest.mark.django_db(transaction=True)
def test_sent_twice_at_the_same_moment_it_is_kept_once(cast, of_pass):
    def keep():
        keep_shot(
            shot=UUID(KEY),
            studio=cast.studio,
            upload=photograph().file,
            name="a.jpg",
            by=None,
            at=make.NOW,
            of_pass=of_pass,
        )

    assert at_once(keep, keep, keep) == [None] * 3
    assert Picture.owned.for_studio(cast.studio).count() == 1
