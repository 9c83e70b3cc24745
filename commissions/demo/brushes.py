"""What the demo's layers are painted with: sky, water, mud, reeds, each as a function.

Each takes its colour and place, and returns what paints a layer's canvas.
"""

import numpy as np

from commissions.demo.pictures import Canvas, Colour, Field, Paint, Pen, Point, soft

Painted = list[tuple[Colour, Field]]


def points(text: str) -> list[Point]:
    """Return places across and down, written as "x,y x,y"."""
    pairs = (place.split(",") for place in text.split())
    return [(float(x), float(y)) for x, y in pairs]


def sky(colour: Colour, strength: float, *, power: float = 1.2) -> Paint:
    """Return a wash that fades towards the horizon."""

    def paint(c: Canvas) -> Painted:
        wash = np.clip(1 - c.y / c.horizon, 0, 1) ** power
        return [(colour, strength * wash * (0.7 + 0.3 * c.noise(3, 5)))]

    return paint


def glow(colour: Colour, x: float, strength: float, wide: float = 0.45) -> Paint:
    """Return light on the horizon around the sun, which itself stays clear."""

    def paint(c: Canvas) -> Painted:
        above = np.abs(c.y - c.horizon) / np.where(c.y < c.horizon, 0.22, 0.3)
        far = np.hypot((c.x - x) / wide, above)
        around = soft(np.hypot((c.x - x) * 1.5, c.y - c.horizon + 0.055) - 0.031, 0.006)
        return [(colour, strength * np.exp(-(far**2)) * (0.4 + 0.6 * around))]

    return paint


def clouds(colour: Colour, middle: float, spread: float, strength: float) -> Paint:
    """Return heaps of cloud around a height."""

    def paint(c: Canvas) -> Painted:
        band = np.exp(-(((c.y - middle) / spread) ** 2))
        heaps = np.clip(c.noise(3, 12, 5) - 0.46, 0, 1) * 2.6
        return [(colour, strength * band * heaps)]

    return paint


def hills(colour: Colour, height: float, strength: float, lumps: int = 8) -> Paint:
    """Return rolling hills on the horizon, in mist at their feet."""

    def paint(c: Canvas) -> Painted:
        shape = c.land(c.horizon - height * c.outline(lumps, 0.06), c.horizon)
        mist = 0.55 + 0.45 * np.clip((c.horizon - c.y) / height, 0, 1)
        return [(colour, strength * shape * mist * (0.85 + 0.15 * c.noise(9, 9)))]

    return paint


def trees(colour: Colour, height: float, strength: float, *, mirror: float) -> Paint:
    """Return a wooded shore, and as much of its reflection as `mirror` says."""

    def paint(c: Canvas) -> Painted:
        crowns = c.outline(46, 0.5) * (0.35 + 0.65 * c.outline(7, 0))
        shape = c.land(c.horizon - height * crowns, c.horizon + 0.004)
        shape *= 0.8 + 0.2 * c.noise(60, 40, 2)
        water = c.mirrored(shape, c.horizon) * mirror
        return [(colour, strength * (shape + water))]

    return paint


def water(
    colour: Colour, first: float, last: float, strength: float, sun: float
) -> Paint:
    """Return rippled water between two depths, clear where the sun lies on it."""

    def paint(c: Canvas) -> Painted:
        inside = soft(c.near - first, 0.02) * soft(last - c.near, 0.12)
        inside = inside * (c.near > 0)
        ripples = np.clip(c.noise(4, 110, 3) * 1.9 - 0.5, 0, 1)
        shine = np.exp(-(((c.x - sun) / (0.03 + 0.16 * c.near)) ** 2))
        broken = shine * soft(c.noise(26, 150, 2) - 0.42, 0.12)
        return [
            (colour, strength * inside * (0.3 + 0.7 * ripples) * (1 - 0.95 * broken))
        ]

    return paint


def middle(c: Canvas, sun: float) -> Field:
    """Return where the channel runs, the same on every layer."""
    turn = float(c.shared.uniform(0.8, 1.2))
    bend = 0.30 * c.near**0.8 * np.sin(6.4 * turn * c.near**0.5 + 0.4)
    found: Field = sun + bend + 0.05 * c.near
    return found


