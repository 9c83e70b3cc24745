"""The page of a schedule, for a piece and for any glass, and how it is computed."""

import re

import pytest
from django.urls import reverse

from firing.models import Schedule
from firing.physics.designing.annealing_table import row_at_or_above
from tests import make
from tests.firing import build
from tests.firing.pages import address, assert_doors, text_of

BOOKERS = ("owner", "maker", "technician")
HTMX = {"HX-Request": "true"}


@pytest.fixture
def piece(cast):
    return build.stacked(studio=cast.studio, glass=cast.glass, layer_count=9)


@pytest.fixture
def asked(cast):
    return {
        "kind": "full fuse",
        "glass": cast.glass.pk,
        "kiln": cast.kiln.pk,
        "layers": "9",
        "is_dammed": "on",
        "temporary_mpa": "3",
        "residual_mpa": "0.5",
    }


def test_the_designer_answers_before_anything_is_typed(cast, signed_in):
    page = text_of(signed_in("maker").get(address("schedule_designer")))
    for words in ("Computed design", "Published table", "Why these numbers"):
        assert words in page
    assert "MPa" in page
    assert "nm/cm" in page
    assert "never a promise that a piece will not break" in page
    assert "licensed electricians" in page


def test_only_the_answer_is_sent_while_one_types(cast, signed_in, asked):
    part = signed_in().get(address("schedule_designer"), asked, headers=HTMX)
    html = part.content.decode()
    assert 'id="answer"' in html
    assert "<h1" not in html
    assert 'id="cut-range"' in html, "the firing's length was not known"
    known = re.search(r'name="last_h" value="(\d+)"', html).group(1)
    again = signed_in().get(
        address("schedule_designer"), asked | {"last_h": known}, headers=HTMX
    )
    assert 'id="cut-range"' not in again.content.decode(), "it may be being moved"


def test_the_measured_height_counts_instead_of_the_layers(cast, signed_in, asked):
    url = address("schedule_designer")
    by_layers = signed_in().get(url, asked).context["found"]
    measured = signed_in().get(url, asked | {"height": "60 mm"}).context["found"]
    assert measured.shown.design.request.thickness_m == pytest.approx(0.06)
    assert by_layers.shown.design.request.thickness_m == pytest.approx(0.027)


def test_what_if_is_computed(cast, signed_in, asked):
    asked |= {"is_thicker": "on", "is_off": "on", "is_cut": "on", "cut_at_h": "20"}
    page = text_of(signed_in().get(address("schedule_designer"), asked))
    assert (
        "Within the limits in all that was tried" in page or "Over a limit if" in page
    )
    assert "10 % thicker than measured" in page
    assert "9 °F hotter than shown" in page
    assert "9 °F colder than shown" in page
    assert "Power off for 3 h, 20 h after the start" in page
    assert "With the power cut" in page, "in the chart"


def test_a_cut_is_as_long_and_where_it_is_put(cast, signed_in, asked):
    asked |= {"is_cut": "on", "cut_h": "1,5", "cut_at_h": "14.5", "only": "cut"}
    answer = signed_in().get(address("schedule_designer"), asked, headers=HTMX)
    page, html = text_of(answer), answer.content.decode()
    assert "Power off for 1 h 30 min, 14 h 30 min after the start" in page
    assert re.search(r"1 h 30 min cut, starts 14 h 30 min in, kiln at \d+ °F", page)
    assert 'id="design-drawing"' in html
    assert 'id="answer"' not in html, "only what the grip changes"
    assert "With the power cut" in page


def test_the_grip_is_a_slider_that_says_where_it_is(cast, signed_in, asked):
    html = signed_in().get(address("schedule_designer"), asked).content.decode()
    grip = re.search(r"<div[^>]+role=\"slider\"[^>]*>", html).group(0)
    assert 'aria-label="Power cut"' in grip
    assert 'aria-valuetext="No power cut yet"' in grip
    assert re.search(r'aria-valuemax="\d+"', grip)
    assert " hidden" in grip, "the form's field serves without scripts"


def test_a_part_of_the_chart_is_shown_by_link(cast, signed_in, asked):
    page = signed_in().get(address("schedule_designer"), asked | {"part": "soak"})
    html = page.content.decode()
    assert re.search(r'part=cooling#design-chart"[^>]*>Cooling', html)
    assert 'aria-current="true">Anneal soak' in html
    assert "glass=" in re.search(r'href="(\?[^"]*part=cooling)', html).group(1)
    drawn = signed_in().get(
        address("schedule_designer"), asked | {"part": "36000-72000"}
    )
    assert 'data-from="36000.0"' in drawn.content.decode()
    for nonsense in ("5-1", "x", "-4-9", "1-2"):
        again = signed_in().get(
            address("schedule_designer"), asked | {"part": nonsense}
        )
        assert 'data-from="0.0"' in again.content.decode()


