"""The computed schedule of a stack or slab as a proposal, with the numbers behind it.

The design itself comes from `stress`; `designs` proposes it, a service stores it.
"""

from typing import Any

from firing.models import ScheduleRule
from firing.physics.designing.annealing_table import row_at_or_above
from firing.physics.designing.band import Band
from firing.physics.designing.design import Design, Rule
from firing.physics.designing.reasons import Reason, SegmentPart
from firing.schedules.selectors.physics_slabs import slab_of
from firing.schedules.selectors.programmes import (
    BOTH_FACES,
    HEAT_UP_SOURCE,
    TOP_ONLY,
    Proposal,
    load_s_of,
    opening_basis,
    run_in,
)
from firing.schedules.selectors.verdict_numbers import across_numbers
from studio.models import Glass, Kiln

COMPUTED_SOURCE = (
    "Heat through the thickness, and stress in glass that relaxes, by this program's "
    "model of a plate; its equations, numbers and sources are on the page “How this was "
    f"computed”. {HEAT_UP_SOURCE}"
)
SOAK_RULES = {
    Reason.EVEN_THROUGH: "the slab needs to even out through its thickness",
    Reason.EVEN_ACROSS: "the slab needs to even out across",
    Reason.TABLE_ROW: "the table's row",
}


def proposal_of(
    design: Design,
    *,
    kind: str,
    thickness_mm: float,
    glass: Glass,
    kiln: Kiln,
    is_dammed: bool,
) -> Proposal:
    """Return a design as a proposal for the glass and the kiln it was made for.

    Raises
    ------
    PhysicsProblem
        When the kiln cannot do it.
    """
    fitted = design.proposed.schedule
    return Proposal(
        kind=kind,
        rule=ScheduleRule.COMPUTED,
        kiln=kiln,
        glass=glass,
        thickness_mm=thickness_mm,
        asked=fitted,
        fitted=fitted,
        run=run_in(
            kiln,
            fitted,
            slab_of(
                glass,
                thickness_mm,
                is_dammed=is_dammed,
                temporary_pa=design.request.limits.temporary_pa,
            ),
        ),
        row=row_at_or_above(thickness_mm / 1000),
        load_s=load_s_of(kind),
        basis=basis_of(design, thickness_mm=thickness_mm, is_dammed=is_dammed),
    )


def basis_of(design: Design, *, thickness_mm: float, is_dammed: bool) -> dict[str, Any]:
    """Return the numbers behind a design, as they are stored with its schedule."""
    request, one = design.request, design.proposed
    soak = next(s for s in one.schedule.segments if s.label == "anneal soak")
    table = next(c for c in design.compared if c.rule is Rule.TABLE_ROW)
    sure = request.uncertainty
    basis: dict[str, Any] = {
        "thickness_mm": thickness_mm,
        "anneal_soak_c": soak.target_c,
        "anneal_soak_s": soak.hold_s,
        "soak_rule": next(
            SOAK_RULES.get(why.reason, why.reason.value)
            for why in design.why
            if why.segment == "anneal soak" and why.part is SegmentPart.HOLD
        ),
        **opening_basis(one.curve.temperature_c, one.opens_c),
        "faces": TOP_ONLY if is_dammed else BOTH_FACES,
        "temporary_limit_mpa": request.limits.temporary_pa / 1e6,
        "residual_limit_mpa": request.limits.residual_pa / 1e6,
        "warning_mpa": request.limits.warning_pa / 1e6,
        "residual_mpa": _mpa(one.band.residual_tension_pa),
        "cooling_mpa": _mpa(one.band.cooling_pa),
        "heating_mpa": _mpa(one.band.heating_pa),
        "retardation_nm_cm": sorted(
            abs(round(value, 2))
            for value in (
                one.band.retardation_nm_cm.low,
                one.band.retardation_nm_cm.middle,
                one.band.retardation_nm_cm.high,
            )
        ),
        "annealing_point_off_k": sure.annealing_point_k,
        "annealing_point_above_k": sure.annealing_point_up_k,
        "conductivity_off_share": sure.conductivity_share,
        "thermocouple_off_k": sure.thermocouple_k,
        "kiln_s": round(one.kiln_s),
        "anneal_s": round(one.anneal_s),
        "table_row_kiln_s": round(table.kiln_s),
        "source": COMPUTED_SOURCE,
    }
    if request.across is not None:
        basis["across"] = across_numbers(request.across, one.band.across)
    if request.kiln_offset_k:
        basis["kiln_offset_k"] = request.kiln_offset_k
    if request.heating_limit_pa is not None:
        basis["heating_limit_mpa"] = request.heating_limit_pa / 1e6
    if request.process is not None:
        basis["process_c"] = request.process.temperature_c
        # The bubble squeeze on the way up is often held for longer.
        hottest = max(one.schedule.segments, key=lambda s: s.target_c)
        basis["process_hold_s"] = hottest.hold_s
    return basis


def _mpa(band: Band) -> list[float]:
    return [round(pa / 1e6, 4) for pa in (band.low, band.middle, band.high)]
