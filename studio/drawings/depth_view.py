"""The stack looked through from the front: where each layer appears when the eye moves.

Pure geometry; `components/_depth_view.html` lays the pictures over each other and
`depth.js` moves them. Nothing here knows Django or a database.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from studio.drawings.edge_view import STATE_WORDS, BandState

# Soda-lime glass at the sodium D line; handbook tables give 1.51 to 1.52, from memory.
REFRACTIVE_INDEX = 1.52
# How far from straight on the eye goes, at the edge of the picture.
FURTHEST_EYE = math.radians(25)


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthSheet:
    """One layer as the drawing needs it; `src` is the address of its picture, if any."""

    number: int
    thickness_mm: float
    state: BandState
    src: str = ""
    title: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthLayer:
    """One layer in the drawing.

    `shift` is how far it moves, in hundredths of the picture's width, when the eye goes
    all the way to one side; `y` and `height` are its band in the strip from the edge.
    """

    number: int
    words: str
    src: str
    state: BandState
    shift: float
    y: float
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthView:
    """The layers from the back, which is drawn first, to the front."""

    layers: tuple[DepthLayer, ...]
    aspect: float
    strip_height: float

    @property
    def has_pictures(self) -> bool:
        """Return whether there is anything to look through."""
        return any(layer.src for layer in self.layers)

    @property
    def count(self) -> int:
        """Return how many layers there are."""
        return len(self.layers)


def apparent_shift_mm(depth_mm: float, eye: float) -> float:
    """Return how far a mark inside glass seems to move across the front face.

    The line of sight bends where it enters the glass (Snell's law: sin(eye) = n sin(t)),
    so a mark `depth_mm` below the face is seen through a point depth tan(t) away.

    Parameters
    ----------
    depth_mm : float
        Below the front face [mm], not negative.
    eye : float
        Angle of sight from straight on, outside the glass [rad], below a right angle.

    References
    ----------
    Hecht, E., Optics, 5th ed. (2017), section 4.4, from memory: refraction at a plane
    surface; seen nearly straight on, a depth d appears as d/n.
    """
    return depth_mm * math.tan(math.asin(math.sin(eye) / REFRACTIVE_INDEX))


def build_depth_view(
    sheets: Sequence[DepthSheet], *, width_mm: float, height_mm: float
) -> DepthView:
    """Lay a stack's layers, given from the back, out in depth.

    Parameters
    ----------
    sheets : sequence of DepthSheet
        From the back to the front.
    width_mm, height_mm : float
        The picture's sides [mm], above zero.
    """
    depth_mm = sum(sheet.thickness_mm for sheet in sheets)
    total_mm = depth_mm
    layers: list[DepthLayer] = []
    for sheet in sheets:
        # Paint lies on the face towards the eye.
        depth_mm -= sheet.thickness_mm
        layers.append(
            DepthLayer(
                number=sheet.number,
                words=_words(sheet, len(sheets)),
                src=sheet.src,
                state=sheet.state,
                shift=round(
                    100 * apparent_shift_mm(depth_mm, FURTHEST_EYE) / width_mm, 3
                ),
                y=round(depth_mm, 3),
                height=sheet.thickness_mm,
            )
        )
    return DepthView(
        layers=tuple(layers),
        aspect=round(width_mm / height_mm, 4),
        strip_height=total_mm,
    )


def _words(sheet: DepthSheet, count: int) -> str:
    name = f"Layer {sheet.number} of {count}"
    title = f", {sheet.title}" if sheet.title else ""
    return f"{name}{title}: {STATE_WORDS[sheet.state]}"
