"""Sheets of labels by their dimensions, and where each label lies. Pure.

What a package of labels says of itself: how large one is, how many there are across and
down, and where the first one begins.
"""

from dataclasses import dataclass

MM_PER_INCH = 25.4
# Of a line's height: how wide a letter is on average in the face of the papers.
LETTER = 0.48
LETTER_WIDTH_MM = 215.9


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelStock:
    """A sheet of labels, or single ones.

    Attributes
    ----------
    key, title : str
        What forms send, and what people read.
    page_width_mm, page_height_mm : float
        The paper.
    width_mm, height_mm : float
        One label.
    columns, rows : int
        How many there are across and down.
    left_mm, top_mm : float
        Where the first one begins.
    pitch_x_mm, pitch_y_mm : float
        From one label's left or top edge to the next one's.
    """

    key: str
    title: str
    page_width_mm: float
    page_height_mm: float
    width_mm: float
    height_mm: float
    columns: int = 1
    rows: int = 1
    left_mm: float = 0.0
    top_mm: float = 0.0
    pitch_x_mm: float = 0.0
    pitch_y_mm: float = 0.0

    @property
    def per_page(self) -> int:
        """How many labels a sheet has."""
        return self.columns * self.rows


# Sizes of common label stock; common practice, no source.
STOCKS = (
    LabelStock(
        key="a4-70x37",
        title="A4, 3 × 8 of 70 × 37 mm",
        page_width_mm=210,
        page_height_mm=297,
        width_mm=70,
        height_mm=37,
        columns=3,
        rows=8,
        top_mm=0.5,
        pitch_x_mm=70,
        pitch_y_mm=37,
    ),
    LabelStock(
        key="a4-99x38",
        title="A4, 2 × 7 of 99.1 × 38.1 mm",
        page_width_mm=210,
        page_height_mm=297,
        width_mm=99.1,
        height_mm=38.1,
        columns=2,
        rows=7,
        left_mm=4.65,
        top_mm=15.15,
        pitch_x_mm=101.6,
        pitch_y_mm=38.1,
    ),
    LabelStock(
        key="letter-1x2.6",
        title="Letter, 3 × 10 of 2 5/8 × 1 in",
        page_width_mm=LETTER_WIDTH_MM,
        page_height_mm=279.4,
        width_mm=2.625 * MM_PER_INCH,
        height_mm=MM_PER_INCH,
        columns=3,
        rows=10,
        left_mm=0.1875 * MM_PER_INCH,
        top_mm=0.5 * MM_PER_INCH,
        pitch_x_mm=2.75 * MM_PER_INCH,
        pitch_y_mm=MM_PER_INCH,
    ),
    LabelStock(
        key="letter-2x4",
        title="Letter, 2 × 5 of 4 × 2 in",
        page_width_mm=LETTER_WIDTH_MM,
        page_height_mm=279.4,
        width_mm=4 * MM_PER_INCH,
        height_mm=2 * MM_PER_INCH,
        columns=2,
        rows=5,
        left_mm=0.15625 * MM_PER_INCH,
        top_mm=0.5 * MM_PER_INCH,
        pitch_x_mm=4.1875 * MM_PER_INCH,
        pitch_y_mm=2 * MM_PER_INCH,
    ),
    LabelStock(
        key="single-62x29",
        title="One by one, 62 × 29 mm",
        page_width_mm=62,
        page_height_mm=29,
        width_mm=62,
        height_mm=29,
    ),
)


def stock_of(key: str) -> LabelStock | None:
    """Return the stock with that key, or none.

    Parameters
    ----------
    key : str
        What a form sent.
    """
    return next((one for one in STOCKS if one.key == key), None)


def places(
    stock: LabelStock, count: int, *, first: int
) -> list[list[tuple[float, float]]]:
    """Return where labels lie, sheet by sheet: the left and top edge of each [mm].

    Parameters
    ----------
    stock : LabelStock
        The sheet.
    count : int
        How many labels.
    first : int
        The first free label of the first sheet, from 1, row by row.

    Raises
    ------
    ValueError
        If the sheet has no such label.
    """
    if not 1 <= first <= stock.per_page:
        raise ValueError(f"A sheet has {stock.per_page} labels.")
    sheets: list[list[tuple[float, float]]] = [[]]
    for number in range(first - 1, first - 1 + count):
        place = number % stock.per_page
        if place == 0 and number >= stock.per_page:
            sheets.append([])
        row, column = divmod(place, stock.columns)
        sheets[-1].append(
            (
                stock.left_mm + column * stock.pitch_x_mm,
                stock.top_mm + row * stock.pitch_y_mm,
            )
        )
    return sheets


def fitted(text: str, room_mm: float, height_mm: float) -> str:
    """Return a line as far as there is room for it, with an ellipsis where it is cut.

    Parameters
    ----------
    text : str
        The line.
    room_mm, height_mm : float
        How long it may be, and the size of its letters.
    """
    most = round(room_mm / (LETTER * height_mm))
    return text if len(text) <= most else f"{text[: max(most - 1, 1)]}…"
