"""Judgements kept in the old form say the same as today's."""

import pytest

from firing.models import Judgement
from firing.readings.selectors.re_anneals import option_of, programme_of_option
from firing.readings.selectors.verdict_faults import alarms_of, cuts_of
from firing.readings.selectors.verdict_words import verdict_line, words_of
from firing.schedules.selectors.verdict_numbers import mpa, numbers_of
from tests import make
from tests.firing import build
from tests.firing.old_verdict import OLD, old_judgement


@pytest.fixture
def old(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    firing = build.fuse(piece=piece, kiln=cast.kiln)
    return old_judgement(firing)


def test_an_old_judgement_is_written_out(cast, old):
    words = words_of(old, viewer=cast.viewer(), now=make.NOW)
    assert words.title == "Cooled too fast between 897 °F and 691 °F"
    assert (words.headline.range, words.headline.limit) == (
        "0.75 to 1.54 MPa",
        "limit 0.5",
    )
    line, _ = verdict_line(old, cast.viewer())
    assert line == f"{words.title}: 0.75 to 1.54 MPa, limit 0.5"
    assert [band.range for band in words.bands] == [
        "0.75 to 1.54 MPa",
        "1.17 to 1.76 MPa",
        "0.03 to 0.06 MPa",
    ]
    assert words.bands[0].also == "20 to 41 nm/cm, seen edge-on"
    assert words.faults[0] == (
        "Power cut today 22:08 to 23:30: the kiln fell from 897 °F to 636 °F."
    )
    assert "kiln at 752 °F" in dict(words.facts)["Highest stress, cooling"]
    anneal, leave = words.options
    assert anneal.outcome == (
        "Leaves 0.15 to 0.24 MPa, limit 0.5. Highest on the way 1.8 to 3.0 MPa, limit 3."
    )
    assert [row.label for row in anneal.rows][:2] == ["heat-up", "anneal soak"]
    assert leave.title == "Use it as it is"


def test_old_times_are_counted_from_the_first_reading(cast, old):
    numbers = numbers_of(old)
    assert (numbers["starts_s"], numbers["lasts_s"]) == (600, 166_200)
    assert numbers["faults"][0]["start_s"] == OLD["faults"][0]["start_s"] - 600
    assert alarms_of(old, cast.viewer()) == []
    (cut,) = cuts_of(old)
    assert cut.from_s == OLD["faults"][0]["start_s"]
    assert numbers["peaks"]["cooling"]["at_s"] == OLD["cooling_peak"]["at_s"] - 600
    assert mpa(numbers["residual_max_tension_pa"]) == OLD["residual_mpa"]


def test_the_re_anneal_of_an_old_judgement_can_be_typed(old):
    option = option_of(old, "re-anneal")
    programme = programme_of_option(option, start_c=20)
    assert [one.label for one in programme.segments][-1] == "final cooling"
    assert option_of(old, "go on") is None


def test_what_was_not_judged_is_read_as_it_is(old):
    old.verdict = Judgement.NOT_JUDGED
    old.numbers = {"problem": "Too short.", "readings": 1}
    assert numbers_of(old) == old.numbers
