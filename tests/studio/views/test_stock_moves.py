"""The pages of stock: receiving, counting, correcting, the lists, the cutting plan."""

from decimal import Decimal

import pytest
from django.urls import reverse

from studio.models import CuttingTerms, Material, StockMove, StockSheet
from studio.services import stock
from tests import make
from tests.cast import NOW
from tests.studio.views.pages import address, text_of


@pytest.fixture
def enamel(cast):
    return Material.across_studios.create(
        studio=cast.studio,
        name="Estuary grey",
        kind="enamel",
        unit="g",
        cost_per_unit=Decimal(2),
        on_hand=Decimal(100),
        low_at=Decimal(150),
    )


def sheets(cast, count=3):
    return stock.receive_sheets(
        glass=cast.glass,
        width_mm=1000,
        height_mm=500,
        count=count,
        batch="T-7",
        cost_per_m2=Decimal(80),
        by=cast.owner,
        at=NOW,
    )


def test_sheets_are_received_in_inches_with_their_cost(signed_in, cast):
    url = address("glass_receive", cast.glass.pk)
    typed = {
        "width_mm": "35 in",
        "height_mm": "20",
        "count": "6",
        "cost_each": "52.50",
        "batch": "T-9",
    }
    browser = signed_in("maker")
    page = text_of(browser.post(url, typed, follow=True))
    assert "is on the rack" in page
    found = StockSheet.across_studios.get()
    assert (found.width_mm, found.height_mm, found.on_hand) == (889, 508, 6)
    # 52.50 for 0.889 m by 0.508 m.
    move = StockMove.across_studios.get()
    assert move.unit_cost == Decimal("116.2502")
    undo = reverse("studio:stock_move_take_back", args=[move.pk])
    assert undo in page
    browser.post(undo)
    found.refresh_from_db()
    assert found.on_hand == 0


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"width_mm": "0"}, "outside 0.01 mm to 10 m"),
        ({"width_mm": "-3"}, "cannot be read"),
        ({"width_mm": "3 mm"}, "A side is at least 0.39 in"),
        ({"height_mm": "900"}, "outside 0.01 mm to 10 m"),
        ({"count": "0"}, "1"),
        ({"count": "many"}, "whole number"),
    ],
)
def test_bad_sizes_and_numbers_are_told_and_kept(signed_in, cast, changes, told):
    typed = {"width_mm": "35", "height_mm": "20", "count": "6", "batch": "T-9"}
    answer = signed_in("maker").post(
        address("glass_receive", cast.glass.pk), typed | changes
    )
    assert answer.status_code == 422
    page = text_of(answer)
    assert told in page
    assert "T-9" in page
    assert not StockSheet.across_studios.exists()


def test_a_helper_receives_and_sees_no_cost(signed_in, cast, enamel):
    browser = signed_in("helper")
    page = text_of(browser.get(address("material_receive", enamel.pk)))
    assert "Cost" not in page
    typed = {"amount": "1", "unit_cost": "99"}
    assert (
        browser.post(address("material_receive", enamel.pk), typed).status_code == 302
    )
    move = StockMove.across_studios.latest("pk")
    assert move.unit_cost is None
    # An ounce, in grams.
    assert move.amount == Decimal("28.350")
    shopping = text_of(browser.get(address("stock_shopping")))
    assert "Estuary grey" in shopping
    assert "$" not in shopping
    assert "$" not in text_of(browser.get(address("stock_moves")))


def test_a_count_takes_what_was_filled_in(signed_in, cast, enamel):
    sheets(cast)
    rack = StockSheet.across_studios.get()
    browser = signed_in("helper")
    url = address("stock_count")
    assert "The list says" in text_of(browser.get(url))
    assert browser.post(url, {f"s{rack.pk}": "2"}).status_code == 302
    rack.refresh_from_db()
    enamel.refresh_from_db()
    assert (rack.on_hand, enamel.on_hand) == (2, 100)
    assert browser.post(url, {f"s{rack.pk}": "-1"}).status_code == 422
    assert browser.post(url, {}).status_code == 409


