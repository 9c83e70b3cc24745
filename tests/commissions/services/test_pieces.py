"""What is made of an accepted quote: the piece, its maquette, and every layer."""

from decimal import Decimal

import pytest
from django.utils import timezone

from commissions.models import CommissionedPiece
from commissions.services import remakes
from commissions.services.pieces import make_pieces
from studio.models import Glass, Piece
from studio.selectors.pieces import fresh
from studio.selectors.stock import area_of, reserved_glass, reserved_materials
from studio.services.pieces import mark_lost
from tests import make
from tests.commissions import build
from tests.make import NOW


def made(cast, *, change=None, **facts):
    """Make the piece of a quote, perhaps of a commission changed since."""
    commission = build.commission(cast, **facts)
    quote = build.quote(cast, of=commission)
    for name, value in (change or {}).items():
        setattr(commission, name, value)
    commission.save()
    return make_pieces(commission=commission, quote=quote, at=NOW), commission


def layers(piece):
    return [
        (one.technique, one.planned_passes, one.glass)
        for one in piece.layers.order_by("number")
    ]


def test_images_lie_at_the_back_and_clear_caps_at_the_front(cast):
    piece, _ = made(cast, cap_count=2, passes_per_layer=2)
    assert (
        layers(piece)
        == [("painted", 2, cast.glass)] * 4 + [("clear", 0, cast.glass)] * 2
    )
    assert (piece.title, piece.width_mm, piece.height_mm) == ("Slack water", 300, 200)
    assert (piece.maker, piece.is_dammed) == (cast.owner, True)


def test_without_caps_every_layer_has_an_image(cast):
    piece, _ = made(cast, cap_count=0, technique="decal", passes_per_layer=1)
    assert layers(piece) == [("decal", 1, cast.glass)] * 6


def test_a_maquette_is_a_smaller_piece_of_its_own(cast):
    piece, commission = made(cast, **build.maquette())
    rows = {row.is_maquette: row.piece for row in commission.commissioned_pieces.all()}
    trial = rows[True]
    assert rows[False] == piece
    assert (trial.title, trial.maquette_of) == ("Slack water, maquette", piece)
    assert (trial.width_mm, trial.height_mm) == (150, 100)
    assert [technique for technique, *_ in layers(trial)] == ["painted"] * 2 + ["clear"]


def test_a_long_title_still_leaves_room_in_the_maquettes(cast):
    piece, _ = made(cast, title="S" * 160, **build.maquette())
    assert piece.title == "S" * 160
    trial = Piece.owned.for_studio(cast.studio).get(maquette_of=piece)
    assert len(trial.title) == 160


def test_without_a_maquette_one_piece_is_made(cast):
    _, commission = made(cast)
    assert CommissionedPiece.owned.for_studio(cast.studio).count() == 1
    assert not commission.commissioned_pieces.get().is_maquette


@pytest.mark.parametrize(
    ("name", "value"), [("layer_count", 9), ("title", "Neap"), ("is_dammed", False)]
)
def test_what_was_quoted_is_made_and_set_on_the_commission(cast, name, value):
    piece, commission = made(cast, change={name: value})
    commission.refresh_from_db()
    quoted = {"layer_count": 6, "title": "Slack water", "is_dammed": True}
    assert getattr(commission, name) == quoted[name]
    assert piece.layers.count() == 6
    assert piece.is_dammed


def test_the_quoted_glass_is_used_whatever_was_chosen_since(cast):
    other = make.glass(studio=cast.studio)
    piece, commission = made(cast, change={"glass": other})
    assert piece.glass == cast.glass
    commission.refresh_from_db()
    assert commission.glass == cast.glass


def test_another_studios_glass_is_never_used(cast, strangers):
    commission = build.commission(cast)
    quote = build.quote(cast, of=commission)
    quote.inputs["work"]["glass_id"] = strangers.glass.pk
    with pytest.raises(Glass.DoesNotExist):
        make_pieces(commission=commission, quote=quote, at=NOW)


def test_what_is_accepted_has_its_glass_and_enamel_reserved(cast):
    enamel = build.enamel(cast)
    asked = build.commission(cast, layer_count=6, cap_count=2, passes_per_layer=2)
    quote = build.accepted(cast, of=asked)
    sold = [one.piece for one in quote.commission.commissioned_pieces.all()]
    planned = [one.layer for piece in sold for one in fresh(piece).layers]
    area = sum(area_of(one.piece) for one in planned)
    assert reserved_glass(cast.studio) == {cast.glass.pk: area}
    passes = sum(one.planned_passes * area_of(one.piece) for one in planned)
    wanted = passes * enamel.amount_used
    assert abs(reserved_materials(cast.studio)[enamel.pk] - wanted) < Decimal("0.01")
    again = lost_and_made_again(cast, sold[0])
    assert again.reservations.exists()
    assert sum(reserved_glass(cast.studio).values()) == area


def lost_and_made_again(cast, piece):
    mark_lost(piece=piece, note="Fell", by=cast.owner, at=timezone.now())
    return remakes.start_remake(piece=piece, by=cast.owner, at=timezone.now())
