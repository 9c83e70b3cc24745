"""Paints stand-ins for photographs: a tidal scene in depth, one image per painted layer.

The program makes them from a seed, so the demo shows no real work and no real place.
Each layer carries its own part of the scene on clear glass, from the sky at the back to
the reeds in front; looked through, the layers make one picture.
"""

import io
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

WIDTH, HEIGHT = 1200, 800
HORIZON = 0.42
# What the light table shows through clear glass: nearly white, a little green.
LIGHT_TABLE = np.array([244, 248, 245], dtype=np.float32) / 255

Field = NDArray[np.float32]
Colour = tuple[int, int, int]
Part = Callable[["Scene"], list[tuple[Colour, Field]]]

# Sky, glow, hills, water, mud, dark: one hour of the day each.
PALETTES: tuple[tuple[Colour, ...], ...] = (
    ((92, 128, 158), (238, 176, 120), (104, 126, 146), (74, 116, 128), (138, 112, 84), (48, 54, 52)),
    ((122, 140, 168), (242, 160, 138), (120, 118, 142), (96, 118, 138), (150, 116, 102), (58, 50, 60)),
    ((110, 146, 150), (236, 208, 140), (96, 126, 118), (82, 128, 120), (128, 118, 78), (46, 58, 46)),
)  # fmt: skip


class Scene:
    """One piece's scene while a layer is painted: its size, colours and dice."""

    def __init__(self, seed: int, part: int) -> None:
        self.shared = np.random.default_rng([seed, 0])
        self.rng = np.random.default_rng([seed, part + 1])
        self.sky, self.glow, self.hills, self.water, self.mud, self.dark = PALETTES[
            int(self.shared.integers(len(PALETTES)))
        ]
        self.sun = float(self.shared.uniform(0.3, 0.7))
        self.lean = float(self.shared.uniform(-0.35, 0.35))
        self.y, self.x = np.mgrid[0 : 1 : HEIGHT * 1j, 0 : 1 : WIDTH * 1j].astype(
            np.float32
        )

    def noise(self, across: int, down: int, octaves: int = 4) -> Field:
        """Return cloudy noise from 0 to 1; `across` and `down` count its lumps."""
        total = np.zeros((HEIGHT, WIDTH), dtype=np.float32)
        for octave in range(octaves):
            grid = self.rng.random((down * 2**octave + 2, across * 2**octave + 2))
            lumps = Image.fromarray(grid.astype(np.float32), "F")
            total += np.asarray(
                lumps.resize((WIDTH, HEIGHT), Image.Resampling.BICUBIC)
            ) / 2 ** (octave + 1)
        low, high = float(total.min()), float(total.max())
        return (total - low) / (high - low)

    def skyline(self, lumps: int, *, height: float, base: float = HORIZON) -> Field:
        """Return 1 under a rolling outline that stands on the horizon."""
        points = self.rng.random(lumps) ** 1.6
        top = np.interp(self.x[0], np.linspace(0, 1, lumps), points)
        top = np.convolve(np.pad(top, 30, mode="edge"), np.ones(61) / 61, mode="valid")
        rough = self.noise(90, 1, 2)[0] * 0.12
        edge = base - height * (top + rough)
        inside: Field = soft(self.y - edge, 0.004) * soft(base - self.y, 0.003)
        return inside

    def channel(self, start: float, wide: float) -> Field:
        """Return 1 inside a creek that winds from the horizon towards the front."""
        near = np.clip((self.y - HORIZON) / (1 - HORIZON), 0, 1)
        bend = 0.11 * near * np.sin(7 * near**0.6 + 9 * start)
        middle = start + (self.sun - start) * (1 - near) ** 2 + self.lean * near + bend
        half = 0.002 + wide * near**1.7
        ragged = (self.noise(14, 30) - 0.5) * 0.03 * near
        inside: Field = soft(half - np.abs(self.x - middle) + ragged, 0.004) * (
            near > 0
        )
        return inside


def soft(distance: Field, edge: float) -> Field:
    """Return 0 outside and 1 inside an outline, blurred over `edge`."""
    inside: Field = np.clip(distance / edge + 0.5, 0, 1)
    return inside


def _sky(s: Scene) -> list[tuple[Colour, Field]]:
    wash = np.clip(1 - s.y / HORIZON, 0, 1) ** 1.3
    return [(s.sky, 0.75 * wash * (0.75 + 0.25 * s.noise(3, 6)))]


