"""Designed schedules: within the limits, never faster than the table, on the grid."""

from dataclasses import replace

import numpy as np
import pytest

from firing.physics.designing.annealing_table import row_at_or_above
from firing.physics.designing.band import Uncertainty
from firing.physics.designing.design import Rule, design
from firing.physics.designing.programmes import ProcessHold
from firing.physics.designing.reasons import Reason, SegmentPart
from firing.physics.designing.request import (
    Controller,
    DesignRequest,
    Kind,
    first_soak_c,
)
from firing.physics.glass.families import (
    BOROSILICATE,
    FLOAT,
    FLOAT_TEMPERING,
    NINETY,
    NINETY_SIX,
)
from firing.physics.glass.properties import GlassProblem, glass_from_data_sheet
from firing.physics.kiln.model import KilnModel
from firing.physics.limits import Limits
from firing.physics.schedule import PhysicsProblem
from firing.physics.slab.input import LooseStack, SlabFiring
from firing.physics.slab.simulation import simulate
from firing.physics.slab.surroundings import (
    BOTH_FACES_FILM,
    TOP_ONLY,
    TOP_ONLY_FILM,
    Bending,
)
from studio.units import (
    TemperatureUnit,
    celsius_difference_to_fahrenheit,
    celsius_to_fahrenheit,
)
from tests.patience import in_form

HOUR_S = 3600.0
THICKNESSES_MM = (12, 19, 25, 27, 38, 50, 60, 75, 100, 125, 150)


def wanted(thickness_mm=60.0, **changes):
    values = {"glass": NINETY, "thickness_m": thickness_mm / 1000}
    return DesignRequest(**(values | changes))


@pytest.fixture(scope="module")
def by_thickness():
    return {mm: design(wanted(mm)) for mm in THICKNESSES_MM}


@pytest.fixture(scope="module")
def sixty(by_thickness):
    return by_thickness[60]


def rates(schedule):
    """Return the rates of the stages after the soak, by label."""
    return {
        segment.label: segment.rate_c_per_h
        for segment in schedule.segments
        if "cooling" in segment.label
    }


def soak_of_schedule(schedule):
    return next(s for s in schedule.segments if s.label == "anneal soak")


@pytest.mark.parametrize("mm", THICKNESSES_MM)
class TestEveryThickness:
    def test_band_within_limits(self, by_thickness, mm):
        band = by_thickness[mm].proposed.band
        assert by_thickness[mm].proposed.is_within
        assert band.residual_tension_pa.high <= 0.5e6
        assert max(band.heating_pa.high, band.cooling_pa.high) <= 3e6
        for one in (band.residual_tension_pa, band.cooling_pa, band.heating_pa):
            assert one.low <= one.middle <= one.high

    def test_never_faster_than_the_row(self, by_thickness, mm):
        found, row = by_thickness[mm], row_at_or_above(mm / 1000)
        for label, rate in rates(found.proposed.schedule).items():
            place = ("cooling 1", "cooling 2", "final cooling").index(label)
            assert rate <= row.rates_c_per_h[place] + 1e-9
        assert soak_of_schedule(found.proposed.schedule).hold_s >= row.soak_s
        table = found.compared[0]
        assert table.rule is Rule.TABLE_ROW
        assert found.proposed.anneal_s >= table.anneal_s - 1

    def test_no_temperature_is_passed_faster_than_in_the_row(self, by_thickness, mm):
        found = by_thickness[mm]
        ours, rows = (
            one.schedule.segments for one in (found.proposed, found.compared[0])
        )
        soak_c = first_soak_c(found.request)
        for glass_c in np.arange(found.proposed.opens_c + 2.5, soak_c, 5.0):
            assert rate_at(ours, glass_c) <= rate_at(rows, glass_c) + 1e-9, glass_c

    def test_slab_is_even_after_the_soak(self, by_thickness, mm):
        found = by_thickness[mm]
        soak = soak_of_schedule(found.proposed.schedule)
        assert soak.hold_s >= found.evening.through_s
        assert soak.hold_s >= found.evening.across_s
        trace = found.proposed.band.middle.trace
        place = found.proposed.schedule.segments.index(soak)
        ends_s = found.proposed.curve.segment_ends_s[place]
        at = int(np.searchsorted(trace.time_s, ends_s)) - 1
        nodes = (trace.bottom_c[at], trace.middle_c[at], trace.top_c[at])
        assert max(nodes) - min(nodes) < 2.0

    def test_the_stack_becomes_one(self, by_thickness, mm):
        cases = by_thickness[mm].proposed.band.cases
        assert all(result.joined_at_s is not None for _, result in cases)

    def test_reasons_name_segments_that_are_there(self, by_thickness, mm):
        found = by_thickness[mm]
        labels = {segment.label for segment in found.proposed.schedule.segments}
        assert {why.segment for why in found.why} <= labels
        cooling = {
            why.segment
            for why in found.why
            if why.part is SegmentPart.RATE and "cooling" in why.segment
        }
        assert cooling == {label for label in labels if "cooling" in label}


