"""Stock: what comes and goes, what work takes, what is given back, what is reserved."""

from datetime import timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.errors import Refused
from studio.ledger import costs_when_moved
from studio.models import (
    Glass,
    HistoryEntry,
    Material,
    MoveKind,
    Reservation,
    Sheet,
    StockMove,
    StockSheet,
)
from studio.selectors.cutting import cutting_board
from studio.selectors.stock import (
    as_movement,
    glass_balance,
    material_balance,
    moves_of,
    reserved_glass,
    reserved_materials,
)
from studio.selectors.stock_costs import material_costs
from studio.services import layers, pieces, put_right, stock
from studio.services.cutting import mark_cut
from studio.services.reservations import reserve
from studio.services.stock_use import give_back_enamel_firing, take_for_enamel_firing
from tests import make
from tests.cast import NOW

SHEET = {"width_mm": 1000, "height_mm": 500}


@pytest.fixture
def enamel(cast):
    return Material.across_studios.create(
        studio=cast.studio,
        name="Estuary grey",
        kind="enamel",
        unit="g",
        cost_per_unit=Decimal(2),
        used_per="pass area",
        amount_used=Decimal(50),
        on_hand=Decimal(100),
    )


@pytest.fixture
def wash(cast):
    return Material.across_studios.create(
        studio=cast.studio,
        name="Kiln wash",
        kind="kiln wash",
        unit="g",
        cost_per_unit=Decimal("0.02"),
        used_per="fuse area",
        amount_used=Decimal(200),
        on_hand=Decimal(1000),
    )


def received(cast, count=4, **changes):
    told = {"count": count, "batch": "", "cost_per_m2": Decimal(80)} | SHEET | changes
    return stock.receive_sheets(glass=cast.glass, by=cast.owner, at=NOW, **told)


def there(item):
    return type(item).across_studios.get(pk=item.pk).on_hand


def test_a_delivery_adds_and_moves_the_average(cast, enamel):
    move = stock.receive_material(
        material=enamel,
        amount=Decimal(100),
        unit_cost=Decimal(4),
        by=cast.owner,
        at=NOW,
    )
    enamel.refresh_from_db()
    # 100 g at 2 and 100 g at 4: 3 each.
    assert (enamel.on_hand, enamel.cost_per_unit) == (200, 3)
    stock.take_back_move(move=move, reason="", by=cast.owner, at=NOW)
    enamel.refresh_from_db()
    assert (enamel.on_hand, enamel.cost_per_unit) == (100, 2)
    told = HistoryEntry.across_studios.values_list("what", flat=True)
    assert any("taken back" in one for one in told)


def test_sheets_of_one_size_and_batch_share_a_place_on_the_rack(cast):
    received(cast, 4)
    received(cast, 2, cost_per_m2=Decimal(110))
    found = StockSheet.across_studios.get()
    assert found.on_hand == 6
    # 2 m² at 80 and 1 m² at 110: 90.
    assert Glass.across_studios.get(pk=cast.glass.pk).cost_per_m2 == 90
    received(cast, 1, batch="B 7")
    assert StockSheet.across_studios.count() == 2


@pytest.mark.parametrize(
    "changes", [{"width_mm": 0}, {"height_mm": -3}, {"count": 0}, {"count": -1}]
)
def test_sheets_without_size_or_number_are_refused(cast, changes):
    with pytest.raises(Refused):
        received(cast, **changes)
    assert not StockMove.across_studios.exists()


def test_a_count_is_true_whatever_was_taken_before_it(cast, enamel):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=2, caps=1)
    painted = make.passes_of(piece)[:1]
    layers.record_painted(passes=painted, materials=[enamel], by=None, at=NOW)
    # 0.3 m by 0.2 m, 50 g for a square metre: 3 g.
    assert there(enamel) == 97
    stock.count_stock(
        studio=cast.studio, counted={enamel: Decimal(90)}, by=None, at=NOW
    )
    assert there(enamel) == 90
    layers.take_back_painting(of_pass=painted[0], by=None, at=NOW)
    assert there(enamel) == 90, "The jar holds what was counted."


def test_a_count_taken_back_leaves_what_the_list_said(cast, enamel):
    (move,) = stock.count_stock(
        studio=cast.studio, counted={enamel: Decimal(90)}, by=None, at=NOW
    )
    stock.take_back_move(move=move, reason="", by=None, at=NOW)
    assert there(enamel) == material_balance(enamel).on_hand == 100


