"""A design's chart: the compared programmes over one time axis, the tension below."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from firing.drawings.chart import FiringChart, build_chart
from firing.drawings.chart_input import NARROW, WIDE, ChartCurve, ChartInput, NamedCurve
from firing.drawings.tension import (
    TensionBand,
    TensionChart,
    TensionInput,
    TensionSeries,
    build_tension_chart,
)
from firing.physics.designing.band import BandedResult
from firing.physics.designing.design import Design
from firing.physics.kiln.curve import KilnCurve
from firing.schedules.selectors.charts import scale_of
from firing.schedules.selectors.physics_slabs import annealing_point_of
from firing.schedules.selectors.stress_words import title_of
from firing.schedules.selectors.what_if import WhatIf
from firing.schedules.selectors.zoom import Zoom, parts_of, window_of, zooms_of
from studio.models import Glass
from studio.viewer import Viewer

MOST_CURVES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignCharts:
    """Temperature and tension, each for a desk and for a phone."""

    wide: FiringChart
    narrow: FiringChart
    tension: TensionChart
    tension_narrow: TensionChart
    zooms: tuple[Zoom, ...]
    part: str
    lasts_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Drawn:
    name: str
    curve: KilnCurve
    result: BandedResult
    has_band: bool = False


def charts_of_design(
    design: Design,
    *,
    glass: Glass,
    cut: WhatIf | None,
    viewer: Viewer,
    starts_at: datetime,
    part: str = "",
    kept: str = "",
) -> DesignCharts:
    """Draw the proposed schedule, its power cut if there is one, and the table's."""
    first, *others = _drawn(design, cut, viewer)
    parts = parts_of(
        design.proposed.schedule,
        first.curve.segment_ends_s,
        starts_s=0.0,
        lasts_s=first.curve.lasts_s,
    )
    lasts_s = max(one.curve.lasts_s for one in (first, *others))
    part, window_s = window_of(part, parts, lasts_s=lasts_s)

    def show_when(at: datetime) -> str:
        return f"{viewer.duration((at - starts_at).total_seconds())} after the start"

    shown = ChartInput(
        title="Temperature of the kiln under each schedule",
        starts_at=starts_at,
        zone=viewer.zone,
        scale=scale_of(viewer),
        show_when=show_when,
        planned=_curve(first.curve),
        planned_name=first.name,
        compared=[
            NamedCurve(
                name=one.name,
                time_s=one.curve.time_s,
                temperature_c=one.curve.temperature_c,
            )
            for one in others
        ],
        anneal_range_c=(glass.strain_point_c, annealing_point_of(glass)),
        window_s=window_s,
    )
    tension = TensionInput(
        title="Largest tension in the slab: most likely, and the band of the cases",
        starts_at=starts_at,
        show_when=show_when,
        series=[_series(one) for one in (first, *others)],
        limit_pa=design.request.limits.temporary_pa,
        warning_pa=design.request.limits.warning_pa,
    )
    wide = build_chart(shown, key="design", size=WIDE)
    narrow = build_chart(shown, key="design-phone", size=NARROW)
    return DesignCharts(
        wide=wide,
        narrow=narrow,
        tension=build_tension_chart(tension, under=wide),
        tension_narrow=build_tension_chart(tension, under=narrow),
        zooms=zooms_of(parts, part, kept=kept, anchor="design-chart"),
        part=part,
        lasts_s=lasts_s,
    )


def _drawn(design: Design, cut: WhatIf | None, viewer: Viewer) -> Sequence[_Drawn]:
    kind = design.request.kind
    # Four overlapping bands would hide each other: only the one asked about has a band.
    every = [
        _Drawn(
            name=title_of(one, kind, viewer),
            curve=one.curve,
            result=one.band,
            has_band=one is design.proposed,
        )
        for one in (design.proposed, *design.compared)
    ]
    if cut is not None:
        failed = _Drawn(
            name="With the power cut",
            curve=cut.curve,
            result=cut.result,
            has_band=True,
        )
        every.insert(1, failed)
    return every[:MOST_CURVES]


def _curve(curve: KilnCurve) -> ChartCurve:
    return ChartCurve(time_s=curve.time_s, temperature_c=curve.temperature_c)


def _series(one: _Drawn) -> TensionSeries:
    trace = one.result.middle.trace
    if trace is None:
        raise ValueError("A drawn schedule was computed without its course over time.")
    return TensionSeries(
        name=one.name,
        time_s=trace.time_s,
        tension_pa=trace.tension_pa,
        band=_band(one.result) if one.has_band else None,
    )


def _band(result: BandedResult) -> TensionBand | None:
    over = result.envelope
    if over is None:
        return None
    return TensionBand(time_s=over.time_s, low_pa=over.low_pa, high_pa=over.high_pa)