@pytest.mark.parametrize("boundary", [TOP_ONLY_FILM, BOTH_FACES_FILM])
def test_thicker_is_never_faster(boundary):
    """From cold to the opening temperature; a slower drop may shorten what follows."""
    kiln_s = [
        design(wanted(mm, boundary=boundary)).proposed.kiln_s
        for mm in range(12, 151, in_form(46, 6))
    ]
    assert kiln_s == sorted(kiln_s)


def test_the_same_again(sixty):
    again = design(wanted(60))
    assert again.proposed.schedule == sixty.proposed.schedule
    assert again.proposed.kiln_s == sixty.proposed.kiln_s


def test_common_practice_at_60_mm(sixty):
    """Common practice, no source: four of five days of cooling are the anneal."""
    habit = next(c for c in sixty.compared if c.rule is Rule.NEXT_ROW)
    assert habit.row_m == 0.075
    assert 3.5 < habit.anneal_s / HOUR_S / 24 < 4.5
    assert 0.24e6 < habit.band.residual_tension_pa.middle < 0.30e6


def test_common_practice_at_27_mm(by_thickness):
    """Common practice, no source: about two days for the whole cycle."""
    found = by_thickness[27]
    habit = next(c for c in found.compared if c.rule is Rule.NEXT_ROW)
    assert habit.row_m == 0.038
    assert 1.25 < habit.kiln_s / HOUR_S / 24 < 2.25
    # The glass itself, which is out later than the kiln's air.
    assert 1.5 < habit.ready_s.middle / HOUR_S / 24 < 2.25


def test_physics_alone_is_faster_but_within():
    alone, table = design(wanted(60, floor=None)), design(wanted(60))
    assert alone.proposed.is_within
    assert alone.proposed.kiln_s < table.proposed.kiln_s
    # The saving is small for thick slabs: hours, not days.
    assert alone.proposed.kiln_s > 0.7 * table.proposed.kiln_s
    reasons = {why.reason for why in alone.why}
    assert Reason.TABLE_ROW not in reasons
    assert {Reason.RESIDUAL, Reason.TEMPORARY} <= reasons


def test_comparison(sixty):
    assert [c.rule for c in sixty.compared] == [
        Rule.TABLE_ROW,
        Rule.NEXT_ROW,
        Rule.EXACT,
    ]
    table, habit, exact = sixty.compared
    assert exact.kiln_s < table.kiln_s < habit.kiln_s
    stress = [c.band.residual_tension_pa.middle for c in (habit, table, exact)]
    assert stress == sorted(stress)


def test_no_row_is_thicker_than_the_last(by_thickness):
    assert [c.rule for c in by_thickness[150].compared] == [Rule.TABLE_ROW, Rule.EXACT]


def test_the_proposed_schedule_computed_anew(sixty):
    """The stated band holds what the engine says of the stated curve, faces exact too."""
    curve, band = sixty.proposed.curve, sixty.proposed.band
    for boundary in (TOP_ONLY, TOP_ONLY_FILM):
        result = simulate(
            SlabFiring(
                glass=NINETY,
                thickness_m=0.06,
                boundary=boundary,
                time_s=curve.time_s,
                kiln_c=curve.temperature_c,
                stack=LooseStack(sheet_m=0.003, joins_c=670.0),
            )
        )
        for one, value in (
            (band.residual_tension_pa, result.residual_max_tension_pa),
            (band.cooling_pa, result.cooling.tension_pa),
        ):
            assert one.low * 0.995 <= value <= one.high * 1.005


