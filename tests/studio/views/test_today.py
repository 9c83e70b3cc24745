"""Today: what to do now, the next thing first, for everybody in their own studio."""

import datetime as dt

import pytest

from studio import today as todo
from studio.models import Glass, Kiln
from studio.panels import NOW, TodayItem
from studio.services import layers as layer_services
from studio.services import pieces as services
from studio.views import today as door
from tests import make
from tests.studio.views.pages import (
    address,
    assert_asks_to_sign_in,
    statuses,
    text_of,
)


@pytest.fixture(autouse=True)
def only_the_bench(monkeypatch):
    """Leave the higher apps' sections to their own tests."""
    monkeypatch.setattr(door, "today_panels", lambda asked: [])
    monkeypatch.setattr(todo, "today_items", lambda asked: [])
    monkeypatch.setattr(todo, "paint_hours", lambda asked, pieces: {})


def page(browser):
    return text_of(browser.get(address("today")))


def fused(cast, title, outcome="fine"):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=2, title=title)
    make.paint_and_fire(piece)
    services.check_stack(
        piece=piece,
        layers_counted=2,
        measured_height_mm=6,
        is_order_right=True,
        by=None,
        at=make.NOW,
    )
    said = {"piece": piece, "firing_kind": "full fuse", "by": None, "at": make.NOW}
    services.note_into_kiln(**said)
    services.note_out_of_kiln(outcome=outcome, **said)
    return piece


def test_nothing_to_do_offers_the_next_step(signed_in):
    owner, helper = page(signed_in()), page(signed_in("helper"))
    assert "Nothing to do" in owner
    assert "Nothing to do" in helper
    assert address("piece_new") in owner
    assert address("piece_new") not in helper


def test_a_new_studio_is_told_what_it_lacks_first(signed_in, cast):
    Kiln.owned.for_studio(cast.studio).delete()
    assert "Set the studio up" in page(signed_in())
    assert address("kiln_new") in page(signed_in("technician"))
    assert "Set the studio up" not in page(signed_in("helper"))
    make.kiln(studio=cast.studio)
    Glass.owned.for_studio(cast.studio).delete()
    assert address("glass_new") in page(signed_in("maker"))
    make.glass(studio=cast.studio)
    assert "Set the studio up" not in page(signed_in())


def test_what_waits_is_there_in_the_order_of_the_work(signed_in, cast):
    painting = make.piece(
        studio=cast.studio, glass=cast.glass, layers=4, passes=2, title="Painting"
    )
    first, *_ = make.passes_of(painting)
    layer_services.record_painted(passes=[first], by=None, at=make.NOW)
    layer_services.record_outcome(of_pass=first, outcome="fine", by=None, at=make.NOW)
    lost_layer = next(p for p in make.passes_of(painting) if p.sheet.layer.number == 3)
    layer_services.record_painted(passes=[lost_layer], by=None, at=make.NOW)
    layer_services.record_outcome(
        of_pass=lost_layer, outcome="cracked", by=None, at=make.NOW
    )
    done = make.piece(studio=cast.studio, glass=cast.glass, layers=2, title="Done")
    make.paint_and_fire(done)
    inspect, cracked = fused(cast, "Fused"), fused(cast, "Broken", "cracked")
    shown = page(signed_in())
    places = [
        shown.index(words)
        for words in (
            f'href="{address("piece_finish", inspect.pk)}"',
            f'href="{address("piece_detail", cracked.pk)}"',
            f'href="{address("stack_check", done.pk)}"',
            f'href="{address("layer_detail", painting.pk, 3)}"',
            f'href="{address("piece_paint", painting.pk)}"',
        )
    ]
    assert places == sorted(places)
    assert "Pass 1: layer 2; pass 2: layer 1" in shown
    assert "Cut a new sheet, then paint it" in shown


