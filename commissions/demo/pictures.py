"""Draws stand-ins for photographs: tidal scenes, one image per painted layer.

The program makes them from a seed, so the demo shows no real work and no real place.
"""

import io
import math

import numpy as np
from PIL import Image, ImageChops, ImageDraw, ImageFilter

WIDTH, HEIGHT = 960, 640
HORIZON = int(HEIGHT * 0.42)
GLASS_TOP, GLASS_BOTTOM = (238, 245, 240), (222, 236, 229)
SKY = [(96, 120, 142), (150, 166, 178), (196, 168, 142), (118, 132, 150)]
WATER = [(70, 104, 112), (98, 128, 126), (138, 150, 138)]
REED = [(66, 74, 52), (104, 96, 60), (52, 58, 50)]


def layer_picture(*, seed: int, number: int, count: int) -> bytes:
    """Return a JPEG of one layer on the light table.

    Back layers carry sky, middle ones water and mud, front ones reeds and posts.
    """
    return _jpeg(ImageChops.multiply(_light_table(), _layer(seed, number, count)))


def stack_picture(*, seed: int, count: int) -> bytes:
    """Return a JPEG of all layers seen through each other, as in a finished slab."""
    image = _light_table()
    for number in range(1, count + 1):
        image = ImageChops.multiply(image, _layer(seed, number, count))
    return _jpeg(image.filter(ImageFilter.GaussianBlur(0.8)))


def _layer(seed: int, number: int, count: int) -> Image.Image:
    rng = np.random.default_rng([seed, number])
    image = Image.new("RGB", (WIDTH, HEIGHT), "white")
    draw = ImageDraw.Draw(image, "RGBA")
    depth = number / count
    if depth <= 0.35:
        _sky(draw, rng)
    elif depth <= 0.7:
        _water(draw, rng)
    else:
        _reeds(draw, rng)
    return image.filter(ImageFilter.GaussianBlur(2.2 - 1.6 * depth))


def _sky(draw: ImageDraw.ImageDraw, rng: np.random.Generator) -> None:
    for _ in range(int(rng.integers(5, 9))):
        y = int(rng.uniform(0, HORIZON))
        colour = SKY[int(rng.integers(len(SKY)))]
        height = int(rng.uniform(8, 46))
        wave, shift = rng.uniform(140, 260), rng.uniform(0, 6)
        points = [
            (x, y + height * math.sin(x / wave + shift) / 2)
            for x in range(0, WIDTH + 40, 40)
        ]
        under = [(x, py + height) for x, py in reversed(points)]
        draw.polygon([*points, *under], fill=(*colour, int(rng.uniform(26, 66))))


def _water(draw: ImageDraw.ImageDraw, rng: np.random.Generator) -> None:
    for _ in range(int(rng.integers(2, 4))):
        start = rng.uniform(-0.2, 1.2) * WIDTH
        lean = rng.uniform(-0.5, 0.5) * WIDTH
        colour = WATER[int(rng.integers(len(WATER)))]
        left, right = [], []
        for step in range(21):
            near = step / 20
            y = HORIZON + near**1.6 * (HEIGHT - HORIZON)
            x = start + lean * near + 60 * near * math.sin(6 * near + start)
            half = 2 + 80 * near**1.8
            left.append((x - half, y))
            right.append((x + half, y))
        draw.polygon([*left, *reversed(right)], fill=(*colour, 70))
    draw.line([(0, HORIZON), (WIDTH, HORIZON)], fill=(60, 70, 72, 40), width=2)


def _reeds(draw: ImageDraw.ImageDraw, rng: np.random.Generator) -> None:
    for _ in range(int(rng.integers(16, 34))):
        x = rng.uniform(0, WIDTH)
        tall = rng.uniform(40, 260)
        bend = rng.uniform(-40, 40)
        colour = REED[int(rng.integers(len(REED)))]
        points = [
            (x + bend * (t / 6) ** 2, HEIGHT - tall * math.sin(t / 6 * math.pi / 2))
            for t in range(7)
        ]
        draw.line(points, fill=(*colour, 150), width=int(rng.integers(1, 4)))
    for _ in range(int(rng.integers(0, 2))):
        x, top = rng.uniform(0.1, 0.9) * WIDTH, rng.uniform(0.35, 0.6) * HEIGHT
        draw.rectangle([x, top, x + 9, HEIGHT], fill=(48, 44, 40, 170))


def _light_table() -> Image.Image:
    mix = np.linspace(0, 1, HEIGHT)[:, None, None]
    column = (1 - mix) * np.array(GLASS_TOP) + mix * np.array(GLASS_BOTTOM)
    return Image.fromarray(np.repeat(column, WIDTH, axis=1).astype(np.uint8), "RGB")


def _jpeg(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=86)
    return out.getvalue()
