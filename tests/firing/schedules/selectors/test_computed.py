"""The computed schedule as a proposal, and the numbers kept with it."""

from dataclasses import replace

import pytest

from firing.models import ScheduleRule
from firing.physics.designing.design import Rule
from firing.physics.designing.reasons import Reason
from firing.physics.limits import Limits
from firing.physics.schedule import PhysicsProblem
from firing.schedules.selectors.computed import (
    BOTH_FACES,
    SOAK_RULES,
    TOP_ONLY,
    basis_of,
    proposal_of,
)
from firing.schedules.selectors.designs import DesignAsked, propose
from firing.schedules.selectors.physics_slabs import slab_of
from firing.schedules.selectors.programmes import run_in
from firing.schedules.selectors.stress import designed, request_of
from tests import plain


def asked(**changes):
    facts = {
        "kind": "full fuse",
        "thickness_mm": 27.0,
        "glass": plain.glass(),
        "kiln": plain.kiln(),
        "is_dammed": True,
    }
    return facts | changes


@pytest.fixture(scope="module")
def design():
    return designed(request_of(**asked()))


def basis(design, **changes):
    return basis_of(design, **({"thickness_mm": 27.0, "is_dammed": True} | changes))


def test_what_is_typed_is_what_was_designed_and_the_kiln_follows_it(design):
    found = proposal_of(design, **asked())
    assert found.rule == ScheduleRule.COMPUTED
    assert found.asked == found.fitted == design.proposed.schedule
    kiln, slab = plain.kiln(), slab_of(plain.glass(), 27.0)
    assert found.run.ready_s == run_in(kiln, found.fitted, slab).ready_s
    assert found.row.thickness_m == 0.038, (
        "the first row of the table at least as thick"
    )
    assert found.basis == basis(design)


def test_what_the_model_refuses_is_no_proposal():
    with pytest.raises(PhysicsProblem):
        propose(DesignAsked(**asked(thickness_mm=900.0)), ScheduleRule.COMPUTED)


def test_the_basis_names_the_soak_and_its_reason(design):
    found = basis(design)
    (soak,) = (s for s in design.proposed.schedule.segments if s.label == "anneal soak")
    assert (found["anneal_soak_c"], found["anneal_soak_s"]) == (
        soak.target_c,
        soak.hold_s,
    )
    assert found["soak_rule"] == SOAK_RULES[Reason.TABLE_ROW]


def test_the_basis_names_how_long_it_is_held_at_its_hottest(design):
    found = basis(design)
    squeeze, fuse = design.proposed.schedule.segments[:2]
    assert (squeeze.label, fuse.label) == ("bubble squeeze", "full fuse")
    assert found["process_c"] == pytest.approx(fuse.target_c, abs=0.5)
    assert found["process_hold_s"] == fuse.hold_s < squeeze.hold_s


def test_bands_are_kept_from_low_to_high_in_mpa(design):
    found = basis(design)
    for name in ("residual_mpa", "cooling_mpa", "heating_mpa", "retardation_nm_cm"):
        assert found[name] == sorted(found[name])
        assert all(value >= 0 for value in found[name])
    assert found["residual_mpa"][2] == pytest.approx(
        design.proposed.band.residual_tension_pa.high / 1e6, abs=1e-4
    )
    assert found["residual_limit_mpa"] == 0.5
    assert (found["temporary_limit_mpa"], found["warning_mpa"]) == (3.0, 7.0)


def test_the_tables_own_time_is_kept_for_comparison(design):
    (table,) = (one for one in design.compared if one.rule is Rule.TABLE_ROW)
    assert basis(design)["table_row_kiln_s"] == round(table.kiln_s)


def test_the_faces_are_those_of_the_stack(design):
    assert basis(design)["faces"] == TOP_ONLY
    assert basis(design, is_dammed=False)["faces"] == BOTH_FACES


def test_what_does_not_apply_is_left_out(design):
    usual = basis(design)
    assert "kiln_offset_k" not in usual
    assert "heating_limit_mpa" not in usual
    request = replace(
        design.request,
        kiln_offset_k=4.0,
        heating_limit_pa=2.2e6,
        process=None,
        limits=Limits(temporary_pa=4e6, residual_pa=0.4e6, warning_pa=8e6),
    )
    found = basis(replace(design, request=request))
    assert (found["kiln_offset_k"], found["heating_limit_mpa"]) == (4.0, 2.2)
    assert "process_c" not in found
    assert "process_hold_s" not in found
    assert (found["temporary_limit_mpa"], found["residual_limit_mpa"]) == (4.0, 0.4)
