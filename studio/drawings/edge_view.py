"""The stack seen from its edge: where each layer's band is in the drawing.

Pure geometry in SVG units; `components/_edge_view.html` draws it and the style sheet
colours it. Nothing here knows Django or a database.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


class BandState(StrEnum):
    """What a layer's band looks like; each has a texture of its own."""

    PLANNED = "planned"
    PAINTED = "painted"
    BURNT = "burnt"
    SECOND_PASS = "second_pass"
    CLEAR = "clear"
    REMAKE = "remake"


STATE_WORDS = {
    BandState.PLANNED: "planned",
    BandState.PAINTED: "painted, not burnt on yet",
    BandState.BURNT: "burnt on",
    BandState.SECOND_PASS: "waits for its next pass",
    BandState.CLEAR: "clear",
    BandState.REMAKE: "being made again",
}

FUSED_WORDS = "fused into the block"


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeLayer:
    """One layer as the drawing needs it."""

    number: int
    thickness_mm: float
    state: BandState
    label: str = ""
    href: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """One layer's place in the drawing, with what is written beside it."""

    number: int
    state: BandState
    x: float
    y: float
    width: float
    height: float
    label: str
    href: str
    words: str
    short_label: str
    text_y: float
    strip_x: float
    strip_width: float

    @property
    def is_glassy(self) -> bool:
        """Return whether the sheet exists as glass, so that light shows in it."""
        return self.state not in {BandState.PLANNED, BandState.REMAKE}

    @property
    def ring_y(self) -> float:
        """Top of the ring that shows the keyboard's focus."""
        return round(self.y + RING_INSET, 3)

    @property
    def ring_height(self) -> float:
        """Height of that ring."""
        return round(max(self.height - 2 * RING_INSET, 1.0), 3)

    @property
    def ink_x(self) -> float:
        """Left edge of the drawn sheet, its outline kept inside the band."""
        return self.x + HALF_LINE

    @property
    def ink_y(self) -> float:
        """Top of the drawn sheet."""
        return round(self.y + HALF_LINE, 3)

    @property
    def ink_width(self) -> float:
        """Width of the drawn sheet."""
        return self.width - 2 * HALF_LINE

    @property
    def ink_height(self) -> float:
        """Height of the drawn sheet: never zero, however thin the layer is."""
        return round(max(self.height - 2 * HALF_LINE, 0.4), 3)


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeView:
    """The whole drawing. `bands` run from front (top) to back."""

    key: str
    large: bool
    fused: bool
    width: float
    height: float
    block_x: float
    block_y: float
    block_width: float
    block_height: float
    corner: float
    total_mm: float
    bands: tuple[Band, ...]
    title: str

    @property
    def has_links(self) -> bool:
        """Return whether any band has a link."""
        return any(band.href for band in self.bands)

    @property
    def number_x(self) -> float:
        """Where a layer's number ends."""
        return self.block_x - 8

    @property
    def label_x(self) -> float:
        """Where a layer's label starts."""
        return self.block_x + self.block_width + 10

    @property
    def front_y(self) -> float:
        """Baseline of the word above the block."""
        return self.block_y - 6

    @property
    def back_y(self) -> float:
        """Baseline of the word below the block."""
        return self.block_y + self.block_height + 13

    @property
    def ring_width(self) -> float:
        """Width of the ring that shows the keyboard's focus."""
        return self.width - 2 * RING_INSET

    @property
    def hatch(self) -> float:
        """Distance of hatching lines."""
        return 6.0 if self.large else 3.5

    @property
    def seam_left(self) -> float:
        """Where the faint lines of a fused block start."""
        return self.block_x + self.corner / 3

    @property
    def seam_right(self) -> float:
        """Where they end."""
        return self.block_x + self.block_width - self.corner / 3

    @property
    def seams(self) -> tuple[float, ...]:
        """Heights of the faint lines left between layers once they are fused."""
        return tuple(band.y for band in self.bands[1:])

    @property
    def states(self) -> tuple[tuple[BandState, str], ...]:
        """The states that occur, each once, for the key under the drawing."""
        present = {band.state for band in self.bands}
        return tuple((s, w) for s, w in STATE_WORDS.items() if s in present)


HALF_LINE = 0.5
RING_INSET = 1.5

