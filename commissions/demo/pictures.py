"""Paints stand-ins for photographs: the layers of a scene, as enamel on clear glass.

The program makes them from a seed, so the demo shows no real work and no real place.
Each layer carries its own part of a scene, the furthest at the back; looked through,
the layers make one picture. Paint only darkens, so all that shines is left clear.
"""

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

WIDTH, HEIGHT = 960, 640
# What the light table shows through clear glass: nearly white, a little green.
LIGHT_TABLE = np.array([244, 248, 245], dtype=np.float32) / 255
# The side of the square of noise that the ground is cut from.
GROUND = 1024

Field = NDArray[np.floating[Any]]
Colour = tuple[int, int, int]
Point = tuple[float, float]
Paint = Callable[["Canvas"], list[tuple[Colour, Field]]]


@dataclass(frozen=True, slots=True)
class Part:
    """What is on one layer."""

    title: str
    paint: Paint


@dataclass(frozen=True, slots=True)
class Scene:
    """A picture in depth: its parts from the back to the front."""

    horizon: float
    parts: tuple[Part, ...]

    def on(self, number: int, count: int) -> list[tuple[int, Part]]:
        """Return what is on one of `count` layers, 1 at the back: one part or more."""
        return [
            (place, part)
            for place, part in enumerate(self.parts)
            if place * count // len(self.parts) == number - 1
        ]

    def title(self, number: int, count: int) -> str:
        """Say what is on a layer."""
        return ", ".join(part.title for _, part in self.on(number, count)).capitalize()


@cache
def _grid() -> tuple[Field, Field]:
    """Return each pixel's place: across and down, from 0 to 1."""
    y, x = np.mgrid[0 : 1 : HEIGHT * 1j, 0 : 1 : WIDTH * 1j].astype(np.float32)
    return x, y


class Canvas:
    """One layer while it is painted: where its pixels are, and its dice."""

    def __init__(self, horizon: float, seed: int, part: int) -> None:
        self.shared = np.random.default_rng([seed, 0])
        self.rng = np.random.default_rng([seed, part + 1])
        self.horizon = horizon
        self.x, self.y = _grid()
        # From 0 at the horizon to 1 at one's feet.
        self.near = np.clip((self.y - horizon) / (1 - horizon), 0, 1)

    def noise(self, across: int, down: int, octaves: int = 4) -> Field:
        """Return cloudy noise from 0 to 1; `across` and `down` count its lumps."""
        return _noise(self.rng, (WIDTH, HEIGHT), (across, down), octaves)

    def ground(self, across: int, octaves: int = 4) -> Field:
        """Return noise that lies on the ground and shrinks towards the horizon."""
        texture = _noise(self.rng, (GROUND, GROUND), (across, across), octaves)
        far = 1 / (self.near + 0.07)
        u = (GROUND / 2 + (self.x - 0.5) * far * 0.5 * WIDTH).astype(np.int32)
        v = (far * 0.52 * WIDTH).astype(np.int32)
        # Mirrored at its sides, so that it has no seams.
        return texture[_folded(v), _folded(u)]

    def outline(self, lumps: int, rough: float = 0.25) -> Field:
        """Return a rolling line across the picture, from 0 to 1."""
        points = self.rng.random(lumps)
        line = np.interp(self.x[0], np.linspace(0, 1, lumps), points)
        smooth = np.ones(61) / 61
        line = np.convolve(np.pad(line, 30, mode="edge"), smooth, mode="valid")
        fine = np.interp(self.x[0], np.linspace(0, 1, 240), self.rng.random(240))
        drawn: Field = (line * (1 - rough) + fine * rough).astype(np.float32)
        return drawn

    def land(self, top: Field, base: float) -> Field:
        """Return 1 between an outline and the line on which it stands."""
        inside: Field = soft(self.y - top, 0.004) * soft(base - self.y, 0.003)
        return inside

    def mirrored(self, shape: Field, at: float, *, shake: float = 0.004) -> Field:
        """Return a shape upside down in the water from the line `at` on, shaken."""
        line, rows = round(at * HEIGHT), np.arange(HEIGHT)
        below = np.clip(rows - line, 0, None)
        seen = shape[np.clip(2 * line - rows, 0, HEIGHT - 1)]
        wide = shake * WIDTH * np.minimum(below / 60, 3)
        moved = wide * np.sin(below**0.75 * 1.1 + self.rng.normal(0, 0.3, HEIGHT))
        places = np.arange(WIDTH)[None, :] + moved.astype(np.int32)[:, None]
        seen = np.take_along_axis(seen, np.clip(places, 0, WIDTH - 1), axis=1)
        return np.where((below > 0)[:, None], seen, 0).astype(np.float32)


