"""The lists that people take into a spreadsheet: one row per thing, units in the
heading.

Every app adds its own in its `portable.py`. Lengths and temperatures are in the units
the studio prints in, instants in its local time.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from studio import units
from studio.amounts import SQUARE_METRE
from studio.models import Studio
from studio.units import LengthUnit, TemperatureUnit
from studio.viewer import Viewer

DECIMALS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A heading, and how to read a cell under it."""

    heading: Callable[[Viewer], str]
    cell: Callable[[Any, Viewer], object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A list: its name, its rows and its columns."""

    name: str
    rows: Callable[[Studio], Iterable[object]]
    columns: tuple[Column, ...]

    def lines(self, studio: Studio) -> Iterator[list[object]]:
        """Return the headings, then the cells of each row."""
        viewer = Viewer.of_studio(studio)
        yield [column.heading(viewer) for column in self.columns]
        for row in self.rows(studio):
            yield [column.cell(row, viewer) for column in self.columns]


_tables: list[Table] = []


def add_table(
    name: str, rows: Callable[[Studio], Iterable[object]], *columns: Column
) -> None:
    """Add a list to every archive."""
    _tables.append(Table(name=name, rows=rows, columns=columns))


def tables() -> list[Table]:
    """Return the lists in the order in which they were added."""
    return list(_tables)


def plain(heading: str, path: str) -> Column:
    """Return a column of any attribute; dots lead on to other records."""
    return Column(
        heading=lambda _: heading,
        cell=lambda row, viewer: _cell(_at(row, path), viewer),
    )


def several(heading: str, field: str) -> Column:
    """Return a column that names the records of a many-to-many field."""
    return Column(
        heading=lambda _: heading,
        cell=lambda row, _: ", ".join(str(one) for one in getattr(row, field).all()),
    )


def length(heading: str, path: str) -> Column:
    """Return a column of lengths, stored in mm."""

    def shown(row: object, viewer: Viewer) -> object:
        mm = _at(row, path)
        if mm is None or viewer.length_unit == LengthUnit.MM:
            return mm
        return round(mm / units.MM_PER_INCH, DECIMALS)

    return Column(heading=lambda one: f"{heading} ({one.length_unit})", cell=shown)


def price_per_area(heading: str, path: str) -> Column:
    """Return a column of prices, stored for a square metre."""
    return Column(
        heading=lambda one: f"{heading} per {one.unit(SQUARE_METRE)}",
        cell=lambda row, one: one.price_per(_at(row, path), SQUARE_METRE),
    )


def temperature(heading: str, path: str) -> Column:
    """Return a column of temperatures, stored in °C."""

    def shown(row: object, viewer: Viewer) -> object:
        celsius = _at(row, path)
        if celsius is None or viewer.temperature_unit == TemperatureUnit.C:
            return celsius
        return round(units.celsius_to_fahrenheit(celsius), DECIMALS)

    return Column(
        heading=lambda one: f"{heading} (°{one.temperature_unit})", cell=shown
    )


def _at(row: object, path: str) -> Any:
    for name in path.split("."):
        if row is None:
            return None
        row = getattr(row, name)
        if callable(row):  # Django's get_..._display
            row = row()
    return row


def _cell(value: object, viewer: Viewer) -> object:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return f"{value.astimezone(viewer.zone):%Y-%m-%d %H:%M}"
    if isinstance(value, int | float | Decimal):
        return value
    return str(value)