def test_a_correction_below_nothing_is_allowed_and_flagged(signed_in, cast):
    sheets(cast, 1)
    rack = StockSheet.across_studios.get()
    browser = signed_in("maker")
    url = address("stock_sheet_correct", rack.pk)
    assert browser.post(url, {"amount": "-2", "why": "Broken"}).status_code == 302
    assert "Below nothing" in text_of(browser.get(address("stock")))
    assert browser.post(url, {"amount": "-2", "why": ""}).status_code == 422


def test_the_low_list_says_how_much_to_buy_and_what_it_costs(signed_in, enamel):
    page = text_of(signed_in("maker").get(address("stock_shopping")))
    # 50 g short: 1.76 oz, rounded up.
    assert "1.8 oz" in page
    assert "$100.00" in page


def test_the_plan_is_drawn_and_a_sheet_marked_as_cut(signed_in, cast):
    make.piece(studio=cast.studio, glass=cast.glass)
    sheets(cast)
    browser = signed_in("helper")
    url = address("glass_cutting", cast.glass.pk)
    answer = browser.get(url)
    page = text_of(answer)
    assert "Low water at the sluice" in page
    assert "A 3" in page
    board = answer.context["board"]
    cut = address("glass_cut", cast.glass.pk)
    browser.post(cut, {"number": "1", "key": board.key})
    assert StockSheet.across_studios.get(is_offcut=False).on_hand == 2
    assert "No layer of this glass waits" in text_of(browser.get(url))
    told = browser.post(cut, {"number": "x", "key": board.key}, follow=True)
    assert "plan has changed" in text_of(told)


def test_without_sheets_the_plan_says_what_to_do(signed_in, cast):
    make.piece(studio=cast.studio, glass=cast.glass)
    page = text_of(signed_in("helper").get(address("glass_cutting", cast.glass.pk)))
    assert "No sheets of this glass are counted" in page


def test_layers_larger_than_sheets_and_kilns_are_told(signed_in, cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    piece.width_mm = 2000
    piece.save()
    make.kiln(studio=cast.studio)
    sheets(cast)
    page = text_of(signed_in("helper").get(address("glass_cutting", cast.glass.pk)))
    assert "cannot be cut from any sheet" in page
    assert "lies on no kiln" in page


def test_how_the_studio_cuts_is_changed(signed_in, cast):
    url = address("stock_cutting_terms")
    browser = signed_in("maker")
    typed = {"kerf_mm": "", "grinding_mm": "1/16 in", "smallest_offcut_mm": "4 in"}
    assert browser.post(url, typed).status_code == 302
    terms = CuttingTerms.across_studios.get()
    assert terms.grinding_mm == pytest.approx(1.5875)
    assert browser.post(url, typed | {"kerf_mm": "9 in"}).status_code == 422


def test_the_bench_sheet_is_ordered_and_its_words_are_there(signed_in, cast):
    make.piece(studio=cast.studio, glass=cast.glass)
    sheets(cast)
    url = address("glass_cutting_sheet", cast.glass.pk)
    browser = signed_in("helper")
    assert "not made yet" in text_of(browser.get(url))
    assert browser.post(url).status_code == 302
    assert "being made" in text_of(browser.get(url))


def test_a_price_typed_on_its_page_is_in_the_list(signed_in, cast, enamel):
    sheets(cast)
    browser = signed_in("maker")
    url = address("material_edit", enamel.pk)
    form = browser.get(url).context["form"]
    shown = {name: form[name].value() for name in form.fields}
    typed = {name: one for name, one in shown.items() if one is not None}
    typed.pop("is_retired", None)
    assert browser.post(url, typed | {"on_hand": "2"}).status_code == 302
    counted = StockMove.across_studios.filter(material=enamel).latest("pk")
    assert (counted.kind, counted.amount, counted.unit) == ("count", 2, "oz")
    enamel.refresh_from_db()
    assert enamel.on_hand == 2


def test_a_cost_typed_before_the_currency_changed_is_refused(signed_in, cast, enamel):
    browser = signed_in("maker")
    url = address("material_receive", enamel.pk)
    typed = {"amount": "1", "unit_cost": "9", "shown_in": "EUR"}
    answer = browser.post(url, typed)
    assert answer.status_code == 422
    assert "typed in EUR" in text_of(answer)
