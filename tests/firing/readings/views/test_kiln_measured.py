"""A kiln's measured values on its page, and the button that sets them."""

import pytest
from django.core.cache import cache

from tests.firing import recorded
from tests.firing.pages import address, assert_doors, text_of
from tests.make import NOW

BUTTON = "Use the measured values"


@pytest.fixture(autouse=True)
def _nothing_is_kept_from_other_tests():
    cache.clear()


def page_of(cast, browser):
    return text_of(browser.get(address("kiln_detail", cast.kiln.pk)))


def test_set_and_measured_stand_side_by_side(cast, signed_in):
    recorded.finished(kiln=cast.kiln, glass=cast.glass)
    page = page_of(cast, signed_in("technician"))
    assert "Cooling time 6 h 8 h" in page or "Cooling time 6 h 7 h 5" in page
    assert "Power that holds 1706 °F 50.0 % 7" in page
    assert " ± " in page
    assert "1 firing, " in page
    assert "a room of 68 °F" in page
    assert BUTTON in page


def test_in_the_other_units(strangers, signed_in):
    recorded.finished(kiln=strangers.kiln, glass=strangers.glass)
    page = page_of(strangers, signed_in("owner", strangers))
    assert "Power that holds 930 °C" in page
    assert "a room of 20 °C" in page


def test_nothing_recorded_yet_says_so(cast, signed_in):
    page = page_of(cast, signed_in("technician"))
    assert "Nothing is measured yet" in page
    assert BUTTON not in page


def test_what_cannot_be_known_is_said(cast, signed_in):
    strong = recorded.true_kiln(cast.kiln, holding_fraction=0.15)
    recorded.finished(kiln=cast.kiln, glass=cast.glass, model=strong)
    page = page_of(cast, signed_in("technician"))
    assert "50.0 % at most " in page
    assert "kept up with every ramp" in page


def test_firings_that_are_left_out_are_said(cast, signed_in):
    for week in range(3):
        recorded.finished(
            kiln=cast.kiln, glass=cast.glass, starts_at=NOW + 7 * week * recorded.DAY
        )
    ajar = recorded.true_kiln(cast.kiln, cooling_time_constant_s=3 * 3600.0)
    recorded.finished(
        kiln=cast.kiln, glass=cast.glass, starts_at=NOW + 21 * recorded.DAY, model=ajar
    )
    wrong = recorded.finished(
        kiln=cast.kiln, glass=cast.glass, starts_at=NOW + 28 * recorded.DAY
    )
    wrong.readings.update(temperature_c=4000)
    page = page_of(cast, signed_in("technician"))
    assert "3 firings, " in page
    assert "1 firing left out: the kiln cooled unlike" in page
    assert "1 firing left out: what was recorded is no kiln's" in page


@pytest.mark.parametrize("role", ["maker", "helper"])
def test_whoever_does_not_manage_kilns_only_reads(cast, signed_in, role):
    recorded.finished(kiln=cast.kiln, glass=cast.glass)
    page = page_of(cast, signed_in(role))
    assert "1 firing, " in page
    assert BUTTON not in page


def test_the_button_sets_the_kiln_and_goes(cast, signed_in):
    recorded.finished(kiln=cast.kiln, glass=cast.glass)
    browser = signed_in("technician")
    answer = browser.post(address("kiln_use_measured", cast.kiln.pk), follow=True)
    assert answer.status_code == 200
    page = text_of(answer)
    assert "is set to the measured values" in page
    assert BUTTON not in page
    cast.kiln.refresh_from_db()
    assert cast.kiln.cooling_time_constant_s == pytest.approx(
        recorded.TRUE_COOLING_S, rel=0.01
    )


def test_a_refusal_is_shown_and_changes_nothing(cast, signed_in):
    answer = signed_in("technician").post(address("kiln_use_measured", cast.kiln.pk))
    assert answer.status_code == 409
    assert "Nothing is measured yet" in text_of(answer)
    cast.kiln.refresh_from_db()
    assert cast.kiln.cooling_time_constant_s == 6 * 3600


def test_looking_does_not_set(cast, signed_in):
    answer = signed_in().get(address("kiln_use_measured", cast.kiln.pk))
    assert answer.status_code == 405


def test_doors(client, signed_in, strangers, cast):
    assert_doors(
        client=client,
        signed_in=signed_in,
        strangers=strangers,
        url=address("kiln_use_measured", cast.kiln.pk),
        roles=("owner", "technician"),
        post=True,
    )


def test_queries_do_not_grow_with_readings(
    cast, signed_in, django_assert_max_num_queries
):
    browser = signed_in()
    recorded.finished(kiln=cast.kiln, glass=cast.glass)
    with django_assert_max_num_queries(99) as first:
        page_of(cast, browser)
    recorded.finished(
        kiln=cast.kiln, glass=cast.glass, starts_at=NOW + 7 * recorded.DAY
    )
    with django_assert_max_num_queries(len(first)):
        page_of(cast, browser)