def in_channel(c: Canvas, sun: float) -> Field:
    """Return how far outside the channel a place is, in halves of its width there."""
    half = 0.004 + 0.17 * c.near**1.4
    found: Field = np.abs(c.x - middle(c, sun)) / half - 1
    return found


def flats(
    colour: Colour, first: float, last: float, strength: float, sun: float
) -> Paint:
    """Return mud between two depths beside the channel, paler where it is wet."""

    def paint(c: Canvas) -> Painted:
        inside = soft(c.near - first, 0.12) * soft(last - c.near, 0.2) * (c.near > 0)
        out = in_channel(c, sun) + 0.5 * (c.ground(16, 3) - 0.5)
        bank = soft(out, 0.12) * (0.6 + 0.4 * np.clip(out / 3, 0, 1))
        wet = 0.4 + 0.6 * soft(c.ground(10, 4) - 0.45, 0.12)
        return [
            (colour, strength * inside * bank * wet * (0.75 + 0.25 * c.ground(60, 2)))
        ]

    return paint


def channel(colour: Colour, bank: Colour, sun: float) -> Paint:
    """Return a creek that winds from the sea to one's feet, with a dark bank."""

    def paint(c: Canvas) -> Painted:
        out = in_channel(c, sun) + 0.12 * (c.ground(20, 3) - 0.5)
        ripples = 0.35 + 0.65 * c.noise(4, 70, 3)
        deep = 0.35 + 0.65 * np.clip(1 + out, 0, 1) ** 2
        water = soft(-out, 0.1) * ripples * deep * (c.near > 0)
        edge = np.exp(-(((out - 0.06) / 0.13) ** 2)) * np.clip(4 * c.near, 0, 1)
        rough = 0.35 + 0.65 * c.ground(30, 3)
        return [(colour, 0.8 * water), (bank, 0.6 * edge * rough)]

    return paint


def runnels(colour: Colour, sun: float) -> Paint:
    """Return small creeks that run into the channel from both sides."""

    def paint(c: Canvas) -> Painted:
        pen, course = Pen(), middle(c, sun)
        for _ in range(9):
            near = float(c.rng.uniform(0.05, 0.8))
            row = int((c.horizon + near * (1 - c.horizon)) * (len(c.y) - 1))
            x, side = float(course[row, 0]), float(c.rng.choice([-1, 1]))
            turn = float(c.rng.uniform(0, 6))
            line, y = [(x, c.horizon + near * (1 - c.horizon))], near
            for step in range(14):
                x += side * (0.012 + 0.045 * near) * float(c.rng.uniform(0.7, 1.3))
                y += near * (0.025 * np.sin(0.9 * step + turn) - 0.016)
                line.append((x, c.horizon + max(y, 0.005) * (1 - c.horizon)))
            pen.stroke(line, 0.002 + 0.016 * near, 0.001)
        dry = soft(in_channel(c, sun), 0.15)
        return [(colour, 0.45 * pen.field() * dry * (0.7 + 0.3 * c.noise(30, 60, 2)))]

    return paint


def posts(colour: Colour, foot: list[Point], tall: float) -> Paint:
    """Return posts that stand in water at these places: across, and nearness."""

    def paint(c: Canvas) -> Painted:
        pen = Pen()
        water = np.zeros_like(c.y)
        for x, near in foot:
            y, size = c.horizon + near**1.4 * (1 - c.horizon), 0.08 + near
            lean, own = float(c.rng.normal(0, 0.012)), Pen()
            height = tall * size * float(c.rng.uniform(0.8, 1.1))
            line = [(x + lean * size * t, y - height * t) for t in (0, 0.5, 1)]
            for one in (pen, own):
                one.stroke(line, 0.020 * size, 0.017 * size)
            water = np.maximum(
                water, c.mirrored(own.field(), y, shake=0.003 + 0.004 * near)
            )
        grain = 0.72 + 0.28 * c.noise(220, 6, 2)
        return [(colour, 0.92 * pen.field() * grain), (colour, 0.5 * water)]

    return paint


