"""The cutting plan against the rack: what it needs, charges, takes and gives back."""

from decimal import Decimal

import pytest

from studio.errors import Refused
from studio.models import Sheet, StockSheet
from studio.selectors.cutting import cutting_board, glass_needed
from studio.services import layers, stock
from studio.services.cutting import mark_cut
from studio.units import glass_weight_kg
from tests import make
from tests.cast import NOW


def rack(cast, *, width_mm=1000, height_mm=500, count=1, is_offcut=False):
    stock.receive_sheets(
        glass=cast.glass,
        width_mm=width_mm,
        height_mm=height_mm,
        count=count,
        batch="",
        cost_per_m2=None,
        is_offcut=is_offcut,
        by=None,
        at=NOW,
    )


def test_the_plan_uses_offcuts_first_and_says_what_to_buy(cast):
    make.piece(studio=cast.studio, glass=cast.glass, layers=9)
    rack(cast, width_mm=310, height_mm=210, is_offcut=True)
    rack(cast, width_mm=920, height_mm=420)
    board = cutting_board(cast.studio, cast.glass)
    # 302 by 202 mm: one from the offcut, six from the sheet, two from one to buy.
    assert [len(one.labels) for one in board.sheets] == [1, 6, 2]
    assert [one.stock.is_offcut for one in board.sheets] == [True, False, False]
    assert [one.is_to_buy for one in board.sheets] == [False, False, True]
    assert board.sheets[0].labels == ("A 1",)


def test_a_cut_sheet_goes_and_its_offcut_and_layers_come_and_all_is_undone(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=2)
    rack(cast)
    board = cutting_board(cast.studio, cast.glass)
    move = mark_cut(glass=cast.glass, number=1, key=board.key, by=None, at=NOW)
    whole = StockSheet.across_studios.get(is_offcut=False)
    offcuts = StockSheet.across_studios.filter(is_offcut=True)
    assert whole.on_hand == 0
    assert sum(one.on_hand for one in offcuts) >= 1
    of_it = Sheet.across_studios.filter(layer__piece=piece)
    assert all(one.cut_from_id == move.pk for one in of_it)
    assert cutting_board(cast.studio, cast.glass).wanted == ()
    layers.record_painted(passes=make.passes_of(piece)[:1], by=None, at=NOW)
    whole.refresh_from_db()
    assert whole.on_hand == 0, "Its glass was taken when it was cut."
    stock.take_back_move(move=move, reason="", by=None, at=NOW)
    whole.refresh_from_db()
    assert whole.on_hand == 1
    assert sum(one.on_hand for one in offcuts.all()) == 0
    assert not of_it.filter(cut_from__isnull=False).exists()


def test_a_plan_that_changed_is_not_marked_as_cut(cast):
    make.piece(studio=cast.studio, glass=cast.glass)
    rack(cast)
    seen = cutting_board(cast.studio, cast.glass)
    make.piece(studio=cast.studio, glass=cast.glass)
    with pytest.raises(Refused, match="plan has changed"):
        mark_cut(glass=cast.glass, number=1, key=seen.key, by=None, at=NOW)
    now = cutting_board(cast.studio, cast.glass)
    with pytest.raises(Refused, match="no such sheet"):
        mark_cut(glass=cast.glass, number=99, key=now.key, by=None, at=NOW)


def test_a_sheet_to_buy_is_received_before_it_is_cut(cast):
    make.piece(studio=cast.studio, glass=cast.glass, layers=9)
    rack(cast)
    board = cutting_board(cast.studio, cast.glass)
    last = board.sheets[-1]
    with pytest.raises(Refused, match="Receive it first"):
        mark_cut(glass=cast.glass, number=last.number, key=board.key, by=None, at=NOW)


def test_a_layer_larger_than_every_sheet_is_left_out(cast):
    make.piece(studio=cast.studio, glass=cast.glass, layers=2)
    rack(cast, width_mm=250, height_mm=200)
    board = cutting_board(cast.studio, cast.glass)
    assert [(one.letter, left) for one, left in board.left_out] == [("A", 2)]
    assert board.sheets == ()


PARTS = [(300.0, 200.0, 20)]


def test_the_price_has_the_waste_of_the_plan(cast):
    rack(cast, width_mm=1220, height_mm=1020)
    need = glass_needed(cast.studio, cast.glass, PARTS, at_most_percent=Decimal(10))
    # 302 by 202 mm, 4 across and 5 up: the whole sheet, 1.2444 m² for 1.2 m².
    assert need.is_planned
    assert need.parts_m2 == Decimal("1.2")
    assert need.waste_percent == Decimal("3.7")
    assert need.area_m2 == Decimal("1.2444")
    assert "1 sheet of" in need.words


def test_the_price_is_never_worse_than_the_studios_percentage(cast):
    rack(cast, width_mm=390, height_mm=290)
    at_most = Decimal(10)
    need = glass_needed(cast.studio, cast.glass, PARTS, at_most_percent=at_most)
    assert (need.waste_percent, need.is_planned) == (10, False)
    assert need.area_m2 == Decimal("1.32")
    assert "is waste" in need.words


def test_without_sheets_the_studios_percentage_counts(cast):
    need = glass_needed(cast.studio, cast.glass, PARTS, at_most_percent=Decimal("12.5"))
    assert (need.waste_percent, need.is_planned) == (Decimal("12.5"), False)
    assert need.area_m2 == Decimal("1.35")


def test_nothing_asked_needs_nothing(cast):
    rack(cast)
    odd = [(0.0, 200.0, 4), (300.0, -1.0, 2), (300.0, 200.0, 0)]
    need = glass_needed(cast.studio, cast.glass, odd)
    assert (need.area_m2, need.waste_percent) == (0, 0)


def test_another_studios_rack_is_not_cut(cast, strangers):
    make.piece(studio=cast.studio, glass=cast.glass)
    stock.receive_sheets(
        glass=strangers.glass,
        width_mm=1000,
        height_mm=500,
        count=9,
        batch="",
        cost_per_m2=None,
        by=None,
        at=NOW,
    )
    assert not cutting_board(cast.studio, cast.glass).has_stock


def test_a_square_metre_of_float_weighs_as_the_handbook_says():
    # 2500 kg/m³ at 18 °C (EN 572-1), "a square metre of float glass with a thickness of
    # 1 mm is 2.5 kg" in glass makers' handbooks that quote it.
    assert glass_weight_kg(1000, 1000, 1, 2500) == pytest.approx(2.5)
    assert glass_weight_kg(1000, 1000, 6, 2500) == pytest.approx(15)


def test_every_plan_of_the_demo_can_be_cut(demo):
    from studio.selectors.stock import glasses

    for glass in glasses(demo):
        for with_quotes in (False, True):
            board = cutting_board(demo, glass, with_quotes=with_quotes)
            assert sum(len(one.labels) for one in board.sheets) + sum(
                left for _, left in board.left_out
            ) == sum(one.count for one in board.wanted)
