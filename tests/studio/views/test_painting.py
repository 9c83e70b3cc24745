"""Recording painting, and the page of one layer."""

import io
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from PIL import Image

from studio.models import HistoryEntry, Material, Pass, Picture
from studio.selectors.pieces import fresh, layer_view
from studio.services import layers as layer_services
from studio.services.pieces import mark_lost
from tests import make
from tests.studio.views.pages import (
    address,
    assert_asks_to_sign_in,
    statuses,
    text_of,
)


@pytest.fixture
def piece(cast):
    """Eight painted layers of two passes and a cap."""
    return make.piece(studio=cast.studio, glass=cast.glass, layers=9, passes=2)


@pytest.fixture
def enamel(cast):
    return Material.across_studios.create(
        studio=cast.studio,
        name="Estuary grey",
        kind="enamel",
        unit="g",
        cost_per_unit=1,
        caution="May hold lead",
    )


def firsts(piece):
    return [p for p in make.passes_of(piece) if p.number == 1]


def photograph(name="layer.jpg", colour="teal"):
    out = io.BytesIO()
    Image.new("RGB", (80, 60), colour).save(out, "JPEG")
    return SimpleUploadedFile(name, out.getvalue(), "image/jpeg")


def painted_count(piece):
    return sum(p.painted_at is not None for p in make.passes_of(piece))


def test_eight_layers_with_a_picture_each_in_one_go(signed_in, cast, piece, enamel):
    umber = Material.across_studios.create(
        studio=cast.studio, name="Umber", kind="enamel", unit="g", cost_per_unit=1
    )
    passes = firsts(piece)
    sent = {f"picture_{p.pk}": photograph() for p in passes}
    answer = signed_in("helper").post(
        address("piece_paint", piece.pk),
        {
            "passes": [p.pk for p in passes],
            "time_each": "45",
            "materials": [enamel.pk, umber.pk],
            "note": "Thin",
            **sent,
        },
    )
    assert answer["Location"] == address("piece_detail", piece.pk)
    recorded = [p for p in make.passes_of(piece) if p.painted_at]
    assert len(recorded) == 8
    assert {(p.minutes, p.painted_by, p.note) for p in recorded} == {
        (45, cast.helper, "Thin")
    }
    assert all(set(p.materials.all()) == {enamel, umber} for p in recorded)
    pictures = Picture.owned.for_studio(cast.studio)
    assert sorted(pictures.values_list("layer__number", flat=True)) == list(range(1, 9))
    assert {p.of_pass_id for p in pictures} == {p.pk for p in passes}


def test_the_page_lists_only_what_waits_front_first(signed_in, piece):
    layer_services.record_painted(passes=firsts(piece)[:2], by=None, at=make.NOW)
    layer_services.record_outcome(
        of_pass=firsts(piece)[1], outcome="fine", by=None, at=make.NOW
    )
    page = text_of(signed_in("helper").get(address("piece_paint", piece.pk)))
    assert "Layer 1<" not in page
    assert page.index("Layer 8<") < page.index("Layer 3<") < page.index("Layer 2<")
    assert "pass 2 of 2" in page
    assert 'accept="image/*"' in page
    assert 'capture="environment"' in page
    assert "lead or cadmium" in page


def test_a_layers_own_link_ticks_just_that_layer(signed_in, piece):
    url = f"{address('piece_paint', piece.pk)}?layer=3"
    page = text_of(signed_in().get(url))
    third = firsts(piece)[2]
    assert f'value="{third.pk}" checked' in page
    assert page.count("checked>") == 1
    assert signed_in().get(url.replace("=3", "=x")).status_code == 200


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({"time_each": "45"}, "Tick at least one layer"),
        ({"passes": "ALL", "time_each": "soon"}, "Write a time such as"),
        ({"passes": "ALL", "time_each": "3 d"}, "more than a day for one layer"),
        ({"passes": "ALL", "materials": "999999"}, "not one of the available choices"),
        ({"passes": "999999"}, "no longer waiting"),
        ({"passes": "x"}, "no longer waiting"),
    ],
)
def test_wrong_input_records_nothing_and_stays(signed_in, piece, said, told):
    first = firsts(piece)[0]
    sent = {"note": "Kept words"} | said
    if said.get("passes") == "ALL":
        sent["passes"] = [first.pk]
    answer = signed_in().post(address("piece_paint", piece.pk), sent)
    page = text_of(answer)
    assert answer.status_code == 422
    assert told in page
    assert "Kept words" in page
    if said.get("passes") == "ALL":
        assert f'value="{first.pk}" checked' in page
    if "time_each" in said:
        assert f'value="{said["time_each"]}"' in page
    assert painted_count(piece) == 0