@pytest.mark.parametrize(
    ("changes", "status", "said"),
    [
        ({"layers": "many"}, 422, "whole number of layers"),
        ({"layers": "", "height": ""}, 422, "Write the layers"),
        ({"height": "-3"}, 422, "height"),
        ({"temporary_mpa": "strong"}, 422, "Write a number of MPa"),
        ({"residual_mpa": "5"}, 422, "not above the temporary one"),
        ({"residual_mpa": "nan"}, 422, "MPa"),
        ({"kiln": "999999"}, 422, "not one of this studio's"),
        ({"cut_at_h": "noon"}, 422, "hours after the start"),
        ({"cut_h": "long"}, 422, "Write hours, such as 3"),
        ({"cut_h": "100"}, 422, "48 hours is the longest"),
        ({"kind": "enamel"}, 409, "no single sheet"),
        ({"layers": "150"}, 409, "mm"),
    ],
)
def test_bad_input_is_said_and_kept(cast, signed_in, asked, changes, status, said):
    answer = signed_in().get(address("schedule_designer"), asked | changes)
    assert answer.status_code == status
    assert said in text_of(answer)
    html = answer.content.decode()
    for name, typed in changes.items():
        if typed and name in ("layers", "height", "temporary_mpa", "residual_mpa"):
            assert f'value="{typed}"' in html, name


def test_another_studios_glass_and_kiln_are_not_known(
    cast, strangers, signed_in, asked
):
    for name, theirs in (("glass", strangers.glass), ("kiln", strangers.kiln)):
        answer = signed_in().get(
            address("schedule_designer"), asked | {name: theirs.pk}
        )
        assert answer.status_code == 422
        assert theirs.name not in answer.content.decode()


def test_a_studio_without_a_kiln_is_told_so(cast, signed_in):
    type(cast.kiln).owned.for_studio(cast.studio).update(is_retired=True)
    answer = signed_in().get(address("schedule_designer"))
    assert answer.status_code == 200
    assert "No kiln yet" in text_of(answer)
    assert address("schedule_designer") not in answer.content.decode(), "no form"


def test_a_studio_without_a_glass_is_asked_for_one(cast, signed_in):
    type(cast.glass).owned.for_studio(cast.studio).update(is_retired=True)
    page = text_of(signed_in().get(address("schedule_designer")))
    assert "No glass yet" in page
    assert "Design the schedule" not in page


def test_a_familys_annealing_points_are_said_with_what_each_does(
    cast, signed_in, asked
):
    url = address("schedule_designer")
    assert "not entered" not in text_of(signed_in().get(url, asked))
    type(cast.glass).owned.for_studio(cast.studio).update(annealing_point_c=None)
    answer = signed_in("maker").get(url, asked)
    page = text_of(answer)
    assert "961 °F and 990 °F are quoted for its family" in page
    by_point = answer.context["design"].design.proposed.band.by_annealing_point
    for shown, (_, pa) in zip(("943", "961", "1008"), by_point, strict=True):
        assert f"{shown} °F: {pa / 1e6:.2f} MPa" in page
    assert "from 18 °F lower to 47 °F higher" in page
    own_page = reverse("studio:glass_edit", args=[cast.glass.pk])
    assert f'href="{own_page}"' in answer.content.decode()
    for_technician = signed_in("technician").get(url, asked)
    assert own_page not in for_technician.content.decode()
    assert "Ask an owner or maker" in text_of(for_technician)


def test_the_fuse_page_says_it_as_well(cast, signed_in, piece):
    type(cast.glass).owned.for_studio(cast.studio).update(annealing_point_c=None)
    where = {"kiln": cast.kiln.pk, "kind": "full fuse"}
    page = text_of(signed_in().get(address("fuse_plan", piece.pk), where))
    assert "961 °F and 990 °F are quoted for its family" in page
    assert "Enter its maker's annealing point" in page


def test_how_it_was_computed_names_equations_values_and_sources(signed_in, cast):
    page = text_of(signed_in("helper").get(address("schedule_how")))
    for words in (
        "ρ cp(T) ∂T/∂t",
        "from memory",
        "assumed",
        "Not computed",
        "Nielsen et al. 2010",
        "70 GPa",
        "506 to 542 °C, computed at 516 °C",
        "90-expansion",
        "licensed electricians",
    ):
        assert words in page


