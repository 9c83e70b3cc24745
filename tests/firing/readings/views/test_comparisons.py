"""A kiln's display compared with another thermometer, and the offset that follows."""

from datetime import date

import pytest
from django.utils import timezone

from firing.models import KilnComparison
from firing.readings.services.kilns import use_measured_values
from firing.schedules.selectors.programmes import propose_enamel
from firing.schedules.selectors.stress import request_of
from studio.errors import Refused
from studio.models import HistoryEntry
from tests.firing.pages import address, assert_doors, text_of

pytestmark = pytest.mark.django_db
MANAGERS = ("owner", "technician")


def typed(**changes):
    return {
        "compared_on": "2026-03-02",
        "compared_by": "thermocouple",
        "shown_c": "482 °C",
        "measured_c": "490 °C",
        "error_k": "2 °C",
        "note": "front left",
    } | changes


def compare(browser, kiln, **changes):
    return browser.post(address("comparison_new", kiln.pk), typed(**changes))


def test_a_comparison_is_kept_and_changes_nothing_by_itself(cast, signed_in):
    browser = signed_in()
    assert compare(browser, cast.kiln).status_code == 302
    cast.kiln.refresh_from_db()
    assert cast.kiln.offset_k == 0
    page = text_of(browser.get(address("kiln_detail", cast.kiln.pk)))
    assert "front left" in page
    assert "Thermocouple offset" in page
    assert "Use the measured values" in page


def test_the_measured_offset_is_used_where_schedules_are_designed(cast, signed_in):
    browser = signed_in()
    compare(browser, cast.kiln)
    compare(browser, cast.kiln, measured_c="488 °C", compared_on="2026-03-05")
    assert browser.post(address("kiln_use_measured", cast.kiln.pk)).status_code == 302
    kiln = cast.kiln
    kiln.refresh_from_db()
    assert kiln.offset_k == pytest.approx(7.0)
    assert kiln.offset_uncertainty_k == pytest.approx(2.0)
    assert kiln.offset_found_on == date(2026, 3, 5)
    assert kiln.offset_how == "2 comparisons"
    request = request_of(
        kind="re-anneal",
        thickness_mm=20,
        glass=cast.glass,
        kiln=kiln,
        is_dammed=False,
    )
    assert request.kiln_offset_k == kiln.offset_k
    assert request.uncertainty.thermocouple_k == kiln.offset_uncertainty_k
    told = HistoryEntry.owned.for_studio(cast.studio).latest("pk").what
    assert "measured from 2 comparisons" in told
    page = text_of(browser.get(address("kiln_detail", kiln.pk)))
    assert "too little" in page
    assert "2 comparisons, 5 Mar 2026" in page
    with pytest.raises(Refused, match="already"):
        use_measured_values(kiln=kiln, by=None, at=timezone.now())


def test_fahrenheit_is_a_difference(cast, signed_in):
    """9 °F is 5 °C, not -13: a difference has no zero point."""
    compare(
        signed_in(), cast.kiln, shown_c="900 °F", measured_c="909 °F", error_k="9 °F"
    )
    kept = KilnComparison.owned.for_studio(cast.studio).get()
    assert kept.measured_c - kept.shown_c == pytest.approx(5.0)
    assert kept.error_k == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"shown_c": "90 °C", "measured_c": "91 °C"}, "Compare above"),
        ({"measured_c": "700 °C"}, "too far from what the kiln showed"),
        ({"error_k": "0"}, "Write 0.9 °F to 72 °F"),
        ({"error_k": "-3 °C"}, "Write 0.9 °F to 72 °F"),
        ({"compared_on": "2199-01-01"}, "to come"),
        ({"shown_c": "warm"}, "Write a temperature"),
        ({"compared_by": "feeling"}, "valid choice"),
    ],
)
def test_nonsense_is_refused_and_stays_typed(cast, signed_in, changes, said):
    answer = compare(signed_in(), cast.kiln, **changes)
    assert answer.status_code == 422
    assert said in text_of(answer)
    assert "front left" in answer.content.decode()
    assert not KilnComparison.across_studios.exists()


