"""A firing's curve in miniature: what was recorded filled, what was planned a line.

Pure geometry in pixels; `components/_curve_mark.html` draws it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from firing.drawings.curves import FloatArray, thin_out

WIDTH, HEIGHT = 120.0, 40.0
COLDEST_C, DRAWN_TOP_C = 20.0, 850.0
# Hours are drawn by their root, so that a firing of a day and one of a week both fit.
FULL_WIDTH_H = 144.0
# Each is some kilobytes of points and paths.
DRAWINGS_KEPT = 128

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveMark:
    """The paths of one miniature; empty where there is nothing of the kind."""

    area: str
    line: str
    width: float = WIDTH
    height: float = HEIGHT


def build_curve_mark(
    *, planned: Sequence[Sequence[float]], recorded: Sequence[Sequence[float]]
) -> CurveMark:
    """Draw a curve of (seconds since the start, °C) in a fixed small frame.

    The width grows with the root of the hours it takes, so that long firings look long.
    Firings of one schedule have one curve, so drawings are kept.
    """
    return _drawn(
        tuple((seconds, celsius) for seconds, celsius in planned),
        tuple((seconds, celsius) for seconds, celsius in recorded),
    )


@lru_cache(maxsize=DRAWINGS_KEPT)
def _drawn(planned: tuple[Point, ...], recorded: tuple[Point, ...]) -> CurveMark:
    long_s = max((seconds for seconds, _ in [*planned, *recorded]), default=0.0)
    share = min(1.0, (max(long_s, 1.0) / 3600 / FULL_WIDTH_H) ** 0.5)
    top_c = max([DRAWN_TOP_C, *(c for _, c in planned), *(c for _, c in recorded)])

    def path(points: Sequence[Point]) -> list[str]:
        pairs = np.array(sorted(points), dtype=np.float64).reshape(-1, 2)
        times, heat = pairs[:, 0], pairs[:, 1]
        kept = thin_out(times, heat, columns=max(1, round(WIDTH * share / 2)))
        x = times[kept] / max(long_s, 1.0) * WIDTH * share
        y = HEIGHT - _share(heat[kept], top_c) * (HEIGHT - 2)
        return [f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True)]

    line = path(planned) if len(planned) > 1 else []
    area = path(recorded) if len(recorded) > 1 else []
    return CurveMark(
        line=f"M{' '.join(line)}" if line else "",
        area=f"M{area[0].split(',')[0]},{HEIGHT:.0f} {' '.join(area)} "
        f"{area[-1].split(',')[0]},{HEIGHT:.0f}Z"
        if area
        else "",
    )


def _share(heat: FloatArray, top_c: float) -> FloatArray:
    share: FloatArray = np.clip((heat - COLDEST_C) / (top_c - COLDEST_C), 0.0, 1.0)
    return share