def test_a_piece_is_shown_by_the_table_before_its_tension_is_computed(
    cast, signed_in, piece, settings
):
    settings.CACHES = settings.CACHES | {
        "computed": {"BACKEND": "django.core.cache.backends.dummy.DummyCache"}
    }
    answer = signed_in().get(address("fuse_plan", piece.pk))
    html, page = answer.content.decode(), text_of(answer)
    where = f"{address('fuse_plan', piece.pk)}?kiln={cast.kiln.pk}&amp;kind=full fuse"
    assert f'hx-get="{where}"' in html
    assert f'href="{where}"' in html, "and without scripts"
    assert "Save and book" in page, "the table's schedule can be booked at once"
    assert "MPa" not in page.split("from loading to opening")[1].split("Segments")[0]


def test_four_schedules_stand_side_by_side(cast, signed_in, piece):
    where = {"kiln": cast.kiln.pk, "kind": "full fuse"}
    for headers in ({}, HTMX):
        answer = signed_in().get(address("fuse_plan", piece.pk), where, headers=headers)
        page = text_of(answer)
        for title in (
            "Computed design",
            "Published table",
            "Next row",
            "Exact thickness",
        ):
            assert title in page
        assert "Within limits" in page
        assert address("schedule_how") in answer.content.decode()


def test_a_new_result_is_read_out_in_a_sentence(cast, signed_in, asked, piece):
    where = {"kiln": cast.kiln.pk, "kind": "full fuse"}
    for url, sent, name in (
        (address("fuse_plan", piece.pk), where, "design-said"),
        (address("schedule_designer"), asked, "design-said"),
    ):
        for headers in ({}, HTMX):
            html = signed_in().get(url, sent, headers=headers).content.decode()
            said = re.search(rf'<p id="{name}"[^>]*role="status"[^>]*>([^<]+)<', html)
            assert "stays in the glass" in said.group(1)
            assert "within the limits" in said.group(1)
            assert ("hx-swap-oob" in said.group(0)) == bool(headers)
        wrong = signed_in().get(url, sent | {"residual_mpa": "9"}, headers=HTMX)
        assert "Correct the marked fields" in wrong.content.decode()


@pytest.mark.parametrize("typed", ["soft", "-1", "1e9"])
def test_a_bad_limit_keeps_what_was_typed(cast, signed_in, piece, typed):
    answer = signed_in().get(
        address("fuse_plan", piece.pk),
        {"kiln": cast.kiln.pk, "kind": "full fuse", "temporary_mpa": typed},
    )
    assert answer.status_code == 422
    assert f'value="{typed}"' in answer.content.decode()


def test_the_computed_schedule_is_kept_and_leads_to_booking(cast, signed_in, piece):
    chosen = {
        "kiln": cast.kiln.pk,
        "kind": "full fuse",
        "rule": "computed",
        "temporary_mpa": "2,5",
        "residual_mpa": "0.5",
    }
    answer = signed_in("maker").post(address("fuse_plan", piece.pk), chosen)
    schedule = Schedule.owned.for_studio(cast.studio).get()
    book = f"{address('fuse_book', piece.pk)}?schedule={schedule.pk}"
    assert answer["Location"] == book
    assert schedule.basis["temporary_limit_mpa"] == 2.5
    page = text_of(signed_in("helper").get(address("schedule_detail", schedule.pk)))
    assert "Computed from heat and stress" in page
    assert "Stays in the cold glass" in page
    assert "How this was computed" in page
    assert "licensed electricians" in page
    assert "Book" in text_of(signed_in().get(book))


def test_a_stored_design_is_within_its_limits_and_no_faster_than_the_row(cast, piece):
    schedule = build.schedule(piece=piece, kiln=cast.kiln, rule="computed")
    basis = schedule.basis
    assert basis["residual_mpa"][-1] <= basis["residual_limit_mpa"]
    assert basis["cooling_mpa"][-1] <= basis["temporary_limit_mpa"]
    assert basis["heating_mpa"][-1] <= basis["temporary_limit_mpa"]
    row = row_at_or_above(schedule.thickness_mm / 1000)
    segments = {s.label: s for s in schedule.segments.all()}
    assert segments["anneal soak"].hold_s >= row.soak_s
    assert segments["final cooling"].rate_c_per_h <= row.rates_c_per_h.final
    again = build.schedule(piece=piece, kiln=cast.kiln, rule="computed")
    assert (schedule.version, again.version) == (1, 2)