def ripples(colour: Colour, strength: float, sun: float) -> Paint:
    """Return ripples on the channel's water, darker towards one's feet."""

    def paint(c: Canvas) -> Painted:
        strokes = soft(c.noise(7, 70, 3) - 0.52, 0.08) * c.near
        strokes = strokes * soft(-in_channel(c, sun), 0.2)
        return [(colour, strength * strokes)]

    return paint


def birds(colour: Colour, count: int, low: float, high: float) -> Paint:
    """Return birds on the wing, the lower the smaller."""

    def paint(c: Canvas) -> Painted:
        pen = Pen()
        middle, drift = c.rng.uniform(0.25, 0.75), c.rng.uniform(-0.25, 0.25)
        for one in range(count):
            y = high + (low - high) * (one + float(c.rng.random())) / count
            x = middle + drift * (one / count - 0.5) + float(c.rng.normal(0, 0.09))
            span = (0.009 + 0.02 * float(c.rng.random())) * (1.3 - y / low * 0.8)
            beat = float(c.rng.uniform(-0.3, 1.1))
            for side in (-1, 1):
                wing = [
                    (
                        x + side * span * t,
                        y - span * (beat * np.sin(2.2 * t) - 0.5 * t * t),
                    )
                    for t in np.linspace(0, 1, 7)
                ]
                pen.stroke(wing, 0.22 * span, 0.02 * span)
            pen.disc(x, y + 0.1 * span, 0.16 * span, 0.14 * span)
        return [(colour, 0.85 * pen.field())]

    return paint


def stand(
    colour: Colour,
    head: Colour,
    spans: list[tuple[float, float, float]],
    foot: float,
    *,
    count: int,
    mirror: float = 0.0,
    heads: float = 0.4,
    wide: float = 0.0035,
) -> Paint:
    """Return reeds: between two places across and of a height, with what is mirrored."""

    def paint(c: Canvas) -> Painted:
        stems, tops = Pen(), Pen()
        for left, right, tallest in spans:
            for _ in range(round(count * (right - left))):
                x = float(c.rng.uniform(left, right))
                edge = min(x - left, right - x) / (right - left)
                tall = (
                    tallest
                    * (0.35 + 0.65 * min(1, 3 * edge + 0.3))
                    * float(c.rng.uniform(0.7, 1))
                )
                y = foot + float(c.rng.uniform(-0.008, 0.012))
                bend = float(c.rng.normal(0.012, 0.03)) * tall / 0.4
                line = [(x + bend * t * t, y - tall * t) for t in np.linspace(0, 1, 7)]
                shade = float(c.rng.uniform(0.55, 1))
                stems.stroke(line, wide, wide * 0.25, shade)
                for _leaf in range(int(c.rng.integers(1, 3))):
                    leaf_of(stems, c, line, tall, wide, shade)
                if c.rng.random() < heads:
                    plume = [
                        (px + 0.006 * k * tall, py - 0.02 * k * tall)
                        for k, (px, py) in enumerate([line[-1]] * 4)
                    ]
                    tops.stroke([line[-2], *plume], wide * 1.8, wide * 0.3, 0.9)
        shape, plumes = stems.field(), tops.field()
        painted = [(colour, 0.9 * shape), (head, 0.9 * plumes)]
        if mirror:
            water = c.mirrored(np.maximum(shape, plumes), foot, shake=0.0035)
            painted.append(
                (colour, mirror * water * np.exp(-(c.y - foot).clip(0) / 0.35))
            )
        return painted

    return paint


def leaf_of(
    pen: Pen,
    c: Canvas,
    stem: list[Point],
    tall: float,
    wide: float,
    shade: float,
) -> None:
    """Draw a leaf that leaves a stem and hangs over."""
    x, y = stem[int(c.rng.integers(1, 5))]
    side, long = float(c.rng.choice([-1, 1])), tall * float(c.rng.uniform(0.18, 0.4))
    line = [
        (x + side * long * 0.5 * t, y - long * (0.9 * t - 0.75 * t * t))
        for t in np.linspace(0, 1, 6)
    ]
    pen.stroke(line, wide * 1.1, wide * 0.15, shade)


