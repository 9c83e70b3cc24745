"""Schedules: computed from the measured height, stored in versions, fitted to a kiln."""

import pytest

from firing.models import Schedule
from firing.physics.schedule import PhysicsProblem
from firing.schedules.selectors.schedules import programme_of, versions_of
from firing.schedules.services import schedules
from studio.errors import Refused
from studio.models import Kiln
from studio.services import pieces
from studio.units import celsius_difference_to_fahrenheit, celsius_to_fahrenheit
from tests import make
from tests.cast import NOW
from tests.firing import build


@pytest.fixture
def piece(cast):
    return build.stacked(studio=cast.studio, glass=cast.glass, layer_count=9)


def test_the_schedule_is_kept_segment_by_segment(cast, piece):
    made = build.schedule(piece=piece, kiln=cast.kiln)
    labels = [row.label for row in made.segments.all()]
    assert labels == [
        "bubble squeeze",
        "full fuse",
        "anneal soak",
        "cooling 1",
        "cooling 2",
        "final cooling",
    ]
    assert made.version == 1
    assert made.thickness_mm == 27
    assert programme_of(made).peak_c == pytest.approx(816, abs=1)


def test_the_next_thicker_row_of_27_mm_is_38(cast, piece):
    basis = build.schedule(piece=piece, kiln=cast.kiln).basis
    assert basis["rule_thickness_mm"] == pytest.approx(38)
    assert basis["anneal_soak_s"] == 6 * 3600
    assert basis["cooling_1_c_per_h"] == 6.7
    assert "annealing table" in basis["source"]


def test_the_exact_rule_uses_the_measured_height(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass, layer_count=9)
    pieces.check_stack(
        piece=piece,
        layers_counted=9,
        measured_height_mm=29.5,
        is_order_right=True,
        by=None,
        at=NOW,
    )
    made = build.schedule(piece=piece, kiln=cast.kiln, rule="exact")
    assert made.thickness_mm == 29.5
    # 15 °C/h times (25.4 / 29.5)²: the rule in glass-making words, by hand.
    assert made.basis["cooling_1_c_per_h"] == pytest.approx(11.12, abs=0.01)


def test_a_fahrenheit_controller_gets_whole_degrees(cast, piece):
    for row in build.schedule(piece=piece, kiln=cast.kiln).segments.all():
        shown = celsius_to_fahrenheit(row.target_c)
        assert shown == pytest.approx(round(shown), abs=1e-6)
        if row.rate_c_per_h is not None:
            rate = celsius_difference_to_fahrenheit(row.rate_c_per_h)
            assert rate == pytest.approx(round(rate), abs=1e-6)


def test_each_computation_is_a_version(cast, piece):
    first = build.schedule(piece=piece, kiln=cast.kiln)
    second = build.schedule(piece=piece, kiln=cast.kiln, rule="exact")
    assert (first.name, first.version) == (second.name, 1)
    assert second.version == 2


def test_a_piece_that_is_not_stacked_gets_none(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    with pytest.raises(Refused, match="check the stack"):
        build.schedule(piece=piece, kiln=cast.kiln)


def test_a_kiln_too_low_says_what_is_needed(cast, piece):
    low = make.kiln(studio=cast.studio, inner_height_mm=100, name="Low")
    with pytest.raises(Refused, match=r"Low cannot take .*high inside.*needs"):
        build.schedule(piece=piece, kiln=low)


def test_a_shelf_too_small_for_the_dams_is_refused(cast, piece):
    # 300 x 200 with 50 mm of dam on each side needs 400 x 300.
    small = make.kiln(studio=cast.studio, shelf_width_mm=399, shelf_depth_mm=399)
    with pytest.raises(Refused, match="with its dams"):
        build.schedule(piece=piece, kiln=small)
    turned = make.kiln(studio=cast.studio, shelf_width_mm=300, shelf_depth_mm=400)
    build.schedule(piece=piece, kiln=turned)


def test_a_kiln_too_cold_is_refused_in_the_studios_unit(cast, piece):
    cold = make.kiln(studio=cast.studio, max_temperature_c=700)
    with pytest.raises(Refused, match="needs 150"):
        build.schedule(piece=piece, kiln=cold)


def test_too_few_segments_say_so(cast, piece):
    short = make.kiln(studio=cast.studio, controller_segments=5)
    with pytest.raises(PhysicsProblem, match="6 segments"):
        build.schedule(piece=piece, kiln=short)
    assert not Schedule.owned.for_studio(cast.studio).exists()


def test_a_tack_fuse_may_be_chosen(cast, piece):
    made = build.schedule(piece=piece, kiln=cast.kiln, kind="tack fuse")
    assert made.kind == "tack fuse"
    with pytest.raises(Refused, match="re-anneal now"):
        build.schedule(piece=piece, kiln=cast.kiln, kind="re-anneal")
    with pytest.raises(Refused, match="now: stacked"):
        build.schedule(piece=piece, kiln=cast.kiln, kind="nonsense")


def test_a_strangers_kiln_is_a_fault(cast, strangers, piece):
    with pytest.raises(ValueError, match="another studio"):
        build.schedule(piece=piece, kiln=strangers.kiln)


def enamel(cast):
    return schedules.compute_enamel_schedule(
        studio=cast.studio, glass=cast.glass, kiln=cast.kiln, by=None, at=NOW
    )


def test_the_enamel_schedule_serves_while_nothing_changed(cast):
    first = enamel(cast)
    assert enamel(cast) == first
    # About 1100 °F: common practice, no source.
    assert celsius_to_fahrenheit(programme_of(first).peak_c) == pytest.approx(
        1100, abs=2
    )


def test_the_enamel_schedule_is_made_anew_for_a_changed_kiln(cast):
    first = enamel(cast)
    Kiln.owned.for_studio(cast.studio).update(opening_temperature_c=80)
    cast.kiln.refresh_from_db()
    second = enamel(cast)
    assert (second.version, second.name) == (2, first.name)


def test_thick_sheets_get_no_enamel_schedule(cast):
    cast.glass.sheet_thickness_mm = 10
    cast.glass.save()
    with pytest.raises(PhysicsProblem, match="single sheet"):
        enamel(cast)


def test_a_controller_that_takes_tenths_of_a_degree_cools_no_slower_than_it_must(cast):
    stack = build.stacked(studio=cast.studio, glass=cast.glass, layer_count=20)
    rates = {}
    for step in (1.0, 0.1):
        kiln = make.kiln(studio=cast.studio, controller_unit="C", rate_step=step)
        made = build.schedule(piece=stack, kiln=kiln)
        rates[step] = made.segments.get(label="cooling 1").rate_c_per_h
    # The 75 mm row asks for 1.7 °C/h; whole degrees leave only the next slower one.
    assert rates == {1.0: 1.0, 0.1: pytest.approx(1.7)}


def test_two_pieces_of_one_title_count_their_own_versions(cast, piece):
    other = build.stacked(studio=cast.studio, glass=cast.glass, title=piece.title)
    build.schedule(piece=piece, kiln=cast.kiln)
    made = build.schedule(piece=other, kiln=cast.kiln)
    assert made.version == 1
    assert list(versions_of(made)) == [made]


def test_an_enamel_schedule_goes_on_serving_when_its_kiln_is_renamed(cast):
    Kiln.owned.for_studio(cast.studio).update(opening_temperature_c=70)
    cast.kiln.refresh_from_db()
    enamel(cast)
    Kiln.owned.for_studio(cast.studio).update(name="Renamed", opening_temperature_c=80)
    cast.kiln.refresh_from_db()
    second = enamel(cast)
    assert second.version == 2
    assert enamel(cast) == second