def test_a_design_ends_when_its_glass_may_be_taken_out(sixty):
    proposed = sixty.proposed
    assert proposed.opens_c <= sixty.request.opening_c
    assert proposed.kiln_s > proposed.curve.segment_ends_s[-1] + HOUR_S, (
        "the glass lags"
    )
    assert proposed.ready_s.middle <= proposed.kiln_s
    # The slowest case gets there in the room.
    assert proposed.ready_s.high < proposed.kiln_s + HOUR_S
    out_s = proposed.kiln_s
    assert any(one.cooling.at_s > out_s for _, one in proposed.band.cases)


def rate_at(segments, glass_c):
    """Return how fast a temperature is passed on the way down [°C/h]; 0 in the soak."""
    place = next(n for n, one in enumerate(segments) if one.label == "anneal soak")
    if glass_c > segments[place].target_c:
        return 0.0
    return next(
        one.rate_c_per_h for one in segments[place + 1 :] if one.target_c < glass_c
    )


@pytest.mark.parametrize("unit", list(TemperatureUnit))
@pytest.mark.parametrize("step", [0.1, 1.0])
def test_controller_grid(unit, step):
    controller = Controller(unit=unit, rate_step=step, slowest_c_per_h=0.1)
    found = design(wanted(38, controller=controller))
    assert found.proposed.is_within
    for segment in found.proposed.schedule.segments:
        target, rate = segment.target_c, segment.rate_c_per_h
        if unit is TemperatureUnit.F:
            target = celsius_to_fahrenheit(target)
            rate = None if rate is None else celsius_difference_to_fahrenheit(rate)
        assert target == pytest.approx(round(target), abs=1e-6)
        assert segment.hold_s % 60 == 0
        if rate is not None:
            assert rate / step == pytest.approx(round(rate / step), abs=1e-6)


def test_a_controller_that_cannot():
    few = Controller(segments_available=4)
    with pytest.raises(PhysicsProblem, match="segments"):
        design(wanted(25, controller=few))
    coarse = Controller(slowest_c_per_h=3.0)
    with pytest.raises(PhysicsProblem, match=r"slowest|stays within"):
        design(wanted(100, controller=coarse))


def test_tighter_limits_take_longer():
    loose = design(wanted(50))
    tight = design(wanted(50, limits=Limits(residual_pa=0.35e6)))
    assert tight.proposed.is_within
    assert tight.proposed.band.residual_tension_pa.high <= 0.35e6
    assert tight.proposed.kiln_s > loose.proposed.kiln_s


def test_less_doubt_never_takes_longer():
    sure = Uncertainty(annealing_point_k=2, conductivity_share=0.02, thermocouple_k=1)
    one, other = design(wanted(50, uncertainty=sure)), design(wanted(50))
    assert one.proposed.kiln_s <= other.proposed.kiln_s


@pytest.mark.parametrize("glass", [NINETY_SIX, FLOAT, BOROSILICATE])
@pytest.mark.parametrize("mm", [19, 60])
def test_other_families(glass, mm):
    found = design(wanted(mm, glass=glass))
    assert found.proposed.is_within
    assert found.soak_c >= glass.soak_c


def test_both_faces_and_held_flat():
    both = design(wanted(50, boundary=BOTH_FACES_FILM))
    assert both.proposed.is_within
    flat = design(wanted(19, bending=Bending.FLAT))
    free = design(wanted(19))
    assert flat.proposed.is_within
    # Held flat on one face is four times worse in temporary stress.
    assert flat.proposed.kiln_s > free.proposed.kiln_s


@pytest.mark.parametrize(
    "kind", [Kind.TACK_FUSE, Kind.SLUMP, Kind.RE_ANNEAL, Kind.TEST]
)
def test_kinds(kind):
    found = design(wanted(30, kind=kind))
    assert found.proposed.is_within
    first = found.proposed.schedule.segments[0]
    if kind is Kind.TACK_FUSE:
        assert first.label == "bubble squeeze"
        return
    # One slab is limited by the tension in its middle, close under the limit.
    assert found.why[0].reason is Reason.HEATING_TENSION
    assert 2.7e6 < found.proposed.band.heating_pa.high <= 3e6
    thicker = design(wanted(50, kind=kind)).proposed.schedule.segments[0]
    assert thicker.rate_c_per_h < first.rate_c_per_h