def gate(colour: Colour) -> Paint:
    """Return the sluice's timbers, through which one looks out."""

    def paint(c: Canvas) -> Painted:
        pen = Pen()
        pen.shape(points("0,0 0.06,0 0.056,1 0,1"))
        pen.shape(points("1,0 0.945,0 0.951,1 1,1"))
        pen.shape(points("0,0 1,0 1,0.058 0,0.066"))
        pen.shape(points("0.06,0.06 0.12,0.06 0.058,0.17"))
        pen.shape(points("0.945,0.06 0.885,0.06 0.948,0.17"))
        pen.shape(points("0.36,0.05 0.66,0.05 0.66,0.125 0.36,0.125"))
        for seam in np.linspace(0.36, 0.66, 8)[1:-1]:
            pen.stroke([(seam, 0.066), (seam, 0.112)], 0.0016, 0.0016, 0.6)
        beam = c.noise(5, 70, 2) < 0.5
        wood = 0.72 + 0.28 * np.where(c.y < 0.062, beam, c.noise(170, 2, 3))
        return [(colour, 0.97 * pen.field() * wood)]

    return paint


def tufts(colour: Colour, first: float, last: float, count: int) -> Paint:
    """Return tufts of grass on the ground, smaller with distance."""

    def paint(c: Canvas) -> Painted:
        pen = Pen()
        for _ in range(count):
            near = first + (last - first) * float(c.rng.random()) ** 0.7
            x, y = float(c.rng.random()), c.horizon + near * (1 - c.horizon)
            if abs(x - 0.52) < 0.1 + 0.16 * near:
                continue
            size = 0.012 + 0.055 * near
            for _blade in range(7):
                lean = float(c.rng.normal(0, 0.5))
                line = [
                    (
                        x + 0.5 * size * lean * t * t,
                        y - size * t * float(c.rng.uniform(0.9, 1.1)),
                    )
                    for t in (0, 0.5, 1)
                ]
                pen.stroke(line, 0.06 * size + 0.0006, 0.0004, 0.85)
        return [(colour, 0.8 * pen.field())]

    return paint


def bars(colour: Colour, strength: float) -> Paint:
    """Return long bars of cloud, lit from below."""

    def paint(c: Canvas) -> Painted:
        bars = soft(c.noise(2, 26, 4) - 0.5, 0.1) * np.clip(
            c.noise(5, 8) * 1.4 - 0.1, 0, 1
        )
        height = np.clip((c.horizon - c.y) / c.horizon, 0, 1)
        return [(colour, strength * bars * height**0.35 * (c.y < c.horizon))]

    return paint


def pools(colour: Colour) -> Paint:
    """Return mud around pools, which keep the sky's light."""

    def paint(c: Canvas) -> Painted:
        wet = c.ground(9, 4)
        mud = soft(wet - 0.42 - 0.1 * c.near, 0.05) * (c.near > 0.02)
        rim = np.exp(-(((wet - 0.42 - 0.1 * c.near) / 0.02) ** 2)) * (c.near > 0.02)
        return [
            (colour, 0.82 * mud * (0.72 + 0.28 * c.ground(60, 3))),
            (colour, 0.35 * rim),
        ]

    return paint


def reflected(colour: Colour, below: Colour, strength: float, x: float) -> Paint:
    """Return the sky's light on wet ground, and the sun's way across it left clear."""

    def paint(c: Canvas) -> Painted:
        way = np.exp(-(((c.x - x) / (0.05 + 0.2 * c.near)) ** 2))
        streaks = 0.65 + 0.35 * c.noise(4, 60, 3)
        light = (c.near > 0) * streaks * (1 - 0.75 * way)
        return [
            (colour, strength * light * (1 - 0.6 * c.near)),
            (below, strength * light * c.near**1.3),
        ]

    return paint


