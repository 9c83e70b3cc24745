"""The tension chart: computed tension over time, under a firing chart's time axis.

Pure geometry for `components/_tension_chart.html`. It takes its width, margins, window
and ticks from the firing chart it stands under, so that the two always line up.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from firing.drawings.chart import FiringChart, path_of
from firing.drawings.curves import (
    FloatArray,
    clean_readings,
    cut_to_window,
    thin_out,
)
from firing.drawings.labels import Labels, Polyline
from firing.drawings.plot import LETTER_WIDTH, LINE_HEIGHT, PlacedWords, Plot, Tick

PA_PER_MPA = 1e6
HEIGHT_WIDE, HEIGHT_NARROW = 190.0, 170.0
NARROW_BELOW = 500.0
TOP = 18.0
MARGIN_LINE = TOP - 6
HEADROOM = 1.25
# A limit not further above the data than this share of it is drawn in its place.
NEAR = 1.5
LEAST_PA = 0.05e6
# The share of the drawing over which the limit of the cold glass is drawn.
COLD_END = 0.2
# The room that the arrow of a limit beyond the drawing takes before its words.
ARROW = "  "
TICK_STEPS_MPA = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
MOST_TICKS = 6
BOLD_LETTER_WIDTH = 6.8
DASHES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class TensionSeries:
    """The highest tension in a slab over time: seconds since the start, Pa.

    `band` is its uncertainty, lowest to highest, with times of its own.
    """

    name: str
    time_s: FloatArray
    tension_pa: FloatArray
    band: "TensionBand | None" = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TensionBand:
    """Lowest and highest tension over time: seconds since the start, Pa."""

    time_s: FloatArray
    low_pa: FloatArray
    high_pa: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class TensionInput:
    """Everything a tension chart shows before it has a size.

    `limit_pa` is what the maker allows while heating and cooling, `stays_pa` what may
    stay in the cold glass; from `warning_pa` on the slab may have cracked.
    """

    title: str
    starts_at: datetime
    show_when: Callable[[datetime], str]
    series: Sequence[TensionSeries]
    limit_pa: float = 3e6
    stays_pa: float = 0.5e6
    warning_pa: float = 7e6


@dataclass(frozen=True, slots=True, kw_only=True)
class TensionLine:
    """One series: its path, its dash (0 to 3, as of the firing chart's curves).

    `band_path` is the area between its lowest and highest, empty without a band.
    """

    name: str
    dash: int
    path: str
    peak: PlacedWords | None
    band_path: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """A limit: a line across the drawing from `x` on, and its words.

    One above the drawing's range is drawn at its top edge, with an arrow.
    """

    x: float
    y: float
    is_beyond: bool
    words: str
    label: PlacedWords | None = None

    @property
    def arrow_x(self) -> float:
        """Middle of the arrow before the words."""
        return round((self.label.x if self.label else self.x) - LETTER_WIDTH, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class TensionChart(Plot):
    """One drawing at one size. Paths are SVG path data; everything in pixels.

    `stays` is none where the cold end is not shown.
    """

    lines: tuple[TensionLine, ...]
    limit: Level
    warning: Level
    stays: Level | None
    tension_ticks: tuple[Tick, ...]
    most_pa: float

    @property
    def unnamed(self) -> tuple[str, ...]:
        """Limits whose words found no room in the drawing, for its key."""
        levels = (self.limit, self.warning, self.stays)
        return tuple(one.words for one in levels if one and not one.label)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plane:
    """The mapping of seconds and Pa to pixels, along the firing chart's axis."""

    under: FiringChart
    bottom: float
    most_pa: float

    def x(self, at_s: float) -> float:
        span = self.under.to_s - self.under.from_s
        share = (at_s - self.under.from_s) / span
        return round(self.under.left + share * self.under.plot_width, 2)

    def y(self, pascal: float) -> float:
        share = min(max(pascal / self.most_pa, 0.0), 1.0)
        return round(self.bottom - share * (self.bottom - TOP), 2)

    def line(self, time_s: FloatArray, tension_pa: FloatArray) -> Polyline:
        """Return the pixels of a curve, thinned."""
        if not time_s.size:
            return time_s, tension_pa
        columns = int(min(self.under.plot_width, 799))
        kept = thin_out(time_s, tension_pa, columns=columns)
        return (
            np.array([self.x(float(time_s[i])) for i in kept]),
            np.array([self.y(float(tension_pa[i])) for i in kept]),
        )


def build_tension_chart(shown: TensionInput, *, under: FiringChart) -> TensionChart:
    """Lay out the tension under a firing chart, on the same time axis.

    Parameters
    ----------
    shown : TensionInput
        What to show; times in seconds since `starts_at`, tension in Pa.
    under : FiringChart
        The chart above, of the same start: gives width, margins, window, ticks, gaps.

    Returns
    -------
    TensionChart
        At most two points per pixel column and series, so peaks survive.

    Raises
    ------
    ValueError
        More than four series, a limit that is not above zero or above the warning, or
        a series' arrays differ in length.
    """
    if len(shown.series) > DASHES:
        raise ValueError(f"A tension chart tells at most {DASHES} series apart.")
    if not 0 < shown.limit_pa <= shown.warning_pa:
        raise ValueError("The limit lies above zero, and not above the warning.")
    cleaned = [(one.name, *_inside(one, under)) for one in shown.series]
    bands = [_band_inside(one.band, under) for one in shown.series]
    highest_pa = max(
        (
            float(pa.max())
            for pa in (*(pa for _, _, pa in cleaned), *(high for _, _, high in bands))
            if pa.size
        ),
        default=0.0,
    )
    height = HEIGHT_NARROW if under.width < NARROW_BELOW else HEIGHT_WIDE
    plane = _Plane(
        under=under,
        bottom=height - (under.height - under.bottom),
        most_pa=_most_pa(highest_pa, shown),
    )
    drawn = [plane.line(times, pa) for _, times, pa in cleaned]
    edges = [
        (plane.line(times, lows), plane.line(times, highs))
        for times, lows, highs in bands
    ]
    levels = _levels(shown, plane)
    # The margin over the drawing is free of curves and takes the limits beyond it.
    labels = Labels(
        frame=(under.left + 4, 0.0, under.right - 4, plane.bottom),
        curves=[
            *drawn,
            *(edge for pair in edges for edge in pair),
            *(
                (np.array([level.x, under.right]), np.full(2, level.y))
                for level in levels
            ),
        ],
    )
    peaks = _peaks(cleaned, bands, plane, labels)
    limit, warning, *stays = [_named(level, plane, labels) for level in levels]
    return TensionChart(
        key=f"{under.key}-tension",
        title=shown.title,
        width=under.width,
        height=height,
        left=under.left,
        right=under.right,
        top=TOP,
        bottom=plane.bottom,
        lines=tuple(
            TensionLine(
                name=name,
                dash=dash,
                path=path_of(drawn[dash]),
                peak=peaks[dash],
                band_path=_area(*edges[dash]),
            )
            for dash, (name, _, _) in enumerate(cleaned)
        ),
        limit=limit,
        warning=warning,
        stays=stays[0] if stays else None,
        tension_ticks=_ticks(plane),
        most_pa=plane.most_pa,
        time_ticks=under.time_ticks,
        gaps=under.gaps,
        now_x=under.now_x,
        facts=_facts(cleaned, bands, shown),
    )


def _most_pa(highest_pa: float, shown: TensionInput) -> float:
    """Scale to the data, and to a limit that lies hardly higher."""
    near = [
        level
        for level in (shown.limit_pa, shown.stays_pa, shown.warning_pa)
        if level <= highest_pa * NEAR
    ]
    return max([highest_pa, LEAST_PA, *near]) * HEADROOM


def megapascals(pascal: float) -> str:
    """Write a tension with two figures, as many as a model can give."""
    mpa = pascal / PA_PER_MPA
    return f"{mpa:.1f} MPa" if mpa >= 1 else f"{mpa:.2f} MPa"


def _inside(one: TensionSeries, under: FiringChart) -> tuple[FloatArray, FloatArray]:
    times, tensions = clean_readings(one.time_s, one.tension_pa)
    return cut_to_window(times, tensions, from_s=under.from_s, to_s=under.to_s)


def _band_inside(
    band: TensionBand | None, under: FiringChart
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return a band's times, lowest and highest within the chart's window."""
    if band is None:
        return np.empty(0), np.empty(0), np.empty(0)
    from_s, to_s = under.from_s, under.to_s
    low = clean_readings(band.time_s, band.low_pa)
    high = clean_readings(band.time_s, band.high_pa)
    times, lows = cut_to_window(*low, from_s=from_s, to_s=to_s)
    _, highs = cut_to_window(*high, from_s=from_s, to_s=to_s)
    return times, lows, highs


def _area(low: Polyline, high: Polyline) -> str:
    """Return the area between lowest and highest: along the top, back along the foot."""
    if high[0].size < 2:
        return ""
    xs, ys = (np.concatenate((a, b[::-1])) for a, b in zip(high, low, strict=True))
    return f"{path_of((xs, ys))}Z"


def _peaks(
    cleaned: Sequence[tuple[str, FloatArray, FloatArray]],
    bands: Sequence[tuple[FloatArray, FloatArray, FloatArray]],
    plane: _Plane,
    labels: Labels,
) -> list[PlacedWords | None]:
    """Write each series' highest value; curves that coincide have one between them."""
    peaks: list[PlacedWords | None] = []
    said: list[tuple[str, float]] = []
    for (_, times, tensions), band in zip(cleaned, bands, strict=True):
        peak = None
        if tensions.size:
            top = int(np.argmax(tensions))
            words, x = megapascals(float(tensions[top])), plane.x(float(times[top]))
            near = 2 * len(words) * BOLD_LETTER_WIDTH
            if not any(words == w and abs(x - at) < near for w, at in said):
                peak = _peak_words((times, tensions), band, plane, labels)
                said.append((words, x))
        peaks.append(peak)
    return peaks


def _peak_words(
    curve: tuple[FloatArray, FloatArray],
    band: tuple[FloatArray, FloatArray, FloatArray],
    plane: _Plane,
    labels: Labels,
) -> PlacedWords | None:
    """Write a peak's value above it, else beside it, else leave it to the sentences.

    With a band it says how high it may be.
    """
    times, tensions = curve
    top = int(np.argmax(tensions))
    words = megapascals(float(tensions[top]))
    x, y = plane.x(float(times[top])), plane.y(float(tensions[top]))
    band_times, _, highs = band
    band_y = y
    if highs.size:
        band_y = plane.y(float(np.interp(times[top], band_times, highs)))
        most = megapascals(float(highs.max()))
        if most != words:
            words = f"{words.removesuffix(' MPa')}, up to {most}"
    width = len(words) * BOLD_LETTER_WIDTH
    near = [(x - width / 2, band_y - 6), (x - width / 2, y - 6)]
    beside = [
        (at, level + 8 + line * LINE_HEIGHT)
        for line in range(3)
        for level in (band_y, y)
        for at in (x + 8, x - width - 8)
    ]
    margin = (x - width / 2, MARGIN_LINE)
    return labels.place(words, [*near, *beside, margin], BOLD_LETTER_WIDTH)


def _levels(shown: TensionInput, plane: _Plane) -> list[Level]:
    """Return the limit, the warning and, if the cold end is shown, the limit there."""
    under = plane.under
    cold_x = round(under.right - COLD_END * under.plot_width, 2)
    drawn = [
        ("limit", shown.limit_pa, under.left),
        ("may crack above", shown.warning_pa, under.left),
    ]
    if under.reaches_end:
        drawn.append(("once cold", shown.stays_pa, cold_x))
    return [
        Level(
            x=x,
            y=plane.y(pascal),
            is_beyond=pascal > plane.most_pa,
            words=f"{name} {pascal / PA_PER_MPA:g} MPa",
        )
        for name, pascal, x in drawn
    ]


def _named(level: Level, plane: _Plane, labels: Labels) -> Level:
    """Write a limit's words near its line, on the right where no curve is."""
    left, y = plane.under.left, level.y
    wide = ARROW + level.words if level.is_beyond else level.words
    room = plane.under.plot_width - len(wide) * LETTER_WIDTH
    places = [left + room * share / 20 for share in range(20, -1, -1)]
    near = [(x, at) for x in places for at in (y - 6, y + LINE_HEIGHT)]
    if level.is_beyond:
        near = [(x, MARGIN_LINE) for x in places]
    rows = [TOP + line * LINE_HEIGHT for line in range(1, 8)]
    label = labels.place(wide, [*near, *((x, at) for at in rows for x in places)])
    if label is not None and level.is_beyond:
        moved = label.x + len(ARROW) * LETTER_WIDTH
        label = PlacedWords(x=round(moved, 2), y=label.y, words=level.words)
    return replace(level, label=label)


def _ticks(plane: _Plane) -> tuple[Tick, ...]:
    most_mpa = plane.most_pa / PA_PER_MPA
    step = next(
        (s for s in TICK_STEPS_MPA if most_mpa / s <= MOST_TICKS), TICK_STEPS_MPA[-1]
    )
    return tuple(
        Tick(at=plane.y(number * step * PA_PER_MPA), label=f"{number * step:g} MPa")
        for number in range(int(most_mpa / step) + 1)
    )


def _facts(
    cleaned: Sequence[tuple[str, FloatArray, FloatArray]],
    bands: Sequence[tuple[FloatArray, FloatArray, FloatArray]],
    shown: TensionInput,
) -> tuple[str, ...]:
    """Return what the drawing shows, in sentences."""
    facts = []
    for (name, times, tensions), (band_times, _lows, highs) in zip(
        cleaned, bands, strict=True
    ):
        if not tensions.size:
            facts.append(f"{name}: nothing computed for this part.")
            continue
        top = int(np.argmax(tensions))
        highest_pa = float(tensions[top])
        sentence = (
            f"{name}: highest tension {megapascals(highest_pa)}, "
            f"{_when(shown, float(times[top]))}, {_against(highest_pa, shown)}"
        )
        if highs.size:
            at = int(np.argmax(highs))
            sentence += (
                f" Likely up to {megapascals(float(highs[at]))}, "
                f"{_against(float(highs[at]), shown)}"
            )
        facts.append(sentence)
        if highest_pa > shown.limit_pa:
            facts += _spans_over(f"{name}: over", times, tensions, shown)
        if highs.size and highs.max() > shown.limit_pa:
            facts += _spans_over(f"{name}: perhaps over", band_times, highs, shown)
    return tuple(facts)


def _against(highest_pa: float, shown: TensionInput) -> str:
    limit, warning = megapascals(shown.limit_pa), megapascals(shown.warning_pa)
    if highest_pa >= shown.warning_pa:
        return f"over {warning}: the slab may have cracked."
    if highest_pa > shown.limit_pa:
        return f"over the limit of {limit}."
    return f"within the limit of {limit}."


def _spans_over(
    what: str, times: FloatArray, tensions: FloatArray, shown: TensionInput
) -> list[str]:
    over = np.flatnonzero(tensions > shown.limit_pa)
    runs = np.split(over, np.flatnonzero(np.diff(over) > 1) + 1)
    return [
        f"{what} the limit from {_when(shown, float(times[run[0]]))} "
        f"to {_when(shown, float(times[run[-1]]))}."
        for run in runs
    ]


def _when(shown: TensionInput, at_s: float) -> str:
    return shown.show_when(shown.starts_at + timedelta(seconds=at_s))
