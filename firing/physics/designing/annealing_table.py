"""The published annealing table for thick slabs, and the three habits of reading it.

Only rules of thumb live here; heating up to the fuse is in `programmes`.

Source of the numbers: a fusing-glass maker's published annealing table for thick slabs
(all rows from memory; the first and second rates of the 12, 19 and 25 mm rows and the
final rates of the 19 and 25 mm rows were confirmed on a trade page). It means a slab of
one thickness that cools from both faces. The soak there is 482 °C; other glasses bring
their own, and the stages below it move with it.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from firing.physics.refusals import Cause, celsius, metres
from firing.physics.schedule import PhysicsProblem, Segment

HOUR_S = 3600.0
TABLE_SOAK_C = 482.0
FIRST_STAGE_K = 55.0  # 482 to 427 °C
SECOND_STAGE_K = 56.0  # 427 to 371 °C

# First rate times thickness squared is the same in every row from 25 mm up: 15 °C/h
# (27 °F/h) at one inch, derived from the rows.
RULE_RATE_C_PER_H = 15.0
RULE_THICKNESS_M = 0.0254
RULE_RATIOS = (1.0, 1.8, 6.0)


class CoolingRates(NamedTuple):
    """Rates of the first, the second and the final cooling [°C/h]."""

    first: float
    second: float
    final: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AnnealRow:
    """How to anneal one thickness.

    Attributes
    ----------
    thickness_m : float
        The thickness it is meant for [m].
    soak_s : float
        Time at the anneal soak [s].
    rates_c_per_h : CoolingRates
        From the soak to 55 °C below, on to 111 °C below, and on to the end [°C/h].
    """

    thickness_m: float
    soak_s: float
    rates_c_per_h: CoolingRates


def _row(
    thickness_mm: float, soak_h: float, first: float, second: float, final: float
) -> AnnealRow:
    return AnnealRow(
        thickness_m=thickness_mm / 1000,
        soak_s=soak_h * HOUR_S,
        rates_c_per_h=CoolingRates(first, second, final),
    )


ROWS: tuple[AnnealRow, ...] = (
    _row(12, 2, 55, 99, 330),
    _row(19, 3, 25, 45, 150),
    _row(25, 4, 15, 27, 90),
    _row(38, 6, 6.7, 12, 40),
    _row(50, 8, 3.8, 6.8, 22),
    _row(62, 10, 2.4, 4.3, 14.4),
    _row(75, 12, 1.7, 3.1, 10),
    _row(100, 16, 0.94, 1.7, 5.6),
    _row(150, 24, 0.42, 0.76, 2.5),
)


def row_at_or_above(thickness_m: float) -> AnnealRow:
    """Return the first row that is at least as thick.

    Parameters
    ----------
    thickness_m : float
        Thickness of the finished slab [m]; below 12 mm the 12 mm row serves.

    Raises
    ------
    PhysicsProblem
        If the thickness is not above zero, or past the table's 150 mm.

    References
    ----------
    The table named at the top of this module.
    """
    _check(thickness_m)
    return next(row for row in ROWS if row.thickness_m >= thickness_m)


def next_thicker_row(thickness_m: float) -> AnnealRow:
    """Return the row after the nearest one: 60 mm is annealed as 75, 27 mm as 38.

    Parameters
    ----------
    thickness_m : float
        Thickness of the finished slab [m]. Below 12 mm the 12 mm row already is the
        thicker one.

    Raises
    ------
    PhysicsProblem
        If no row is thicker than the nearest (from 125 mm up), or not a thickness.

    References
    ----------
    Common practice, no source; the rows as at the top of this module.
    """
    _check(thickness_m)
    if thickness_m < ROWS[0].thickness_m:
        return ROWS[0]
    # Half-way between two rows the thicker is the nearest: later wins on a tie.
    nearest = min(
        range(len(ROWS)),
        key=lambda index: (abs(ROWS[index].thickness_m - thickness_m), -index),
    )
    if nearest + 1 == len(ROWS):
        raise PhysicsProblem(
            Cause.NO_THICKER_ROW,
            thickness=metres(thickness_m),
            last=metres(ROWS[-1].thickness_m),
        )
    return ROWS[nearest + 1]


def exact_rule(thickness_m: float) -> AnnealRow:
    """Return the table's own law at this thickness instead of at the next row.

    The soak lies on straight lines between the rows. The first rate is 15 °C/h at one
    inch and falls with the square of the thickness; the second is 1.8 and the final 6
    times the first. Against the rows it is 0 to 8 % faster at the same thickness,
    because the rows are rounded; below about 13 mm, where the law would be faster
    still, the 12 mm row's rate is the limit.

    Parameters
    ----------
    thickness_m : float
        Thickness of the finished slab [m], up to 0.15.

    Raises
    ------
    PhysicsProblem
        If the thickness is not above zero, or past the table's 150 mm.

    References
    ----------
    Derived from the table named at the top of this module; that a steady rate may go
    with 1/d² is the plane wall's: stress = M α q d²/(12 κ).
    """
    _check(thickness_m)
    first = min(
        RULE_RATE_C_PER_H * (RULE_THICKNESS_M / thickness_m) ** 2,
        ROWS[0].rates_c_per_h.first,
    )
    soak_s = np.interp(
        thickness_m,
        [row.thickness_m for row in ROWS],
        [row.soak_s for row in ROWS],
    )
    return AnnealRow(
        thickness_m=thickness_m,
        soak_s=float(soak_s),
        rates_c_per_h=CoolingRates(*(ratio * first for ratio in RULE_RATIOS)),
    )


def anneal_segments(
    rule: AnnealRow, *, soak_c: float = TABLE_SOAK_C, end_c: float
) -> tuple[Segment, ...]:
    """Return the anneal soak and the cooling stages down to the end.

    Parameters
    ----------
    rule : AnnealRow
        Soak and rates.
    soak_c : float
        Anneal soak of the glass used [°C]; the stages end 55 and 111 °C below it.
    end_c : float
        Where the programme ends [°C]: the kiln's opening temperature. Stages below it
        are left out.

    Returns
    -------
    tuple of Segment
        "anneal soak" (reached as fast as the kiln can), "cooling 1", "cooling 2",
        "final cooling".

    Raises
    ------
    PhysicsProblem
        If the end is not below the soak.

    References
    ----------
    Stages: the table named at the top of this module.
    """
    if not end_c < soak_c:
        raise PhysicsProblem(
            Cause.END_ABOVE_SOAK, end=celsius(end_c), soak=celsius(soak_c)
        )
    segments = [
        Segment(
            label="anneal soak",
            rate_c_per_h=None,
            target_c=soak_c,
            hold_s=rule.soak_s,
        )
    ]
    first_c = soak_c - FIRST_STAGE_K
    stages = zip(
        ("cooling 1", "cooling 2", "final cooling"),
        rule.rates_c_per_h,
        (first_c, first_c - SECOND_STAGE_K, end_c),
        strict=True,
    )
    for label, rate, lowest_c in stages:
        segments.append(
            Segment(label=label, rate_c_per_h=rate, target_c=max(lowest_c, end_c))
        )
        if lowest_c <= end_c:
            break
    return tuple(segments)


def _check(thickness_m: float) -> None:
    if not 0 < thickness_m <= ROWS[-1].thickness_m:
        raise PhysicsProblem(
            Cause.OUTSIDE_THE_TABLE,
            most=metres(ROWS[-1].thickness_m),
            thickness=metres(thickness_m),
        )
