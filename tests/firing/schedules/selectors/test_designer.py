"""What the designer's page computes: where a power cut goes, and what it sums up."""

import pytest

from firing.physics.refusals import Cause
from firing.physics.schedule import PhysicsProblem
from firing.schedules.selectors import what_if
from firing.schedules.selectors.designer import DesignerInput, glasses, tried
from tests import make, plain


def asked(**changes):
    facts = {
        "kind": "full fuse",
        "thickness_mm": 27.0,
        "glass": plain.glass(),
        "kiln": plain.kiln(),
        "is_dammed": True,
    }
    return DesignerInput(**(facts | changes))


def found(**changes):
    return tried(asked(**changes), viewer=plain.viewer())


@pytest.fixture(scope="module")
def plainly():
    """A design with nothing going wrong."""
    return found()


def test_a_design_without_what_ifs_says_only_its_outcome(plainly):
    assert (plainly.what_ifs, plainly.problems) == ((), ())
    assert plainly.said == plainly.shown.outcomes[0].said
    assert "alone" not in plainly.every
    assert plainly.cut is None
    assert plainly.cut_words == "No power cut yet"
    assert plainly.chosen is plainly.shown.design.proposed


@pytest.mark.parametrize("rule", ["row", "next row", "exact", "alone"])
def test_what_goes_wrong_is_computed_for_the_chosen_schedule(plainly, rule):
    other = found(rule=rule, is_alone=rule == "alone", is_thicker=True)
    assert other.chosen is not plainly.chosen
    assert other.what_ifs[0].curve is other.chosen.curve
    assert other.said.startswith(other.outcome.title)


def test_a_cut_is_proposed_in_the_hour_after_the_soak(plainly):
    curve = plainly.shown.design.proposed.curve
    labels = [one.label for one in plainly.chosen.schedule.segments]
    ends_h = curve.segment_ends_s[labels.index("anneal soak")] / 3600
    assert 0 < plainly.cut_at_h - ends_h <= 1
    assert plainly.cut_at_h == int(plainly.cut_at_h)


@pytest.mark.parametrize(
    ("at_h", "expected"),
    [(0.0, 0.0), (-4.0, 0.0), (14.1, 14.0), (14.13, 14.25), (14.5, 14.5)],
)
def test_a_cut_is_placed_at_a_quarter_of_an_hour_of_the_firing(at_h, expected):
    assert found(cut_at_h=at_h).cut_at_h == expected


def test_a_cut_is_put_before_the_end(plainly):
    kiln_h = plainly.shown.design.proposed.kiln_s / 3600
    assert plainly.last_h == int(kiln_h) - 1
    assert found(cut_at_h=1e4).cut_at_h == plainly.last_h


def test_every_what_if_is_told_and_the_summary_names_what_is_over(plainly):
    all_of_it = found(is_thicker=True, is_off=True, is_cut=True, cut_h=6.0, cut_at_h=20)
    titles = [one.title for one in all_of_it.what_ifs]
    assert titles == [
        "10 % thicker than measured",
        "The kiln is 5 °C hotter than shown",
        "The kiln is 5 °C colder than shown",
        "Power off for 6 h, 20 h after the start",
    ]
    assert all_of_it.cut is all_of_it.what_ifs[-1]
    assert all_of_it.cut_words == all_of_it.cut.at_words
    over = [one.title for one in all_of_it.what_ifs if not one.is_within]
    assert over, "a cut of six hours in the anneal is over a limit"
    end = f" Over a limit if: {'; '.join(over)}."
    assert all_of_it.said == plainly.said + end


def test_what_cannot_be_computed_is_counted_and_not_hidden(plainly, monkeypatch):
    def refused(*_):
        raise PhysicsProblem(Cause.NO_WAY_BACK)

    monkeypatch.setattr(what_if, "thicker", refused)
    both = found(is_thicker=True, is_off=True)
    assert len(both.what_ifs) == 2
    assert len(both.problems) == 1
    assert both.said.endswith("1 could not be computed.")


def test_only_glasses_in_use_here_can_be_designed_for(cast, strangers):
    first = make.glass(studio=cast.studio, name="Alder")
    gone = make.glass(studio=cast.studio, name="Birch")
    gone.is_retired = True
    gone.save()
    assert list(glasses(cast.studio)) == [first, cast.glass]
