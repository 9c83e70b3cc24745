"""The list of pieces, planning one, and one piece's page."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.models import Layer, Membership, Piece
from studio.selectors.pieces import fresh
from studio.services import layers as layer_services
from studio.services import pieces as services
from studio.views.display import PieceRow
from tests import make
from tests.studio.views.pages import (
    address,
    assert_asks_to_sign_in,
    statuses,
    text_of,
)

NOW = dt.datetime.now(dt.UTC)


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass, layers=9, by=cast.maker)


def stacked(piece, layers=9):
    make.paint_and_fire(piece)
    services.check_stack(
        piece=piece,
        layers_counted=layers,
        measured_height_mm=layers * 3,
        is_order_right=True,
        by=None,
        at=make.NOW,
    )


def in_kiln(piece, until):
    stacked(piece)
    services.note_into_kiln(piece=piece, firing_kind="full fuse", by=None, at=make.NOW)


def out_of_kiln(piece, outcome="fine"):
    services.note_out_of_kiln(
        piece=piece, firing_kind="full fuse", outcome=outcome, by=None, at=make.NOW
    )


# --- Details ---------------------------------------------------------------------------


def test_details_are_changed_and_the_history_says_which(signed_in, cast, piece):
    url = address("piece_edit", piece.pk)
    page = text_of(signed_in().get(url))
    assert "Low water at the sluice" in page
    sent = {"title": "Spring low", "maker": cast.maker.pk, "note": "For the stairs."}
    assert signed_in().post(url, sent).status_code == 302
    piece.refresh_from_db()
    assert (piece.title, piece.maker, piece.note) == (
        "Spring low",
        cast.maker,
        "For the stairs.",
    )
    told = text_of(signed_in("helper").get(address("piece_detail", piece.pk)))
    assert "Changed title, before “Low water at the sluice”, maker, note" in told


def test_a_maker_who_has_left_stays_the_maker(signed_in, cast, piece):
    url = address("piece_edit", piece.pk)
    Piece.across_studios.filter(pk=piece.pk).update(maker=cast.maker)
    Membership.across_studios.filter(person=cast.maker).update(is_active=False)
    shown = signed_in().get(url).context["form"]
    ticked = [
        option.data["value"] for option in shown["maker"] if option.data["selected"]
    ]
    assert [str(value) for value in ticked] == [str(cast.maker.pk)]
    sent = {"title": "Spring low", "maker": cast.maker.pk, "note": ""}
    assert signed_in().post(url, sent).status_code == 302
    piece.refresh_from_db()
    assert (piece.title, piece.maker) == ("Spring low", cast.maker)
    another = make.piece(studio=cast.studio, glass=cast.glass, title="Neap")
    answer = signed_in().post(address("piece_edit", another.pk), sent)
    assert answer.status_code == 422


def test_details_saved_unchanged_leave_no_line_in_the_history(signed_in, piece):
    before = piece.history.count()
    sent = {"title": piece.title, "note": ""}
    assert signed_in().post(address("piece_edit", piece.pk), sent).status_code == 302
    assert piece.history.count() == before


def test_details_filled_in_wrongly_stay_typed(signed_in, strangers, piece):
    sent = {"title": "", "maker": strangers.maker.pk, "note": "kept words"}
    answer = signed_in().post(address("piece_edit", piece.pk), sent)
    assert answer.status_code == 422
    assert "kept words" in text_of(answer)
    piece.refresh_from_db()
    assert piece.title == "Low water at the sluice"
    assert piece.maker is None


def test_who_may_change_details(signed_in, client, strangers, piece):
    url = address("piece_edit", piece.pk)
    assert statuses(signed_in, url) == {
        "owner": 200,
        "maker": 200,
        "helper": 403,
        "technician": 403,
    }
    assert signed_in("owner", strangers).post(url, {"title": "x"}).status_code == 404
    assert_asks_to_sign_in(client, url)
    for role, offered in (("maker", True), ("helper", False)):
        page = text_of(signed_in(role).get(address("piece_detail", piece.pk)))
        assert (url in page) is offered


# --- The list -------------------------------------------------------------------------


def test_the_list_shows_stage_size_and_edge(signed_in, cast, piece):
    page = text_of(signed_in("helper").get(address("piece_list")))
    assert "Low water at the sluice" in page
    assert "Planned" in page
    assert "9 layers" in page
    assert "11.81 × 7.87 in" in page
    assert f'id="edge-{piece.pk}-title"' in page


def test_a_piece_with_a_picture_is_not_drawn_from_its_edge_too(piece):
    assert PieceRow.of(fresh(piece), picture="/face/").edge is None
    assert PieceRow.of(fresh(piece)).edge is not None


def test_tabs_show_finished_lost_and_all(signed_in, cast, piece):
    in_kiln(piece, NOW)
    out_of_kiln(piece)
    services.finish_piece(piece=piece, by=None, at=make.NOW)
    lost = make.piece(studio=cast.studio, glass=cast.glass, title="Sunk")
    services.mark_lost(piece=lost, by=None, at=make.NOW, note="Dropped")
    make.piece(studio=cast.studio, glass=cast.glass, title="Skerry")
    browser = signed_in()
    shown = {
        tab: {
            title
            for title in ("Low water", "Sunk", "Skerry")
            if title in text_of(browser.get(address("piece_list"), {"show": tab}))
        }
        for tab in ("", "finished", "all", "nonsense")
    }
    assert shown == {
        "": {"Skerry"},
        "finished": {"Low water"},
        "all": {"Low water", "Sunk", "Skerry"},
        "nonsense": {"Skerry"},
    }


def test_pieces_are_searched_by_title(signed_in, cast, piece):
    make.piece(studio=cast.studio, glass=cast.glass, title="Skerry")
    browser, url = signed_in("helper"), address("piece_list")
    page = text_of(browser.get(url, {"q": "sKER"}))
    assert "Skerry" in page
    assert "Low water" not in page
    for text in ("z" * 1000, "%_'", "\x00Skerry no"):
        assert "Nothing found" in text_of(browser.get(url, {"q": text}))


def test_an_empty_list_offers_the_first_step_to_those_who_may(signed_in):
    owner = text_of(signed_in().get(address("piece_list")))
    assert "No piece in work" in owner
    assert address("piece_new") in owner
    helper = text_of(signed_in("helper").get(address("piece_list")))
    assert address("piece_new") not in helper
    finished = text_of(signed_in().get(address("piece_list"), {"show": "finished"}))
    assert "No finished piece yet" in finished


def test_a_long_list_is_paged(signed_in, cast):
    for number in range(31):
        make.piece(
            studio=cast.studio,
            glass=cast.glass,
            layers=1,
            caps=0,
            title=f"No {number}.",
        )
    browser = signed_in()
    first = text_of(browser.get(address("piece_list")))
    second = text_of(browser.get(address("piece_list"), {"page": "2"}))
    assert "Page 1 of 2" in first
    assert "No 30." in first
    assert "No 0." not in first
    assert "No 0." in second
    # Nonsense in the address is no error.
    assert browser.get(address("piece_list"), {"page": "x"}).status_code == 200


def queries(browser, url):
    with CaptureQueriesContext(
        connection,
    ) as caught:
        assert browser.get(url).status_code == 200
    return len(caught)


@pytest.mark.parametrize("name", ["today", "piece_list"])
def test_queries_do_not_grow_with_pieces(signed_in, cast, name):
    browser = signed_in()

    def grow(count):
        for number in range(count):
            piece = make.piece(
                studio=cast.studio, glass=cast.glass, layers=9, title=f"P{number}"
            )
            first, second, third = make.passes_of(piece)[:3]
            for of_pass, outcome in ((first, "fine"), (second, "cracked")):
                layer_services.record_painted(
                    passes=[of_pass], by=cast.helper, at=make.NOW
                )
                layer_services.record_outcome(
                    of_pass=of_pass, outcome=outcome, by=None, at=make.NOW
                )
            layer_services.record_painted(passes=[third], by=None, at=make.NOW)
            done = make.piece(
                studio=cast.studio, glass=cast.glass, layers=2, title=f"D{number}"
            )
            make.paint_and_fire(done)

    grow(2)
    few = queries(browser, address(name))
    grow(10)
    assert queries(browser, address(name)) == few


# --- Planning -------------------------------------------------------------------------


def typed(cast, **changes):
    return {
        "title": "Salt pans",
        "width_mm": "12",
        "height_mm": "8 in",
        "glass": cast.glass.pk,
        "layer_count": "6",
        "cap_count": "1",
        "technique": "decal",
        "passes": "2",
        "is_dammed": "on",
        "maker": cast.maker.pk,
        "maquette_of": "",
        "note": "For the winter show",
    } | changes


def test_a_piece_is_planned_with_its_layers(signed_in, cast):
    answer = signed_in("maker").post(address("piece_new"), typed(cast))
    piece = Piece.owned.for_studio(cast.studio).get()
    assert answer["Location"] == address("piece_detail", piece.pk)
    assert (piece.width_mm, piece.height_mm) == pytest.approx((304.8, 203.2))
    assert piece.maker == cast.maker
    assert piece.is_dammed
    layers = list(piece.layers.values_list("number", "technique", "planned_passes"))
    assert layers == [(n, "decal", 2) for n in range(1, 6)] + [(6, "clear", 0)]


def test_a_maquette_is_planned_from_its_piece(signed_in, cast, piece):
    browser = signed_in()
    url = f"{address('piece_new')}?maquette_of={piece.pk}"
    assert f'<option value="{piece.pk}" selected>' in text_of(browser.get(url))
    browser.post(url, typed(cast, maquette_of=piece.pk))
    maquette = Piece.owned.for_studio(cast.studio).get(title="Salt pans")
    assert maquette.maquette_of == piece
    assert "Salt pans" in text_of(browser.get(address("piece_detail", piece.pk)))


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"title": ""}, "Title: Fill this in."),
        ({"width_mm": "wide"}, "Write a length such as"),
        ({"height_mm": "-3"}, "Write a length such as"),
        ({"layer_count": "0"}, "Write 1 or more"),
        ({"layer_count": "61"}, "Write 60 or less"),
        ({"cap_count": "7"}, "There are only 6 layers"),
        ({"passes": "many"}, "Write a whole number"),
        ({"glass": "999999"}, "not one of the available choices"),
        ({"maker": "nobody"}, "not one of the available choices"),
    ],
)
def test_what_is_filled_in_wrongly_is_said_and_all_that_was_typed_stays(
    signed_in, cast, changes, told
):
    answer = signed_in().post(address("piece_new"), typed(cast, **changes))
    page = text_of(answer)
    assert answer.status_code == 422
    assert told in page
    assert "For the winter show" in page
    for value in changes.values():
        if value in {"wide", "-3", "many", "61", "7"}:
            assert f'value="{value}"' in page
    assert not Piece.across_studios.exists()


def test_other_studios_glass_and_people_are_no_choice(signed_in, cast, strangers):
    page = text_of(signed_in().get(address("piece_new")))
    assert strangers.glass.name not in page
    for name, value in (
        ("glass", strangers.glass.pk),
        ("maker", strangers.maker.pk),
    ):
        answer = signed_in().post(address("piece_new"), typed(cast, **{name: value}))
        assert answer.status_code == 422


def test_without_glass_the_page_says_where_to_add_some(signed_in, cast):
    cast.glass.is_retired = True
    cast.glass.save()
    page = text_of(signed_in().get(address("piece_new")))
    assert "no glass in stock yet" in page


def test_who_may_plan(signed_in, client, cast):
    url = address("piece_new")
    assert statuses(signed_in, url) == {
        "owner": 200,
        "maker": 200,
        "helper": 403,
        "technician": 403,
    }
    assert signed_in("helper").post(url, typed(cast)).status_code == 403
    assert_asks_to_sign_in(client, url)


# --- One piece ------------------------------------------------------------------------


def test_the_page_shows_facts_edge_layers_and_history(signed_in, cast, piece):
    Layer.across_studios.filter(piece=piece, number=4).update(title="Far shore")
    layer_services.record_painted(
        passes=make.passes_of(piece)[:1], by=cast.helper, at=make.NOW, minutes=95
    )
    page = text_of(signed_in("technician").get(address("piece_detail", piece.pk)))
    assert "11.81 × 7.87 in" in page
    assert "1.06 in" in page
    assert "1 of 9 layers done" in page
    assert "1 h 35 min" in page
    assert "Layers being painted" in page
    for number in range(1, 10):
        assert page.count(f'href="{address("layer_detail", piece.pk, number)}"') == 2
    # Front on top, in the list as in the drawing.
    assert (
        page.index("Layer 9<")
        < page.index("Layer 4, Far shore")
        < page.index("Layer 1<")
    )
    assert "Painted layer 1 pass 1" in page
    assert f"by {cast.helper}" in page


def test_each_viewer_reads_their_own_units(signed_in, cast, piece):
    member = cast.membership("maker")
    member.length_unit = "mm"
    member.save()
    page = text_of(signed_in("maker").get(address("piece_detail", piece.pk)))
    assert "300 × 200 mm" in page
    assert "27 mm" in page


def main_action(browser, piece):
    page = text_of(browser.get(address("piece_detail", piece.pk)))
    head = page[page.index("page-header") : page.index("</header>", page.index("<h1>"))]
    return [
        name
        for name in ("piece_paint", "stack_check", "piece_finish")
        if address(name, piece.pk) in head
    ]


def test_the_main_action_follows_the_stage_and_the_role(signed_in, cast, piece):
    owner, helper = signed_in("owner"), signed_in("helper")
    technician = signed_in("technician")
    assert main_action(owner, piece) == ["piece_paint"]
    assert main_action(helper, piece) == ["piece_paint"]
    assert main_action(technician, piece) == []
    make.paint_and_fire(piece)
    assert main_action(owner, piece) == ["stack_check"]
    assert main_action(helper, piece) == []
    services.check_stack(
        piece=piece,
        layers_counted=9,
        measured_height_mm=27,
        is_order_right=True,
        by=None,
        at=make.NOW,
    )
    assert main_action(owner, piece) == []
    services.note_into_kiln(piece=piece, firing_kind="full fuse", by=None, at=make.NOW)
    out_of_kiln(piece)
    assert main_action(owner, piece) == ["piece_finish"]
    assert main_action(helper, piece) == []
    services.finish_piece(piece=piece, by=None, at=make.NOW)
    assert main_action(owner, piece) == []


def test_a_layer_whose_sheet_cracked_is_the_next_thing_when_nothing_else_waits(
    signed_in, cast
):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=2)
    (only,) = make.passes_of(piece)
    layer_services.record_painted(passes=[only], by=None, at=make.NOW)
    layer_services.record_outcome(of_pass=only, outcome="cracked", by=None, at=make.NOW)
    page = text_of(signed_in("helper").get(address("piece_detail", piece.pk)))
    assert "Make layer 1 again" in page


def test_history_about_money_stays_with_those_who_see_money(signed_in, cast, piece):
    from studio.services import history

    history.record(
        studio=cast.studio,
        by=None,
        at=make.NOW,
        what="Deposit of $500 paid",
        piece=piece,
        is_about_money=True,
    )
    for name, args in (("piece_detail", [piece.pk]), ("history", [])):
        url = address(name, *args)
        assert "Deposit of" in text_of(signed_in("maker").get(url))
        for role in ("helper", "technician"):
            assert "Deposit of" not in text_of(signed_in(role).get(url))


def test_who_sees_a_piece(signed_in, client, strangers, piece):
    url = address("piece_detail", piece.pk)
    assert set(statuses(signed_in, url).values()) == {200}
    assert signed_in("owner", strangers).get(url).status_code == 404
    assert signed_in().get(address("piece_detail", 999_999)).status_code == 404
    assert_asks_to_sign_in(client, url)
    assert_asks_to_sign_in(client, address("piece_list"))


def test_another_studios_pieces_are_not_listed(signed_in, strangers, piece):
    page = text_of(signed_in("owner", strangers).get(address("piece_list")))
    assert piece.title not in page


def test_titles_are_shown_as_text(signed_in, cast):
    piece = make.piece(
        studio=cast.studio, glass=cast.glass, title="<script>alert(1)</script>"
    )
    Layer.across_studios.filter(piece=piece).update(title="<b>x</b>")
    for url in (address("piece_list"), address("piece_detail", piece.pk)):
        page = text_of(signed_in().get(url))
        assert "<script>alert" not in page
        assert "<b>x</b>" not in page
        assert "&lt;script&gt;alert" in page


# --- Stack, finish, lost --------------------------------------------------------------

GOOD_STACK = {
    "layers_counted": "9",
    "measured_height_mm": "27.5 mm",
    "is_order_right": "on",
    "note": "Level",
}


def test_a_stack_is_checked_in_either_unit(signed_in, piece):
    make.paint_and_fire(piece)
    url = address("stack_check", piece.pk)
    page = text_of(signed_in("maker").get(url))
    assert "1.06 in" in page
    assert "respirator" in page
    # What is to be counted is not filled in beforehand.
    assert 'value="9"' not in page
    answer = signed_in("maker").post(url, GOOD_STACK | {"measured_height_mm": "1 1/16"})
    assert answer["Location"] == address("piece_detail", piece.pk)
    assert fresh(piece).measured_height_mm == pytest.approx(26.9875)


def test_all_that_is_wrong_with_a_stack_is_listed_and_stays_typed(signed_in, piece):
    layer_services.record_painted(
        passes=make.passes_of(piece)[:1], by=None, at=make.NOW
    )
    wrong = {"layers_counted": "8", "measured_height_mm": "60 mm", "note": "Odd"}
    answer = signed_in().post(address("stack_check", piece.pk), wrong)
    page = text_of(answer)
    assert answer.status_code == 409
    for told in (
        "<li>Not done yet: layer 1, 2",
        "<li>The plan has 9 layers, you counted 8.",
        "<li>9 sheets should stand about 1.06 in high, you measured 2.36 in.",
        "<li>Put the layers in order first",
    ):
        assert told in page
    assert 'value="8"' in page
    assert 'value="60 mm"' in page
    assert "Odd" in page
    assert fresh(piece).events == ()


def test_nonsense_at_the_stack_is_a_form_error(signed_in, piece):
    answer = signed_in().post(
        address("stack_check", piece.pk),
        {"layers_counted": "nine", "measured_height_mm": "tall"},
    )
    page = text_of(answer)
    assert answer.status_code == 422
    assert "Write a whole number" in page
    assert "Write a length such as" in page
    assert 'value="tall"' in page


def test_an_empty_form_sent_is_not_a_form_just_opened(signed_in, piece):
    for name in ("stack_check", "piece_lost", "piece_new"):
        args = [] if name == "piece_new" else [piece.pk]
        assert signed_in().post(address(name, *args), {}).status_code == 422


def test_a_piece_is_inspected_and_finished(signed_in, piece):
    in_kiln(piece, NOW)
    url = address("piece_finish", piece.pk)
    early = signed_in().post(url, {"note": "All clear"})
    assert early.status_code == 409
    assert "cannot be finished yet: in the kiln" in text_of(early)
    assert "All clear" in text_of(early)
    out_of_kiln(piece)
    assert signed_in().post(url, {}).status_code == 302
    assert fresh(piece).is_closed


def test_a_piece_is_lost_with_a_reason(signed_in, piece):
    url = address("piece_lost", piece.pk)
    assert "Nothing more will be planned" in text_of(signed_in().get(url))
    assert signed_in().post(url, {"note": " "}).status_code == 422
    assert not fresh(piece).is_closed
    assert signed_in().post(url, {"note": "Dropped"}).status_code == 302
    assert fresh(piece).is_closed
    again = signed_in().post(url, {"note": "Dropped twice"})
    assert again.status_code == 409
    assert "Dropped twice" in text_of(again)


@pytest.mark.parametrize("name", ["stack_check", "piece_finish", "piece_lost"])
def test_who_may_judge_a_piece(signed_in, client, strangers, piece, name):
    url = address(name, piece.pk)
    assert statuses(signed_in, url) == {
        "owner": 200,
        "maker": 200,
        "helper": 403,
        "technician": 403,
    }
    assert signed_in("helper").post(url, {"note": "x"}).status_code == 403
    assert signed_in("owner", strangers).get(url).status_code == 404
    assert signed_in("owner", strangers).post(url, {"note": "x"}).status_code == 404
    assert_asks_to_sign_in(client, url)
    assert_asks_to_sign_in(client, url, post={"note": "x"})
    assert not fresh(piece).is_closed
