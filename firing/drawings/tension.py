"""The tension chart: computed tension over time, under a firing chart's time axis.

Pure geometry for `components/_tension_chart.html`. It takes its width, margins, window
and ticks from the firing chart it stands under, so that the two always line up.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from firing.drawings.chart import FiringChart
from firing.drawings.curves import (
    FloatArray,
    clean_readings,
    cut_to_window,
    thin_out,
)
from firing.drawings.plot import LINE_HEIGHT, PlacedWords, Plot, Tick

PA_PER_MPA = 1e6
HEIGHT_WIDE, HEIGHT_NARROW = 190.0, 170.0
NARROW_BELOW = 500.0
TOP = 18.0
HEADROOM = 1.12
# A tension far over the warning is cut off here and given in words, so that the limit
# and the warning can still be told apart.
MOST_WARNINGS = 3.0
TICK_STEPS_MPA = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
MOST_TICKS = 6
BOLD_LETTER_WIDTH = 8.0
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

    `limit_pa` is what the maker allows while heating and cooling; from `warning_pa` on
    the slab may have cracked.
    """

    title: str
    starts_at: datetime
    show_when: Callable[[datetime], str]
    series: Sequence[TensionSeries]
    limit_pa: float = 3e6
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
    """A line across the drawing, and where its words are."""

    y: float
    label_y: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TensionChart(Plot):
    """One drawing at one size. Paths are SVG path data; everything in pixels."""

    lines: tuple[TensionLine, ...]
    limit: Level
    warning: Level
    tension_ticks: tuple[Tick, ...]


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
        most_pa=min(
            max(highest_pa, shown.warning_pa) * HEADROOM,
            shown.warning_pa * MOST_WARNINGS,
        ),
    )
    return TensionChart(
        key=f"{under.key}-tension",
        title=shown.title,
        width=under.width,
        height=height,
        left=under.left,
        right=under.right,
        top=TOP,
        bottom=plane.bottom,
        lines=_lines(cleaned, bands, plane, shown),
        limit=_level("limit", shown.limit_pa, plane, is_under=_is_close(plane, shown)),
        warning=_level("may crack from", shown.warning_pa, plane, is_under=False),
        tension_ticks=_ticks(plane),
        time_ticks=under.time_ticks,
        gaps=under.gaps,
        now_x=under.now_x,
        facts=_facts(cleaned, bands, shown, plane),
    )


def megapascals(pascal: float) -> str:
    """Write a tension with two figures, as many as a model can give."""
    mpa = pascal / PA_PER_MPA
    return f"{mpa:.1f} MPa" if mpa >= 1 else f"{mpa:.2f} MPa"


def _inside(one: TensionSeries, under: FiringChart) -> tuple[FloatArray, FloatArray]:
    times, tensions = clean_readings(one.time_s, one.tension_pa)
    return cut_to_window(times, tensions, from_s=under.from_s, to_s=under.to_s)


def _path(times: FloatArray, tensions: FloatArray, plane: _Plane) -> str:
    if times.size == 0:
        return ""
    kept = thin_out(times, tensions, columns=int(min(plane.under.plot_width, 799)))
    pairs = [
        f"{plane.x(float(times[i])):.1f},{plane.y(float(tensions[i])):.1f}"
        for i in kept
    ]
    return "M" + " ".join(pairs if len(pairs) > 1 else [*pairs, *pairs])


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


def _area(band: tuple[FloatArray, FloatArray, FloatArray], plane: _Plane) -> str:
    """Return the area between lowest and highest: along the top, back along the foot."""
    times, lows, highs = band
    if times.size < 2:
        return ""
    columns = int(min(plane.under.plot_width, 799))
    there = [(i, highs) for i in thin_out(times, highs, columns=columns)]
    back = [(i, lows) for i in thin_out(times, lows, columns=columns)[::-1]]
    pairs = [
        f"{plane.x(float(times[i])):.1f},{plane.y(float(values[i])):.1f}"
        for i, values in (*there, *back)
    ]
    return f"M{' '.join(pairs)}Z"