def wreck(colour: Colour) -> Paint:
    """Return the ribs of a boat that was left on the mud, and their reflection."""

    def paint(c: Canvas) -> Painted:
        pen, foot = Pen(), 0.66
        keel = [(0.16 + 0.36 * t, foot + 0.05 * t) for t in np.linspace(0, 1, 9)]
        pen.stroke(keel, 0.012, 0.016)
        for t in np.linspace(0.04, 0.96, 10):
            x, y = 0.16 + 0.36 * t, foot + 0.05 * t
            full = 0.35 + 0.65 * np.sin(np.pi * (0.15 + 0.8 * t))
            for side, tall in ((-1, 0.13), (1, 0.17)):
                own = tall * full * float(c.rng.choice([1, 1, 1, 0.8, 0.45]))
                rib = [
                    (
                        x + side * 0.05 * full * np.sin(1.5 * s) - 0.012 * s,
                        y - side * 0.012 * s - own * s**1.6,
                    )
                    for s in np.linspace(0, 1, 8)
                ]
                pen.stroke(rib, 0.009, 0.005)
        pen.stroke(
            [(0.52, foot + 0.055), (0.55, foot - 0.05), (0.585, foot - 0.2)],
            0.014,
            0.009,
        )
        shape = pen.field()
        water = c.mirrored(shape, foot + 0.045, shake=0.003)
        return [(colour, 0.92 * shape), (colour, 0.42 * water)]

    return paint


def waders(colour: Colour) -> Paint:
    """Return long-legged birds that feed at one's feet, mirrored in the wet."""

    def paint(c: Canvas) -> Painted:
        pen = Pen()
        water = np.zeros_like(c.y)
        for x, near, way in (
            (0.70, 0.5, -1),
            (0.78, 0.56, -1),
            (0.62, 0.44, 1),
            (0.87, 0.64, 1),
            (0.90, 0.42, -1),
        ):
            y, size = c.horizon + near * (1 - c.horizon), 0.03 + 0.055 * near
            own = Pen()
            for one in (pen, own):
                for leg in (-0.1, 0.14):
                    one.stroke(
                        [(x + leg * size, y), (x + leg * size * 0.5, y - 0.8 * size)],
                        0.0022,
                        0.0026,
                    )
                one.disc(x, y - 1.05 * size, 0.36 * size, 0.3 * size)
                one.stroke(
                    [
                        (x - way * 0.5 * size, y - 1.0 * size),
                        (x - way * 0.1 * size, y - 1.08 * size),
                    ],
                    0.001,
                    0.011,
                )
                head = (x + way * 0.5 * size, y - 1.55 * size)
                one.stroke(
                    [(x + way * 0.26 * size, y - 1.12 * size), head], 0.009, 0.006
                )
                one.disc(head[0], head[1], 0.1 * size, 0.13 * size)
                bill = [
                    head,
                    (head[0] + way * 0.25 * size, head[1] + 0.1 * size),
                    (head[0] + way * 0.42 * size, head[1] + 0.4 * size),
                ]
                one.stroke(bill, 0.004, 0.0012)
            water = np.maximum(water, c.mirrored(own.field(), y, shake=0.0025))
        return [(colour, 0.92 * pen.field()), (colour, 0.5 * water)]

    return paint


def mist(colour: Colour, strength: float) -> Paint:
    """Return mist over the water."""

    def paint(c: Canvas) -> Painted:
        band = np.exp(-(((c.y - c.horizon + 0.02) / 0.085) ** 2))
        return [(colour, strength * band * (0.5 + 0.5 * c.noise(3, 9, 4)))]

    return paint


def willows(colour: Colour, *, is_mirrored: bool) -> Paint:
    """Return two round trees at the water's edge, or only their reflection."""

    def paint(c: Canvas) -> Painted:
        dice = np.random.default_rng(c.shared.integers(1 << 30))
        pen = Pen()
        for x, size in ((0.17, 0.2), (0.33, 0.13), (0.9, 0.1)):
            for _ in range(420):
                turn, out = dice.uniform(0, np.pi), dice.random() ** 0.5
                pen.disc(
                    x + 0.75 * size * out * np.cos(turn),
                    c.horizon - 0.15 * size - 0.95 * size * out * np.sin(turn),
                    dice.uniform(0.003, 0.009), dice.uniform(0.004, 0.01), dice.uniform(0.4, 1),
                )  # fmt: skip
            pen.stroke(
                [(x, c.horizon + 0.005), (x + 0.01, c.horizon - 0.5 * size)],
                0.012,
                0.006,
            )
        shape = pen.field()
        if is_mirrored:
            water = c.mirrored(shape, c.horizon + 0.004, shake=0.004)
            return [(colour, 0.55 * water * (0.8 + 0.2 * c.noise(4, 90, 2)))]
        return [(colour, 0.72 * shape * (0.75 + 0.25 * c.noise(50, 50, 2)))]

    return paint


