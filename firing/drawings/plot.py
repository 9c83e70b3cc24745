"""What every drawing over time has: its place on the page, its axis, its marks.

In pixels; each drawing adds its own content.
"""

from dataclasses import dataclass

# The packaged face at 12 px, figures included, on average and a little more.
LETTER_WIDTH = 6.0
LINE_HEIGHT = 15.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A mark on an axis; `label_at` is the middle of its words along a time axis."""

    at: float
    label: str
    label_at: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedWords:
    """Words at a place in the drawing."""

    x: float
    y: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A stretch along the time axis."""

    x: float
    width: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Plot:
    """One drawing over time at one size; `facts` say in sentences what it shows."""

    key: str
    title: str
    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float
    time_ticks: tuple[Tick, ...]
    gaps: tuple[Span, ...]
    now_x: float | None
    facts: tuple[str, ...]

    @property
    def plot_width(self) -> float:
        """Width of the drawing area."""
        return round(self.right - self.left, 2)

    @property
    def plot_height(self) -> float:
        """Height of the drawing area."""
        return round(self.bottom - self.top, 2)
