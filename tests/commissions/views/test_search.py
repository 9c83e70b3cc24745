"""One field that finds pieces, firings, commissions and clients by name."""

import pytest
from django.urls import reverse
from django.utils import timezone

from tests import make
from tests.commissions import build
from tests.commissions.services.test_invoices import issue, other
from tests.firing import build as firing_build
from tests.studio.views.pages import assert_asks_to_sign_in, text_of

pytestmark = pytest.mark.django_db
SEARCH = "studio:search"


def found(browser, words):
    answer = browser.get(reverse(SEARCH), {"q": words})
    assert answer.status_code == 200
    return text_of(answer)


def test_pieces_firings_and_commissions_are_found_by_part_of_a_name(cast, signed_in):
    build.commission(cast, title="The sluice at Fen End")
    piece = firing_build.stacked(
        studio=cast.studio, glass=cast.glass, title="Sluice, first light"
    )
    firing = firing_build.fuse(piece=piece, kiln=cast.kiln, starts_at=timezone.now())
    told = found(signed_in(), "sLUice")
    assert reverse("studio:piece_detail", args=[piece.pk]) in told
    assert reverse("firing:firing_detail", args=[firing.pk]) in told
    assert "The sluice at Fen End" in told


def test_every_word_must_be_there(cast, signed_in):
    make.piece(studio=cast.studio, glass=cast.glass, title="Shoal, first light")
    assert "Shoal, first light</a>" in found(signed_in(), "light shoal")
    assert "Shoal, first light</a>" not in found(signed_in(), "shoal dusk")


def test_a_client_is_found_only_by_who_sees_money(cast, signed_in):
    commission = build.commission(cast)
    name = commission.client.name
    address = reverse("commissions:commission_detail", args=[commission.pk])
    assert address in found(signed_in("owner"), name)
    assert address not in found(signed_in("helper"), name)


def test_other_studios_are_not_searched(cast, strangers, signed_in):
    make.piece(studio=strangers.studio, glass=strangers.glass, title="Their shoal")
    assert "Their shoal" not in found(signed_in(), "shoal")


@pytest.mark.parametrize("words", ["", "   ", "%", "_", "\x00", "'; --", "x" * 1000])
def test_nonsense_finds_nothing_and_breaks_nothing(cast, signed_in, words):
    make.piece(studio=cast.studio, glass=cast.glass, title="Shoal")
    assert "Shoal</a>" not in found(signed_in(), words)


def test_the_field_stands_on_every_page_and_strangers_sign_in(client, signed_in):
    assert f'action="{reverse(SEARCH)}"' in text_of(signed_in("helper").get("/"))
    assert_asks_to_sign_in(client, reverse(SEARCH))


def test_an_invoice_is_found_by_its_number_by_who_sees_money(cast, signed_in):
    invoice = issue(cast, other(cast))
    address = reverse("commissions:invoice_detail", args=[invoice.pk])
    assert address in found(signed_in("maker"), invoice.number)
    assert address not in found(signed_in("technician"), invoice.number)