def test_a_slip_in_another_field_keeps_no_picture_and_says_so(signed_in, cast, piece):
    first = firsts(piece)[0]
    answer = signed_in().post(
        address("piece_paint", piece.pk),
        {
            "passes": [first.pk],
            "time_each": "soon",
            f"picture_{first.pk}": photograph(),
        },
    )
    assert answer.status_code == 422
    assert "Choose the pictures again" in text_of(answer)
    assert not Picture.owned.for_studio(cast.studio).exists()


def test_a_bad_picture_does_not_stop_the_rest(signed_in, cast, piece):
    first, second = firsts(piece)[:2]
    bad = SimpleUploadedFile("door.jpg", b"not a picture", "image/jpeg")
    answer = signed_in().post(
        address("piece_paint", piece.pk),
        {
            "passes": [first.pk, second.pk],
            f"picture_{first.pk}": bad,
            f"picture_{second.pk}": photograph(),
        },
        follow=True,
    )
    page = text_of(answer)
    assert "2 layers recorded as painted" in page
    assert "Layer 1: door.jpg is not a picture that can be read" in page
    assert painted_count(piece) == 2
    assert Picture.owned.for_studio(cast.studio).count() == 1


def test_an_empty_picture_does_not_stop_the_rest_either(signed_in, piece):
    first = firsts(piece)[0]
    answer = signed_in().post(
        address("piece_paint", piece.pk),
        {"passes": [first.pk], f"picture_{first.pk}": SimpleUploadedFile("a.jpg", b"")},
    )
    assert answer.status_code == 302
    assert painted_count(piece) == 1


def test_a_lost_piece_is_refused_with_409(signed_in, piece):
    mark_lost(piece=piece, by=None, at=make.NOW, note="Dropped")
    answer = signed_in().post(
        address("piece_paint", piece.pk), {"passes": [firsts(piece)[0].pk]}
    )
    assert answer.status_code == 409
    assert "nothing is painted any more" in text_of(answer)


def test_nothing_waits(signed_in, piece):
    layer_services.record_painted(passes=firsts(piece), by=None, at=make.NOW)
    page = text_of(signed_in().get(address("piece_paint", piece.pk)))
    assert "No layer waits for paint" in page


def test_only_this_studios_paints_are_offered(signed_in, cast, strangers, piece):
    for studio, name in ((cast.studio, "Our grey"), (strangers.studio, "Their grey")):
        Material.across_studios.create(
            studio=studio, name=name, kind="decal", unit="sheet", cost_per_unit=1
        )
    Material.across_studios.create(
        studio=cast.studio, name="Fibre", kind="fibre paper", unit="m", cost_per_unit=1
    )
    page = text_of(signed_in().get(address("piece_paint", piece.pk)))
    assert "Our grey" in page
    assert "Their grey" not in page
    assert "Fibre" not in page


def test_who_may_record(signed_in, client, strangers, piece):
    url = address("piece_paint", piece.pk)
    first = firsts(piece)[0]
    assert statuses(signed_in, url) == {
        "owner": 200,
        "maker": 200,
        "helper": 200,
        "technician": 403,
    }
    sent = {"passes": [first.pk]}
    assert signed_in("technician").post(url, sent).status_code == 403
    assert signed_in("owner", strangers).post(url, sent).status_code == 404
    assert_asks_to_sign_in(client, url)
    assert_asks_to_sign_in(client, url, post=sent)
    assert painted_count(piece) == 0


# --- One layer ------------------------------------------------------------------------


def layer_page(browser, piece, number=1):
    return text_of(browser.get(address("layer_detail", piece.pk, number)))


def test_a_layer_tells_who_when_how_long_and_with_what(signed_in, cast, piece, enamel):
    layer_services.record_painted(
        passes=firsts(piece)[:1],
        by=cast.helper,
        at=make.NOW,
        minutes=50,
        materials=[enamel],
        note="Brushed twice",
    )
    layer_services.record_outcome(
        of_pass=firsts(piece)[0],
        outcome="redo",
        by=cast.technician,
        at=make.NOW,
        note="Pinholes",
    )
    page = layer_page(signed_in("technician"), piece)
    for told in (
        str(cast.helper),
        "50 min",
        "Estuary grey",
        "May hold lead",
        "Brushed twice",
        "To be fired again",
        "Pinholes",
        "fired again",
        "Waits for its next pass",
    ):
        assert told in page
    assert address("layer_detail", piece.pk, 2) in page
    # A technician records no painting.
    for name in ("piece_paint", "layer_make_again", "layer_rename"):
        args = [piece.pk] if name == "piece_paint" else [piece.pk, 1]
        assert address(name, *args) not in page


