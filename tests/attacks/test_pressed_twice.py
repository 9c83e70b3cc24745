"""A button pressed twice, in a row or at once and without scripts, does its work once."""

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from commissions.models import CommissionedPiece, Post, Quote
from studio.models import Picture, Sheet
from studio.services.pieces import mark_lost
from tests import make
from tests.cast import NOW
from tests.commissions import build
from tests.threads import at_once


def pressed(browser, url, data):
    """Press a button; uploads are made anew for each press."""
    return browser.post(url, data() if callable(data) else data)


def twice(signed_in, url, data, *, is_at_once):
    """Press in a row, or at once in two browsers."""
    presses = [lambda: pressed(signed_in(), url, data)] * 2
    answers = at_once(*presses) if is_at_once else [press() for press in presses]
    for answer in answers:
        assert not isinstance(answer, Exception), answer
    return answers


in_either_way = pytest.mark.parametrize(
    "is_at_once", [False, True], ids=["row", "once"]
)


@pytest.mark.django_db(transaction=True)
@in_either_way
def test_a_layer_made_again_gets_one_new_sheet(signed_in, cast, is_at_once):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    layer = piece.layers.get(number=1)
    page = signed_in().get(reverse("studio:layer_detail", args=[piece.pk, 1]))
    shown = re.search(r'name="sheet" value="(\d+)"', page.content.decode())[1]
    url = reverse("studio:layer_make_again", args=[piece.pk, 1])
    data = {"reason": "Scratched", "sheet": shown}
    answers = twice(signed_in, url, data, is_at_once=is_at_once)
    assert [answer.status_code for answer in answers] == [302, 302]
    assert Sheet.across_studios.filter(layer=layer).count() == 2
    # Looked at again and pressed again, it is meant.
    now = layer.sheets.get(set_aside_at=None).pk
    signed_in().post(url, {"reason": "Chipped", "sheet": now})
    assert Sheet.across_studios.filter(layer=layer).count() == 3


@pytest.mark.django_db(transaction=True)
@in_either_way
def test_a_lost_piece_is_made_again_once(signed_in, cast, is_at_once):
    commission = build.accepted(cast).commission
    row = CommissionedPiece.across_studios.get(commission=commission, is_maquette=False)
    mark_lost(piece=row.piece, note="It fell", by=None, at=NOW)
    url = reverse("commissions:lost_remake", args=[row.piece_id])
    answers = twice(signed_in, url, {}, is_at_once=is_at_once)
    assert sorted(answer.status_code for answer in answers) == [302, 409]
    refused = next(one for one in answers if one.status_code == 409)
    assert "is being made again already" in refused.content.decode()
    rows = CommissionedPiece.across_studios.filter(commission=commission)
    assert rows.filter(is_maquette=False).count() == 2


@pytest.mark.django_db(transaction=True)
@in_either_way
@pytest.mark.parametrize("has_picture", [False, True])
def test_news_is_posted_once(signed_in, cast, is_at_once, has_picture):
    commission = build.commission(cast)
    url = reverse("commissions:post_new", args=[commission.pk])

    def data(colour="teal"):
        image = build.image(colour=colour).getvalue()
        uploads = [SimpleUploadedFile("a.jpg", image, "image/jpeg")]
        return {"text": "Fired today", **({"uploads": uploads} if has_picture else {})}

    answers = twice(signed_in, url, data, is_at_once=is_at_once)
    assert [answer.status_code for answer in answers] == [302, 302]
    assert Post.across_studios.count() == 1
    assert Picture.across_studios.count() == int(has_picture)
    # Another picture with the same words is other news.
    signed_in().post(url, data("red") | ({} if has_picture else {"text": "And again"}))
    assert Post.across_studios.count() == 2


@pytest.mark.django_db(transaction=True)
@in_either_way
def test_a_quote_is_drafted_once(signed_in, cast, is_at_once):
    commission = build.commission(cast)
    url = reverse("commissions:quote_new", args=[commission.pk])
    form = signed_in().get(url).context["form"]
    data = {
        name: value
        for name in form.fields
        if (value := form[name].value()) not in (None, False)
    }
    assert len(data["form_key"]) == 32
    answers = twice(signed_in, url, data, is_at_once=is_at_once)
    assert [answer.status_code for answer in answers] == [302, 302]
    assert answers[0]["Location"] == answers[1]["Location"]
    assert Quote.across_studios.count() == 1
    # Back, another word, sent again: that is another version.
    signed_in().post(url, data | {"message": "With a discount"})
    assert Quote.across_studios.count() == 2