def test_a_comparison_can_be_removed(cast, signed_in):
    browser = signed_in()
    compare(browser, cast.kiln)
    kept = KilnComparison.owned.for_studio(cast.studio).get()
    answer = browser.post(address("comparison_remove", kept.pk))
    assert answer["Location"].startswith(address("kiln_detail", cast.kiln.pk))
    assert not KilnComparison.across_studios.exists()
    with pytest.raises(Refused, match="Nothing is measured yet"):
        use_measured_values(kiln=cast.kiln, by=None, at=timezone.now())


def test_a_comparison_is_corrected_in_place(cast, signed_in):
    browser = signed_in()
    compare(browser, cast.kiln)
    kept = KilnComparison.owned.for_studio(cast.studio).get()
    url = address("comparison_edit", kept.pk)
    form = browser.get(url).context["form"]
    as_typed = {name: form[name].value() for name in form.fields}
    browser.post(url, as_typed)
    before = HistoryEntry.owned.for_studio(cast.studio).count()
    browser.post(url, as_typed | {"measured_c": "488 °C"})
    corrected = KilnComparison.owned.for_studio(cast.studio).get()
    assert (corrected.pk, corrected.shown_c, corrected.measured_c) == (
        kept.pk,
        482,
        488,
    )
    assert corrected.note == "front left"
    assert HistoryEntry.owned.for_studio(cast.studio).count() == before + 1
    wrong = browser.post(url, as_typed | {"measured_c": "hot"})
    assert wrong.status_code == 422
    assert "Write a temperature" in text_of(wrong)


def test_rules_of_thumb_are_typed_lower_on_a_hotter_kiln(cast):
    """The glass gets its soak; the sheet and the schedule say what was done."""
    as_shown = propose_enamel(glass=cast.glass, kiln=cast.kiln)
    cast.kiln.offset_k = 10.0
    corrected = propose_enamel(glass=cast.glass, kiln=cast.kiln)
    pairs = zip(as_shown.fitted.segments, corrected.fitted.segments, strict=True)
    moved = [one.target_c - other.target_c for one, other in pairs]
    assert moved == [pytest.approx(10, abs=0.6)] * (len(moved) - 1) + [0.0]
    assert corrected.basis["kiln_offset_k"] == 10.0
    assert "kiln_offset_k" not in as_shown.basis


def test_the_kiln_s_form_takes_a_difference(cast, signed_in):
    browser = signed_in()
    url = f"/settings/kilns/{cast.kiln.pk}/"
    form = browser.get(url).context["form"]
    values = {
        name: form[name].value()
        for name in form.fields
        if form[name].value() is not None
    }
    values |= {"offset_k": "-9 °F", "offset_uncertainty_k": "3.6 °F"}
    assert browser.post(url, values).status_code == 302
    cast.kiln.refresh_from_db()
    assert cast.kiln.offset_k == pytest.approx(-5.0)
    assert cast.kiln.offset_uncertainty_k == pytest.approx(2.0)
    for too_much in ("109 °F", "-109 °F"):
        refused = browser.post(url, values | {"offset_k": too_much})
        assert refused.status_code == 422
        assert "is broken" in text_of(refused)


def test_doors(client, signed_in, strangers, cast):
    common = {"client": client, "signed_in": signed_in, "strangers": strangers}
    assert_doors(url=address("comparison_new", cast.kiln.pk), roles=MANAGERS, **common)
    compare(signed_in(), cast.kiln)
    kept = KilnComparison.owned.for_studio(cast.studio).get()
    assert_doors(url=address("comparison_edit", kept.pk), roles=MANAGERS, **common)
    assert_doors(
        url=address("comparison_remove", kept.pk), roles=MANAGERS, post=True, **common
    )