def _glow(s: Scene) -> list[tuple[Colour, Field]]:
    far = ((s.x - s.sun) / 0.5) ** 2 + ((s.y - HORIZON) / 0.2) ** 2
    return [(s.glow, 0.7 * np.exp(-far) * (s.y < HORIZON + 0.004))]


def _clouds(middle: float, spread: float) -> Part:
    def paint(s: Scene) -> list[tuple[Colour, Field]]:
        band = np.exp(-(((s.y - middle) / spread) ** 2))
        streaks = np.clip(s.noise(3, 14, 5) - 0.5, 0, 1) * 2.6
        return [(s.hills, 0.6 * band * streaks)]

    return paint


def _hills(height: float, strength: float) -> Part:
    def paint(s: Scene) -> list[tuple[Colour, Field]]:
        shape = s.skyline(9, height=height)
        return [(s.hills, strength * shape * (0.8 + 0.2 * s.noise(12, 12)))]

    return paint


def _shore(s: Scene) -> list[tuple[Colour, Field]]:
    trees = s.skyline(60, height=0.035)
    below = soft(s.y - HORIZON, 0.002) * np.exp(-(s.y - HORIZON) / 0.03)
    return [(s.dark, 0.6 * trees), (s.dark, 0.35 * below * s.noise(40, 50))]


def _water(from_y: float, to_y: float, strength: float) -> Part:
    def paint(s: Scene) -> list[tuple[Colour, Field]]:
        inside = soft(s.y - from_y, 0.01) * soft(to_y - s.y, 0.12)
        ripples = np.clip(s.noise(5, 90, 3) * 1.7 - 0.45, 0, 1)
        path = 1 - 0.85 * np.exp(-(((s.x - s.sun) / (0.04 + 0.16 * s.y)) ** 2))
        return [(s.water, strength * inside * ripples * path)]

    return paint


def _mud(from_y: float, to_y: float, strength: float) -> Part:
    def paint(s: Scene) -> list[tuple[Colour, Field]]:
        inside = soft(s.y - from_y, 0.05) * soft(to_y - s.y, 0.1)
        flats = soft(s.noise(4, 16, 5) - 0.48, 0.1)
        return [(s.mud, strength * inside * flats * (0.6 + 0.4 * s.noise(60, 60)))]

    return paint


def _creek(start: float, wide: float) -> Part:
    def paint(s: Scene) -> list[tuple[Colour, Field]]:
        shape = s.channel(start, wide)
        return [(s.water, 0.7 * shape * (0.7 + 0.3 * s.noise(6, 60)))]

    return paint


def _posts(count: int, from_near: float, to_near: float) -> Part:
    def paint(s: Scene) -> list[tuple[Colour, Field]]:
        shape = np.zeros_like(s.x)
        water = np.zeros_like(s.x)
        for near in np.linspace(from_near, to_near, count):
            foot = HORIZON + near**1.5 * (1 - HORIZON)
            x = s.sun - 0.22 + 0.62 * near + s.rng.uniform(-0.01, 0.01)
            half, tall = 0.002 + 0.010 * near, 0.02 + 0.24 * near
            lean = s.rng.uniform(-0.04, 0.04)
            across = soft(half - np.abs(s.x - x - lean * (foot - s.y)), 0.002)
            shape = np.maximum(
                shape, across * soft(s.y - foot + tall, 0.004) * soft(foot - s.y, 0.004)
            )
            shaken = np.abs(s.x - x + 0.006 * np.sin(s.y * 240))
            deep = soft(s.y - foot, 0.004) * np.exp(-(s.y - foot) / (0.5 * tall))
            water = np.maximum(water, soft(half - shaken, 0.002) * deep)
        grain = 0.75 + 0.25 * s.noise(160, 8)
        return [(s.dark, 0.85 * shape * grain), (s.dark, 0.4 * water)]

    return paint


def _ripples(s: Scene) -> list[tuple[Colour, Field]]:
    near = np.clip((s.y - 0.62) / 0.38, 0, 1)
    strokes = soft(s.noise(9, 60, 3) - 0.62, 0.06)
    return [(s.dark, 0.45 * near * strokes)]


