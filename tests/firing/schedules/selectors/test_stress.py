"""Designs as a studio asks for them: its own glass, its kiln, its limits, in words."""

from dataclasses import replace

import numpy as np
import pytest

from firing.physics.designing.annealing_table import row_at_or_above
from firing.physics.designing.design import Rule
from firing.physics.limits import Limits
from firing.physics.schedule import PhysicsProblem
from firing.schedules.selectors import stress, stress_words, what_if
from firing.schedules.selectors.designs import DesignAsked, shown_design
from firing.schedules.selectors.stress import cache_key, designed, request_of
from tests import make

HOUR_S = 3600.0


@pytest.fixture
def asked(cast):
    """Return a function that makes a request for 27 mm, unless told otherwise."""

    def ask(**changes):
        values = {
            "kind": "full fuse",
            "thickness_mm": 27.0,
            "glass": cast.glass,
            "kiln": cast.kiln,
            "is_dammed": True,
        }
        return request_of(**(values | changes))

    return ask


def test_a_glass_has_its_own_points_and_its_familys_rest(cast):
    cast.glass.annealing_point_c = 532
    cast.glass.anneal_soak_c = 500
    glass = stress.physics_glass(cast.glass)
    assert (glass.annealing_point_c, glass.soak_c, glass.strain_point_c) == (
        532,
        500,
        486,
    )
    assert glass.youngs_modulus_pa == 70e9, "as the family"
    assert glass.provenance["annealing_point_c"] == "the maker's data sheet"


def test_an_annealing_point_that_was_not_entered_may_be_any_that_is_quoted(cast):
    """516 and 532 °C are quoted for the family, and each is known to 10 K."""
    typed = stress.uncertainty_of(cast.glass, cast.kiln)
    assert (typed.annealing_point_k, typed.annealing_point_up_k) == (10, 10)
    cast.glass.annealing_point_c = None
    either = stress.uncertainty_of(cast.glass, cast.kiln)
    assert (either.annealing_point_k, either.annealing_point_up_k) == (10, 26)
    assert either.thermocouple_k == cast.kiln.offset_uncertainty_k
    cast.glass.family = "96-expansion"
    assert stress.uncertainty_of(cast.glass, cast.kiln) == typed


@pytest.mark.parametrize("thickness_mm", [6.0, 12.0, 60.0, 100.0])
def test_not_knowing_the_annealing_point_costs_less_than_a_quarter(
    cast, asked, thickness_mm
):
    cast.kiln.slowest_rate_c_per_h = 0.1
    known = designed(asked(thickness_mm=thickness_mm))
    cast.glass.annealing_point_c = None
    either = designed(asked(thickness_mm=thickness_mm))
    assert either.proposed.is_within
    assert (
        known.proposed.kiln_s <= either.proposed.kiln_s < 1.25 * known.proposed.kiln_s
    )
    points = [point_c for point_c, _ in either.proposed.band.by_annealing_point]
    assert points == [506, 516, 542]


def test_a_glass_that_contradicts_itself_is_refused_in_words(cast):
    cast.glass.anneal_soak_c = 330
    with pytest.raises(PhysicsProblem, match="a soak lies from 100 K below"):
        stress.physics_glass(cast.glass)


def test_dams_leave_only_the_top(asked):
    assert asked().boundary.bottom.is_insulated
    assert not asked(is_dammed=False).boundary.bottom.is_insulated


@pytest.mark.parametrize("thickness_mm", [12.0, 27.0, 60.0])
def test_what_is_proposed_is_within_and_never_faster_than_the_row(asked, thickness_mm):
    design = designed(asked(thickness_mm=thickness_mm))
    band, limits = design.proposed.band, design.request.limits
    assert band.residual_tension_pa.high <= limits.residual_pa
    assert max(band.cooling_pa.high, band.heating_pa.high) <= limits.temporary_pa
    row = row_at_or_above(thickness_mm / 1000)
    segments = {s.label: s for s in design.proposed.schedule.segments}
    assert segments["anneal soak"].hold_s >= row.soak_s
    assert segments["final cooling"].rate_c_per_h <= row.rates_c_per_h.final
    table = next(one for one in design.compared if one.rule is Rule.TABLE_ROW)
    assert design.proposed.anneal_s >= table.anneal_s - 60


def test_a_design_is_found_again_and_every_input_counts(cast, asked, monkeypatch):
    request = asked(thickness_mm=15.0)
    first = designed(request)
    monkeypatch.setattr(stress, "design", lambda _: pytest.fail("computed again"))
    again = designed(asked(thickness_mm=15.0))
    assert again.proposed.schedule == first.proposed.schedule
    assert again.request.glass.provenance == request.glass.provenance
    slow = make.kiln(studio=cast.studio, cooling_time_constant_s=40000)
    others = [
        asked(thickness_mm=15.1),
        asked(thickness_mm=15.0, is_dammed=False),
        asked(thickness_mm=15.0, kind="tack fuse"),
        asked(thickness_mm=15.0, kiln=slow),
        asked(thickness_mm=15.0, limits=Limits(temporary_pa=2e6)),
        replace(request, opening_c=60.0),
    ]
    assert len({cache_key(one) for one in (request, *others)}) == len(others) + 1