class Pen:
    """Draws shapes in the picture's own measure: from 0 to 1, across and down."""

    def __init__(self) -> None:
        self.image = Image.new("L", (2 * WIDTH, 2 * HEIGHT))
        self.draw = ImageDraw.Draw(self.image)

    def shape(self, points: Sequence[Point], shade: float = 1.0) -> None:
        """Fill a shape."""
        scaled = [(2 * WIDTH * x, 2 * HEIGHT * y) for x, y in points]
        self.draw.polygon(scaled, fill=round(255 * shade))

    def stroke(
        self, points: Sequence[Point], start: float, end: float, shade: float = 1.0
    ) -> None:
        """Draw a line that gets from `start` to `end` wide, in widths of the picture."""
        line = np.array(points) * (1, HEIGHT / WIDTH)
        along = np.gradient(line, axis=0)
        along /= np.maximum(np.hypot(*along.T), 1e-9)[:, None]
        half = np.linspace(start / 2, end / 2, len(line))[:, None]
        side = np.stack([-along[:, 1], along[:, 0]], axis=1) * half
        edge = np.concatenate([line + side, (line - side)[::-1]])
        edge *= (1, WIDTH / HEIGHT)
        self.shape([(float(x), float(y)) for x, y in edge], shade)

    def disc(
        self, x: float, y: float, wide: float, tall: float, lit: float = 1
    ) -> None:
        """Fill an ellipse that is `wide` and `tall` to each side of its middle."""
        left, right = 2 * WIDTH * (x - wide), 2 * WIDTH * (x + wide)
        top, bottom = 2 * HEIGHT * (y - tall), 2 * HEIGHT * (y + tall)
        self.draw.ellipse((left, top, right, bottom), fill=round(255 * lit))

    def field(self) -> Field:
        """Return what was drawn, from 0 to 1."""
        return np.asarray(self.image.reduce(2), dtype=np.float32) / 255


def _noise(
    rng: np.random.Generator,
    size: tuple[int, int],
    lumps: tuple[int, int],
    octaves: int,
) -> Field:
    total = np.zeros(size[::-1], dtype=np.float32)
    for octave in range(octaves):
        grid = rng.random((lumps[1] * 2**octave + 2, lumps[0] * 2**octave + 2))
        drawn = Image.fromarray(grid.astype(np.float32), "F")
        total += np.asarray(drawn.resize(size, Image.Resampling.BICUBIC)) / 2**octave
    low, high = float(total.min()), float(total.max())
    return (total - low) / (high - low)


def _folded(place: NDArray[np.int32]) -> NDArray[np.int32]:
    return np.abs((place + GROUND) % (2 * GROUND) - GROUND).clip(0, GROUND - 1)


def soft(distance: Any, edge: float) -> Field:
    """Return 0 outside and 1 inside an outline, blurred over `edge`."""
    inside: Field = np.clip(distance / edge + 0.5, 0, 1)
    return inside


def layer_picture(scene: Scene, *, seed: int, number: int, count: int) -> bytes:
    """Return a JPEG of one of `count` painted layers on the light table, 1 at the back."""
    return _jpeg(LIGHT_TABLE * _layer(scene, seed, number, count))


def stack_picture(scene: Scene, *, seed: int, count: int) -> bytes:
    """Return a JPEG of all painted layers seen through each other, as in a slab."""
    seen: Field = LIGHT_TABLE
    for number in range(1, count + 1):
        seen = seen * _layer(scene, seed, number, count)
    return _jpeg(seen)


def polariser_picture(*, seed: int) -> bytes:
    """Return a JPEG of a slab between crossed polarisers: dark, lighter at its corners."""
    x, y = _grid()
    across, down = 2 * x - 1, 2 * y - 1
    corners = np.abs(across * down) ** 1.5
    clouds = Canvas(0.5, seed, 0).noise(5, 4) * 0.04
    inside = (np.maximum(np.abs(across), np.abs(down)) < 0.94).astype(np.float32)
    light = (0.05 + 0.3 * corners + clouds) * inside + 0.02
    return _jpeg(light[:, :, None] * np.array([0.9, 0.95, 1.0], dtype=np.float32))


def _layer(scene: Scene, seed: int, number: int, count: int) -> Field:
    """Return what a layer lets through, from 0 to 1 in red, green and blue."""
    through = np.ones((HEIGHT, WIDTH, 3), dtype=np.float32)
    for place, part in scene.on(number, count):
        for colour, cover in part.paint(Canvas(scene.horizon, seed, place)):
            pigment = np.array(colour, dtype=np.float32) / 255
            through *= 1 - np.clip(cover, 0, 1)[:, :, None] * (1 - pigment)
    return through


def _jpeg(seen: Field) -> bytes:
    out = io.BytesIO()
    image = Image.fromarray((np.clip(seen, 0, 1) * 255).astype(np.uint8), "RGB")
    image.save(out, "JPEG", quality=88)
    return out.getvalue()