def test_one_tap_takes_a_whole_count_back(cast, enamel, wash):
    counted = {enamel: Decimal(1), wash: Decimal(2)}
    first, *_ = stock.count_stock(studio=cast.studio, counted=counted, by=None, at=NOW)
    stock.take_back_move(move=first, reason="", by=None, at=NOW)
    assert (there(enamel), there(wash)) == (100, 1000)


def test_late_it_takes_a_reason(cast, enamel):
    move = stock.receive_material(
        material=enamel, amount=Decimal(5), unit_cost=None, by=None, at=NOW
    )
    late = NOW + timedelta(hours=2)
    with pytest.raises(Refused, match="Say why"):
        stock.take_back_move(move=move, reason="", by=None, at=late)
    stock.take_back_move(move=move, reason="wrong jar", by=None, at=late)
    assert there(enamel) == 100


def test_what_work_took_is_taken_back_with_the_work(cast, enamel):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    layers.record_painted(
        passes=make.passes_of(piece)[:1], materials=[enamel], by=None, at=NOW
    )
    taken = StockMove.across_studios.exclude(cause="").first()
    with pytest.raises(Refused, match="work at the bench"):
        stock.take_back_move(move=taken, reason="", by=None, at=NOW)


def test_stock_goes_below_nothing_and_the_bench_goes_on(cast, enamel):
    Material.across_studios.filter(pk=enamel.pk).update(on_hand=1)
    enamel.refresh_from_db()
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    layers.record_painted(
        passes=make.passes_of(piece)[:1], materials=[enamel], by=None, at=NOW
    )
    assert there(enamel) == -2


def test_colours_of_a_pass_share_its_area_and_a_decal_is_counted(cast, enamel):
    other = Material.across_studios.create(
        studio=cast.studio,
        name="Umber",
        kind="enamel",
        unit="g",
        cost_per_unit=1,
        used_per="pass area",
        amount_used=Decimal(100),
        on_hand=Decimal(10),
    )
    film = Material.across_studios.create(
        studio=cast.studio,
        name="Film",
        kind="decal",
        unit="sheet",
        cost_per_unit=1,
        on_hand=Decimal(30),
    )
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    painted = make.passes_of(piece)[:2]
    layers.record_painted(
        passes=painted, materials=[enamel, other, film], by=None, at=NOW
    )
    assert there(enamel) == Decimal("97")  # two passes of 1.5 g
    assert there(other) == Decimal("4")  # two passes of 3 g
    assert there(film) == 28
    layers.take_back_all(passes=painted, by=None, at=NOW)
    assert (there(enamel), there(other), there(film)) == (100, 10, 30)


def test_a_painted_layer_takes_its_glass_once_and_a_remake_again(cast):
    received(cast)
    rack = StockSheet.across_studios.get()
    piece = make.piece(studio=cast.studio, glass=cast.glass, passes=2)
    first = make.passes_of(piece)[0]
    layers.record_painted(passes=[first], by=None, at=NOW)
    # 0.06 m² of a sheet of 0.5 m².
    assert there(rack) == Decimal("3.88")
    assert Sheet.across_studios.get(pk=first.sheet_id).cut_from is not None
    layers.record_outcome(of_pass=first, outcome="cracked", by=None, at=NOW)
    layer = first.sheet.layer
    again = layers.make_again(layer=layer, reason="Cracked", by=None, at=NOW)
    assert again.cut_from is None
    layers.record_painted(passes=[again.passes.first()], by=None, at=NOW)
    assert there(rack) == Decimal("3.76")


def test_without_sheets_glass_is_taken_by_its_area(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    layers.record_painted(passes=make.passes_of(piece)[:1], by=None, at=NOW)
    move = StockMove.across_studios.get()
    assert (move.glass, move.amount, move.unit) == (
        cast.glass,
        Decimal("-0.06"),
        "m²",
    )


def test_a_stack_takes_its_caps_and_a_fuse_what_lies_under_it(cast, wash):
    received(cast)
    rack = StockSheet.across_studios.get()
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=2, caps=2)
    checked = pieces.check_stack(
        piece=piece,
        layers_counted=2,
        measured_height_mm=6,
        is_order_right=True,
        by=None,
        at=NOW,
    )
    assert there(rack) == Decimal("3.76")
    pieces.note_into_kiln(piece=piece, firing_kind="full fuse", by=None, at=NOW)
    # 0.06 m², 200 g for a square metre.
    assert there(wash) == 988
    event = piece.events.get(kind="into kiln")
    put_right.set_aside_event(event=event, reason="", by=None, at=NOW)
    assert there(wash) == 1000
    put_right.take_back_event(event=checked, reason="", by=None, at=NOW)
    assert there(rack) == 4
    assert not Sheet.across_studios.filter(cut_from__isnull=False).exists()


