"""The load plan: a kiln's shelf from above with everything on it, to scale.

Pure geometry in pixels for `components/_load_plan.html`; it is given its words.
"""

from collections.abc import Sequence
from dataclasses import dataclass

WIDTH = 420.0
TALLEST = 420.0
MARGIN = 2.0
LETTER_WIDTH = 8.0
UNDER_LETTER_WIDTH = 6.2
LINE = 15.0
FEWEST_CUT_LETTERS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidThing:
    """A thing on the shelf.

    `x_mm` and `y_mm` are its front left corner from the shelf's; `short` ("4") and
    `under` ("Low water") are written in the drawing where there is room, `title` says
    all.
    """

    title: str
    short: str
    under: str = ""
    x_mm: float
    y_mm: float
    width_mm: float
    depth_mm: float
    href: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidShape:
    """A thing's place in the drawing."""

    title: str
    href: str
    x: float
    y: float
    width: float
    height: float
    label: str
    under: str
    label_x: float
    label_y: float
    under_y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadPlanDrawing:
    """The whole drawing; the kiln's door is at the bottom."""

    width: float
    height: float
    shelf_x: float
    shelf_y: float
    shelf_width: float
    shelf_height: float
    shapes: tuple[LaidShape, ...]
    title: str
    words: tuple[str, ...]


def build_load_plan(
    things: Sequence[LaidThing], *, width_mm: float, depth_mm: float, title: str
) -> LoadPlanDrawing:
    """Draw a shelf of a certain size with things on it.

    Parameters
    ----------
    things : sequence of LaidThing
        What lies on it [mm].
    width_mm, depth_mm : float
        The shelf's usable sides [mm].
    title : str
        What the drawing is, in words.

    Raises
    ------
    ValueError
        If the shelf has no size.
    """
    if min(width_mm, depth_mm) <= 0:
        raise ValueError("A shelf's sides are above zero.")
    scale = min((WIDTH - 2 * MARGIN) / width_mm, (TALLEST - 2 * MARGIN) / depth_mm)
    shelf_height = depth_mm * scale
    return LoadPlanDrawing(
        width=round(width_mm * scale + 2 * MARGIN, 1),
        height=round(shelf_height + 2 * MARGIN, 1),
        shelf_x=MARGIN,
        shelf_y=MARGIN,
        shelf_width=round(width_mm * scale, 1),
        shelf_height=round(shelf_height, 1),
        shapes=tuple(_shape(thing, scale, shelf_height) for thing in things),
        title=title,
        words=tuple(thing.title for thing in things),
    )


def _shape(thing: LaidThing, scale: float, shelf_height: float) -> LaidShape:
    width, height = thing.width_mm * scale, thing.depth_mm * scale
    x = MARGIN + thing.x_mm * scale
    # The front is at the bottom of the drawing, where the person stands.
    y = MARGIN + shelf_height - (thing.y_mm + thing.depth_mm) * scale
    label = _fit(thing.short, width, LETTER_WIDTH) if height >= LINE else ""
    has_room_under = bool(label) and height >= 2.5 * LINE
    under = _fit(thing.under, width, UNDER_LETTER_WIDTH) if has_room_under else ""
    middle = y + height / 2 + 4
    return LaidShape(
        title=thing.title,
        href=thing.href,
        x=round(x, 1),
        y=round(y, 1),
        width=round(width, 1),
        height=round(height, 1),
        label=label,
        under=under,
        label_x=round(x + width / 2, 1),
        label_y=round(middle - (LINE / 2 if under else 0), 1),
        under_y=round(middle + LINE / 2, 1),
    )


def _fit(text: str, width: float, letter_width: float) -> str:
    letters = int((width - 6) // letter_width)
    if len(text) <= letters:
        return text
    return text[: letters - 1].rstrip() + "…" if letters >= FEWEST_CUT_LETTERS else ""
