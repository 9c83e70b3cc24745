"""Photographs through the pages: sent only to members, removed by those who may."""

import errno
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from studio.models import Picture
from studio.services.pictures import add_picture
from tests import make
from tests.studio.views.pages import (
    address,
    assert_asks_to_sign_in,
    statuses,
    text_of,
)


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass)


def jpeg() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (900, 600), "teal").save(out, "JPEG")
    return out.getvalue()


def upload(data=None, name="stack.jpg"):
    return SimpleUploadedFile(name, jpeg() if data is None else data, "image/jpeg")


@pytest.fixture
def picture(cast, piece):
    return add_picture(
        studio=cast.studio,
        upload=io.BytesIO(jpeg()),
        name="a.jpg",
        piece=piece,
        caption="Low tide",
        by=cast.maker,
        at=make.NOW,
    )


def test_a_picture_of_a_piece_and_of_a_layer(signed_in, cast, piece):
    browser = signed_in("helper")
    answer = browser.post(
        address("picture_add", piece.pk), {"picture": upload(), "caption": "Stack"}
    )
    assert answer["Location"] == address("piece_detail", piece.pk)
    answer = browser.post(
        address("layer_picture_add", piece.pk, 2), {"picture": upload()}
    )
    assert answer["Location"] == address("layer_detail", piece.pk, 2)
    found = Picture.owned.for_studio(cast.studio).order_by("pk")
    assert [(p.caption, p.layer and p.layer.number, p.by) for p in found] == [
        ("Stack", None, cast.helper),
        ("", 2, cast.helper),
    ]
    page = text_of(browser.get(address("piece_detail", piece.pk)))
    assert address("picture", found[0].pk, "small") in page
    assert address("picture", found[1].pk, "depth") in page, "in the depth view"


@pytest.mark.parametrize(
    ("sent", "status", "told"),
    [
        ({}, 422, "Picture: Choose a file."),
        ({"picture": upload(b"no picture")}, 409, "not a picture that can be read"),
        ({"picture": upload(b"")}, 422, "empty"),
        ({"picture": upload(), "caption": "x" * 201}, 422, "at most 200 characters"),
    ],
)
def test_a_bad_picture_is_refused_and_its_caption_stays(
    signed_in, cast, piece, sent, status, told
):
    for url in (
        address("picture_add", piece.pk),
        address("layer_picture_add", piece.pk, 1),
    ):
        for value in sent.values():
            if hasattr(value, "seek"):
                value.seek(0)
        answer = signed_in().post(url, {"caption": "Kept words"} | sent)
        assert answer.status_code == status
        assert told in text_of(answer)
        assert sent.get("caption", "Kept words") in text_of(answer)
    assert not Picture.across_studios.exists()


def test_only_those_who_answer_for_the_piece_show_it_to_the_client(
    signed_in, cast, piece
):
    for role, shown in (("helper", False), ("maker", True)):
        signed_in(role).post(
            address("picture_add", piece.pk),
            {"picture": upload(), "is_shown_to_client": "on"},
        )
        assert Picture.across_studios.latest("pk").is_shown_to_client is shown


@pytest.mark.parametrize(("size", "width"), [("large", 900), ("small", 480)])
def test_a_picture_is_sent_privately(signed_in, picture, size, width):
    answer = signed_in("technician").get(address("picture", picture.pk, size))
    assert answer.status_code == 200
    assert answer["Content-Type"] == "image/webp"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Cache-Control"] == "private, no-store"
    with Image.open(io.BytesIO(b"".join(answer.streaming_content))) as sent:
        assert sent.width == width


def test_other_sizes_missing_files_and_strangers_get_nothing(
    signed_in, client, strangers, picture
):
    assert signed_in().get(address("picture", picture.pk, "huge")).status_code == 404
    for size in ("large", "small"):
        url = address("picture", picture.pk, size)
        assert signed_in("owner", strangers).get(url).status_code == 404
        assert_asks_to_sign_in(client, url)
    picture.image.storage.delete(picture.image.name)
    assert signed_in().get(address("picture", picture.pk, "large")).status_code == 404


def test_nothing_of_the_media_folder_has_an_address(signed_in, settings, picture):
    for url in (f"/media/{picture.image.name}", f"/never-served/{picture.image.name}"):
        assert signed_in().get(url).status_code == 404


def test_a_pictures_page_offers_what_the_viewer_may_do(signed_in, picture):
    url = address("picture_detail", picture.pk)
    offered = {
        role: {
            name
            for name in ("picture_caption", "picture_show", "picture_remove")
            if address(name, picture.pk) in text_of(signed_in(role).get(url))
        }
        for role in ("owner", "maker", "helper", "technician")
    }
    everything = {"picture_caption", "picture_show", "picture_remove"}
    assert offered == {
        "owner": everything,
        "maker": everything,
        "helper": {"picture_caption"},
        "technician": set(),
    }


def test_a_caption_is_changed_and_a_long_one_stays_typed(signed_in, picture):
    url = address("picture_caption", picture.pk)
    assert signed_in("helper").post(url, {"caption": "High tide"}).status_code == 302
    picture.refresh_from_db()
    assert picture.caption == "High tide"
    answer = signed_in().post(url, {"caption": "y" * 201})
    assert answer.status_code == 422
    assert "y" * 201 in text_of(answer)


def test_shown_to_the_client_and_taken_off(signed_in, picture):
    url = address("picture_show", picture.pk)
    for sent, shown in (({"is_shown": "yes"}, True), ({}, False)):
        signed_in("maker").post(url, sent)
        picture.refresh_from_db()
        assert picture.is_shown_to_client is shown


def test_a_helper_removes_only_their_own(signed_in, cast, piece, picture):
    assert (
        signed_in("helper").post(address("picture_remove", picture.pk)).status_code
        == 403
    )
    own = add_picture(
        studio=cast.studio,
        upload=io.BytesIO(jpeg()),
        name="b.jpg",
        piece=piece,
        by=cast.helper,
        at=make.NOW,
    )
    answer = signed_in("helper").post(address("picture_remove", own.pk))
    assert answer["Location"] == address("piece_detail", piece.pk)
    assert list(Picture.across_studios.all()) == [picture]
    signed_in("owner").post(address("picture_remove", picture.pk))
    assert not Picture.across_studios.exists()


def test_a_picture_is_removed_though_the_disk_keeps_its_file(
    signed_in, picture, monkeypatch, django_capture_on_commit_callbacks
):
    def refuse(*_):
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(picture.image.storage, "delete", refuse)
    with django_capture_on_commit_callbacks(execute=True):
        answer = signed_in().post(address("picture_remove", picture.pk))
    assert answer.status_code == 302
    assert not Picture.across_studios.exists()


def test_who_may_touch_pictures(signed_in, client, strangers, piece, picture):
    see = address("picture_detail", picture.pk)
    assert set(statuses(signed_in, see).values()) == {200}
    assert signed_in("owner", strangers).get(see).status_code == 404
    assert_asks_to_sign_in(client, see)
    for name, args, lowest in (
        ("picture_add", [piece.pk], "technician"),
        ("layer_picture_add", [piece.pk, 1], "technician"),
        ("picture_caption", [picture.pk], "technician"),
        ("picture_show", [picture.pk], "helper"),
        ("picture_remove", [picture.pk], "technician"),
    ):
        url = address(name, *args)
        assert signed_in(lowest).post(url).status_code == 403
        assert signed_in("owner", strangers).post(url).status_code == 404
        assert signed_in().get(url).status_code == 405
        assert_asks_to_sign_in(client, url, post={})
    picture.refresh_from_db()
    assert picture.caption == "Low tide"
