"""From bytes to rows of cells: encoding, delimiter, header, and what is wrong in bad
rows.

`columns` and `times` say what the columns mean.
"""

import csv
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
from typing import NamedTuple

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

# A line of names this far down is no longer a header.
HEADER_WITHIN_ROWS = 40
_DELIMITERS = {";": "semicolons", "\t": "tabs", ",": "commas"}
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f]")
_LINE_END = re.compile(r"\r\n|\n|\r")
# The first line by which spreadsheets are told the delimiter.
_SEPARATOR = re.compile(r'"?sep=([;,\t])"?\s*$', re.IGNORECASE)
_UNCLOSED = "a quotation mark is opened here and not closed on this line."
# One sign each for what is elsewhere written in two.
_SCALES = str.maketrans({"\u2103": "°C", "\u2109": "°F"})


class Row(NamedTuple):
    """One line that is neither blank nor a comment."""

    line: int
    cells: list[str]


@dataclass(slots=True)
class Table:
    """A file as rows of equal width, with what is wrong in them."""

    header: list[str]
    rows: list[Row]
    width: int
    encoding: str
    delimiter: str
    above: list[str] = field(default_factory=list)
    """Cells of the lines above the header."""
    is_unended: bool = False
    """The last line has no end, so it may be cut short."""
    problems: dict[int, str] = field(default_factory=dict)
    left_out: dict[int, str] = field(default_factory=dict)

    def column(self, index: int) -> list[str]:
        """Return the cells of one column."""
        return [row.cells[index] for row in self.rows]

    def title(self, index: int) -> str:
        """Return the header of one column in lower case, or nothing."""
        return self.header[index].lower() if self.header else ""

    def name(self, index: int) -> str:
        """Return what a person would call a column."""
        named = self.header[index] if self.header else ""
        return f"“{named[:30]}”" if named else f"column {index + 1}"

    def blame(self, row: int, text: str) -> None:
        """Note what is wrong in a row; the first thing noted stays."""
        self.problems.setdefault(self.rows[row].line, text)

    def blame_all(self, bad: NDArray[np.bool_], text: Callable[[int], str]) -> None:
        """Note what is wrong in each marked row."""
        for row in np.flatnonzero(bad):
            self.blame(int(row), text(int(row)))

    def drop_bad(self) -> NDArray[np.bool_] | None:
        """Leave the bad rows out; return which rows stay, or none if all do."""
        if not self.problems:
            return None
        stay = np.array([row.line not in self.problems for row in self.rows])
        self.rows = [row for row in self.rows if row.line not in self.problems]
        self.left_out |= self.problems
        self.problems = {}
        self.refuse_mostly_bad()
        return stay

    def refuse_mostly_bad(self) -> None:
        """Raise LogProblem, naming lines, if more were left out than stay."""
        if len(self.rows) >= max(2, len(self.left_out)):
            return
        bad = sorted(self.left_out.items())
        line, text = bad[0] if bad else (0, "")
        count = "1 line" if len(bad) == 1 else f"{len(bad)} lines"
        raise LogProblem(
            f"{count} cannot be read, and too little is left without. Line {line}: "
            f"{text} Correct the file, or export it again.",
            bad,
        )


def read_table(data: bytes) -> Table:
    """Read rows of cells.

    Raises
    ------
    LogProblem
        If it is no text, or has no readings.
    """
    text, encoding = _decode(data)
    # A logger that lost its power may leave a tail of zeros.
    is_unended = not text.endswith(("\n", "\r"))
    text = text.rstrip("\x00")
    if _CONTROL.search(text[:100_000]) or "\x00" in text:
        raise _not_text()
    lines = _LINE_END.split(text)
    delimiter = _find_delimiter(lines)
    rows, unclosed = _read_rows(lines, delimiter)
    above, header, rows = _split_header(rows)
    if not rows:
        raise LogProblem(
            "This file has a header and no readings, or nothing that looks like a "
            "time and a temperature. Export the firing again."
        )
    if len(rows) == 1:
        raise LogProblem("This file has one reading; a firing has at least two.")
    table = _equalised(header, rows, encoding, _DELIMITERS[delimiter])
    table.above = [cell for row in above for cell in row.cells]
    table.is_unended = is_unended
    read = {row.line for row in rows}
    table.problems |= {line: _UNCLOSED for line in unclosed if line in read}
    return table


def _decode(data: bytes) -> tuple[str, str]:
    if not data.strip():
        raise LogProblem("This file is empty. Export the firing again.")
    text, encoding = _decoded(data)
    return text.translate(_SCALES), encoding


def _decoded(data: bytes) -> tuple[str, str]:
    head = data[:2000]
    codec = ""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        codec = "utf-16"
    elif head[1::2].count(0) > len(head) // 3:
        # Plain letters in UTF-16 have a zero in every other byte.
        codec = "utf-16-le"
    elif head[0::2].count(0) > len(head) // 3:
        codec = "utf-16-be"
    if codec:
        try:
            # Half a letter at the end is where the file was cut short.
            return data[: len(data) // 2 * 2].decode(codec), "utf-16"
        except UnicodeDecodeError as problem:
            raise _not_text() from problem
    try:
        return data.decode("utf-8-sig"), "utf-8"
    except UnicodeDecodeError:
        return data.decode("latin-1"), "latin-1"


def _not_text() -> LogProblem:
    return LogProblem(
        "This is not a text file. Export the firing as CSV and give that file."
    )


def _find_delimiter(lines: list[str]) -> str:
    """Return the delimiter that the file names, or that most of its lines have."""
    if named := _SEPARATOR.match(lines[0]):
        return named.group(1)
    filled = [line for line in lines[:400] if line.strip()]
    sample = filled[len(filled) // 2 :]  # A summary at the top has marks of its own.
    for delimiter in (";", "\t"):
        if sum(delimiter in line for line in sample) * 2 > len(sample):
            return delimiter
    return ","


def _read_rows(lines: list[str], delimiter: str) -> tuple[list[Row], list[int]]:
    """Return the rows, and the lines in which a quotation mark is not closed.

    No cell of a log goes over two lines, so a stray mark spoils only its own.
    """
    unclosed = [at for at, text in enumerate(lines, 1) if text.count('"') % 2]
    for at in unclosed:
        lines[at - 1] = lines[at - 1].replace('"', "")
    reader = csv.reader(lines, delimiter=delimiter)
    rows: list[Row] = []
    try:
        for cells in reader:
            stripped = [cell.strip() for cell in cells]
            if any(stripped) and not stripped[0].startswith("#"):
                rows.append(Row(reader.line_num, stripped))
    except csv.Error as problem:
        raise LogProblem(
            f"Line {reader.line_num} cannot be read as CSV: {problem}. Correct the "
            "file, or export it again."
        ) from problem
    if rows and rows[0].cells[0].lower().startswith(("sep=", '"sep=')):
        del rows[0]
    return rows, unclosed


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


def _equalised(
    header: list[str], rows: list[Row], encoding: str, delimiter: str
) -> Table:
    """Make all rows as wide as the header, or as most rows are without one."""
    widths = [len(row.cells) for row in rows]
    width = len(header) or sorted(widths)[len(widths) // 2]
    table = Table(header, rows, width, encoding, delimiter)
    if min(widths) == max(widths) == width:
        return table
    for index, row in enumerate(rows):
        if any(row.cells[width:]):
            table.blame(
                index,
                f"{' | '.join(row.cells)[:40]!r} are {len(row.cells)} values for "
                f"{width} columns.",
            )
        row.cells.extend([""] * (width - len(row.cells)))
    return table
