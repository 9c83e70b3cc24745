"""Finished work: its page, moving it, a list for a show read back from its PDF."""

import datetime as dt
from decimal import Decimal

import pytest

from studio.models import Document, JobState, PaperSize, PieceMove, Whereabouts
from studio.services.finished import save_record
from studio.services.pieces import finish_piece
from studio.show_list import KIND
from tests import make
from tests.cast import NOW
from tests.firing.pages import text_of
from tests.papers import needs_pango, paper_sizes, read_pdf
from tests.studio.services.test_finished import moved, work
from tests.studio.views.pages import address
from tests.worker import run_waiting_jobs

DAY = dt.timedelta(days=1)


@pytest.fixture
def pieces(cast):
    found = [work(cast.studio, cast.glass, title) for title in ("Ebb", "Flood", "Neap")]
    save_record(
        piece=found[1],
        told={"value": Decimal(640), "edition": "1 of 3"},
        by=None,
        at=NOW,
    )
    return found


def test_it_is_grouped_by_where_it_is(pieces, signed_in):
    moved(pieces[1], back_on=NOW.date() + DAY)
    moved(pieces[2], kind=Whereabouts.SOLD, place="A. Client")
    told = text_of(signed_in().get(address("work_list")))
    assert "In the studio 1 work" in told
    assert "Net loft At a show, 1 work, $640.00" in told
    assert "was to be back on Thu 5 Mar 2026" in told
    assert "Neap" not in told
    gone = text_of(signed_in().get(address("work_list") + "?show=left"))
    assert "Sold 1 work" in gone
    assert "A. Client" in gone


def test_several_move_at_once_and_one_tap_brings_one_back(cast, pieces, signed_in):
    browser, today = signed_in(), NOW.date().isoformat()
    sent = {
        "pieces": [one.pk for one in pieces[:2]],
        "kind": "show",
        "place": "Net loft",
        "day": today,
        "back_on": today,
    }
    told = text_of(browser.post(address("work_move"), sent, follow=True))
    assert "It is recorded where they are." in told
    home = text_of(browser.get(address("today")))
    assert "Get Ebb back" in home
    back = {"pieces": pieces[0].pk, "kind": "studio", "day": today}
    browser.post(address("work_move"), back)
    assert "Get Ebb back" not in text_of(browser.get(address("today")))
    page = text_of(browser.get(address("piece_moves", pieces[0].pk)))
    assert "In the studio" in page
    assert "At a show: Net loft" in page


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"pieces": []}, "Tick at least one."),
        ({"pieces": "99999999"}, "is not one of the available choices"),
        ({"pieces": "9" * 30}, "is not one of the available choices"),
        ({"place": ""}, "Write the name of the show or the gallery."),
        ({"day": "0001-01-01"}, "Write a year between"),
        ({"back_on": "2026-03-03"}, "That is before it went."),
        ({"kind": "sold", "back_on": "2026-03-09"}, "gives work back"),
    ],
)
def test_what_is_typed_wrongly_is_named_and_kept(pieces, signed_in, changed, told):
    sent = {
        "pieces": pieces[0].pk,
        "kind": "gallery",
        "place": "Slipway rooms",
        "day": "2026-03-04",
        "note": "In the grey crate",
    }
    answer = signed_in().post(address("work_move"), sent | changed)
    assert answer.status_code == 422
    assert told in text_of(answer)
    assert "In the grey crate" in answer.content.decode()
    assert not PieceMove.across_studios.exists()


def test_what_was_sold_moves_only_from_its_own_page(pieces, signed_in):
    moved(pieces[0], kind=Whereabouts.SOLD, place="A. Client")
    browser, url = signed_in(), address("work_move")
    assert "Ebb" not in text_of(browser.get(url))
    assert "Ebb" in text_of(browser.get(f"{url}?pieces={pieces[0].pk}"))
    for nonsense in ("x", "9" * 30, "²"):
        assert browser.get(f"{url}?pieces={nonsense}").status_code == 200


def test_another_studio_s_piece_cannot_be_ticked(pieces, signed_in, strangers):
    theirs = work(strangers.studio, strangers.glass, "Theirs")
    sent = {"pieces": theirs.pk, "kind": "sold", "day": "2026-03-04"}
    assert signed_in().post(address("work_move"), sent).status_code == 422
    assert "Theirs" not in text_of(signed_in().get(address("work_list")))


def test_a_move_is_undone_where_it_stands(pieces, signed_in):
    move = moved(pieces[0])
    url = address("move_take_back", move.pk)
    sent = {"reason": "Another piece went"}
    told = text_of(signed_in().post(url, sent, follow=True))
    assert "It is taken back." in told
    assert "Taken back: Another piece went" in told
    assert "It never left" not in told
    again = text_of(signed_in().post(url, sent, follow=True))
    assert "taken back already" in again


def test_a_piece_still_being_made_has_no_place(cast, signed_in):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=6)
    make.paint_and_fuse(piece)
    url = address("piece_detail", piece.pk)
    assert "In the studio" not in text_of(signed_in().get(url))
    finish_piece(piece=piece, by=None, at=NOW)
    assert "In the studio" in text_of(signed_in().get(url))


def printed(cast, browser, url):
    browser.post(url)
    assert run_waiting_jobs() == [JobState.DONE]
    answer = browser.get(f"{url}&file=1")
    assert answer["Content-Type"] == "application/pdf"
    return b"".join(answer.streaming_content)


@needs_pango
@pytest.mark.parametrize("size", PaperSize)
def test_a_list_has_prices_and_a_label_for_each(cast, pieces, signed_in, size):
    cast.studio.paper_size = size
    cast.studio.save()
    ticked = "&".join(f"pieces={one.pk}" for one in pieces[:2])
    url = f"{address('work_paper')}?title=Spring+show&has_prices=on&has_labels=on&{ticked}"
    pdf = printed(cast, signed_in(), url)
    count, told = read_pdf(pdf)
    assert count == 2
    assert len(paper_sizes(pdf)) == 1
    assert told.count("Flood, 2026") == 2
    assert told.count("$640.00") == 2
    assert told.count("on request") == 2
    assert told.count("Edition 1 of 3") == 2
    assert "Kiln-formed glass, 6 layers, painted" in told
    assert "Neap" not in told


@needs_pango
def test_a_helper_s_list_has_no_prices_whatever_is_asked(cast, pieces, signed_in):
    url = (
        f"{address('work_paper')}?title=Spring+show&has_prices=on&pieces={pieces[1].pk}"
    )
    browser = signed_in("helper")
    assert "With prices" not in text_of(browser.get(url))
    assert "640" not in read_pdf(printed(cast, browser, url))[1]
    assert Document.owned.for_studio(cast.studio).filter(kind=KIND).count() == 1


def test_values_are_for_those_who_see_money(pieces, signed_in):
    assert "640" not in text_of(signed_in("helper").get(address("work_list")))
