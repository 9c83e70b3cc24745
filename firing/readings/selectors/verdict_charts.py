"""The drawings and links of the judge's page, from a kept judgement."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import numpy as np

from firing.drawings.tension import (
    TensionBand,
    TensionInput,
    TensionSeries,
    build_tension_chart,
)
from firing.kiln_time.selectors.bookings import next_booking_of
from firing.models import Firing, FiringKind, Judgement
from firing.readings.selectors.re_anneals import re_anneal_option
from firing.readings.selectors.verdict_faults import alarms_of, cuts_of
from firing.schedules.selectors.charts import charts_of
from firing.schedules.selectors.stacks import allowed_kinds
from firing.schedules.selectors.verdict_numbers import MPA, numbers_of
from studio.models import Piece
from studio.selectors.pieces import fresh
from studio.viewer import Viewer


def judged_charts(
    firing: Firing, judgement: Judgement, *, viewer: Viewer, now: datetime, part: str
) -> dict[str, Any]:
    """Return the temperature with its faults, and the tension below it."""
    charts = charts_of(
        firing,
        viewer=viewer,
        now=now,
        part=part,
        alarms=alarms_of(judgement, viewer),
        cuts=cuts_of(judgement),
        marks_now=False,
    )
    shown: dict[str, Any] = {"charts": charts, "tension": None}
    if judgement.trace:
        given = tension_input(firing, judgement, viewer, now)
        shown["tension"] = build_tension_chart(given, under=charts.wide)
        shown["tension_narrow"] = build_tension_chart(given, under=charts.narrow)
    return shown


def tension_input(
    firing: Firing, judgement: Judgement, viewer: Viewer, now: datetime
) -> TensionInput:
    """Return the computed tension as its chart's input."""
    trace: Mapping[str, list[float]] = judgement.trace
    limits = numbers_of(judgement)["limits"]
    return TensionInput(
        title="Computed tension",
        starts_at=firing.booking.starts_at,
        show_when=lambda at: viewer.moment(at, now),
        series=(
            TensionSeries(
                name="largest tension in the glass, most likely",
                time_s=np.array(trace["time_s"]),
                tension_pa=np.array(trace["tension_mpa"]) * MPA,
                band=_band(trace),
            ),
        ),
        limit_pa=limits["temporary_pa"],
        stays_pa=limits["residual_pa"],
        warning_pa=limits["warning_pa"],
    )


def _band(trace: Mapping[str, list[float]]) -> TensionBand | None:
    """Return the tension's range over time, where it was kept.

    Courses kept before the range was are drawn without it. Their verdicts still hold,
    as the engine's results are the same. Raising its number would take every verdict
    off its page until somebody has it computed again.
    """
    if "tension_high_mpa" not in trace:
        return None
    return TensionBand(
        time_s=np.array(trace["time_s"]),
        low_pa=np.array(trace["tension_low_mpa"]) * MPA,
        high_pa=np.array(trace["tension_high_mpa"]) * MPA,
    )


def re_anneal_links(firing: Firing, judgement: Judgement) -> list[Piece]:
    """Return the pieces that wait for the re-anneal computed by the judge.

    While the slab is in the kiln or hot, or once it is booked again, there are none.
    """
    if firing.finished_at is None or re_anneal_option(judgement) is None:
        return []
    return [
        piece
        for item in firing.items.all()
        if (piece := item.piece) is not None
        and FiringKind.RE_ANNEAL in allowed_kinds(fresh(piece))
        and next_booking_of(piece) is None
    ]