def test_links_lead_where_the_viewer_may_go(signed_in, cast):
    painting = make.piece(studio=cast.studio, glass=cast.glass, title="Painting")
    inspect = fused(cast, "Fused")
    helper, technician = page(signed_in("helper")), page(signed_in("technician"))
    assert address("piece_paint", painting.pk) in helper
    assert address("piece_finish", inspect.pk) not in helper
    assert address("piece_detail", inspect.pk) in helper
    assert address("piece_paint", painting.pk) not in technician
    assert address("piece_detail", painting.pk) in technician


def test_a_new_sheet_is_painted_like_any_other(signed_in, cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=2, title="Shoal")
    layer_services.make_again(
        layer=piece.layers.get(number=1), reason="Chipped", by=None, at=make.NOW
    )
    shown = page(signed_in())
    assert "New sheet 2, waits for pass 1" in shown
    assert "Paint Shoal" not in shown


def test_closed_pieces_ask_for_nothing(signed_in, cast):
    lost = make.piece(studio=cast.studio, glass=cast.glass, title="Sunk")
    services.mark_lost(piece=lost, by=None, at=make.NOW, note="Dropped")
    finished = fused(cast, "Fused")
    services.finish_piece(piece=finished, by=None, at=make.NOW)
    assert "Nothing to do" in page(signed_in())


def test_what_has_an_hour_comes_before_what_has_none(signed_in, cast, monkeypatch):
    make.piece(studio=cast.studio, glass=cast.glass, title="Shoal")

    def items(asked):
        assert asked.viewer.studio == cast.studio
        hours = [asked.now + dt.timedelta(hours=hour) for hour in (5, 2)]
        return [
            TodayItem(what="When there is time", href="#", rank=90),
            TodayItem(what="Later", href="#", by=hours[0]),
            TodayItem(what="Soon", href="#", by=hours[1]),
            TodayItem(what="At once", href="#", rank=NOW),
        ]

    monkeypatch.setattr(todo, "today_items", items)
    shown = page(signed_in())
    wanted = ("At once", "Soon", "Later", "Paint Shoal", "When there is time")
    places = [shown.index(f">{what}<") for what in wanted]
    assert places == sorted(places)


def test_paint_that_a_firing_waits_for_has_its_hour(signed_in, cast, monkeypatch):
    piece = make.piece(studio=cast.studio, glass=cast.glass, title="Shoal")

    def hours(asked, pieces):
        assert list(pieces) == [piece]
        return {piece.pk: (asked.now - dt.timedelta(minutes=1), "For the firing")}

    monkeypatch.setattr(todo, "paint_hours", hours)
    shown = page(signed_in())
    assert ">now<" in shown
    assert "For the firing" in shown


def test_who_sees_today(signed_in, client, cast, strangers):
    make.piece(studio=cast.studio, glass=cast.glass, title="Ours alone")
    assert set(statuses(signed_in, address("today")).values()) == {200}
    assert "Ours alone" not in page(signed_in("owner", strangers))
    assert_asks_to_sign_in(client, address("today"))


def test_the_one_layer_that_waits_is_marked_as_painted_from_here(signed_in, cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=2, title="Ebb")
    (of_pass,) = make.passes_of(piece)
    browser = signed_in("helper")
    shown = page(browser)
    assert 'aria-label="Painted: Paint Ebb"' in shown
    assert "Painted: " not in page(signed_in("technician"))
    sent = {"passes": of_pass.pk, "next": "today"}
    answer = browser.post(address("piece_paint", piece.pk), sent, follow=True)
    assert answer.redirect_chain[0][0] == address("today")
    told = text_of(answer)
    assert "1 layer recorded as painted." in told
    assert address("painting_take_back", piece.pk) in told
    of_pass.refresh_from_db()
    assert of_pass.painted_by == cast.helper


def test_of_several_waiting_layers_the_page_asks_which(signed_in, cast):
    make.piece(studio=cast.studio, glass=cast.glass, layers=3, title="Ebb")
    assert "Painted: " not in page(signed_in("helper"))