def deep(colour: Colour, strength: float) -> Paint:
    """Return water that gets darker towards one's feet."""

    def paint(c: Canvas) -> Painted:
        calm = 0.8 + 0.2 * c.noise(3, 40, 3)
        return [(colour, strength * c.near**0.8 * calm)]

    return paint


def cloud_in_water(colour: Colour) -> Paint:
    """Return clouds as still water mirrors them."""

    def paint(c: Canvas) -> Painted:
        heaps = np.clip(c.noise(3, 9, 5) - 0.48, 0, 1) * 2.4
        broken = 0.6 + 0.4 * c.noise(5, 120, 2)
        return [(colour, 0.5 * heaps * broken * np.clip(c.near * 4, 0, 1))]

    return paint


def lilies(colour: Colour) -> Paint:
    """Return the leaves of water lilies."""

    def paint(c: Canvas) -> Painted:
        pen = Pen()
        for _ in range(70):
            near = 0.22 + 0.6 * float(c.rng.random())
            x = 0.52 + float(c.rng.normal(0, 0.13))
            y, size = c.horizon + near * (1 - c.horizon), 0.008 + 0.026 * near
            pen.disc(x, y, size, 0.42 * size, float(c.rng.uniform(0.6, 1)))
            turn = float(c.rng.uniform(0, 6.28))
            tip = (x + size * np.cos(turn), y + 0.42 * size * np.sin(turn))
            pen.stroke([(x, y), tip], 0.0008, 0.005, 0)
        return [(colour, 0.75 * pen.field())]

    return paint


def punt(colour: Colour) -> Paint:
    """Return a flat boat tied up among the reeds, with its pole and its reflection."""

    def paint(c: Canvas) -> Painted:
        pen, y = Pen(), 0.62
        hull = "0.30,-0.045 0.345,-0.022 0.52,-0.018 0.58,-0.05 0.555,0.012 0.51,0.022"
        pen.shape([(x, y + dy) for x, dy in points(f"{hull} 0.36,0.022 0.325,0.008")])
        pen.stroke([(0.545, y - 0.01), (0.57, y - 0.3)], 0.0045, 0.0035)
        for seat in (0.40, 0.475):
            pen.stroke([(seat, y - 0.024), (seat + 0.03, y - 0.024)], 0.008, 0.008)
        shape = pen.field()
        water = c.mirrored(shape, y + 0.02, shake=0.0035)
        return [(colour, 0.9 * shape), (colour, 0.55 * water)]

    return paint


def rings(colour: Colour, places: list[Point]) -> Paint:
    """Return rings on the water around some places."""

    def paint(c: Canvas) -> Painted:
        total = np.zeros_like(c.y)
        for x, y in places:
            far = np.hypot(c.x - x, (c.y - y) * 1.9)
            total += np.clip(np.sin(far * 210), 0, 1) * np.exp(-((far / 0.07) ** 2))
        return [(colour, 0.5 * total)]

    return paint


def squall(colour: Colour) -> Paint:
    """Return a dark cloud that comes in from the right."""

    def paint(c: Canvas) -> Painted:
        heaps = np.clip(c.noise(3, 6, 5) * 1.7 - 0.45, 0, 1)
        side = (
            soft(c.x - 0.30 - 0.25 * c.y, 0.5)
            * np.clip(1 - c.y / c.horizon, 0, 1) ** 0.5
        )
        return [(colour, 0.85 * heaps * side)]

    return paint


def rain(colour: Colour) -> Paint:
    """Return showers that slant from the cloud to the sea."""

    def paint(c: Canvas) -> Painted:
        curtain = c.noise(9, 1, 3)[0] ** 1.5
        fine = c.noise(300, 2, 2)[0]
        slant = (c.x - 0.22 * (c.y - c.horizon)).clip(0, 1)
        places = (slant * (c.x.shape[1] - 1)).astype(np.int32)
        falls = (
            soft(c.y - 0.08, 0.15) * (c.y < c.horizon + 0.004) * soft(c.x - 0.45, 0.3)
        )
        return [(colour, 0.95 * falls * curtain[places] * (0.6 + 0.4 * fine[places]))]

    return paint