def test_an_accepted_piece_has_what_it_needs_reserved_until_it_takes_it(
    cast, enamel, wash
):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=4, caps=1)
    reserve(piece=piece, at=NOW)
    reserve(piece=piece, at=NOW)
    assert Reservation.across_studios.count() == 3
    # 4 layers of 0.06 m²; 3 passes of 3 g; 12 g under the stack.
    assert reserved_glass(cast.studio) == {cast.glass.pk: Decimal("0.24")}
    assert reserved_materials(cast.studio) == {enamel.pk: 9, wash.pk: 12}
    layers.record_painted(
        passes=make.passes_of(piece)[:2], materials=[enamel], by=None, at=NOW
    )
    assert reserved_glass(cast.studio) == {cast.glass.pk: Decimal("0.12")}
    assert reserved_materials(cast.studio) == {enamel.pk: 3, wash.pk: 12}
    pieces.mark_lost(piece=piece, by=None, at=NOW, note="Dropped")
    assert reserved_glass(cast.studio) == {}
    assert reserved_materials(cast.studio) == {}


def test_a_layer_made_again_needs_its_glass_and_enamel_once_more(cast, enamel):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=4, caps=1)
    reserve(piece=piece, at=NOW)
    first, second = make.passes_of(piece)[:2]
    layers.record_painted(passes=[first, second], materials=[enamel], by=None, at=NOW)
    layer = first.sheet.layer
    layers.make_again(layer=layer, reason="Too dark", by=None, at=NOW)
    # 3 of 4 layers of 0.06 m², and 2 of 3 passes of 3 g.
    assert reserved_glass(cast.studio) == {cast.glass.pk: Decimal("0.18")}
    assert reserved_materials(cast.studio) == {enamel.pk: 6}


@pytest.mark.parametrize(
    ("used_per", "needed", "left"),
    [
        # 3 passes and a stack of 0.06 m², 200 g for a square metre; 2 passes fired.
        ("fuse area", 12, 12),
        ("enamel area", 36, 12),
        ("firing area", 48, 24),
    ],
)
def test_what_lies_under_layers_and_stack_is_reserved_until_it_is_taken(
    cast, wash, used_per, needed, left
):
    Material.across_studios.filter(pk=wash.pk).update(used_per=used_per)
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=4, caps=1)
    reserve(piece=piece, at=NOW)
    assert reserved_materials(cast.studio) == {wash.pk: needed}
    burnt = make.passes_of(piece)[:2]
    take_for_enamel_firing(passes=burnt, by=None, at=NOW)
    assert reserved_materials(cast.studio) == {wash.pk: left}
    give_back_enamel_firing(passes=burnt, by=None, at=NOW)
    assert reserved_materials(cast.studio) == {wash.pk: needed}


def test_corrections_need_a_reason_and_an_amount(cast, enamel):
    with pytest.raises(Refused, match="Say why"):
        stock.correct_stock(item=enamel, amount=Decimal(1), why=" ", by=None, at=NOW)
    with pytest.raises(Refused, match="how much"):
        stock.correct_stock(item=enamel, amount=Decimal(0), why="x", by=None, at=NOW)
    stock.correct_stock(
        item=enamel, amount=Decimal("-2.5"), why="Spilt", by=None, at=NOW
    )
    assert there(enamel) == Decimal("97.5")


amounts = st.decimals("0.001", 500, places=3)
steps = st.lists(
    st.tuples(st.sampled_from(["in", "out", "count", "undo"]), amounts), max_size=12
)


@settings(max_examples=30)
@given(steps=steps)
@pytest.mark.usefixtures("db")
def test_what_is_kept_beside_the_list_is_what_the_list_adds_up_to(steps):
    studio = make.studio()
    jar = Material.across_studios.create(
        studio=studio, name="Grey", kind="enamel", unit="g", cost_per_unit=1
    )
    made = []
    for step, amount in steps:
        if step == "in":
            move = stock.receive_material(
                material=jar, amount=amount, unit_cost=amount, by=None, at=NOW
            )
            made.append(move)
        elif step == "out":
            made.append(
                stock.correct_stock(
                    item=jar, amount=-amount, why="used", by=None, at=NOW
                )
            )
        elif step == "count":
            made += stock.count_stock(
                studio=studio, counted={jar: amount}, by=None, at=NOW
            )
        elif made:
            stock.take_back_move(move=made.pop(0), reason="", by=None, at=NOW)
    jar.refresh_from_db()
    rows = list(moves_of(jar))
    for row, cost in zip(
        rows, costs_when_moved(as_movement(one, jar) for one in rows), strict=True
    ):
        if row.kind == MoveKind.CORRECTION and cost is not None:
            assert abs(row.unit_cost - cost) < Decimal("0.0002")
    assert jar.on_hand == material_balance(jar).on_hand
    came = sum(m.amount for m in made if m.kind in {MoveKind.RECEIPT, "correction"})
    if not any(m.kind == MoveKind.COUNT for m in made):
        assert jar.on_hand == came


