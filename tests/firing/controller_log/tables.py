"""Tables as the reader makes them, from rows written in a test."""

import numpy as np

from firing.controller_log.table import Table


def table_of(header, rows, *, first_line=2):
    """Return a table of rows of equal width, whose first stands on `first_line`."""
    return Table(
        header=header,
        lines=np.arange(first_line, first_line + len(rows)),
        columns=[
            np.array(column, dtype=np.dtypes.StringDType())
            for column in zip(*rows, strict=True)
        ],
        encoding="utf-8",
        delimiter="commas",
    )


def rows_of(table):
    """Return the cells of each row."""
    return [table.row(at) for at in range(len(table.lines))]
