"""The list of firings, searched and filtered."""

import datetime as dt

import pytest
from django.utils import timezone

from firing.firings.services.running import start_firing
from firing.models import Judgement
from firing.physics.judging.verdict import Verdict
from tests.firing import build
from tests.firing.old_verdict import OLD
from tests.firing.pages import address, text_of


@pytest.fixture
def two(cast):
    """Two firings: Flood of this moment, and Ebb in a later year."""
    first = build.enamel(
        kiln=cast.kiln, glass=cast.glass, starts_at=timezone.now(), title="Flood"
    )
    later = timezone.now() + dt.timedelta(days=400)
    second = build.enamel(
        kiln=cast.kiln, glass=cast.glass, starts_at=later, title="Ebb"
    )
    return first, second


def judge(firing, verdict, at):
    Judgement.across_studios.create(
        studio=firing.studio,
        firing=firing,
        inputs_sha256=f"{verdict:x<64}"[:64],
        made_at=at,
        verdict=verdict,
        numbers=OLD,
    )


def listed(browser, **asked):
    return text_of(browser.get(address("firing_list"), asked))


@pytest.mark.parametrize("running", [False, True])
def test_a_firing_is_found_by_a_part_of_its_pieces_title(signed_in, two, running):
    if running:
        start_firing(firing=two[0], by=None, at=timezone.now())
    page = listed(signed_in("helper"), q="floo")
    assert "Flood" in page
    assert "Ebb" not in page


def test_firings_are_filtered_by_kiln_kind_and_year(cast, signed_in, two):
    browser = signed_in("helper")
    year = two[1].booking.starts_at.year
    only = listed(browser, year=year)
    assert "Ebb" in only
    assert "Flood" not in only
    both = listed(browser, kiln=cast.kiln.pk, kind="enamel")
    assert "Ebb" in both
    assert "Flood" in both
    assert "Nothing found" in listed(browser, kind="slump")


def test_the_last_verdict_says_whether_a_firing_has_a_warning(signed_in, two):
    now = timezone.now()
    browser = signed_in("helper")
    assert "Nothing found" in listed(browser, verdict="problem")
    judge(two[0], Verdict.TENSION_OVER, now)
    page = listed(browser, verdict="problem")
    assert "Flood" in page
    assert "Ebb" not in page
    judge(two[0], Verdict.WITHIN, now + dt.timedelta(hours=1))
    assert "Nothing found" in listed(browser, verdict="problem")


@pytest.mark.parametrize(
    "asked", [{"kiln": "x"}, {"kind": "nonsense"}, {"year": "9" * 40}, {"verdict": "?"}]
)
def test_a_filter_that_does_not_exist_narrows_nothing(signed_in, two, asked):
    page = listed(signed_in("helper"), **asked)
    assert "Ebb" in page
    assert "Flood" in page


@pytest.mark.parametrize("text", ["z" * 1000, "\x00<b>%_'", "'; --"])
def test_nonsense_finds_nothing_and_breaks_nothing(signed_in, two, text):
    assert "Nothing found" in listed(signed_in("helper"), q=text)