def test_the_rack_is_what_its_list_adds_up_to(cast):
    received(cast, 3)
    rack = StockSheet.across_studios.get()
    stock.correct_stock(item=rack, amount=Decimal(-1), why="Broken", by=None, at=NOW)
    assert glass_balance(cast.glass).of_items == {rack.pk: there(rack)}


def painted_with(cast, enamel):
    """Return a piece of one painted layer that took 3 g of enamel, and no other glass."""
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    layers.record_painted(
        passes=make.passes_of(piece)[:1], materials=[enamel], by=None, at=NOW
    )
    return piece


def delivered(enamel, unit_cost, amount=100):
    return stock.receive_material(
        material=enamel,
        amount=Decimal(amount),
        unit_cost=Decimal(unit_cost),
        by=None,
        at=NOW,
    )


def test_a_later_delivery_does_not_change_what_a_past_piece_cost(cast, enamel):
    Glass.across_studios.filter(pk=cast.glass.pk).update(cost_per_m2=80)
    piece = painted_with(cast, enamel)
    # 3 g at 2, and 0.06 m² of glass at 80.
    assert material_costs(cast.studio) == {piece.pk: Decimal("10.8")}
    delivered(enamel, 30)
    received(cast, cost_per_m2=Decimal(200))
    stock.note_edited(material=enamel, by=None, at=NOW)
    assert material_costs(cast.studio) == {piece.pk: Decimal("10.8")}
    enamel.refresh_from_db()
    assert enamel.cost_per_unit > 2


def test_a_delivery_taken_back_is_out_of_what_was_taken_since(cast, enamel):
    Glass.across_studios.filter(pk=cast.glass.pk).update(cost_per_m2=0)
    before = painted_with(cast, enamel)
    mistyped = delivered(enamel, 400, amount=97)
    after = painted_with(cast, enamel)
    # 97 g at 2 and 97 g at 400: 201 each.
    costs = material_costs(cast.studio)
    assert (costs[before.pk], costs[after.pk]) == (6, 603)
    stock.take_back_move(move=mistyped, reason="", by=None, at=NOW)
    costs = material_costs(cast.studio)
    assert (costs[before.pk], costs[after.pk]) == (6, 6)
    enamel.refresh_from_db()
    assert enamel.cost_per_unit == 2


def test_painting_taken_back_was_never_there_for_the_average(cast, enamel):
    Glass.across_studios.filter(pk=cast.glass.pk).update(cost_per_m2=0)
    stock.correct_stock(item=enamel, amount=Decimal(-90), why="spilt", by=None, at=NOW)
    spilt = StockMove.across_studios.get(kind="correction")
    delivered(enamel, 4, amount=30)
    piece = painted_with(cast, enamel)
    assert material_costs(cast.studio)[piece.pk] == Decimal("10.5")  # 3 g at 3.50
    stock.take_back_move(move=spilt, reason="", by=None, at=NOW)
    enamel.refresh_from_db()
    # 100 g at 2 and 30 g at 4: 320 / 130.
    assert enamel.cost_per_unit == Decimal("2.4615")
    assert material_costs(cast.studio)[piece.pk] == 3 * Decimal("2.4615")


def test_a_sheet_cut_by_the_plan_is_shared_by_the_layers_it_became(cast):
    received(cast, 1, width_mm=1100, height_mm=210)
    big = make.piece(studio=cast.studio, glass=cast.glass, layers=2)
    small = make.piece(studio=cast.studio, glass=cast.glass, layers=1)
    board = cutting_board(cast.studio, cast.glass)
    mark_cut(glass=cast.glass, number=1, key=board.key, by=None, at=NOW)
    kept = StockSheet.across_studios.filter(is_offcut=True)
    used = Decimal("0.231") - sum((one.area_m2 for one in kept), Decimal(0))
    assert Decimal("0.18") < used < Decimal("0.21"), "three layers and the waste"
    costs = material_costs(cast.studio)
    assert costs[big.pk] == pytest.approx(used * 80 * 2 / 3, abs=Decimal("0.0001"))
    assert costs[small.pk] == pytest.approx(used * 80 / 3, abs=Decimal("0.0001"))
    assert material_costs(cast.studio, [small.pk]) == {small.pk: costs[small.pk]}