def test_words_say_within_and_over_and_by_how_much(asked):
    limits = Limits(temporary_pa=3e6, residual_pa=0.5e6)
    band = designed(asked()).proposed.band.residual_tension_pa
    within = stress_words.band_words("x", band, 0.5e6, limits)
    assert within.is_within
    assert within.verdict == "within the limit of 0.5 MPa"
    tight = replace(band, high=0.501e6)
    over = stress_words.band_words("x", tight, 0.5e6, limits)
    assert over.verdict == "over the limit of 0.5 MPa by 0.01 MPa", "rounded up"
    assert over.mark.start + over.mark.width > over.mark.limit
    cracked = stress_words.band_words("x", replace(band, high=8e6), 3e6, limits)
    assert "may crack" in cracked.verdict


def test_every_reason_is_a_sentence_in_the_readers_units(cast, strangers, asked):
    for kind in ("full fuse", "tack fuse", "re-anneal", "slump"):
        design = designed(asked(kind=kind, thickness_mm=40.0))
        for viewer in (cast.viewer(), strangers.viewer()):
            reasons = stress_words.reasons_of(design, viewer)
            assert reasons
            text = " ".join(why.sentence for why in reasons)
            wrong = "°C" if viewer.temperature_unit == "F" else "°F"
            assert wrong not in text
            assert "Reason." not in text


def test_the_gain_is_told_without_flattery(cast, asked):
    asked_for = DesignAsked(
        kind="full fuse",
        thickness_mm=60.0,
        glass=cast.glass,
        kiln=cast.kiln,
        is_dammed=True,
    )
    shown = shown_design(asked_for, viewer=cast.viewer())
    text = " ".join(shown.gain)
    assert "shorter than the published table" not in text
    assert "shorter than the next row" in text
    assert "never shorter or faster than the published table" in text
    assert shown.outcomes[0].rule == "design"


def test_no_limit_can_be_below_what_any_schedule_reaches(asked):
    with pytest.raises(PhysicsProblem, match="Allow more|limit"):
        designed(asked(thickness_mm=60.0, limits=Limits(residual_pa=1e4)))


def test_a_controller_that_cannot_cool_as_slowly_as_the_table_is_named(asked):
    with pytest.raises(PhysicsProblem, match="slowest that this controller takes"):
        designed(asked(thickness_mm=100.0))


def test_thicker_glass_keeps_more_stress(cast, asked):
    design = designed(asked(thickness_mm=50.0))
    worse = what_if.thicker(design, cast.viewer())
    as_planned = design.proposed.band.residual_tension_pa.middle
    assert worse.result.residual_tension_pa.middle > as_planned


def test_a_cut_cools_as_the_kiln_does_and_comes_back(cast, asked):
    design = designed(asked(thickness_mm=50.0))
    kiln, curve = design.request.kiln, design.proposed.curve
    at_s = curve.segment_ends_s[2] + HOUR_S
    cut = what_if.cut_curve(curve, kiln, at_s=at_s)

    def at(one, seconds):
        return float(np.interp(seconds, one.time_s, one.temperature_c))

    was_c = at(curve, at_s)
    # Newton's law of cooling, by hand.
    tau_s, room_c = kiln.cooling_time_constant_s, kiln.ambient_c
    low_c = room_c + (was_c - room_c) * 2.718281828 ** (-what_if.CUT_S / tau_s)
    assert at(cut, at_s + what_if.CUT_S) == pytest.approx(low_c, abs=1)
    late_s = cut.lasts_s - curve.lasts_s
    assert late_s > what_if.CUT_S
    assert at(cut, at_s + late_s) == pytest.approx(was_c, abs=1)
    worse = what_if.power_cut(design, cast.viewer(), at_s=at_s)
    hot = max(worse.result.heating_pa.high, worse.result.cooling_pa.high)
    assert hot > 2 * design.proposed.band.cooling_pa.high
    assert "3 h" in worse.title
    with pytest.raises(PhysicsProblem, match="before its end"):
        what_if.power_cut(design, cast.viewer(), at_s=curve.lasts_s + 1)


def test_an_offset_is_computed_both_ways(cast, asked):
    design = designed(asked(thickness_mm=50.0))
    hot, cold = (
        what_if.thermocouple_off(design, cast.viewer(), by_k=by) for by in (5.0, -5.0)
    )
    assert hot.curve.temperature_c.max() - cold.curve.temperature_c.max() == (
        pytest.approx(10, abs=0.01)
    )
    assert hot.title == "The kiln is 9 °F hotter than shown"
    assert hot.result.residual_tension_pa.middle != pytest.approx(
        cold.result.residual_tension_pa.middle, rel=1e-3
    )


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (0.1, 0.4, "less than 1 nm/cm"),
        (0.4, 0.6, "0 to 1 nm/cm"),
        (3.6, 4.4, "4 nm/cm"),
        (4.2, 9.1, "4 to 9 nm/cm"),
    ],
)
def test_retardation_is_said_no_finer_than_it_is_seen(low, high, words):
    assert stress_words.nanometres(low, high) == words


def test_thick_glass_is_opened_colder_and_sheets_are_not(cast, asked):
    viewer = cast.viewer()
    thick = designed(asked(thickness_mm=60.0))
    (words,) = stress_words.opening_words(thick, viewer)
    usual = viewer.temperature(cast.kiln.opening_temperature_c)
    assert f"not at its usual {usual}: glass this thick is still hotter" in words
    assert words in stress_words.gain_words(thick, viewer, {})
    sheet = designed(asked(kind="enamel", thickness_mm=3.0))
    assert stress_words.opening_words(sheet, viewer) == []
