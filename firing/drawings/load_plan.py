"""The load plan: a kiln's shelf from above with everything on it, to scale.

Pure geometry in pixels for `components/_load_plan.html`; it is given its words.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

WIDTH = 420.0
TALLEST = 300.0
# Around the shelf: room for how far the glass is from each edge.
MARGIN_X, MARGIN_Y = 54.0, 22.0
LETTER_WIDTH = 8.0
UNDER_LETTER_WIDTH = 6.2
LINE = 15.0
FEWEST_CUT_LETTERS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidThing:
    """A thing on the shelf.

    `x_mm` and `y_mm` are its front left corner from the shelf's; `short` ("4"),
    `under` ("Low water") and `size` are written in the drawing where there is room,
    `title` says all. `src` is the address of its picture, turned by a quarter like the thing itself.
    """

    title: str
    short: str
    under: str = ""
    size: str = ""
    x_mm: float
    y_mm: float
    width_mm: float
    depth_mm: float
    is_turned: bool = False
    src: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidShape:
    """A thing's place in the drawing."""

    title: str
    src: str
    x: float
    y: float
    width: float
    height: float
    is_turned: bool
    label: str
    lines_at: tuple[tuple[str, float], ...]
    middle_x: float
    middle_y: float
    label_y: float

    @property
    def upright(self) -> tuple[float, float, float, float]:
        """Return where its picture lies before it is turned: x, y, width, height."""
        if not self.is_turned:
            return self.x, self.y, self.width, self.height
        return (
            self.middle_x - self.height / 2,
            self.middle_y - self.width / 2,
            self.height,
            self.width,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearance:
    """How far the glass is from one edge of the shelf, as a line with its length."""

    x1: float
    y1: float
    x2: float
    y2: float
    label: str
    label_x: float
    label_y: float
    anchor: str


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
    clearances: tuple[Clearance, ...]
    title: str
    words: tuple[str, ...]


def build_load_plan(
    things: Sequence[LaidThing],
    *,
    width_mm: float,
    depth_mm: float,
    title: str,
    length: Callable[[float], str],
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
    length : callable
        Words for a length [mm] in the reader's unit.

    Raises
    ------
    ValueError
        If the shelf has no size.
    """
    if min(width_mm, depth_mm) <= 0:
        raise ValueError("A shelf's sides are above zero.")
    scale = min((WIDTH - 2 * MARGIN_X) / width_mm, (TALLEST - 2 * MARGIN_Y) / depth_mm)
    shelf_width, shelf_height = width_mm * scale, depth_mm * scale
    shapes = tuple(_shape(thing, scale, shelf_height) for thing in things)
    clearances = (
        _clearances(
            shapes,
            shelf_width,
            shelf_height,
            # From the glass itself, not from the drawing: 7 in is not 6.99.
            [
                length(max(0.0, room))
                for room in (
                    min(one.x_mm for one in things),
                    width_mm - max(one.x_mm + one.width_mm for one in things),
                    min(one.y_mm for one in things),
                    depth_mm - max(one.y_mm + one.depth_mm for one in things),
                )
            ],
        )
        if shapes
        else ()
    )
    return LoadPlanDrawing(
        width=round(shelf_width + 2 * MARGIN_X, 1),
        height=round(shelf_height + 2 * MARGIN_Y, 1),
        shelf_x=MARGIN_X,
        shelf_y=MARGIN_Y,
        shelf_width=round(shelf_width, 1),
        shelf_height=round(shelf_height, 1),
        shapes=shapes,
        clearances=clearances,
        title=title,
        words=tuple(thing.title for thing in things),
    )


def _shape(thing: LaidThing, scale: float, shelf_height: float) -> LaidShape:
    width, height = thing.width_mm * scale, thing.depth_mm * scale
    x = MARGIN_X + thing.x_mm * scale
    # The front is at the bottom of the drawing, where the person stands.
    y = MARGIN_Y + shelf_height - (thing.y_mm + thing.depth_mm) * scale
    label = _fit(thing.short, width, LETTER_WIDTH) if height >= LINE else ""
    room = int(height // LINE) - 1 if label else 0
    lines = tuple(
        fitted
        for one in (thing.under, thing.size)[:room]
        if (fitted := _fit(one, width, UNDER_LETTER_WIDTH))
    )
    middle = y + height / 2
    label_y = middle + 4 - LINE / 2 * len(lines)
    return LaidShape(
        title=thing.title,
        src=thing.src,
        x=round(x, 1),
        y=round(y, 1),
        width=round(width, 1),
        height=round(height, 1),
        is_turned=thing.is_turned,
        label=label,
        lines_at=tuple(
            (line, round(label_y + LINE * number, 1))
            for number, line in enumerate(lines, start=1)
        ),
        middle_x=round(x + width / 2, 1),
        middle_y=round(middle, 1),
        label_y=round(label_y, 1),
    )


def _clearances(
    shapes: Sequence[LaidShape],
    shelf_width: float,
    shelf_height: float,
    labels: Sequence[str],
) -> tuple[Clearance, ...]:
    """Draw lines from the outermost glass to each edge: left, right, front, back."""
    left = min(shapes, key=lambda one: one.x)
    right = max(shapes, key=lambda one: one.x + one.width)
    back = min(shapes, key=lambda one: one.y)
    front = max(shapes, key=lambda one: one.y + one.height)
    right_x, bottom_y = MARGIN_X + shelf_width, MARGIN_Y + shelf_height

    def across(
        one: LaidShape, label: str, glass: float, edge: float, out: int
    ) -> Clearance:
        return Clearance(
            x1=round(glass, 1),
            y1=one.middle_y,
            x2=round(edge, 1),
            y2=one.middle_y,
            label=label,
            label_x=round(edge + 5 * out, 1),
            label_y=round(one.middle_y + 4, 1),
            anchor="end" if out < 0 else "start",
        )

    def along(
        one: LaidShape, label: str, glass: float, edge: float, label_y: float
    ) -> Clearance:
        return Clearance(
            x1=one.middle_x,
            y1=round(glass, 1),
            x2=one.middle_x,
            y2=round(edge, 1),
            label=label,
            label_x=one.middle_x,
            label_y=round(label_y, 1),
            anchor="middle",
        )

    return (
        across(left, labels[0], left.x, MARGIN_X, -1),
        across(right, labels[1], right.x + right.width, right_x, 1),
        along(front, labels[2], front.y + front.height, bottom_y, bottom_y + 15),
        along(back, labels[3], back.y, MARGIN_Y, MARGIN_Y - 7),
    )


def _fit(text: str, width: float, letter_width: float) -> str:
    letters = int((width - 6) // letter_width)
    if len(text) <= letters:
        return text
    return text[: letters - 1].rstrip() + "…" if letters >= FEWEST_CUT_LETTERS else ""
