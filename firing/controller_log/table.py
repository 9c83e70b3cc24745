"""From bytes to rows of cells: encoding, delimiter, header, and what is wrong in bad
rows.

`columns` and `times` say what the columns mean.
"""

import csv
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from itertools import chain, islice, pairwise
from typing import IO, NamedTuple

import numpy as np
from numpy.typing import NDArray

from firing.controller_log.cells import (
    elapsed_unit_in_name,
    kind_of_cell,
    names_temperature,
    names_time,
    unit_in_name,
)
from firing.controller_log.problems import LogProblem
from firing.controller_log.text import Text

# A line of names this far down is no longer a header.
HEADER_WITHIN_ROWS = 40
DELIMITER_WITHIN_LINES = 400
# Eleven days at a reading a second; and as many cells as fit into some 300 MB.
MOST_ROWS = 1_000_000
MOST_CELLS = 4_000_000
# Few at once cost the garbage collector nothing: 8192 rows took three times as long.
_AT_ONCE = 256
_TEXTS = np.dtypes.StringDType()
_DELIMITERS = {";": "semicolons", "\t": "tabs", ",": "commas"}
# The first line by which spreadsheets are told the delimiter.
_SEPARATOR = re.compile(r'"?sep=([;,\t])"?\s*$', re.IGNORECASE)
_UNCLOSED = "a quotation mark is opened here and not closed on this line."


class Row(NamedTuple):
    """One line that is neither blank nor a comment."""

    line: int
    cells: list[str]


@dataclass(slots=True)
class Table:
    """A file as columns of equal length, with what is wrong in its rows.

    `lines` has each row's line in the file, `columns` the cells, an array for each.
    """

    header: list[str]
    lines: NDArray[np.int64]
    columns: list[NDArray[np.object_]]
    encoding: str
    delimiter: str
    above: list[str] = field(default_factory=list)
    """Cells of the lines above the header."""
    is_unended: bool = False
    """The last line has no end, so it may be cut short."""
    problems: dict[int, str] = field(default_factory=dict)
    left_out: dict[int, str] = field(default_factory=dict)

    @property
    def width(self) -> int:
        """How many columns there are."""
        return len(self.columns)

    def column(self, index: int, most: int | None = None) -> list[str]:
        """Return the cells of one column, all or the first ones."""
        found: list[str] = self.columns[index][:most].tolist()
        return found

    def row(self, index: int) -> list[str]:
        """Return the cells of one row."""
        return [str(column[index]) for column in self.columns]

    def title(self, index: int) -> str:
        """Return the header of one column in lower case, or nothing."""
        return self.header[index].lower() if self.header else ""

    def name(self, index: int) -> str:
        """Return what a person would call a column."""
        named = self.header[index] if self.header else ""
        return f"“{named[:30]}”" if named else f"column {index + 1}"

    def blame(self, row: int, text: str) -> None:
        """Note what is wrong in a row; the first thing noted stays."""
        self.problems.setdefault(int(self.lines[row]), text)

    def blame_all(self, bad: NDArray[np.bool_], text: Callable[[int], str]) -> None:
        """Note what is wrong in each marked row."""
        for row in np.flatnonzero(bad):
            self.blame(int(row), text(int(row)))

    def drop_bad(self) -> NDArray[np.bool_] | None:
        """Leave the bad rows out; return which rows stay, or none if all do."""
        if not self.problems:
            return None
        stay = ~np.isin(self.lines, list(self.problems))
        self.lines = self.lines[stay]
        self.columns = [column[stay] for column in self.columns]
        self.left_out |= self.problems
        self.problems = {}
        self.refuse_mostly_bad()
        return stay

    def refuse_mostly_bad(self) -> None:
        """Raise LogProblem, naming lines, if more were left out than stay."""
        if len(self.lines) >= max(2, len(self.left_out)):
            return
        bad = sorted(self.left_out.items())
        line, text = bad[0] if bad else (0, "")
        count = "1 line" if len(bad) == 1 else f"{len(bad)} lines"
        raise LogProblem(
            f"{count} cannot be read, and too little is left without. Line {line}: "
            f"{text} Correct the file, or export it again.",
            bad,
        )


def read_table(file: IO[bytes]) -> Table:
    """Read a file's cells.

    Raises
    ------
    LogProblem
        If it is no text, has no readings, or more than can be held.
    """
    text = Text(file)
    delimiter = _find_delimiter(list(islice(text.lines(), DELIMITER_WITHIN_LINES)))
    unclosed: set[int] = set()
    rows = _read_rows(text.lines(), delimiter, unclosed)
    above, header, first = _split_header(list(islice(rows, HEADER_WITHIN_ROWS + 2)))
    if not first:
        raise LogProblem(
            "This file has a header and no readings, or nothing that looks like a "
            "time and a temperature. Export the firing again."
        )
    width = len(header) or _usual_width(_read_rows(text.lines(), delimiter, set()))
    lines, columns, problems = _fill(chain(first, rows), width)
    if len(lines) == 1:
        raise LogProblem("This file has one reading; a firing has at least two.")
    return Table(
        header,
        lines,
        columns,
        text.encoding,
        _DELIMITERS[delimiter],
        above=[cell for row in above for cell in row.cells],
        is_unended=text.is_unended,
        problems=problems
        | dict.fromkeys(unclosed.intersection(lines.tolist()), _UNCLOSED),
    )


