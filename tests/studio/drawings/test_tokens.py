"""The palette's promises: contrast in both themes, and an even temperature scale.

Contrast ratio after WCAG 2.2, "relative luminance" and "contrast ratio"; OKLab after
Björn Ottosson, "A perceptual color space for image processing" (2020), from memory.
"""

import itertools
import re

import pytest

from studio.drawings.paper_style import CSS_DIR, read_tokens, resolve

TOKENS = read_tokens((CSS_DIR / "tokens.css").read_text(encoding="utf-8"))

TEXT = 4.5
SHAPE = 3.0
GROUNDS = ("paper", "paper-raised", "paper-sunk")
PAIRS = [
    *(("ink", ground, TEXT) for ground in GROUNDS),
    *(("ink-soft", ground, TEXT) for ground in GROUNDS),
    *(("glass", ground, TEXT) for ground in GROUNDS),
    *(("glass-strong", ground, TEXT) for ground in (*GROUNDS, "glass-wash")),
    *(("line-strong", ground, SHAPE) for ground in GROUNDS),
    *(("focus", ground, SHAPE) for ground in (*GROUNDS, "glass-wash")),
    *(("glass-lit", ground, SHAPE) for ground in GROUNDS),
    ("ink", "glass-wash", TEXT),
    ("on-glass", "glass", TEXT),
    ("white", "green-700", TEXT),  # the main button
    ("white", "green-800", TEXT),  # the main button under the pointer
    ("ink-inverse", "ink", TEXT),  # the dangerous button under the pointer
    ("band-line", "paper", SHAPE),
    ("band-line", "band-pale", SHAPE),
    ("band-full", "paper", SHAPE),
    ("heat-line", "paper", SHAPE),
    ("heat-4", "paper", SHAPE),
]


def channels(colour):
    assert re.fullmatch(r"#[0-9a-f]{6}", colour), colour
    return [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]


def linear(colour):
    return [
        v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4
        for v in channels(colour)
    ]


def luminance(colour):
    red, green, blue = linear(colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def ok_lightness(colour):
    r, g, b = linear(colour)
    long = (0.4122214708 * r + 0.5363325363 * g + 0.0514459929 * b) ** (1 / 3)
    mid = (0.2119034982 * r + 0.6806995451 * g + 0.1073969566 * b) ** (1 / 3)
    short = (0.0883024619 * r + 0.2817188376 * g + 0.6299787005 * b) ** (1 / 3)
    return 0.2104542553 * long + 0.7936177850 * mid - 0.0040720468 * short


def colour(name, *, dark):
    return resolve(TOKENS[f"--{name}"], TOKENS, dark=dark)


def test_the_contrast_formula_agrees_with_its_definition():
    assert contrast("#ffffff", "#000000") == pytest.approx(21)
    # WCAG's well-known limit grey on white: #767676 passes AA, #777777 does not.
    assert contrast("#ffffff", "#767676") > TEXT > contrast("#ffffff", "#777777")


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize(("front", "ground", "least"), PAIRS)
def test_contrast_meets_wcag_aa(front, ground, least, dark):
    ratio = contrast(colour(front, dark=dark), colour(ground, dark=dark))
    assert ratio >= least, f"{front} on {ground}: {ratio:.2f}"


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_the_temperature_scale_has_even_steps_in_one_direction(dark):
    lightness = [ok_lightness(colour(f"heat-{i}", dark=dark)) for i in range(7)]
    steps = [b - a for a, b in itertools.pairwise(lightness)]
    mean = sum(steps) / len(steps)
    assert abs(mean) > 0.08
    assert all(step == pytest.approx(mean, rel=0.1) for step in steps)


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_hotter_is_further_from_paper_in_greyscale(dark):
    paper = colour("paper", dark=dark)
    ratios = [contrast(colour(f"heat-{i}", dark=dark), paper) for i in range(7)]
    assert ratios == sorted(ratios)
    assert ratios[-1] > 2 * ratios[0]


def test_every_colour_of_the_screens_comes_from_the_tokens():
    for sheet in ("base", "layout", "components", "drawings", "print"):
        css = (CSS_DIR / f"{sheet}.css").read_text(encoding="utf-8")
        assert not re.search(r"#[0-9a-fA-F]{3,8}\b|rgba?\(|hsl", css), sheet
        assert "color-mix" not in css, sheet
        assert "!important" not in css, sheet
        used = set(re.findall(r"var\((--[\w-]+)", css))
        assert used <= set(TOKENS), sheet


def test_a_wrong_token_name_is_noticed():
    with pytest.raises(KeyError):
        resolve("var(--no-such-token)", TOKENS)
