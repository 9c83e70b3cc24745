"""Whole programmes by rule of thumb: heat-up, process, and the table's anneal after it.

Every constant of a heat-up here is common practice, without a source: a first guess to
be tried on a maquette. What stress a programme gives is not computed here.
"""

from dataclasses import dataclass
from itertools import pairwise

from firing.physics.designing.annealing_table import (
    TABLE_SOAK_C,
    AnnealRow,
    anneal_segments,
    row_at_or_above,
)
from firing.physics.refusals import Cause, celsius, metres
from firing.physics.schedule import PhysicsProblem, Programme, Segment
from studio.units import fahrenheit_to_celsius

MINUTE_S = 60.0
ROOM_C = 20.0

# Common practice, no source: process temperatures of fusing glass.
FULL_FUSE_C = fahrenheit_to_celsius(1500)  # 816 °C
TACK_FUSE_C = 740.0
SLUMP_C = 650.0
ENAMEL_C = fahrenheit_to_celsius(1100)  # 593 °C, single sheets of 3 mm

# Common practice, no source: how long each process is held.
FULL_FUSE_HOLD_S = 15 * MINUTE_S
TACK_FUSE_HOLD_S = 10 * MINUTE_S
SLUMP_HOLD_S = 15 * MINUTE_S
ENAMEL_HOLD_S = 10 * MINUTE_S

# Common practice, no source: a loose stack is heated at 3000/thickness[mm] °C/h, held
# within 40 and 150, up to the squeeze, where it settles and lets its air out.
STACK_RATE_BY_MM = 3000.0
STACK_SLOWEST_C_PER_H = 40.0
STACK_FASTEST_C_PER_H = 150.0
SQUEEZE_C = 640.0
SQUEEZE_HOLD_S = 60 * MINUTE_S
SQUEEZE_HOLD_PER_MM_S = 1 * MINUTE_S

# Common practice, no source: from the squeeze to the process the glass is soft and the
# rate is set by evenness, not by breaking.
PROCESS_RATE_C_PER_H = 150.0

# Common practice, no source: painted single sheets, standing apart on a shelf.
ENAMEL_RATE_C_PER_H = 150.0
ENAMEL_COOLING_RATE_C_PER_H = 80.0
ENAMEL_SOAK_S = 30 * MINUTE_S
SHEET_THICKNESS_LIMIT_M = 0.0065


@dataclass(frozen=True, slots=True, kw_only=True)
class ProcessHold:
    """The hottest part of a programme: its temperature [°C] and hold [s]."""

    temperature_c: float
    hold_s: float


FULL_FUSE = ProcessHold(temperature_c=FULL_FUSE_C, hold_s=FULL_FUSE_HOLD_S)
TACK_FUSE = ProcessHold(temperature_c=TACK_FUSE_C, hold_s=TACK_FUSE_HOLD_S)
SLUMP = ProcessHold(temperature_c=SLUMP_C, hold_s=SLUMP_HOLD_S)
ENAMEL = ProcessHold(temperature_c=ENAMEL_C, hold_s=ENAMEL_HOLD_S)


def stack_heating_rate_c_per_h(thickness_m: float) -> float:
    """Return how fast a loose stack may be heated [°C/h].

    Parameters
    ----------
    thickness_m : float
        Thickness of the whole stack [m].

    References
    ----------
    Common practice, no source: 3000/thickness[mm], between 40 and 150 °C/h.
    """
    rate = STACK_RATE_BY_MM / (thickness_m * 1000)
    return min(max(rate, STACK_SLOWEST_C_PER_H), STACK_FASTEST_C_PER_H)


