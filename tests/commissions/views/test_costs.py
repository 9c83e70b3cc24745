"""Pages of what work cost: beside a quote, without one, and the list of all of it."""

import pytest
from django.urls import reverse

from commissions.models import CommissionedPiece
from studio.models import Piece
from tests import make
from tests.commissions import build
from tests.commissions.selectors.test_costs import finish, painted_passes


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass, layers=6, title="Own")


def cost_url(piece):
    return reverse("commissions:piece_cost", args=[piece.pk])


def text(response):
    assert response.status_code == 200
    return response.content.decode()


def test_a_piece_without_a_commission_has_its_cost_one_tap_away(signed_in, cast, piece):
    owner = signed_in()
    page = reverse("studio:piece_detail", args=[piece.pk])
    assert "Nothing recorded yet" in text(owner.get(page))
    assert "Nothing recorded yet" in text(owner.get(cost_url(piece)))
    painted_passes(piece, 2)
    assert cost_url(piece) in text(owner.get(page))
    shown = text(owner.get(cost_url(piece)))
    assert "so far" in shown
    assert "2 h of work" in shown
    assert "No kilns recorded: it really cost more." in shown


def test_who_may_not_see_money_sees_no_cost(signed_in, piece):
    painted_passes(piece, 2)
    helper = signed_in("helper")
    page = reverse("studio:piece_detail", args=[piece.pk])
    assert cost_url(piece) not in text(helper.get(page))
    assert helper.get(cost_url(piece)).status_code == 403


def test_another_studios_piece_is_not_found(signed_in, strangers):
    theirs = make.piece(studio=strangers.studio, glass=strangers.glass)
    assert signed_in().get(cost_url(theirs)).status_code == 404


def test_a_commissioned_piece_is_shown_beside_its_quote(signed_in, cast):
    quote = build.accepted(cast, of=build.commission(cast, **build.maquette()))
    url = reverse("commissions:commission_cost", args=[quote.commission_id])
    rows = CommissionedPiece.owned.for_studio(cast.studio).order_by("is_maquette")
    work, maquette = (row.piece for row in rows)
    owner = signed_in()
    assert owner.get(cost_url(work))["Location"] == f"{url}?part=piece"
    assert owner.get(cost_url(maquette))["Location"] == f"{url}?part=maquette"
    assert "Your price" in text(owner.get(cost_url(work), follow=True))
    assert cost_url(work) in text(
        owner.get(reverse("studio:piece_detail", args=[work.pk]))
    )


def test_maquettes_have_tabs_of_their_own(signed_in, cast, piece):
    trial = make.piece(studio=cast.studio, glass=cast.glass, title="Trial")
    Piece.across_studios.filter(pk=trial.pk).update(maquette_of=piece)
    painted_passes(piece, 1)
    painted_passes(trial, 2)
    owner = signed_in()
    assert "3 h of work" in text(owner.get(cost_url(piece)))
    assert "1 h of work" in text(owner.get(cost_url(piece), {"part": "piece"}))
    assert "2 h of work" in text(owner.get(cost_url(piece), {"part": "maquette"}))
    assert "3 h of work" in text(owner.get(cost_url(piece), {"part": "odd"}))


def test_finished_pieces_without_a_commission_have_a_list(signed_in, piece):
    owner, url = signed_in(), reverse("commissions:cost_list")
    assert "Nothing finished yet" in text(owner.get(url, {"by": "own"}))
    finish(piece)
    shown = text(owner.get(url, {"by": "own"}))
    assert cost_url(piece) in shown
    assert cost_url(piece) not in text(owner.get(url))
    assert "so far" not in text(owner.get(cost_url(piece)))