def _find_delimiter(lines: list[str]) -> str:
    """Return the delimiter that the file names, or that most of its lines have."""
    if named := _SEPARATOR.match(lines[0]):
        return named.group(1)
    filled = [line for line in lines if line.strip()]
    sample = filled[len(filled) // 2 :]  # A summary at the top has marks of its own.
    for delimiter in (";", "\t"):
        if sum(delimiter in line for line in sample) * 2 > len(sample):
            return delimiter
    return ","


def _read_rows(
    lines: Iterable[str], delimiter: str, unclosed: set[int]
) -> Iterator[Row]:
    """Yield the rows; note the lines in which a quotation mark is not closed.

    No cell of a log goes over two lines, so a stray mark spoils only its own.
    """
    is_first = True
    for number, line in enumerate(lines, 1):
        cells = line.split(delimiter)
        if '"' in line:
            reader = csv.reader([line, ""], delimiter=delimiter)
            quoted = next(reader)
            if reader.line_num == 1:
                cells = quoted
            else:
                unclosed.add(number)
                cells = line.replace('"', "").split(delimiter)
        stripped = [cell.strip() for cell in cells]
        if not any(stripped) or stripped[0].startswith("#"):
            continue
        if not (is_first and stripped[0].lower().startswith(("sep=", '"sep='))):
            yield Row(number, stripped)
        is_first = False


def _split_header(rows: list[Row]) -> tuple[list[Row], list[str], list[Row]]:
    """Return what is above the header, the header, and the rows under it.

    The header is the line that names both a time and a temperature, or the one without
    numbers above the first two rows that have them.
    """
    top = rows[:HEADER_WITHIN_ROWS]
    begins = next((at for at, row in enumerate(top, 1) if _is_header(row)), 0)
    if not begins:
        begins = next((at for at, two in enumerate(pairwise(top)) if _begin(*two)), 1)
        if not rows or not begins or any(map(kind_of_cell, rows[begins - 1].cells)):
            return [], [], rows
    header, under = rows[begins - 1].cells, rows[begins:]
    if under and _is_units(under[0]):
        # A second line of the header, with the units.
        units = under[0].cells + [""] * len(header)
        header = [f"{name} {unit}".strip() for name, unit in zip(header, units)]  # noqa: B905 - the shorter one counts
        under = under[1:]
    return rows[: begins - 1], header, under


def _is_header(row: Row) -> bool:
    names = [cell.lower() for cell in row.cells if not kind_of_cell(cell)]
    return (
        len(names) * 2 > sum(map(bool, row.cells))
        and any(map(names_time, names))
        and any(map(names_temperature, names))
    )


def _begin(row: Row, following: Row) -> bool:
    """Return whether readings begin with these two rows."""
    return all(
        sum(bool(kind_of_cell(cell)) for cell in one.cells) > 1
        for one in (row, following)
    )


def _is_units(row: Row) -> bool:
    bare = [cell.strip("()[] ").lower() for cell in row.cells]
    return not any(map(kind_of_cell, row.cells)) and any(
        unit_in_name(cell) or elapsed_unit_in_name(cell) for cell in bare
    )


def _usual_width(rows: Iterable[Row]) -> int:
    """Return how many cells most rows of a file without a header have: the median."""
    widths = Counter(len(row.cells) for row in rows)
    before, middle = 0, widths.total() // 2
    for width in sorted(widths):
        before += widths[width]
        if before > middle:
            break
    return width


def _fill(
    rows: Iterator[Row], width: int
) -> tuple[NDArray[np.int64], list[NDArray[np.object_]], dict[int, str]]:
    """Return the rows' lines and columns, and which rows have too many cells."""
    lines: list[int] = []
    columns: list[list[NDArray[np.object_]]] = [[] for _ in range(width)]
    problems: dict[int, str] = {}
    while batch := list(islice(rows, _AT_ONCE)):
        lines += [row.line for row in batch]
        if len(lines) > MOST_ROWS or len(lines) * width > MOST_CELLS:
            raise LogProblem(
                f"This file has more than {min(MOST_ROWS, MOST_CELLS // width):,} "
                f"lines of {width} columns. Export one firing, or a reading every ten "
                "seconds."
            )
        for row in batch:
            if len(row.cells) == width:
                continue
            if any(row.cells[width:]):
                problems[row.line] = (
                    f"{' | '.join(row.cells)[:40]!r} are {len(row.cells)} values for "
                    f"{width} columns."
                )
            row.cells[width:] = [""] * (width - len(row.cells))
        for column, texts in zip(
            columns, zip(*(row.cells for row in batch), strict=True), strict=True
        ):
            column.append(np.array(texts, dtype=_TEXTS))
    # One at a time: the parts and the whole are not held together for all of them.
    whole = [np.concatenate(columns.pop(0)) for _ in range(width)]
    return np.array(lines), whole, problems