# Large: a 3 mm sheet is 24 units high, which is a finger-sized target on a phone.
LARGE_WIDTH = 360.0
LARGE_UNITS_PER_MM = 8.0
LARGE_TALLEST = 640.0
LARGE_BLOCK_X = 26.0
LARGE_BLOCK_WIDTH = 190.0
LARGE_LETTERS = 21
LARGE_MARGIN = 18.0

# Small: one scale for a whole list, so that thick and thin pieces can be compared.
SMALL_WIDTH = 96.0
SMALL_UNITS_PER_MM = 1.1
SMALL_TALLEST = 72.0

STRIP_SHARE = 0.34
CORNER_SHARE = 0.16
CORNER_MOST = 12.0


def shorten(text: str, letters: int) -> str:
    """Cut a text to at most `letters` characters, the last an ellipsis if cut."""
    if len(text) <= letters:
        return text
    return text[: max(letters - 1, 0)].rstrip() + "…"


def build_edge_view(
    layers: Sequence[EdgeLayer],
    *,
    key: str,
    large: bool = False,
    fused: bool = False,
) -> EdgeView:
    """Lay the layers out, back (lowest number) at the bottom, front on top.

    Parameters
    ----------
    layers : sequence of EdgeLayer
        In any order; thickness [mm] above zero, numbers all different.
    key : str
        Unique on the page; starts every id in the drawing.
    large : bool
        With labels and room for a finger, or the small one for lists.
    fused : bool
        One block with faint lines instead of separate sheets.

    Returns
    -------
    EdgeView
        Lengths in SVG units; band heights are proportional to thickness and add up
        to `block_height`.

    Raises
    ------
    ValueError
        A thickness is not above zero, or a number occurs twice.
    """
    ordered = sorted(layers, key=lambda layer: layer.number, reverse=True)
    if len({layer.number for layer in ordered}) != len(ordered):
        raise ValueError("Two layers have the same number.")
    if any(not layer.thickness_mm > 0 for layer in ordered):
        raise ValueError("Each layer's thickness must be above 0 mm.")

    total_mm = sum(layer.thickness_mm for layer in ordered)
    scale = _units_per_mm(total_mm, large=large)
    block_height = total_mm * scale
    block_x = LARGE_BLOCK_X if large else 0.0
    block_width = LARGE_BLOCK_WIDTH if large else SMALL_WIDTH
    top = LARGE_MARGIN if large else 0.0

    bands = []
    y = top
    for layer in ordered:
        height = layer.thickness_mm * scale
        words = FUSED_WORDS if fused else STATE_WORDS[layer.state]
        bands.append(
            Band(
                number=layer.number,
                state=layer.state,
                x=block_x,
                y=round(y, 3),
                width=block_width,
                height=round(height, 3),
                label=layer.label,
                href=layer.href,
                words=words,
                short_label=shorten(
                    layer.label or ("" if fused else words), LARGE_LETTERS
                ),
                text_y=round(y + height / 2, 3),
                strip_x=block_x + block_width * (1 - STRIP_SHARE),
                strip_width=block_width * STRIP_SHARE - 2 * HALF_LINE,
            )
        )
        y += height

    return EdgeView(
        key=key,
        large=large,
        fused=fused,
        width=LARGE_WIDTH if large else SMALL_WIDTH,
        height=round(block_height + 2 * top, 3) if ordered else 2 * top + 1,
        block_x=block_x,
        block_y=top,
        block_width=block_width,
        block_height=round(block_height, 3),
        corner=round(min(CORNER_MOST, block_height * CORNER_SHARE), 3),
        total_mm=total_mm,
        bands=tuple(bands),
        title=_title(ordered, fused=fused),
    )


def _units_per_mm(total_mm: float, *, large: bool) -> float:
    wanted, tallest = (
        (LARGE_UNITS_PER_MM, LARGE_TALLEST)
        if large
        else (SMALL_UNITS_PER_MM, SMALL_TALLEST)
    )
    return min(wanted, tallest / total_mm) if total_mm else wanted


def _title(layers: Sequence[EdgeLayer], *, fused: bool) -> str:
    if not layers:
        return "No layers yet"
    count = "1 layer" if len(layers) == 1 else f"{len(layers)} layers"
    if fused:
        return f"From the edge: {count} fused to one block"
    told = []
    for state, words in STATE_WORDS.items():
        number = sum(layer.state == state for layer in layers)
        if number:
            told.append(f"{number} {words}")
    return f"From the edge: {count}, " + ", ".join(told)
