"""Which column is which, and what is asked where the file does not say."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.controller_log.columns import (
    ask_column,
    find_temperatures,
    find_time,
    read_temperatures,
    settle_unit,
)
from firing.controller_log.problems import Doubts, LogProblem
from tests.firing.controller_log.tables import table_of


def table(header, *rows):
    """Return a table from a header, or none, and rows, all written with bars."""
    split = [[cell.strip() for cell in row.split("|")] for row in rows]
    return table_of(
        [cell.strip() for cell in header.split("|")] if header else [], split
    )


def asked(call, *args):
    with pytest.raises(LogProblem) as caught:
        call(*args)
    return str(caught.value)


@pytest.mark.parametrize(
    ("header", "row", "expected"),
    [
        ("Time | Temp | When", "5 | 20 | 2026-03-04 10:00", ([2], "stamp")),
        ("Temp | Date | Time", "20 | 2026-03-04 | 10:00", ([1, 2], "stamp")),
        ("Date | Temp", "2026-03-04 | 20", None),
        ("Time | Temp", "10:00 | 20", ([0], "clock")),
        ("Clock | Elapsed | Temp", "10:00 | 0:00 | 20", ([1], "clock")),
        ("Temp | Time", "20 | 5", ([1], "number")),
        ("Time | Time (min) | Temp", "1 | 5 | 20", ([1], "number")),
        ("Date | Elapsed | Temp", "2026-03-04 | 5 | 20", ([1], "number")),
        ("Date | Elapsed | Temp", "2026-03-04 | 0:05 | 20", ([1], "clock")),
        ("Segment | Temp", "1 | 20", None),
    ],
)
def test_a_date_with_a_time_comes_before_a_time_of_day_and_that_before_numbers(
    header, row, expected
):
    one = table(header, row, row)
    if expected is None:
        assert "No column of times" in asked(find_time, one)
    else:
        assert find_time(one) == expected


def test_without_a_header_numbers_that_always_rise_are_times():
    assert find_time(table("", "20 | 0", "300 | 60", "290 | 120")) == ([1], "number")
    stands = table("", "20 | 0", "300 | 60", "290 | 60")
    assert "No column of times" in asked(find_time, stands)
    assert "No column of times" in asked(find_time, table("", "0", "60"))


def test_a_quarter_of_good_cells_says_what_a_column_is():
    good, bad = "10:00 | 20", "? | 20"
    assert find_time(table("", good, good, bad, bad, bad)) == ([0], "clock")
    assert "No column of times" in asked(find_time, table("", good, *[bad] * 3)), (
        "a quarter is not more than a quarter"
    )


@pytest.mark.parametrize(
    ("header", "column"),
    [
        ("Time | Temp | Setpoint", 1),
        ("Time | Set temp | Temp", 2),
        ("Time | TC 1 | Kiln temp", 2),  # one is plainly the kiln
        ("Time | Segment | PV", 2),
    ],
)
def test_the_kilns_temperature_is_told_by_its_name(header, column):
    found = table(header, "0 | 20 | 21", "60 | 300 | 310")
    assert find_temperatures(found, [0], None) == [column]


def test_a_lone_column_of_numbers_needs_no_name_but_must_not_be_another_things():
    assert find_temperatures(table("Time | Oven", "0 | 20", "9 | 21"), [0], None) == [1]
    power = table("Time | Power", "0 | 20", "9 | 21")
    assert "No column of temperatures" in asked(find_temperatures, power, [0], None)


def test_unknown_names_are_asked_about_and_what_hardly_moves_is_not():
    both = table("Time | Left | Right | Amps", "0 | 20 | 20 | 0", "9 | 300 | 310 | 30")
    assert find_temperatures(both, [0], None) == [1, 2]


def test_a_thermocouple_that_shows_one_value_is_no_choice():
    two = table("Time | TC 1 | TC 2", "0 | 20 | 0", "9 | 300 | 0")
    assert find_temperatures(two, [0], None) == [1]
    both = table("Time | TC 1 | TC 2", "0 | 20 | 20", "9 | 300 | 310")
    found = find_temperatures(both, [0], None)
    question = ask_column(both, found, 2)
    assert question.text == (
        "Several columns could be the kiln's temperature: “TC 1”, “TC 2”. Say which."
    )
    assert question.choices == [
        ("TC 1", "“TC 1”, 20 to 300"),
        ("TC 2", "“TC 2”, 20 to 310"),
    ]
    assert question.likely == "TC 2"


def test_columns_of_one_name_are_chosen_by_number():
    both = table("Time | TC | TC", "0 | 20 | 20", "9 | 300 | 310")
    assert [answer for answer, _ in ask_column(both, [1, 2], None).choices] == [
        "2",
        "3",
    ]


def test_without_a_header_a_column_that_hardly_moves_is_not_the_kiln():
    found = table("", "0 | 20 | 5", "60 | 300 | 80")
    assert find_temperatures(found, [0], None) == [1]
    still = table("", "0 | 20 | 5", "60 | 110 | 80")
    assert "No column of temperatures" in asked(find_temperatures, still, [0], None)


@pytest.mark.parametrize(
    ("wanted", "column"), [("TC 2", 2), (" tc 2 ", 2), ("3", 2), ("2", 1)]
)
def test_a_column_can_be_named_or_numbered_from_one(wanted, column):
    both = table("Time | TC 1 | TC 2", "0 | 20 | 20", "9 | 300 | 310")
    assert find_temperatures(both, [0], wanted) == [column]


@pytest.mark.parametrize("wanted", ["0", "4", "TC 3", "", "²"])
def test_a_column_that_is_not_there_is_said(wanted):
    both = table("Time | TC 1 | TC 2", "0 | 20 | 20", "9 | 300 | 310")
    assert "it has 3" in asked(find_temperatures, both, [0], wanted)


def test_the_unit_of_the_cells_is_read_with_them():
    values, unit = read_temperatures(table("", "68 °F", "70", "1500,5 F"), 0)
    assert values.tolist() == [68, 70, 1500.5]
    assert unit == "F"
    assert read_temperatures(table("", "20", "21"), 0)[1] is None
    assert "one scale" in asked(read_temperatures, table("", "20 C", "70 F"), 0)


def test_a_cell_that_is_no_temperature_is_blamed_and_the_others_are_read():
    bad = table("", "20 C", "hot", "22 C")
    values, _ = read_temperatures(bad, 0)
    assert np.isnan(values).tolist() == [False, True, False]
    assert bad.problems == {3: "'hot' is not a temperature."}


@pytest.mark.parametrize(
    ("cells", "values"),
    [
        (["999", "1,234"], [999, 1234]),
        (["999", "1.234"], [999, 1234]),
        (["999", "1,234.5"], [999, 1234.5]),
        (["999", "1.234,5"], [999, 1234.5]),
        (["1,234", "1,490"], [1234, 1490]),  # a kiln is not at one degree
        (["20,512", "1,234"], [20.512, 1.234]),  # 20 512 degrees there are not
        (["20,5", "12,7"], [20.5, 12.7]),
    ],
)
def test_a_mark_before_three_digits_is_of_thousands_where_it_can_be(cells, values):
    found = table("", *cells)
    read, _ = read_temperatures(found, 0)
    assert found.problems == {}
    assert read.tolist() == values


def test_a_thousand_or_a_fraction_that_nothing_tells_is_blamed():
    doubtful = table("", "9", "1,234")
    read_temperatures(doubtful, 0)
    assert doubtful.problems == {3: "'1,234' may be a thousand or a fraction."}


@given(st.lists(st.integers(-50, 30_000).map(lambda n: n / 10), min_size=1, max_size=9))
def test_clean_numbers_and_numbers_with_a_unit_are_read_alike(values):
    plain, _ = read_temperatures(table("", *map(str, values)), 0)
    slow, unit = read_temperatures(table("", *(f"{v} °C" for v in values)), 0)
    assert plain.tolist() == slow.tolist() == values
    assert unit == "C"


@pytest.mark.parametrize(
    ("title", "said", "in_cells", "unit"),
    [
        ("Temp (°C)", None, None, "C"),
        ("Temp", "F", None, "F"),
        ("Temp (°C)", "C", None, "C"),
        ("Temp (°C)", None, "F", "F"),  # what stands beside the number counts more
        ("Temp (°C)", "F", "F", "F"),
    ],
)
def test_the_scale_is_the_files_or_the_persons(title, said, in_cells, unit):
    doubts = Doubts()
    assert settle_unit(table(title, "20"), 0, said, in_cells, doubts) == unit
    assert doubts.questions == []


def test_a_scale_that_nobody_says_or_that_contradicts_is_asked():
    one = table("Temp (°C)", "20")
    assert "you say °F" in asked(settle_unit, one, 0, "F", None, Doubts())
    assert "you say °C" in asked(settle_unit, one, 0, "C", "F", Doubts())
    doubts = Doubts()
    settle_unit(table("Temp", "20", "1490"), 0, None, None, doubts)
    assert [one.text for one in doubts.questions] == [
        "Are these readings (20 to 1490) in °C or in °F? The file does not say."
    ]


@pytest.mark.parametrize(
    ("above", "unit"),
    [
        (["Kiln 4", "Units", "F"], "F"),
        (["Units: °C"], "C"),
        (["Temperature scale: deg F"], "F"),
        (["Highest", "1490 °F"], "F"),
        (["Fahrenheit"], "F"),
        (["Room 20 °C", "Highest 1490 °F"], None),
        (["Kiln C", "Front"], None),
    ],
)
def test_a_summary_above_the_header_may_name_the_scale(above, unit):
    one = table("Time | Temp", "0 | 20")
    one.above = above
    doubts = Doubts()
    assert settle_unit(one, 1, None, None, doubts) == (unit or "C")
    assert bool(doubts.questions) is (unit is None)