def test_a_remade_layer_keeps_its_past_on_the_page(signed_in, piece):
    layer_services.record_painted(
        passes=firsts(piece)[:1], by=None, at=make.NOW, note="First try"
    )
    answer = signed_in("helper").post(
        address("layer_make_again", piece.pk, 1), {"reason": "Scratched at loading"}
    )
    assert answer["Location"] == address("layer_detail", piece.pk, 1)
    page = layer_page(signed_in("helper"), piece)
    assert "On sheet 2." in page
    assert "Scratched at loading" in page
    assert "First try" in page
    # The old sheet's painting is on record, with nothing to take back.
    assert "Take back" not in page


def test_making_again_needs_a_reason_and_a_piece_in_painting(signed_in, piece):
    url = address("layer_make_again", piece.pk, 1)
    answer = signed_in().post(url, {"reason": ""})
    assert answer.status_code == 422
    assert "Why: Fill this in." in text_of(answer)
    make.paint_and_fire(piece)
    from studio.services.pieces import check_stack

    check_stack(
        piece=piece,
        layers_counted=9,
        measured_height_mm=27,
        is_order_right=True,
        by=None,
        at=make.NOW,
    )
    answer = signed_in().post(url, {"reason": "Kept words"})
    assert answer.status_code == 409
    assert "Make it again" not in layer_page(signed_in(), piece)


def test_a_title_is_given(signed_in, piece):
    url = address("layer_rename", piece.pk, 2)
    assert signed_in("helper").post(url, {"title": "Far shore"}).status_code == 302
    assert "Layer 2: Far shore" in layer_page(signed_in(), piece, 2)
    answer = signed_in().post(url, {"title": "x" * 121})
    assert answer.status_code == 422
    assert "x" * 121 in text_of(answer)


def test_the_glass_is_asked_only_while_it_can_be_changed(signed_in, piece):
    assert 'name="glass"' in layer_page(signed_in(), piece, 1)
    layer_services.record_painted(passes=firsts(piece)[:1], by=None, at=make.NOW)
    assert 'name="glass"' not in layer_page(signed_in(), piece, 1)
    assert 'name="glass"' in layer_page(signed_in(), piece, 2)
    url = address("layer_rename", piece.pk, 1)
    assert signed_in().post(url, {"title": "Far shore"}).status_code == 302
    assert "Layer 1: Far shore" in layer_page(signed_in(), piece, 1)


def test_painting_is_taken_back_from_the_layers_page(signed_in, piece):
    now, url = timezone.now(), address("pass_take_back", firsts(piece)[0].pk)
    layer_services.record_painted(passes=firsts(piece)[:1], by=None, at=now)
    assert url in layer_page(signed_in("helper"), piece)
    assert signed_in("helper").post(url)["Location"] == address(
        "layer_detail", piece.pk, 1
    )
    assert painted_count(piece) == 0
    answer = signed_in().post(url)
    assert answer.status_code == 409
    assert "not a painted pass that waits" in text_of(answer)


def test_later_painting_is_taken_back_with_a_reason_and_its_words_are_kept(
    cast, signed_in, piece
):
    hour_ago = timezone.now() - timedelta(hours=1)
    layer_services.record_painted(
        passes=firsts(piece)[:1], by=None, at=hour_ago, minutes=40, note="Two greys"
    )
    url = address("pass_take_back", firsts(piece)[0].pk)
    answer = signed_in().post(url)
    assert "Say why" in text_of(answer)
    assert painted_count(piece) == 1
    assert signed_in().post(url, {"reason": "The sheet below it"}).status_code == 302
    assert painted_count(piece) == 0
    told = HistoryEntry.owned.for_studio(cast.studio).values_list("what", flat=True)
    assert any(
        one.endswith("(40 min, “Two greys”): The sheet below it") for one in told
    ), list(told)


def test_there_is_no_layer_beyond_the_stack(signed_in, piece):
    for number in (0, 10):
        url = address("layer_detail", piece.pk, number)
        assert signed_in().get(url).status_code == 404


def test_who_may_touch_a_layer(signed_in, client, strangers, piece):
    layer_services.record_painted(passes=firsts(piece)[:1], by=None, at=make.NOW)
    see = address("layer_detail", piece.pk, 1)
    assert set(statuses(signed_in, see).values()) == {200}
    assert signed_in("owner", strangers).get(see).status_code == 404
    assert_asks_to_sign_in(client, see)
    for url, sent in (
        (address("layer_make_again", piece.pk, 1), {"reason": "x"}),
        (address("layer_rename", piece.pk, 1), {"title": "x"}),
        (address("pass_take_back", firsts(piece)[0].pk), {}),
    ):
        assert signed_in("technician").post(url, sent).status_code == 403
        assert signed_in("owner", strangers).post(url, sent).status_code == 404
        assert_asks_to_sign_in(client, url, post=sent)
    assert painted_count(piece) == 1
    own = layer_view(fresh(piece), 1)
    assert own.sheet.attempt == 1
    assert own.layer.title == ""
    assert Pass.across_studios.filter(sheet__layer__piece=piece).count() == 16
