"""How even a kiln is: entered on its page, and counted in designs and verdicts."""

import pytest

from firing.models import KilnEvenness
from firing.schedules.selectors.designs import DesignAsked, shown_design
from firing.schedules.selectors.evenness import across_of
from firing.schedules.selectors.limits import JUDGE_ALL_JOB
from firing.schedules.selectors.stress import request_of
from studio.models import Job, JobState
from studio.viewer import Viewer
from tests.firing.pages import address, assert_doors, text_of
from tests.worker import run_waiting_jobs

pytestmark = pytest.mark.django_db


def typed(**changes):
    return {
        "measured_on": "2026-03-02",
        "middle_c": "482 °C",
        "edge_c": "486 °C",
        "reach_mm": "200 mm",
        "error_k": "0.5 °C",
        "falls_c_per_h": "",
        "note": "door side",
    } | changes


def measure(browser, kiln, **changes):
    return browser.post(address("evenness_new", kiln.pk), typed(**changes))


def request_for(cast, **changes):
    values = {
        "kind": "full fuse",
        "thickness_mm": 20,
        "glass": cast.glass,
        "kiln": cast.kiln,
        "is_dammed": True,
        "longest_mm": 400.0,
    }
    return request_of(**(values | changes))


def test_what_was_measured_counts_in_designs(cast, signed_in):
    assert request_for(cast).across.edge_k == (-0.5, 0.5), "room for a little"
    browser = signed_in()
    assert measure(browser, cast.kiln).status_code == 302
    page = text_of(browser.get(address("kiln_detail", cast.kiln.pk)))
    assert "door side" in page
    across = request_for(cast).across
    assert across.is_counted
    assert sum(across.edge_k) / 2 == pytest.approx(4, rel=0.1)


def test_a_verdict_counts_only_what_was_measured(cast, signed_in):
    def across():
        return across_of(cast.kiln, cast.glass, 400.0, keeps_room=False)

    assert not across().is_counted
    measure(signed_in(), cast.kiln)
    assert across().is_counted


def test_single_sheets_and_slabs_of_no_known_size_are_left_out(cast):
    assert request_for(cast, longest_mm=None).across is None
    sheet = request_for(cast, kind="enamel", thickness_mm=3)
    assert sheet.across is None


def test_a_design_says_what_the_kiln_does_and_how_wide_a_slab_may_be(cast, signed_in):
    asked = DesignAsked(
        kind="full fuse",
        thickness_mm=20,
        glass=cast.glass,
        kiln=cast.kiln,
        is_dammed=True,
        longest_mm=400.0,
    )
    viewer = Viewer.of_studio(cast.studio)
    assert "Counted: a kiln 0.9 °F hotter or colder" in " ".join(
        shown_design(asked, viewer=viewer).across
    )
    measure(signed_in(), cast.kiln)
    shown = shown_design(asked, viewer=viewer)
    said = " ".join(shown.across)
    assert "hotter at the slab's edge" in said
    assert "No schedule makes up for that" in said
    assert "in long" in said, "how wide a slab may be"
    assert "Over" in shown.outcomes[0].verdict


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"middle_c": "90 °C"}, "Measure between"),
        ({"edge_c": "700 °C"}, "Read both again"),
        ({"error_k": "0"}, "Write 0.4 °F to 36 °F"),
        ({"reach_mm": "1 mm"}, "Write"),
        ({"falls_c_per_h": "-5"}, "Write"),
        ({"falls_c_per_h": "5000"}, "Write 0 to"),
        ({"measured_on": "2199-01-01"}, "to come"),
        ({"middle_c": "warm"}, "Write a temperature"),
    ],
)
def test_nonsense_is_refused_and_stays_typed(cast, signed_in, changes, said):
    answer = measure(signed_in(), cast.kiln, **changes)
    assert answer.status_code == 422
    assert said in text_of(answer)
    assert "door side" in answer.content.decode()
    assert not KilnEvenness.across_studios.exists()


def test_a_measurement_can_be_removed(cast, signed_in):
    browser = signed_in()
    measure(browser, cast.kiln)
    kept = KilnEvenness.owned.for_studio(cast.studio).get()
    answer = browser.post(address("evenness_remove", kept.pk))
    assert answer["Location"].startswith(address("kiln_detail", cast.kiln.pk))
    assert not KilnEvenness.across_studios.exists()


def test_a_measurement_is_corrected_in_place_and_verdicts_are_worked_out_anew(
    cast, signed_in
):
    browser = signed_in()
    measure(browser, cast.kiln)
    kept = KilnEvenness.owned.for_studio(cast.studio).get()
    run_waiting_jobs()
    url = address("evenness_edit", kept.pk)
    form = browser.get(url).context["form"]
    as_typed = {name: form[name].value() for name in form.fields}
    browser.post(url, as_typed)
    assert not Job.across_studios.filter(state=JobState.WAITING).exists()
    browser.post(url, as_typed | {"note": "window side", "error_k": "2 °C"})
    corrected = KilnEvenness.owned.for_studio(cast.studio).get()
    assert (corrected.pk, corrected.note, corrected.error_k) == (
        kept.pk,
        "window side",
        2,
    )
    assert corrected.middle_c == pytest.approx(kept.middle_c)
    assert Job.across_studios.filter(
        state=JobState.WAITING, name=JUDGE_ALL_JOB
    ).exists()


def test_doors(client, signed_in, strangers, cast):
    common = {"client": client, "signed_in": signed_in, "strangers": strangers}
    managers = ("owner", "technician")
    assert_doors(url=address("evenness_new", cast.kiln.pk), roles=managers, **common)
    measure(signed_in(), cast.kiln)
    kept = KilnEvenness.owned.for_studio(cast.studio).get()
    assert_doors(url=address("evenness_edit", kept.pk), roles=managers, **common)
    assert_doors(
        url=address("evenness_remove", kept.pk), roles=managers, post=True, **common
    )
