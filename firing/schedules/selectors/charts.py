"""The data of the firing chart: the plan, its holds in words, and the recording."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from firing.drawings.chart import FiringChart, build_chart
from firing.drawings.chart_input import (
    NARROW,
    WIDE,
    ChartAlarm,
    ChartCurve,
    ChartCut,
    ChartHold,
    ChartInput,
    ChartScale,
)
from firing.drawings.curves import thin_out
from firing.models import Firing, Reading
from firing.physics.schedule import Programme
from firing.schedules.selectors.physics_slabs import annealing_point_of
from firing.schedules.selectors.typed import PlannedPart, planned_parts
from firing.schedules.selectors.zoom import (
    WHOLE,
    Window,
    Zoom,
    parts_of,
    window_of,
    zooms_of,
)
from studio.units import TemperatureUnit, celsius_to_fahrenheit, fahrenheit_to_celsius
from studio.viewer import Viewer

PUSHED_COLUMNS = 400
SHORTEST_HOLD_S = 25 * 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Charts:
    """The same chart for a desk and for a phone, and the parts to zoom to."""

    wide: FiringChart
    narrow: FiringChart
    zooms: tuple[Zoom, ...]
    lasts_s: float
    """The end of the whole firing, however little of it is shown [s]."""


def charts_of(
    firing: Firing,
    *,
    viewer: Viewer,
    now: datetime,
    part: str,
    alarms: Sequence[ChartAlarm] = (),
    cuts: Sequence[ChartCut] = (),
    marks_now: bool = True,
) -> Charts:
    """Return a firing's chart, whole or cut to one part of its schedule."""
    booking, planned = firing.booking, planned_parts(firing)
    parts: dict[str, Window | None] = {WHOLE: None}
    last = planned[-1]
    if last.ends_s:
        parts = parts_of(
            last.programme, last.ends_s, starts_s=last.starts_s, lasts_s=last.until_s
        )
    lasts_s = _lasts_s(firing)
    part, window_s = window_of(part, parts, lasts_s=lasts_s)
    glass = firing.schedule.glass
    shown = ChartInput(
        title="Planned and recorded temperature",
        starts_at=booking.starts_at,
        zone=viewer.zone,
        scale=scale_of(viewer),
        show_when=lambda at: viewer.moment(at, now),
        planned=_planned(firing),
        recorded=_recorded(firing, window_s),
        holds=_holds(planned, viewer),
        anneal_range_c=(glass.strain_point_c, annealing_point_of(glass)),
        window_s=window_s,
        alarms=alarms,
        cuts=cuts,
        now=now if marks_now else None,
    )
    return Charts(
        wide=build_chart(shown, key="chart", size=WIDE),
        narrow=build_chart(shown, key="chart-phone", size=NARROW),
        zooms=zooms_of(parts, part),
        lasts_s=lasts_s,
    )


def _lasts_s(firing: Firing) -> float:
    """Return when a firing ends by its plan or by its readings, whichever is later."""
    booking = firing.booking
    ends = [booking.ends_at, *(one.last_at for one in firing.imports.all())]
    return max((end - booking.starts_at).total_seconds() for end in ends)


def plan_input(firing: Firing, viewer: Viewer) -> ChartInput:
    """Return a firing's plan alone, for papers: days and clock times, no "today"."""
    booking, glass = firing.booking, firing.schedule.glass
    planned = planned_parts(firing)
    return ChartInput(
        title="Planned temperature",
        starts_at=booking.starts_at,
        zone=viewer.zone,
        scale=scale_of(viewer),
        show_when=lambda at: f"{viewer.day(at)} {viewer.clock(at)}",
        planned=_planned(firing),
        holds=_holds(planned, viewer),
        anneal_range_c=(glass.strain_point_c, annealing_point_of(glass)),
    )


