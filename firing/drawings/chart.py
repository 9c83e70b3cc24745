"""The firing chart: planned and recorded temperature over time, in pixels.

Pure geometry for `components/_firing_chart.html`. `chart_input` is what it shows,
`chart_words` its text for those who do not see it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, timedelta

import numpy as np

from firing.drawings.chart_input import (
    WIDE,
    ChartCurve,
    ChartInput,
    ChartScale,
    ChartSize,
)
from firing.drawings.chart_words import Stretch, facts_of, stretch_words, stretches
from firing.drawings.curves import (
    FloatArray,
    clean_readings,
    cut_to_window,
    find_gaps,
    thin_out,
)
from firing.drawings.labels import Labels, Polyline
from firing.drawings.plot import (
    LETTER_WIDTH,
    LINE_HEIGHT,
    PlacedWords,
    Plot,
    Span,
    Tick,
)

TICK_STEPS = (10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 250.0, 500.0)
MOST_TEMPERATURE_TICKS = 7
TIME_STEPS_H = (1, 2, 3, 6, 12, 24, 48, 96, 168)
TICK_ROOM = 56.0
HEADROOM = 1.08
LOOK_AHEAD_S = 1800.0
ALARM_HALF = 8.0
MOST_COMPARED = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedPath:
    """A compared plan as drawn; `dash` (1 to 3) marks it here and in the tension chart."""

    name: str
    dash: int
    path: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FiringChart(Plot):
    """One drawing at one size. Paths are SVG path data; everything in pixels."""

    from_s: float
    to_s: float
    reaches_end: bool
    planned_name: str
    planned_path: str
    compared: tuple[NamedPath, ...]
    recorded_paths: tuple[str, ...]
    recorded_areas: tuple[str, ...]
    anneal_y: float | None
    anneal_height: float
    anneal_label: PlacedWords | None
    gap_names: tuple[PlacedWords, ...]
    temperature_ticks: tuple[Tick, ...]
    holds: tuple[PlacedWords, ...]
    alarms: tuple[PlacedWords, ...]
    heat_stops: tuple[tuple[int, str], ...]
    drawn_readings: int

    @property
    def anneal_bottom(self) -> float:
        """Lower edge of the annealing band."""
        return round((self.anneal_y or 0.0) + self.anneal_height, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plane:
    """The mapping of seconds and °C to pixels."""

    size: ChartSize
    from_s: float
    to_s: float
    low_c: float
    high_c: float

    @property
    def left(self) -> float:
        return self.size.left

    @property
    def right(self) -> float:
        return self.size.width - self.size.right

    @property
    def bottom(self) -> float:
        return self.size.height - self.size.bottom

    def x(self, at_s: float) -> float:
        share = (at_s - self.from_s) / (self.to_s - self.from_s)
        return round(self.left + share * (self.right - self.left), 2)

    def y(self, celsius: float) -> float:
        share = (celsius - self.low_c) / (self.high_c - self.low_c)
        inside = min(max(share, 0.0), 1.0)
        return round(self.bottom - inside * (self.bottom - self.size.top), 2)

    def shows(self, at_s: float) -> bool:
        return self.from_s <= at_s <= self.to_s

    def line(self, time_s: FloatArray, temperature_c: FloatArray) -> Polyline:
        """Return the pixels of a curve."""
        return (
            np.array([self.x(float(t)) for t in time_s]),
            np.array([self.y(float(c)) for c in temperature_c]),
        )


def build_chart(shown: ChartInput, *, key: str, size: ChartSize = WIDE) -> FiringChart:
    """Lay out a firing's chart at one size.

    Parameters
    ----------
    shown : ChartInput
        What to show; times in seconds since `starts_at`, temperatures in °C.
    key : str
        Unique on the page; starts every id in the drawing.
    size : ChartSize
        `WIDE` for a desk and paper, `NARROW` for a phone.

    Returns
    -------
    FiringChart
        At most two recorded points per pixel column, so peaks survive.

    Raises
    ------
    ValueError
        The window is empty, more than three plans are compared, or a curve's arrays
        differ in length.
    """
    if len(shown.compared) > MOST_COMPARED:
        raise ValueError(f"A chart tells at most {MOST_COMPARED} further plans apart.")
    planned = _cleaned(shown.planned)
    recorded = _cleaned(shown.recorded)
    compared = [
        clean_readings(other.time_s, other.temperature_c) for other in shown.compared
    ]
    plane = _plane(shown, size, [planned, recorded, *compared])

    def drawn(curve: Polyline) -> Polyline:
        return plane.line(*cut_to_window(*curve, from_s=plane.from_s, to_s=plane.to_s))

    runs = _runs(shown, plane, recorded)
    planned_line, others = drawn(planned), [drawn(curve) for curve in compared]
    found = [
        one
        for one in stretches(shown, recorded[0])
        if one.from_s < plane.to_s and one.to_s > plane.from_s
    ]
    gaps = tuple(_span(shown, one, plane) for one in found)
    alarms = _alarms(shown, plane)
    now_x = _now_x(shown, plane)
    labels = Labels(
        frame=(plane.left + 4, size.top, plane.right - 4, plane.bottom),
        curves=[planned_line, *others, *runs, *_upright(plane, now_x)],
        taken=[
            (a.x - ALARM_HALF, a.y - ALARM_HALF, a.x + ALARM_HALF, a.y + ALARM_HALF)
            for a in alarms
        ],
    )
    gap_names = _name_gaps(gaps, plane, labels)
    holds = _place_holds(shown, plane, planned, labels)
    anneal = shown.anneal_range_c
    anneal_y = plane.y(anneal[1]) if anneal else None
    return FiringChart(
        key=key,
        width=size.width,
        height=size.height,
        left=plane.left,
        right=plane.right,
        top=size.top,
        bottom=plane.bottom,
        from_s=plane.from_s,
        to_s=plane.to_s,
        reaches_end=not any(
            curve[0].size and curve[0][-1] > plane.to_s
            for curve in (planned, recorded, *compared)
        ),
        planned_name=shown.planned_name,
        planned_path=path_of(planned_line),
        compared=tuple(
            NamedPath(
                name=other.name,
                dash=number,
                path=path_of(line),
            )
            for number, (other, line) in enumerate(
                zip(shown.compared, others, strict=True), start=1
            )
        ),
        recorded_paths=tuple(path_of(run) for run in runs),
        recorded_areas=tuple(_closed(run, plane) for run in runs),
        anneal_y=anneal_y,
        anneal_height=round(plane.y(anneal[0]) - plane.y(anneal[1]), 2)
        if anneal
        else 0.0,
        anneal_label=_place_anneal(shown.anneal_words, anneal, plane, labels)
        if anneal
        else None,
        gap_names=gap_names,
        temperature_ticks=_temperature_ticks(shown.scale, plane),
        time_ticks=_time_ticks(shown, plane),
        holds=holds,
        alarms=alarms,
        gaps=gaps,
        now_x=now_x,
        heat_stops=tuple((step, f"{step / 6:.4f}") for step in range(7)),
        facts=facts_of(shown, planned, recorded, compared),
        title=shown.title,
        drawn_readings=sum(run[0].size for run in runs),
    )


def path_of(line: Polyline) -> str:
    """Return pixels as the data of an SVG path."""
    pairs = [f"{x:.1f},{y:.1f}" for x, y in zip(*line, strict=True)]
    # A single reading between two gaps is a dot: a line of no length, round ends.
    return (
        "M" + " ".join(pairs if len(pairs) > 1 else [*pairs, *pairs]) if pairs else ""
    )


def _cleaned(curve: ChartCurve | None) -> tuple[FloatArray, FloatArray]:
    if curve is None:
        return np.empty(0), np.empty(0)
    return clean_readings(curve.time_s, curve.temperature_c)


def _plane(
    shown: ChartInput,
    size: ChartSize,
    curves: Sequence[tuple[FloatArray, FloatArray]],
) -> _Plane:
    times = np.concatenate([curve[0] for curve in curves])
    heats = np.concatenate([curve[1] for curve in curves])
    if shown.window_s is not None:
        from_s, to_s = shown.window_s
        if to_s <= from_s:
            raise ValueError("The chart's window must end after it starts.")
    elif times.size:
        from_s, to_s = float(times.min()), float(times.max())
    else:
        from_s, to_s = 0.0, 3600.0
    if to_s <= from_s:
        to_s = from_s + 3600.0
    low_c = min(0.0, float(heats.min())) if heats.size else 0.0
    high_c = max(100.0, float(heats.max())) if heats.size else 100.0
    return _Plane(
        size=size,
        from_s=from_s,
        to_s=to_s,
        low_c=low_c,
        high_c=low_c + (high_c - low_c) * HEADROOM,
    )


def _runs(shown: ChartInput, plane: _Plane, recorded: Polyline) -> list[Polyline]:
    """Return what was recorded, in pixels, broken where no readings came."""
    all_times, all_heats = recorded
    inside = (all_times >= plane.from_s) & (all_times <= plane.to_s)
    times, heats = all_times[inside], all_heats[inside]
    if times.size == 0:
        return []
    run_of = np.zeros(times.size, dtype=np.intp)
    run_of[find_gaps(times, longer_than_s=shown.longest_gap_s) + 1] = 1
    run_of = np.cumsum(run_of)
    # A whole number of columns not above 799 keeps any chart under 1,600 points.
    columns = int(min(plane.right - plane.left, 799))
    kept = thin_out(times, heats, columns=columns)
    return [
        plane.line(times[kept[run_of[kept] == run]], heats[kept[run_of[kept] == run]])
        for run in np.unique(run_of[kept])
    ]


def _closed(run: Polyline, plane: _Plane) -> str:
    """Return the area under a run of readings."""
    xs, foot = run[0], plane.bottom
    return f"{path_of(run)} {xs[-1]:.1f},{foot:.1f} {xs[0]:.1f},{foot:.1f}Z"


def _span(shown: ChartInput, one: Stretch, plane: _Plane) -> Span:
    first = plane.x(max(one.from_s, plane.from_s))
    last = plane.x(min(one.to_s, plane.to_s))
    return Span(x=first, width=round(last - first, 2), words=stretch_words(shown, one))


def _alarms(shown: ChartInput, plane: _Plane) -> tuple[PlacedWords, ...]:
    return tuple(
        PlacedWords(
            x=plane.x(alarm.at_s),
            y=plane.y(
                plane.low_c if alarm.temperature_c is None else alarm.temperature_c
            ),
            words=alarm.words,
        )
        for alarm in shown.alarms
        if plane.shows(alarm.at_s)
    )


def _upright(plane: _Plane, x: float | None) -> list[Polyline]:
    if x is None:
        return []
    return [(np.array([x, x]), np.array([plane.size.top, plane.bottom]))]


def _now_x(shown: ChartInput, plane: _Plane) -> float | None:
    if shown.now is None:
        return None
    now_s = (shown.now - shown.starts_at).total_seconds()
    return plane.x(now_s) if plane.shows(now_s) else None


def _temperature_ticks(scale: ChartScale, plane: _Plane) -> tuple[Tick, ...]:
    low, high = scale.to_viewer(plane.low_c), scale.to_viewer(plane.high_c)
    step = next(
        (s for s in TICK_STEPS if (high - low) / s <= MOST_TEMPERATURE_TICKS),
        TICK_STEPS[-1],
    )
    first = int(-(-low // step))
    last = int(high // step)
    ticks = []
    for number in range(first, last + 1):
        celsius = scale.from_viewer(number * step)
        ticks.append(Tick(at=plane.y(celsius), label=scale.text(celsius)))
    return tuple(ticks)


def _time_ticks(shown: ChartInput, plane: _Plane) -> tuple[Tick, ...]:
    hours = (plane.to_s - plane.from_s) / 3600
    most = max(1, int((plane.right - plane.left) // TICK_ROOM))
    step_h = next((s for s in TIME_STEPS_H if hours / s <= most), TIME_STEPS_H[-1])
    start = shown.at(plane.from_s).astimezone(shown.zone)
    local = start.replace(minute=0, second=0, microsecond=0)
    first_day = local.date()
    ticks = []
    # Hours are counted in UTC and read in the zone, so a clock change moves no tick.
    instant = local.astimezone(UTC)
    end = shown.at(plane.to_s)
    while instant <= end:
        local = instant.astimezone(shown.zone)
        days = (local.date() - first_day).days
        wanted = (
            local.hour % step_h == 0
            if step_h < 24
            else local.hour == 0 and days % (step_h // 24) == 0
        )
        at_s = (instant - shown.starts_at).total_seconds()
        if wanted and plane.shows(at_s):
            label = f"{local:%a %-d}" if local.hour == 0 else f"{local:%H:%M}"
            ticks.append(_time_tick(plane, at_s, label))
        instant += timedelta(hours=1)
    return tuple(ticks)


def _time_tick(plane: _Plane, at_s: float, label: str) -> Tick:
    """Mark a time; words near the right edge move in, so that none are cut off."""
    at = plane.x(at_s)
    last = plane.size.width - len(label) * LETTER_WIDTH / 2
    return Tick(at=at, label=label, label_at=round(min(at, last), 2))


def _name_gaps(
    gaps: Sequence[Span], plane: _Plane, labels: Labels
) -> tuple[PlacedWords, ...]:
    """Name each gap inside it, else beside it, as high as there is room."""
    placed = []
    for gap in sorted(gaps, key=lambda one: -one.width):
        width = len(gap.words) * LETTER_WIDTH
        middle = gap.x + (gap.width - width) / 2
        places = [gap.x + gap.width + 4, gap.x - width - 4, middle]
        if width <= gap.width:
            places = [middle]
        first = plane.size.top + LINE_HEIGHT
        lines = int((plane.bottom - first) // LINE_HEIGHT)
        name = labels.place(
            gap.words,
            (
                (x, first + line * LINE_HEIGHT)
                for line in range(lines + 1)
                for x in places
                if plane.left <= x <= plane.right - width
            ),
        )
        if name is not None:
            placed.append(name)
    return tuple(placed)


def _place_anneal(
    words: str, anneal: tuple[float, float], plane: _Plane, labels: Labels
) -> PlacedWords | None:
    """Name the annealing range over its upper edge, else in it, else under it."""
    low, high = plane.y(anneal[0]), plane.y(anneal[1])
    width = len(words) * LETTER_WIDTH
    room = plane.right - plane.left - width
    return labels.place(
        words,
        (
            (plane.left + room * share, y)
            for y in (high - 5, high + LINE_HEIGHT, low + LINE_HEIGHT)
            for share in (1.0, 0.75, 0.5, 0.25, 0.0)
        ),
    )


def _place_holds(
    shown: ChartInput, plane: _Plane, planned: Polyline, labels: Labels
) -> tuple[PlacedWords, ...]:
    """Write each hold near its flat part; where there is no room, leave it to the text.

    The words run away from the steep side: back from the end of a hold before heating,
    on from the start of a hold before cooling.
    """
    placed = []
    for hold in shown.holds:
        if not plane.shows((hold.from_s + hold.to_s) / 2):
            continue
        width = len(hold.words) * LETTER_WIDTH
        climbs = planned[0].size > 0 and (
            float(np.interp(hold.to_s + LOOK_AHEAD_S, *planned)) > hold.temperature_c
        )
        start, end = plane.x(hold.from_s), plane.x(hold.to_s)
        level = plane.y(hold.temperature_c)
        back, on = end - width - 4, start + 4
        over, under = (back, on) if climbs else (on, back)
        before, after = start - width - 6, end + 8
        places = [
            (over, level - 7),
            (under, level + LINE_HEIGHT + 1),
            (over, level - 7 - LINE_HEIGHT),
            # Beside its end, first on the side to which the curve does not go.
            *((x, level + 4) for x in ((before, after) if climbs else (after, before))),
        ]
        name = labels.place(hold.words, places)
        if name is not None:
            placed.append(name)
    return tuple(placed)