def full_fuse_schedule(
    thickness_m: float,
    rule: AnnealRow,
    *,
    soak_c: float = TABLE_SOAK_C,
    process: ProcessHold = FULL_FUSE,
    start_c: float = ROOM_C,
    end_c: float,
) -> Programme:
    """Fuse a loose stack into one slab and anneal it.

    Parameters
    ----------
    thickness_m : float
        Thickness of the stack [m].
    rule : AnnealRow
        The anneal, from `annealing_table`.
    soak_c : float
        Anneal soak of the glass [°C].
    process : ProcessHold
        Full fuse temperature and hold.
    start_c, end_c : float
        The kiln at the start, and its opening temperature [°C].

    Returns
    -------
    Schedule
        heat-up, bubble squeeze, full fuse, then `anneal_segments`.

    Raises
    ------
    PhysicsProblem
        If the temperatures are not in the order start, soak, squeeze, process, or the
        rule is for thinner glass than this.

    References
    ----------
    Heat-up: common practice, no source. Anneal: `annealing_table`.
    """
    return _stack_schedule(
        "full fuse",
        thickness_m,
        rule,
        soak_c=soak_c,
        process=process,
        start_c=start_c,
        end_c=end_c,
    )


def tack_fuse_schedule(
    thickness_m: float,
    rule: AnnealRow,
    *,
    soak_c: float = TABLE_SOAK_C,
    process: ProcessHold = TACK_FUSE,
    start_c: float = ROOM_C,
    end_c: float,
) -> Programme:
    """Join sheets that keep their edges, and anneal.

    Uneven tack-fused work needs the rule of a thicker slab; the caller chooses it.

    Parameters
    ----------
    thickness_m : float
        Thickness of the stack at its thickest [m].
    rule, soak_c, process, start_c, end_c
        As for `full_fuse_schedule` [°C].

    Raises
    ------
    PhysicsProblem
        As `full_fuse_schedule`.

    References
    ----------
    Heat-up: common practice, no source. Anneal: `annealing_table`.
    """
    return _stack_schedule(
        "tack fuse",
        thickness_m,
        rule,
        soak_c=soak_c,
        process=process,
        start_c=start_c,
        end_c=end_c,
    )


def slump_schedule(
    thickness_m: float,
    rule: AnnealRow,
    *,
    soak_c: float = TABLE_SOAK_C,
    process: ProcessHold = SLUMP,
    start_c: float = ROOM_C,
    end_c: float,
) -> Programme:
    """Bend one fused slab into a mould, and anneal it.

    Parameters
    ----------
    thickness_m : float
        Thickness of the slab [m].
    rule, soak_c, process, start_c, end_c
        As for `full_fuse_schedule` [°C].

    Raises
    ------
    PhysicsProblem
        As `full_fuse_schedule`.

    References
    ----------
    Process: common practice, no source. Heat-up: see `re_anneal_schedule`.
    """
    _check(rule, thickness_m, start_c, soak_c, process.temperature_c)
    return Programme(
        start_c=start_c,
        segments=(
            _slab_heat_up(rule, soak_c, hold_s=0),
            Segment(
                label="slump",
                rate_c_per_h=min(PROCESS_RATE_C_PER_H, rule.rates_c_per_h.final),
                target_c=process.temperature_c,
                hold_s=process.hold_s,
            ),
            *anneal_segments(rule, soak_c=soak_c, end_c=end_c),
        ),
    )


def re_anneal_schedule(
    thickness_m: float,
    rule: AnnealRow,
    *,
    soak_c: float = TABLE_SOAK_C,
    start_c: float = ROOM_C,
    end_c: float,
) -> Programme:
    """Anneal a fused slab again after its first anneal was broken.

    The slab is heated no faster than the rule lets it cool at the end: cold glass is
    as thick going up as it is coming down.

    Parameters
    ----------
    thickness_m : float
        Thickness of the slab [m].
    rule, soak_c, start_c, end_c
        As for `full_fuse_schedule` [°C].

    Raises
    ------
    PhysicsProblem
        As `full_fuse_schedule`.

    References
    ----------
    Heat-up: common practice, no source. Anneal: `annealing_table`.
    """
    _check(rule, thickness_m, start_c, soak_c)
    soak, *cooling = anneal_segments(rule, soak_c=soak_c, end_c=end_c)
    heating = _slab_heat_up(rule, soak_c, hold_s=soak.hold_s)
    return Programme(start_c=start_c, segments=(heating, *cooling))


