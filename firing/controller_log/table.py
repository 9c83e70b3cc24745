"""From bytes to rows of cells: encoding, delimiter, header, and what is wrong in bad
rows.

`columns` and `times` say what the columns mean.
"""

import csv
import io
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from firing.controller_log.cells import kind_of_cell, names_temperature, names_time
from firing.controller_log.problems import LogProblem

# A line of names this far down is no longer a header.
HEADER_WITHIN_ROWS = 40
_DELIMITERS = {";": "semicolons", "\t": "tabs", ",": "commas"}
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f]")
_UNCLOSED = "a quotation mark is opened here and not closed on this line."


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
    problems: dict[int, str] = field(default_factory=dict)

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

    def refuse_bad_rows(self) -> None:
        """Raise LogProblem if anything was noted, naming lines."""
        if not self.problems:
            return
        problems = sorted(self.problems.items())
        line, text = problems[0]
        lines = "1 line" if len(problems) == 1 else f"{len(problems)} lines"
        raise LogProblem(
            f"Nothing was imported: {lines} cannot be read. Line {line}: {text} "
            "Correct the file, or export it again.",
            problems,
        )


def read_table(data: bytes) -> Table:
    """Read rows of cells.

    Raises
    ------
    LogProblem
        If it is no text, or has no readings.
    """
    text, encoding = _decode(data)
    if _CONTROL.search(text[:100_000]) or "\x00" in text:
        raise _not_text()
    delimiter = _find_delimiter(text)
    rows, unclosed = _read_rows(text, delimiter)
    header, rows = _split_header(rows)
    if not rows:
        raise LogProblem(
            "This file has a header and no readings, or nothing that looks like a "
            "time and a temperature. Export the firing again."
        )
    if len(rows) == 1:
        raise LogProblem("This file has one reading; a firing has at least two.")
    table = _equalised(header, rows, encoding, _DELIMITERS[delimiter])
    for line in unclosed:
        table.problems[line] = _UNCLOSED
    table.refuse_bad_rows()
    return table


def _decode(data: bytes) -> tuple[str, str]:
    if not data.strip():
        raise LogProblem("This file is empty. Export the firing again.")
    for mark, codec, encoding in (
        (b"\xef\xbb\xbf", "utf-8-sig", "utf-8"),
        (b"\xff\xfe", "utf-16", "utf-16"),
        (b"\xfe\xff", "utf-16", "utf-16"),
    ):
        if data.startswith(mark):
            return _decoded(data, codec), encoding
    head = data[:2000]
    for first, codec in ((1, "utf-16-le"), (0, "utf-16-be")):
        # Plain letters in UTF-16 have a zero in every other byte.
        if head[first::2].count(0) > len(head) // 3:
            return _decoded(data, codec), "utf-16"
    try:
        return data.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        return data.decode("latin-1"), "latin-1"


def _decoded(data: bytes, codec: str) -> str:
    try:
        return data.decode(codec)
    except UnicodeDecodeError as problem:
        raise _not_text() from problem


def _not_text() -> LogProblem:
    return LogProblem(
        "This is not a text file. Export the firing as CSV and give that file."
    )


def _find_delimiter(text: str) -> str:
    lines = [line for line in text[:200_000].splitlines() if line.strip()][:200]
    for delimiter in (";", "\t"):
        if sum(delimiter in line for line in lines) * 2 > len(lines):
            return delimiter
    return ","


def _read_rows(text: str, delimiter: str) -> tuple[list[Row], list[int]]:
    """Return the rows, and the lines at which a quotation mark swallowed others."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    rows: list[Row] = []
    unclosed = []
    line = 0
    try:
        for cells in reader:
            began, line = line + 1, reader.line_num
            if line != began:
                unclosed.append(began)
            stripped = [cell.strip() for cell in cells]
            if any(stripped) and not stripped[0].startswith("#"):
                rows.append(Row(began, stripped))
    except csv.Error as problem:
        raise LogProblem(
            f"Line {line + 1} cannot be read as CSV: {problem}."
        ) from problem
    return rows, unclosed


def _split_header(rows: list[Row]) -> tuple[list[str], list[Row]]:
    """Find the line that names both a time and a temperature, or one without numbers.

    Anything above it (a serial number, a firing's title) is not read.
    """
    for at, row in enumerate(rows[:HEADER_WITHIN_ROWS]):
        names = [cell.lower() for cell in row.cells]
        if any(map(names_time, names)) and any(map(names_temperature, names)):
            return row.cells, rows[at + 1 :]
    if not rows or any(kind_of_cell(cell) for cell in rows[0].cells):
        return [], rows
    return rows[0].cells, rows[1:]


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
                index, f"there are {len(row.cells)} values and {width} columns."
            )
        row.cells.extend([""] * (width - len(row.cells)))
    return table
