"""Today: what to do now, the next thing first, for everybody in their own studio."""

import pytest

from studio.models import Glass, Kiln
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
            "To inspect</h2>",
            f'href="{address("piece_finish", inspect.pk)}"',
            "Cracked</h2>",
            f'href="{address("piece_detail", cracked.pk)}"',
            "Ready to stack</h2>",
            f'href="{address("stack_check", done.pk)}"',
            "To make again</h2>",
            f'href="{address("layer_detail", painting.pk, 3)}"',
            "To paint</h2>",
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
    assert "To paint</h2>" not in shown


def test_closed_pieces_ask_for_nothing(signed_in, cast):
    lost = make.piece(studio=cast.studio, glass=cast.glass, title="Sunk")
    services.mark_lost(piece=lost, by=None, at=make.NOW, note="Dropped")
    finished = fused(cast, "Fused")
    services.finish_piece(piece=finished, by=None, at=make.NOW)
    assert "Nothing to do" in page(signed_in())


def test_the_sections_of_higher_apps_come_in_their_order(signed_in, cast, monkeypatch):
    from studio.panels import Panel

    make.piece(studio=cast.studio, glass=cast.glass)

    def panels(asked):
        assert asked.viewer.studio == cast.studio
        row = {"rows": [{"text": "x"}]}
        return [
            Panel(template="studio/_history.html", context=row, order=10),
            Panel(template="studio/_history.html", context=row, order=90),
        ]

    monkeypatch.setattr(door, "today_panels", panels)
    shown = page(signed_in())
    first, last = shown.index('class="history"'), shown.rindex('class="history"')
    assert first < shown.index("To paint</h2>") < last


def test_who_sees_today(signed_in, client, cast, strangers):
    make.piece(studio=cast.studio, glass=cast.glass, title="Ours alone")
    assert set(statuses(signed_in, address("today")).values()) == {200}
    assert "Ours alone" not in page(signed_in("owner", strangers))
    assert_asks_to_sign_in(client, address("today"))
