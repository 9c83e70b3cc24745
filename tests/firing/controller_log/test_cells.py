"""What one cell, or one column's name, can be."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.controller_log import cells


@pytest.mark.parametrize(
    ("cell", "kind"),
    [
        ("2026-03-04 10:00", "stamp"),
        ("2026-03-04T10:00:05.25Z", "stamp"),
        ("04.03.26, 10:00", "stamp"),
        ("3/4/2026 9:30 pm", "stamp"),
        ("2026-03-04 10:00+0100", "stamp"),
        ("2026-03-04", "date"),
        ("4/3/26", "date"),
        ("2026-03/04", ""),  # two different marks
        ("10:00", "clock"),
        ("10:00:30,5", "clock"),
        ("9:30 a.m.", "clock"),
        ("125:00:00", "clock"),  # hours since the start
        ("001:02:03:04", "clock"),  # days since the start
        ("10:0", ""),
        ("21", "number"),
        ("-3,5", "number"),
        (".5", "number"),
        ("1.2e3", "number"),
        ("821.5 °C", "number"),
        ("1510 degF", "number"),
        ("21 V", ""),
        ("", ""),
        ("open", ""),
        ("٣٤", ""),  # digits, but none that a logger writes
    ],
)
def test_a_cell_is_told_by_its_form(cell, kind):
    assert cells.kind_of_cell(cell) == kind


@pytest.mark.parametrize(
    ("name", "is_time"),
    [
        ("time", True),
        ("date/time", True),
        ("elapsed (min)", True),
        ("uhrzeit", True),
        ("t", True),
        ("hours", True),
        ("temp", False),
        ("temperature", False),
        ("temp time", False),
        ("rest", False),
        ("", False),
    ],
)
def test_a_name_of_times(name, is_time):
    assert cells.names_time(name) is is_time


@pytest.mark.parametrize(
    ("name", "is_kiln", "is_plain"),
    [
        ("temp", True, False),
        ("tc 1", True, False),
        ("°f", True, False),
        ("f", True, False),
        ("istwert", True, True),
        ("pv", True, True),
        ("kiln temp", True, True),
        ("setpoint temp", False, False),
        ("sollwert °c", False, False),
        ("ambient temp", False, False),
        ("cold junction (c)", False, False),
        ("power", False, False),
        ("volts", False, False),
    ],
)
def test_a_name_of_the_kilns_temperature(name, is_kiln, is_plain):
    assert cells.names_temperature(name) is is_kiln
    assert cells.plainly_names_the_kiln(name) is is_plain


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("Temp (°C)", "C"),
        ("Temp [F]", "F"),
        ("temperature, degrees F", "F"),
        ("TempC", "C"),
        ("tc1 f", "F"),
        ("Celsius", "C"),
        ("Kiln C", None),  # the third kiln
        ("Temp °C / °F", None),  # both
        ("Temp", None),
    ],
)
def test_a_scale_in_a_name(name, unit):
    assert cells.unit_in_name(name) == unit


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("Elapsed_min", "min"),
        ("Time (s)", "s"),
        ("Seconds", "s"),
        ("Hours", "h"),
        ("Stunden", "h"),
        ("Time", None),
        ("Temps", None),
    ],
)
def test_a_unit_of_elapsed_time_in_a_name(name, unit):
    assert cells.elapsed_unit_in_name(name) == unit


@given(st.floats(-1e6, 1e6, allow_nan=False).map(lambda value: round(value, 3)))
def test_a_number_means_the_same_with_a_point_or_a_comma(value):
    written = f"{value:.3f}"
    assert cells.kind_of_cell(written) == "number"
    assert cells.to_float(written) == cells.to_float(written.replace(".", ",")) == value


@given(st.text("0123456789.,:/-TZpm °CFx\u0663", max_size=24))
def test_any_cell_has_one_kind_and_never_fails(cell):
    assert cells.kind_of_cell(cell) in {"stamp", "date", "clock", "number", ""}
    cells.names_temperature(cell.lower())
    cells.unit_in_name(cell)