def test_limits_that_no_schedule_keeps_are_refused_and_kept(cast, signed_in, piece):
    chosen = {
        "kiln": cast.kiln.pk,
        "kind": "full fuse",
        "rule": "computed",
        "temporary_mpa": "0.01",
        "residual_mpa": "0.01",
    }
    answer = signed_in().post(address("fuse_plan", piece.pk), chosen)
    assert answer.status_code == 409
    assert answer.content.decode().count('value="0.01"') >= 2
    assert not Schedule.owned.for_studio(cast.studio).exists()


def test_doors(client, cast, signed_in, strangers, piece):
    common = {"client": client, "signed_in": signed_in, "strangers": strangers}
    assert_doors(
        url=f"{address('fuse_plan', piece.pk)}?kiln={cast.kiln.pk}",
        roles=BOOKERS,
        **common,
    )
    assert_doors(url=address("schedule_designer"), roles=BOOKERS, own=False, **common)
    assert_doors(
        url=address("schedule_how"), roles=(*BOOKERS, "helper"), own=False, **common
    )


def test_a_retired_glass_is_not_offered(cast, signed_in):
    old = make.glass(studio=cast.studio, name="Old sheet")
    type(old).owned.for_studio(cast.studio).filter(pk=old.pk).update(is_retired=True)
    page = signed_in().get(address("schedule_designer")).content.decode()
    assert "Old sheet" not in page


def test_equal_schedules_are_one_choice(cast, signed_in, asked):
    page = signed_in().get(address("schedule_designer"), asked | {"layers": "12"})
    names = [one.name for one in page.context["choices"].every]
    assert len(names) == len(set(names))
    thin = signed_in().get(address("schedule_designer"), asked | {"layers": "2"})
    merged = [one.name for one in thin.context["choices"].every if " = " in one.name]
    assert merged
    shown = page.context["choices"]
    fitted = [one.proposal.fitted.segments for one in shown.every]
    assert len(fitted) == len(set(fitted))


def test_bad_news_is_on_the_choice_and_on_the_button(cast, signed_in, asked):
    strict = asked | {"layers": "14", "residual_mpa": "0.2", "rule": "exact"}
    answer = signed_in().get(address("schedule_designer"), strict)
    chosen = answer.context["choices"].chosen
    assert chosen.rule == "exact"
    assert chosen.is_over
    page = text_of(answer)
    assert "Over a limit" in page
    assert "Save and book, over a limit" in page


def test_what_ignores_the_table_is_looked_at_but_never_booked(cast, signed_in, asked):
    url = address("schedule_designer")
    page = text_of(signed_in().get(url, asked | {"rule": "alone"}))
    assert "no kiln can be booked by it" in page
    assert "Save and book" not in page
    signed_in().post(address("schedule_keep"), asked | {"rule": "alone"})
    assert not Schedule.owned.for_studio(cast.studio).exists()


def test_what_the_limits_alone_allow_is_shown_but_not_proposed(cast, signed_in, asked):
    url = address("schedule_designer")
    without = text_of(signed_in().get(url, asked))
    shown = text_of(signed_in().get(url, asked | {"is_alone": "on"}))
    assert "Without the table" not in without
    assert "Without the table" in shown


def test_an_error_while_typing_leaves_the_focus(cast, signed_in, asked):
    url = address("schedule_designer")
    part = signed_in().get(url, asked | {"layers": ""}, headers=HTMX)
    assert part.status_code == 422
    assert "Write the layers" in text_of(part)
    assert "data-error-summary" not in part.content.decode()
    whole = signed_in().get(url, asked | {"layers": ""})
    assert "data-error-summary" in whole.content.decode()


def test_enamel_is_held_against_practice_not_the_table(cast, signed_in, asked):
    asked |= {"kind": "enamel", "layers": "1"}
    del asked["is_dammed"]
    page = text_of(signed_in().get(address("schedule_designer"), asked))
    assert "Common practice" in page
    assert "The table's row" not in page


def test_a_refusal_is_in_the_readers_units(cast, strangers, signed_in):
    theirs = strangers
    for where, unit, other in ((cast, "°F/h", "°C"), (theirs, "°C/h", "°F")):
        type(where.kiln).owned.for_studio(where.studio).update(slowest_rate_c_per_h=5.0)
        thick = {
            "kind": "full fuse",
            "glass": where.glass.pk,
            "kiln": where.kiln.pk,
            "height": "140 mm",
        }
        answer = signed_in("maker", where).get(address("schedule_designer"), thick)
        page = text_of(answer).split("No schedule yet")[1].split("An estimate")[0]
        assert answer.status_code == 409
        assert unit in page
        assert other not in page