def enamel_schedule(
    thickness_m: float,
    *,
    soak_c: float = TABLE_SOAK_C,
    process: ProcessHold = ENAMEL,
    start_c: float = ROOM_C,
    end_c: float,
) -> Programme:
    """Burn enamel or a decal onto single sheets, and cool them gently.

    Parameters
    ----------
    thickness_m : float
        Thickness of the thickest sheet [m], at most 6.5 mm.
    soak_c, process, start_c, end_c
        As for `full_fuse_schedule` [°C].

    Raises
    ------
    PhysicsProblem
        If a sheet is thicker than single sheets are, or temperatures are out of order.

    References
    ----------
    Common practice, no source.
    """
    if thickness_m > SHEET_THICKNESS_LIMIT_M:
        raise PhysicsProblem(Cause.NO_SINGLE_SHEET, thickness=metres(thickness_m))
    rule = row_at_or_above(thickness_m)
    _check(rule, thickness_m, start_c, soak_c, process.temperature_c)
    if not end_c < soak_c:
        raise PhysicsProblem(Cause.OPENING_ABOVE_SOAK)
    return Programme(
        start_c=start_c,
        segments=(
            Segment(
                label="enamel",
                rate_c_per_h=ENAMEL_RATE_C_PER_H,
                target_c=process.temperature_c,
                hold_s=process.hold_s,
            ),
            Segment(
                label="anneal soak",
                rate_c_per_h=None,
                target_c=soak_c,
                hold_s=ENAMEL_SOAK_S,
            ),
            Segment(
                label="final cooling",
                rate_c_per_h=ENAMEL_COOLING_RATE_C_PER_H,
                target_c=end_c,
            ),
        ),
    )


def _stack_schedule(
    label: str,
    thickness_m: float,
    rule: AnnealRow,
    *,
    soak_c: float,
    process: ProcessHold,
    start_c: float,
    end_c: float,
) -> Programme:
    _check(rule, thickness_m, start_c, soak_c, SQUEEZE_C, process.temperature_c)
    return Programme(
        start_c=start_c,
        segments=(
            Segment(
                label="bubble squeeze",
                rate_c_per_h=stack_heating_rate_c_per_h(thickness_m),
                target_c=SQUEEZE_C,
                hold_s=SQUEEZE_HOLD_S + SQUEEZE_HOLD_PER_MM_S * thickness_m * 1000,
            ),
            Segment(
                label=label,
                rate_c_per_h=PROCESS_RATE_C_PER_H,
                target_c=process.temperature_c,
                hold_s=process.hold_s,
            ),
            *anneal_segments(rule, soak_c=soak_c, end_c=end_c),
        ),
    )


def _slab_heat_up(rule: AnnealRow, soak_c: float, *, hold_s: float) -> Segment:
    """Heat a fused slab: the final-cooling rate of its rule, and never above 150."""
    return Segment(
        label="anneal soak" if hold_s else "heat-up",
        rate_c_per_h=min(rule.rates_c_per_h.final, STACK_FASTEST_C_PER_H),
        target_c=soak_c,
        hold_s=hold_s,
    )


def _check(rule: AnnealRow, thickness_m: float, *rising_c: float) -> None:
    # A row serves what is thinner; a tenth of a millimetre is a matter of measuring.
    if not 0 < thickness_m <= rule.thickness_m + 1e-4:
        raise PhysicsProblem(
            Cause.RULE_OF_THINNER_GLASS,
            rule=metres(rule.thickness_m),
            thickness=metres(thickness_m),
        )
    if any(hotter <= colder for colder, hotter in pairwise(rising_c)):
        raise PhysicsProblem(
            Cause.PROGRAMME_OUT_OF_ORDER,
            steps=tuple(map(celsius, rising_c)),
        )