def _lines(
    cleaned: Sequence[tuple[str, FloatArray, FloatArray]],
    bands: Sequence[tuple[FloatArray, FloatArray, FloatArray]],
    plane: _Plane,
    shown: TensionInput,
) -> tuple[TensionLine, ...]:
    """Return each series, its highest value written at its peak where there is room."""
    placed: list[PlacedWords] = []
    lines = []
    for dash, ((name, times, tensions), band) in enumerate(
        zip(cleaned, bands, strict=True)
    ):
        peak = _peak_words((times, tensions), band, plane, shown, placed)
        if peak is not None:
            placed.append(peak)
        lines.append(
            TensionLine(
                name=name,
                dash=dash,
                path=_path(times, tensions, plane),
                peak=peak,
                band_path=_area(band, plane),
            )
        )
    return tuple(lines)


def _peak_words(
    curve: tuple[FloatArray, FloatArray],
    band: tuple[FloatArray, FloatArray, FloatArray],
    plane: _Plane,
    shown: TensionInput,
    placed: Sequence[PlacedWords],
) -> PlacedWords | None:
    """Write a peak's value above it, else beside it, else leave it to the sentences.

    With a band it says how high it may be, and is above the band if it can be. Curves
    that coincide have one value between them.
    """
    times, tensions = curve
    if not tensions.size:
        return None
    top = int(np.argmax(tensions))
    words = megapascals(float(tensions[top]))
    x, y = plane.x(float(times[top])), plane.y(float(tensions[top]))
    figures = words.removesuffix(" MPa")
    if any(
        other.words.split(",")[0].removesuffix(" MPa") == figures
        and abs(other.x - x) < len(other.words) * BOLD_LETTER_WIDTH
        for other in placed
    ):
        return None
    band_times, _, highs = band
    band_y = y
    if highs.size:
        band_y = plane.y(float(np.interp(times[top], band_times, highs)))
        most = megapascals(float(highs.max()))
        if most != words:
            words = f"{figures}, up to {most}"
    half = len(words) * BOLD_LETTER_WIDTH / 2
    first, last = plane.under.left + half + 4, plane.under.right - half - 4
    levels = (plane.y(shown.limit_pa), plane.y(shown.warning_pa))
    over = min(max(x, first), last)
    for at, base in (
        (over, band_y - 6),
        (over, y - 6),
        (x + half + 6, y + 8),
        (x - half - 6, y + 8),
    ):
        crosses = any(base - 12 < level < base + 3 for level in levels)
        hides = any(
            abs(base - other.y) < LINE_HEIGHT
            and abs(at - other.x) < half + len(other.words) * BOLD_LETTER_WIDTH / 2
            for other in placed
        )
        is_inside = first <= at <= last and base - 10 > TOP and base < plane.bottom
        if is_inside and not crosses and not hides:
            return PlacedWords(x=round(at, 2), y=round(base, 2), words=words)
    return None


def _is_close(plane: _Plane, shown: TensionInput) -> bool:
    apart = plane.y(shown.limit_pa) - plane.y(shown.warning_pa)
    return apart < LINE_HEIGHT + 5


def _level(words: str, pascal: float, plane: _Plane, *, is_under: bool) -> Level:
    y = plane.y(pascal)
    return Level(
        y=y,
        label_y=round(y + 13 if is_under else y - 5, 2),
        words=f"{words} {pascal / PA_PER_MPA:g} MPa",
    )


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
    plane: _Plane,
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
                f" Over what is not known exactly, up to "
                f"{megapascals(float(highs[at]))}, "
                f"{_against(float(highs[at]), shown)}"
            )
        if highest_pa > plane.most_pa:
            sentence += " It goes beyond the top of the drawing."
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