def cliff(colour: Colour, strength: float, beds: float, points: list[Point]) -> Paint:
    """Return a headland from the left, its beds of rock leaning seawards."""

    def paint(c: Canvas) -> Painted:
        across, tops = zip(*points, strict=True)
        top = np.interp(c.x[0], across, tops) + 0.02 * (c.outline(60, 0.5) - 0.5)
        shape = c.land(top.astype(np.float32), c.horizon + 0.012)
        layers = np.sin((c.y + 0.2 * c.x) * 150 + 16 * c.noise(6, 5, 4)) * 0.5 + 0.5
        rock = beds * layers * c.noise(9, 9, 3) + 0.6 * beds * c.noise(60, 14, 3)
        foot = 1 - 0.35 * soft(c.y - c.horizon + 0.05, 0.1)
        return [(colour, strength * shape * foot * (1 - beds + rock))]

    return paint


def breakers(colour: Colour) -> Paint:
    """Return waves: dark under each crest, with the foam left clear before it."""

    def paint(c: Canvas) -> Painted:
        total = np.zeros_like(c.y)
        for near in (0.05, 0.1, 0.17, 0.26, 0.38):
            swell = 0.03 * near**0.5 * (c.outline(9, 0.05) - 0.5)
            crest = c.horizon + near * (1 - c.horizon) + swell
            below = (c.y - crest) / (0.012 + 0.11 * near)
            length = soft(c.outline(6, 0.04) - 0.25, 0.3)
            total += np.where(below > 0, np.exp(-below), 0) * length
        foam = soft(c.noise(40, 90, 3) - 0.34, 0.12)
        return [(colour, 0.85 * np.clip(total, 0, 1) * foam)]

    return paint


def groyne(colour: Colour) -> Paint:
    """Return a row of posts and planks that runs from one's feet into the sea."""

    def paint(c: Canvas) -> Painted:
        pen, wet = Pen(), Pen()

        def at(far: float, up: float) -> tuple[float, float]:
            # Seen from the height of the eyes, 1.7 times that of a post.
            return 0.40 + 0.46 / far, c.horizon + (0.64 - 0.38 * up) / far * (
                1 - c.horizon
            )

        for low, high in ((0.12, 0.3), (0.38, 0.56), (0.64, 0.8)):
            pen.shape([at(1, low), at(8, low), at(8, high), at(1, high)], 0.86)
        for far in np.linspace(1, 8, 16):
            (x, y), wide = at(far, -0.04), 0.044 / far
            top = at(far, float(c.rng.uniform(0.95, 1.25)))
            pen.stroke(
                [(x, y), (x + float(c.rng.normal(0, 0.003)), top[1])], wide, 0.9 * wide
            )
            wet.stroke([(x, y), (x, y + 0.5 * (y - top[1]))], wide, 0.6 * wide)
        grain = 0.74 + 0.26 * c.noise(160, 20, 3)
        return [(colour, 0.95 * pen.field() * grain), (colour, 0.4 * wet.field())]

    return paint


def wet_sand(colour: Colour) -> Paint:
    """Return a beach from which the last wave ran off."""

    def paint(c: Canvas) -> Painted:
        wash = c.near + 0.07 * (c.outline(5, 0.02) - 0.5)
        inside = soft(wash - 0.47, 0.03)
        shine = soft(c.noise(3, 30, 3) - 0.4, 0.3)
        return [
            (colour, inside * (0.35 + 0.4 * shine) * (0.85 + 0.15 * c.ground(70, 2)))
        ]

    return paint


def shingle(colour: Colour) -> Paint:
    """Return pebbles, denser towards one's feet."""

    def paint(c: Canvas) -> Painted:
        pen = Pen()
        for _ in range(620):
            near = 0.62 + 0.4 * float(c.rng.random()) ** 0.8
            x, y = float(c.rng.random()), c.horizon + near * (1 - c.horizon)
            if x + 0.35 * float(c.rng.random()) > 0.25 + 1.1 * (near - 0.6) + 0.35:
                continue
            size = (near - 0.4) * float(c.rng.uniform(0.006, 0.018))
            pen.disc(x, y, size, 0.8 * size, float(c.rng.uniform(0.35, 1)))
        return [(colour, 0.75 * pen.field())]

    return paint