def judged_input(
    firing: Firing, viewer: Viewer, cuts: Sequence[ChartCut]
) -> ChartInput:
    """Return a firing's plan with what was recorded, for papers."""
    return replace(
        plan_input(firing, viewer),
        title="Planned and recorded temperature",
        recorded=_recorded(firing, None),
        cuts=cuts,
    )


def _planned(firing: Firing) -> ChartCurve | None:
    points = firing.booking.planned_curve
    if not points:
        return None
    times, heats = np.array(points, dtype=np.float64).T
    return ChartCurve(time_s=times, temperature_c=heats)


def _recorded(
    firing: Firing, window_s: tuple[float, float] | None
) -> ChartCurve | None:
    """Return thinned curves for the whole, every reading for a part."""
    start = firing.booking.starts_at
    pairs: list[tuple[float, float]] = []
    if window_s is None:
        for one in firing.imports.all():
            first_s = (one.first_at - start).total_seconds()
            pairs += [(first_s + s, celsius) for s, celsius in one.thin_curve]
        pairs = _with_pushed(firing, pairs)
    else:
        within = Reading.owned.for_studio(firing.studio).filter(
            firing=firing,
            at__gte=start + timedelta(seconds=window_s[0]),
            at__lte=start + timedelta(seconds=window_s[1]),
        )
        pairs = [
            ((at - start).total_seconds(), celsius)
            for at, celsius in within.order_by("at", "pk").values_list(
                "at", "temperature_c"
            )
        ]
    if not pairs:
        return None
    times, heats = np.array(pairs, dtype=np.float64).T
    return ChartCurve(time_s=times, temperature_c=heats)


def _with_pushed(
    firing: Firing, pairs: list[tuple[float, float]]
) -> list[tuple[float, float]]:
    """Add what a logger sent, thinned for the drawing."""
    start = firing.booking.starts_at
    pushed = list(
        Reading.owned.for_studio(firing.studio)
        .filter(firing=firing, source__isnull=True)
        .order_by("at", "pk")
        .values_list("at", "temperature_c")
    )
    if not pushed:
        return pairs
    times = np.array([(at - start).total_seconds() for at, _ in pushed])
    heats = np.array([celsius for _, celsius in pushed])
    kept = thin_out(times, heats, columns=PUSHED_COLUMNS)
    return sorted(
        [*pairs, *zip(times[kept].tolist(), heats[kept].tolist(), strict=True)]
    )


def _holds(planned: Sequence[PlannedPart], viewer: Viewer) -> list[ChartHold]:
    """Return the holds of the schedule, and of what was typed instead of its rest."""
    return [
        hold
        for part in planned
        for hold in holds_of(part.programme, part.ends_s, part.until_s, viewer)
    ]


def holds_of(
    programme: Programme, ends_s: Sequence[float], until_s: float, viewer: Viewer
) -> list[ChartHold]:
    """Return a programme's holds that are long enough to be named in a chart.

    `ends_s` is when each segment ends; after `until_s` it is followed no more.
    """
    found = []
    for segment, end_s in zip(programme.segments, ends_s, strict=False):
        from_s, to_s = end_s - segment.hold_s, min(end_s, until_s)
        if to_s - from_s >= SHORTEST_HOLD_S:
            found.append(
                ChartHold(
                    from_s=from_s,
                    to_s=to_s,
                    temperature_c=segment.target_c,
                    words=f"{segment.label.capitalize()}, "
                    f"{viewer.duration(to_s - from_s)}",
                )
            )
    return found


def scale_of(viewer: Viewer) -> ChartScale:
    """Return how a chart shows temperature to its reader."""
    if viewer.temperature_unit == TemperatureUnit.F:
        return ChartScale(
            to_viewer=celsius_to_fahrenheit,
            from_viewer=fahrenheit_to_celsius,
            text=lambda celsius: f"{celsius_to_fahrenheit(celsius):.0f} °F",
        )
    return ChartScale(
        to_viewer=lambda celsius: celsius,
        from_viewer=lambda celsius: celsius,
        text=lambda celsius: f"{celsius:.0f} °C",
    )