def _reeds(left: float, right: float, tallest: float, count: int) -> Part:
    def paint(s: Scene) -> list[tuple[Colour, Field]]:
        shape = np.zeros_like(s.x)
        heads = np.zeros_like(s.x)
        for _ in range(count):
            x, bend = s.rng.uniform(left, right), s.rng.normal(0.03, 0.04)
            tall = tallest * s.rng.uniform(0.45, 1)
            low = int(np.clip((min(x, x + bend) - 0.04) * WIDTH, 0, WIDTH))
            high = int(np.clip((max(x, x + bend) + 0.04) * WIDTH, 0, WIDTH))
            if low >= high:
                continue
            across, y = s.x[:, low:high], s.y[:, low:high]
            up = np.clip((1 - y) / tall, 0, 1.2)
            middle = x + bend * up**2
            stem = soft(0.0017 * (1.15 - up) - np.abs(across - middle), 0.0012)
            stem = stem * (up < 1)
            shape[:, low:high] = np.maximum(shape[:, low:high], stem)
            if s.rng.random() < 0.4:
                head = ((across - middle) / 0.0045) ** 2 + ((up - 0.94) / 0.075) ** 2
                heads[:, low:high] = np.maximum(heads[:, low:high], np.exp(-(head**2)))
        return [(s.dark, 0.85 * shape), (s.mud, 0.9 * heads)]

    return paint


def _birds(s: Scene) -> list[tuple[Colour, Field]]:
    shape = np.zeros_like(s.x)
    for _ in range(int(s.rng.integers(7, 12))):
        x, y = s.rng.uniform(0.12, 0.88), s.rng.uniform(0.07, 0.32)
        span = s.rng.uniform(0.008, 0.02)
        wing = np.abs(s.x - x) / span
        drop = y - 0.5 * span * np.sin(np.clip(wing, 0, 1) * np.pi * 0.8)
        stroke = soft(0.0022 * (1.1 - wing) - np.abs(s.y - drop), 0.002) * (wing < 1)
        shape = np.maximum(shape, stroke)
    return [(s.dark, 0.8 * shape)]


# From the back to the front.
PARTS: tuple[Part, ...] = (
    _sky,
    _glow,
    _clouds(0.12, 0.1),
    _clouds(0.3, 0.07),
    _hills(0.15, 0.32),
    _hills(0.08, 0.45),
    _shore,
    _water(HORIZON, 0.6, 0.55),
    _mud(0.47, 0.66, 0.5),
    _water(0.52, 0.8, 0.6),
    _creek(0.38, 0.10),
    _mud(0.58, 0.86, 0.6),
    _creek(0.62, 0.16),
    _posts(7, 0.08, 0.3),
    _water(0.66, 1.0, 0.6),
    _posts(3, 0.42, 0.66),
    _ripples,
    _birds,
    _reeds(0.6, 1.0, 0.42, 60),
    _reeds(-0.02, 0.34, 0.62, 54),
)


def layer_picture(*, seed: int, number: int, count: int) -> bytes:
    """Return a JPEG of one of `count` painted layers on the light table, 1 at the back."""
    return _jpeg(LIGHT_TABLE * _layer(seed, number, count))


def stack_picture(*, seed: int, count: int) -> bytes:
    """Return a JPEG of all painted layers seen through each other, as in a slab."""
    seen: NDArray[np.floating[Any]] = LIGHT_TABLE
    for number in range(1, count + 1):
        seen = seen * _layer(seed, number, count)
    return _jpeg(seen)


def _layer(seed: int, number: int, count: int) -> Field:
    """Return what a layer lets through, from 0 to 1 in red, green and blue."""
    through = np.ones((HEIGHT, WIDTH, 3), dtype=np.float32)
    own = [
        (part, paint)
        for part, paint in enumerate(PARTS)
        if part * count // len(PARTS) == number - 1
    ]
    # A deeper stack than the scene has parts repeats its nearest ones, other reeds again.
    for part, paint in own or [(number, PARTS[number % len(PARTS)])]:
        for colour, cover in paint(Scene(seed, part)):
            pigment = np.array(colour, dtype=np.float32) / 255
            through *= 1 - np.clip(cover, 0, 1)[:, :, None] * (1 - pigment)
    return through


def _jpeg(seen: NDArray[np.floating[Any]]) -> bytes:
    out = io.BytesIO()
    image = Image.fromarray((np.clip(seen, 0, 1) * 255).astype(np.uint8), "RGB")
    image.save(out, "JPEG", quality=88)
    return out.getvalue()