def test_re_anneal_relaxes_first():
    found = design(wanted(50, kind=Kind.RE_ANNEAL))
    hottest_c = found.proposed.schedule.peak_c
    assert NINETY.annealing_point_c + 10 < hottest_c < NINETY.softening_point_c - 50


def test_a_slab_in_tension_is_heated_more_gently():
    calm = design(wanted(50, kind=Kind.RE_ANNEAL, heating_limit_pa=1e6)).proposed
    assert calm.band.heating_pa.high <= 1e6
    usual = design(wanted(50, kind=Kind.RE_ANNEAL)).proposed
    assert calm.schedule.segments[1:] == usual.schedule.segments[1:]


def test_enamel():
    found = design(wanted(3, kind=Kind.ENAMEL))
    assert found.proposed.is_within
    assert [s.label for s in found.proposed.schedule.segments] == [
        "enamel",
        "anneal soak",
        "final cooling",
    ]
    with pytest.raises(PhysicsProblem, match="single sheet"):
        wanted(8, kind=Kind.ENAMEL)


def test_a_soak_that_must_be_kept():
    found = design(wanted(60, soak_c=482.0))
    assert soak_of_schedule(found.proposed.schedule).target_c == 482
    assert found.proposed.is_within


def test_a_known_kiln():
    kiln = KilnModel(
        power_w=12000,
        max_temperature_c=930,
        ambient_c=20,
        holding_fraction=0.5,
        cooling_time_constant_s=7 * HOUR_S,
    )
    known, unknown = design(wanted(25, kiln=kiln)), design(wanted(25))
    assert known.proposed.is_within
    # A real kiln takes its time over the last hundred degrees.
    assert known.proposed.kiln_s > unknown.proposed.kiln_s
    weak = replace(kiln, max_temperature_c=790)
    with pytest.raises(PhysicsProblem, match="Choose another kiln"):
        design(wanted(25, kiln=weak))


def test_a_thick_stack_is_held_until_its_far_side_has_fused(by_thickness):
    fuse = next(
        s
        for s in by_thickness[150].proposed.schedule.segments
        if s.label == "full fuse"
    )
    assert fuse.hold_s > 4 * HOUR_S
    why = next(w for w in by_thickness[150].why if w.reason is Reason.WARM_THROUGH)
    assert why.segment == "full fuse"


def test_no_soak_is_guessed():
    with pytest.raises(GlassProblem, match="no anneal soak"):
        wanted(glass=FLOAT_TEMPERING)


def test_a_studios_own_glass():
    own = glass_from_data_sheet(
        NINETY, name="ours", annealing_point_c=525.0, soak_c=500.0
    )
    assert design(wanted(38, glass=own)).proposed.is_within


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"thickness_mm": 160}, "150 mm"),
        ({"thickness_mm": 0}, "150 mm"),
        ({"thickness_mm": float("nan")}, "150 mm"),
        ({"opening_c": 490.0}, "rise in this order"),
        ({"soak_c": 900.0}, "rise in this order"),
        ({"start_c": 600.0}, "start from cold"),
        ({"process": ProcessHold(temperature_c=510, hold_s=600)}, "lose its stress"),
    ],
)
def test_refused(changes, words):
    with pytest.raises(PhysicsProblem, match=words):
        wanted(**changes)


def test_limits_that_cannot_be_kept():
    tight = Limits(temporary_pa=2e5, residual_pa=1e4, warning_pa=3e5)
    with pytest.raises(PhysicsProblem, match="Allow more"):
        design(wanted(50, limits=tight, controller=Controller(slowest_c_per_h=2.0)))


class Enough(Exception):
    pass


def test_a_search_tells_how_far_it_is_and_can_be_ended():
    heard = []
    told = design(wanted(60), heard.append)
    assert heard == list(range(told.bands_computed))

    def stop(tries):
        raise Enough

    with pytest.raises(Enough):
        design(wanted(60), stop)
