"""A schedule's chart: the compared ones over one time axis, the tension below."""

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
from firing.physics.kiln.curve import KilnCurve
from firing.physics.limits import Limits
from firing.physics.schedule import Programme
from firing.schedules.selectors.charts import holds_of, scale_of
from firing.schedules.selectors.designer import Tried
from firing.schedules.selectors.physics_slabs import annealing_point_of
from firing.schedules.selectors.programmes import Proposal
from firing.schedules.selectors.zoom import Zoom, parts_of, window_of, zooms_of
from studio.models import Glass
from studio.viewer import Viewer

MOST_CURVES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignCharts:
    """Temperature and tension, each for a desk and for a phone."""

    wide: FiringChart
    narrow: FiringChart
    tension: TensionChart | None
    tension_narrow: TensionChart | None
    zooms: tuple[Zoom, ...]
    part: str
    lasts_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Drawn:
    name: str
    curve: KilnCurve
    result: BandedResult | None = None
    has_band: bool = False


def charts_of_design(
    tried: Tried,
    *,
    rules: Sequence[str],
    viewer: Viewer,
    starts_at: datetime,
    part: str = "",
    kept: str = "",
) -> DesignCharts:
    """Draw the chosen schedule over its power cut, or else over those of other rules."""
    design = tried.shown.design
    return _charts(
        _drawn(tried, rules),
        programme=tried.chosen.schedule,
        limits=design.request.limits,
        glass=tried.shown.glass,
        viewer=viewer,
        starts_at=starts_at,
        part=part,
        kept=kept,
    )


def charts_of_proposal(
    proposal: Proposal,
    *,
    name: str,
    viewer: Viewer,
    starts_at: datetime,
    part: str = "",
    kept: str = "",
) -> DesignCharts:
    """Draw a schedule whose tension is not computed yet."""
    run = proposal.run
    curve = KilnCurve(
        time_s=run.time_s,
        temperature_c=run.temperature_c,
        segment_ends_s=run.segment_ends_s,
    )
    return _charts(
        [_Drawn(name=name, curve=curve)],
        programme=proposal.fitted,
        limits=None,
        glass=proposal.glass,
        viewer=viewer,
        starts_at=starts_at,
        part=part,
        kept=kept,
    )


def _charts(
    drawn: Sequence[_Drawn],
    *,
    programme: Programme,
    limits: Limits | None,
    glass: Glass,
    viewer: Viewer,
    starts_at: datetime,
    part: str,
    kept: str,
) -> DesignCharts:
    first, *others = drawn
    parts = parts_of(
        programme,
        first.curve.segment_ends_s,
        starts_s=0.0,
        lasts_s=first.curve.lasts_s,
    )
    lasts_s = max(one.curve.lasts_s for one in drawn)
    part, window_s = window_of(part, parts, lasts_s=lasts_s)

    def show_when(at: datetime) -> str:
        return f"{viewer.duration((at - starts_at).total_seconds())} after the start"

    shown = ChartInput(
        title="Temperature of the kiln",
        starts_at=starts_at,
        zone=viewer.zone,
        scale=scale_of(viewer),
        show_when=show_when,
        planned=_curve(first.curve),
        planned_name=first.name,
        holds=holds_of(
            programme, first.curve.segment_ends_s, first.curve.lasts_s, viewer
        ),
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
    wide = build_chart(shown, key="design", size=WIDE)
    narrow = build_chart(shown, key="design-phone", size=NARROW)
    tension = None
    if limits is not None:
        tension = TensionInput(
            title="Highest tension in the slab, with its likely range",
            starts_at=starts_at,
            show_when=show_when,
            series=[_series(one, one.result) for one in drawn if one.result],
            limit_pa=limits.temporary_pa,
            stays_pa=limits.residual_pa,
            warning_pa=limits.warning_pa,
        )
    return DesignCharts(
        wide=wide,
        narrow=narrow,
        tension=build_tension_chart(tension, under=wide) if tension else None,
        tension_narrow=build_tension_chart(tension, under=narrow) if tension else None,
        zooms=zooms_of(parts, part, kept=kept, anchor="design-chart"),
        part=part,
        lasts_s=lasts_s,
    )


def _drawn(tried: Tried, rules: Sequence[str]) -> Sequence[_Drawn]:
    # Overlapping bands would hide each other: only the one asked about has a band.
    name, chosen, cut = tried.outcome.title, tried.chosen, tried.cut
    first = _Drawn(name=name, curve=chosen.curve, result=chosen.band, has_band=True)
    if cut is not None:
        name = "With the power cut"
        return [
            first,
            _Drawn(name=name, curve=cut.curve, result=cut.result, has_band=True),
        ]
    others = [(tried.outcomes[rule].title, tried.every[rule]) for rule in rules]
    return [
        first,
        *(_Drawn(name=name, curve=one.curve, result=one.band) for name, one in others),
    ][:MOST_CURVES]


def _curve(curve: KilnCurve) -> ChartCurve:
    return ChartCurve(time_s=curve.time_s, temperature_c=curve.temperature_c)


def _series(one: _Drawn, result: BandedResult) -> TensionSeries:
    trace = result.middle.trace
    if trace is None:
        raise ValueError("A drawn schedule was computed without its course over time.")
    return TensionSeries(
        name=one.name,
        time_s=trace.time_s,
        tension_pa=trace.tension_pa,
        band=_band(result) if one.has_band else None,
    )


def _band(result: BandedResult) -> TensionBand | None:
    over = result.envelope
    if over is None:
        return None
    return TensionBand(time_s=over.time_s, low_pa=over.low_pa, high_pa=over.high_pa)
