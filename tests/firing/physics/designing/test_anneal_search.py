"""The fastest anneal within the limits: its stages, its bounds, what it refuses."""

from dataclasses import replace

import pytest

from firing.physics.designing.anneal_search import (
    Anneal,
    AnnealProblem,
    curve_of,
    search_anneal,
)
from firing.physics.designing.annealing_table import CoolingRates
from firing.physics.designing.band import Uncertainty
from firing.physics.glass.families import NINETY
from firing.physics.limits import Limits
from firing.physics.schedule import PhysicsProblem
from firing.physics.slab.surroundings import TOP_ONLY_FILM, Bending
from tests.firing.physics.slabs import HOUR_S, row_of

# Without doubt a band is few firings: what is searched is the same.
SURE = Uncertainty(annealing_point_k=0, conductivity_share=0, thermocouple_k=0)
ANNEAL = Anneal(
    soak_c=482.0,
    soak_s=2 * HOUR_S,
    drop_c_per_h=None,
    rates_c_per_h=CoolingRates(50, 90, 300),
)


def stages(anneal=ANNEAL, *, opening_c=50.0, **offset):
    return [
        (one.label, one.rate_c_per_h, one.target_c)
        for one in anneal.segments(opening_c=opening_c, **offset)
    ]


def test_an_anneal_is_a_soak_and_the_three_stages_of_the_table():
    assert stages() == [
        ("anneal soak", None, 482),
        ("cooling 1", 50, 427),
        ("cooling 2", 90, 371),
        ("final cooling", 300, 50),
    ]
    soak, *rest = ANNEAL.segments(opening_c=50.0)
    assert soak.hold_s == 2 * HOUR_S
    assert [one.hold_s for one in rest] == [0, 0, 0]


@pytest.mark.parametrize(
    ("opening_c", "targets"),
    [
        (371, [482, 427, 371]),
        (400, [482, 427, 400]),
        (427, [482, 427]),
        (450, [482, 450]),
    ],
)
def test_it_ends_with_the_stage_that_gets_to_the_opening_temperature(
    opening_c, targets
):
    assert [target for *_, target in stages(opening_c=opening_c)] == targets


def test_deeper_stages_end_lower_and_the_soak_stays():
    deeper = replace(ANNEAL, deeper_k=20.0, drop_c_per_h=90.0)
    assert stages(deeper)[:3] == [
        ("anneal soak", 90, 482),
        ("cooling 1", 50, 407),
        ("cooling 2", 90, 351),
    ]


def test_what_is_typed_is_lower_in_a_kiln_hotter_than_it_shows():
    typed = stages(kiln_offset_k=10.0)
    assert [round(target, 6) for *_, target in typed[:2]] == [472, 417]
    assert typed[2][2] == pytest.approx(361.5, abs=0.6), "a little less of it below 400"
    assert typed[3][2] == 50, "the opening temperature is a shown one"


def problem(mm=12, *, floor=None, **changes):
    values = {
        "glass": NINETY,
        "thickness_m": mm / 1000,
        "boundary": TOP_ONLY_FILM,
        "bending": Bending.FREE,
        "uncertainty": SURE,
        "limits": Limits(),
        "process_c": 815.0,
        "soak_c": 482.0,
        "may_raise_soak": False,
        "soak_s": HOUR_S,
        "opening_c": 50.0,
        "kiln": None,
        "slowest_c_per_h": 1.0,
        "fastest_c_per_h": 999.0,
        "step_c_per_h": 1.0,
        "floor": None if floor is None else row_of(floor),
    }
    return AnnealProblem(**(values | changes))


@pytest.fixture(scope="module")
def free():
    """The search of 50 mm with nothing but the limits."""
    return search_anneal(problem(50))


def test_what_is_found_is_within_the_limits_and_close_to_one_of_them(free):
    limits = Limits()
    stays, hot = free.band.residual_tension_pa.high, free.band.cooling_pa.high
    assert stays <= limits.residual_pa
    assert hot <= limits.temporary_pa
    assert max(stays / limits.residual_pa, hot / limits.temporary_pa) > 0.85
    assert free.lasts_s == curve_of(problem(50), free.anneal).lasts_s


def test_rates_are_on_the_controllers_grid(free):
    assert all(rate == int(rate) for rate in free.anneal.rates_c_per_h)
    coarse = search_anneal(problem(25, step_c_per_h=5.0))
    assert all(rate % 5 == 0 for rate in coarse.anneal.rates_c_per_h)


def test_with_a_floor_nothing_is_faster_or_shorter_than_its_row(free):
    row = row_of(50)
    found = search_anneal(problem(50, floor=50, step_c_per_h=0.1))
    for rate, most in zip(found.anneal.rates_c_per_h, row.rates_c_per_h, strict=True):
        assert rate <= most + 1e-9
    assert found.anneal.soak_s == row.soak_s
    assert found.lasts_s > free.lasts_s


def test_a_longer_soak_than_the_rows_is_kept():
    found = search_anneal(problem(floor=12, soak_s=9 * HOUR_S))
    assert found.anneal.soak_s == 9 * HOUR_S


def test_tighter_limits_take_longer(free):
    tight = Limits(residual_pa=0.25e6, temporary_pa=1.5e6)
    assert search_anneal(problem(50, limits=tight)).lasts_s > free.lasts_s


def test_a_hotter_soak_is_only_tried_where_it_may_be_and_never_costs_time(free):
    assert free.anneal.soak_c == 482
    raised = search_anneal(problem(50, may_raise_soak=True))
    assert raised.lasts_s <= free.lasts_s
    assert 482 <= raised.anneal.soak_c <= NINETY.annealing_point_c
    assert raised.tries > free.tries


def test_no_soak_is_above_the_annealing_point_though_it_would_be_sooner():
    """6 K above it, this one would be over 56 minutes earlier."""
    at_c = NINETY.annealing_point_c
    plain, raised = (
        search_anneal(problem(50, soak_c=at_c, may_raise_soak=may))
        for may in (False, True)
    )
    assert raised.anneal == plain.anneal


def test_every_band_is_told_before_it_is_computed_and_may_end_the_search(free):
    told = []
    again = search_anneal(problem(50), told.append)
    assert told == list(range(free.tries))
    assert again.anneal == free.anneal

    def enough(count):
        if count == 2:
            raise TimeoutError

    with pytest.raises(TimeoutError):
        search_anneal(problem(50), enough)


def test_a_controller_faster_than_the_row_is_refused():
    # The row of 150 mm begins at 0.42 °C/h.
    with pytest.raises(PhysicsProblem, match=r"0\.42 °C/h"):
        search_anneal(problem(150, floor=150))


def test_limits_that_no_rate_keeps_are_refused():
    hopeless = Limits(residual_pa=1e4, temporary_pa=1e4)
    with pytest.raises(PhysicsProblem, match="12 mm"):
        search_anneal(problem(limits=hopeless, slowest_c_per_h=100.0))
