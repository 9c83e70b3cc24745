"""Controller files: every dialect that is clear, every doubt that is asked about."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.controller_log import LogProblem, read_log

BERLIN = ZoneInfo("Europe/Berlin")
START = datetime(2026, 3, 4, 9, 0, tzinfo=UTC)  # 10:00 in Berlin


def read(text, *, encoding="utf-8", started_at=START, zone=BERLIN, **known):
    data = text if isinstance(text, bytes) else text.encode(encoding)
    return read_log(data, started_at=started_at, zone=zone, **known).whole()


def refusal(text, **known):
    with pytest.raises(LogProblem) as caught:
        read(text, **known)
    return caught.value


def times(text, **known):
    return read(text, **known).readings.time_s.tolist()


def temperatures(text, **known):
    return read(text, **known).readings.temperature_c.tolist()


# --- encodings, delimiters, headers ---

PLAIN = "Seconds,Temp (°C)\n0,20.5\n60,21\n120,25.25\n"


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1"]
)
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_encodings_delimiters_and_line_ends(encoding, delimiter, newline):
    log = read(PLAIN.replace(",", delimiter).replace("\n", newline), encoding=encoding)
    assert log.readings.time_s.tolist() == [0, 60, 120]
    assert log.readings.temperature_c.tolist() == [20.5, 21, 25.25]
    assert log.unit == "C"
    assert log.readings.time_s.dtype == np.float64


def test_what_was_understood_is_told():
    assert read(PLAIN).description == (
        "3 readings, utf-8, commas; temperature from “Temp (°C)” in °C; "
        "time since the start in s."
    )


def test_a_decimal_comma_with_semicolons():
    text = "Zeit (min);Temp. °C\n0;20,5\n1,5;-3,25\n"
    assert times(text) == [0, 90]
    assert temperatures(text) == [20.5, -3.25]


def test_quoted_cells():
    assert temperatures('"Seconds","Temp C"\n"0","20,5"\n"60","21"\n') == [20.5, 21]


def test_columns_in_any_order_and_extra_ones_ignored():
    text = (
        "Power %,Set point (°F),Kiln temp (°F),Segment,Elapsed (min),Room temp (°F)\n"
        "100,300,212,1,0,70\n90,300,221,1,2,70\n"
    )
    assert times(text) == [0, 120]
    assert temperatures(text) == pytest.approx([100, 105])


def test_lines_above_the_header_blank_lines_and_comments():
    text = "Demo logger 4\nSerial;77\n\nTime (s);Temp [C];\n0;20;\n\n# paused\n9;21;\n"
    assert temperatures(text) == [20, 21]


def test_a_dead_second_thermocouple_is_no_choice():
    text = "Seconds,TC1 (C),TC2 (C)\n0,20,0\n60,30,0\n"
    assert temperatures(text) == [20, 30]


def test_a_measured_value_wins_over_other_temperatures():
    text = "Seconds,Temp shelf (C),Temp actual (C)\n0,20,25\n60,30,35\n"
    assert temperatures(text) == [25, 35]


def test_without_a_header_columns_are_told_by_content():
    rows = "".join(f"{at * 60};{30 + at % 5};{20 + 3 * at},5;1\n" for at in range(60))
    log = read(rows, unit="C", elapsed_unit="s")
    assert log.readings.time_s[-1] == 59 * 60
    assert log.readings.temperature_c[-1] == 197.5
    assert "column 3" in log.description


def test_the_column_can_be_named_or_numbered():
    text = "Seconds,Left (C),Right (C)\n0,20,25\n60,30,35\n"
    assert "Left (C)" in str(refusal(text))
    assert temperatures(text, temperature_column="right (c)") == [25, 35]
    assert temperatures(text, temperature_column="2") == [20, 30]
    assert "no column “4”" in str(refusal(text, temperature_column="4"))


# --- units ---


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("Temp (°C)", "C"),
        ("Temp(F)", "F"),
        ("Temp [F]", "F"),
        ("temp_c", "C"),
        ("TempF", "F"),
        ("Temperature °F", "F"),
        ("Temperature, Celsius", "C"),
        ("Temperature Fahrenheit", "F"),
        ("°C", "C"),
        ("F", "F"),
        ("Kiln degC", "C"),
        ("TC1 deg F", "F"),
        ("PV C", "C"),
    ],
)
def test_the_unit_is_told_by_the_header(name, unit):
    text = f"Seconds;{name}\n0;212\n60;221\n"
    assert read(text).unit == unit
    expected = [212, 221] if unit == "C" else [100, 105]
    assert temperatures(text) == pytest.approx(expected)


@pytest.mark.parametrize("name", ["Temp", "Kiln C temp", "Temp front", "Tempcheck"])
def test_a_unit_that_is_not_told_is_asked(name):
    text = f"Seconds,{name}\n0,20\n60,1500\n"
    assert "in °C or in °F?" in str(refusal(text))
    assert temperatures(text, unit="F")[1] == pytest.approx((1500 - 32) / 1.8)
    assert temperatures(text, unit="C") == [20, 1500]


def test_a_unit_in_the_cells():
    text = "Seconds,Temp\n0,68 °F\n60,77F\n120,86\n"
    assert temperatures(text) == pytest.approx([20, 25, 30])
    assert "partly" in str(refusal("Seconds,Temp\n0,68 F\n60,25 C\n"))


def test_a_unit_that_contradicts_is_asked():
    problem = refusal("Seconds,Temp (F)\n0,68\n60,77\n", unit="C")
    assert "says °F in “Temp (F)” and you say °C" in str(problem)


# --- times ---


@pytest.mark.parametrize(
    ("name", "cells", "expected"),
    [
        ("Time (s)", ["0", "90"], [0, 90]),
        ("Seconds", ["0", "90.5"], [0, 90.5]),
        ("t [min]", ["0", "1.5"], [0, 90]),
        ("Minutes", ["0", "90"], [0, 5400]),
        ("Elapsed hours", ["0", "1.5"], [0, 5400]),
        ("Elapsed", ["0:00:00", "30:15:10"], [0, 108_910]),
        ("Elapsed", ["00:05", "01:30"], [300, 5400]),
        ("Elapsed mm:ss", ["00:05", "90:30"], [5, 5430]),
        ("Time", ["00:00:00", "00:01:30"], [0, 90]),  # the firing began at ten
        ("Time", ["00:05:00", "00:10:00"], [300, 600]),
        ("Time", ["9:00:00", "26:00:00"], [32_400, 93_600]),
        ("Time", ["000:00:00", "001:02:30"], [0, 95_400]),
        ("Time ddd:hh:mm", ["0:00:00", "1:02:30"], [0, 95_400]),
        ("Time (s)", [str(1772614800 + 5), str(1772614800 + 65)], [5, 65]),
        ("Time", ["1772614800000", "1772614801500"], [0, 1.5]),
    ],
)
def test_elapsed_times(name, cells, expected):
    text = f"{name},Temp C\n" + "".join(f"{cell},20\n" for cell in cells)
    assert times(text) == pytest.approx(expected)


def test_a_plain_number_of_unknown_unit_is_asked():
    text = "Time,Temp C\n0,20\n5,21\n"
    assert "seconds, minutes or hours?" in str(refusal(text))
    assert times(text, elapsed_unit="min") == [0, 300]


@pytest.mark.parametrize(
    "stamp",
    [
        "2026-03-04T10:01:30",
        "2026-03-04 10:01:30",
        "2026-03-04 10:01:30.000",
        "2026-03-04T09:01:30Z",
        "2026-03-04T04:01:30-05:00",
        "2026-03-04T04:01:30 -0500",
        "2026/03/04 10:01:30",
        "04.03.2026 10:01:30",
        "4.3.26 10:01:30",
        "2026-03-04 10:01:30 AM",
    ],
)
def test_dates_and_times(stamp):
    later = stamp.replace("01:30", "02:30")
    assert times(f"Date;Temp C\n{stamp};20\n{later};21\n") == [90, 150]


def test_a_date_and_a_time_in_two_columns():
    text = "Temp C,Elapsed,Time,Date\n20,0:00:00,10:00:30,2026-03-04\n"
    assert times(text + "21,0:01:00,10:01:30,2026-03-04\n") == [30, 90]


@pytest.mark.parametrize(
    ("first", "last", "day_first"),
    [("03/04/2026", "03/14/2026", False), ("04/03/2026", "14/03/2026", True)],
)
def test_a_slash_date_is_told_by_a_row_that_can_only_be_one(first, last, day_first):
    text = f"Date,Temp C\n{first} 10:00,20\n{last} 10:00,21\n"
    assert times(text) == [0, 864_000]
    assert times(text, date_order="mdy") == [0, 864_000]


def test_a_slash_date_that_can_be_two_is_asked():
    text = "Date,Temp C\n03/04/2026 10:00,20\n03/05/2026 10:00,21\n"
    assert "day or the month first in dates such as 03/04/2026?" in str(refusal(text))
    assert times(text, date_order="mdy") == [0, 86_400]
    april = datetime(2026, 4, 3, 8, tzinfo=UTC)
    assert times(text, date_order="dmy", started_at=april)[0] == 0


def test_the_third_of_march_is_the_same_both_ways():
    assert times("Date,Temp C\n03/03/2026 10:00,20\n03/03/2026 11:00,21\n") == [
        -86_400,
        -82_800,
    ]


def test_dates_in_both_orders_are_refused():
    text = "Date,Temp C\n13/04/2026 10:00,20\n04/14/2026 10:00,21\n"
    assert "Some dates have the day first" in str(refusal(text))


def test_half_past_twelve_at_night_and_at_noon():
    text = "Date,Temp C\n03/14/2026 12:30:00 AM,20\n03/14/2026 12:30:00 PM,21\n"
    first, second = times(text)
    assert second - first == 12 * 3600
    assert refusal("Date,Temp C\n2026-03-04 13:30 PM,20\n2026-03-04 1:40 PM,21\n")


def test_times_of_day_roll_over_at_midnight():
    rows = ["23:58:00", "23:59:30", "00:01:00", "12:00:00", "23:59:00", "00:00:00"]
    text = "Time,Temp C\n" + "".join(f"{cell},20\n" for cell in rows)
    start = datetime(2026, 3, 4, 23, 57, tzinfo=BERLIN)
    assert times(text, started_at=start) == [60, 150, 240, 43_380, 86_520, 86_580]


def test_a_log_that_began_before_or_after_midnight_belongs_to_its_firing():
    text = "Time of day,Temp C\n{},20\n{},21\n"
    before = datetime(2026, 3, 4, 23, 58, tzinfo=BERLIN)
    assert times(text.format("00:01", "00:02"), started_at=before) == [180, 240]
    after = datetime(2026, 3, 5, 0, 2, tzinfo=BERLIN)
    assert times(text.format("23:59", "00:03"), started_at=after) == [-180, 60]


# --- clock changes: Europe/Berlin, 29 March and 25 October 2026 (IANA tzdata) ---


def stamped(*walls):
    return "Date;Temp C\n" + "".join(f"{wall};500\n" for wall in walls)


def test_a_clock_that_was_put_forward():
    text = stamped("2026-03-29 01:59", "2026-03-29 03:00", "2026-03-29 03:01")
    start = datetime(2026, 3, 29, 0, 59, tzinfo=UTC)
    assert times(text, started_at=start) == [0, 60, 120]


def test_a_clock_that_was_not_put_forward():
    text = stamped("2026-03-29 01:59", "2026-03-29 02:00", "2026-03-29 03:30")
    start = datetime(2026, 3, 29, 0, 59, tzinfo=UTC)
    assert times(text, started_at=start) == [0, 60, 5460]


def test_a_clock_that_was_put_back():
    text = stamped(
        "2026-10-25 02:30", "2026-10-25 02:59", "2026-10-25 02:00", "2026-10-25 03:01"
    )
    start = datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert times(text, started_at=start) == [0, 1740, 1800, 5460]


def test_a_clock_that_was_not_put_back():
    text = stamped("2026-10-25 01:00", "2026-10-25 02:30", "2026-10-25 04:00")
    start = datetime(2026, 10, 24, 23, 0, tzinfo=UTC)
    assert times(text, started_at=start) == [0, 5400, 10_800]


def test_a_log_that_begins_in_the_second_of_the_two_hours():
    text = stamped("2026-10-25 02:30", "2026-10-25 03:30")
    start = datetime(2026, 10, 25, 1, 30, tzinfo=UTC)
    assert times(text, started_at=start) == [0, 3600]


def test_times_of_day_over_a_clock_that_was_put_back():
    text = "Time of day;Temp C\n02:30;500\n02:59;500\n02:00;500\n03:01;500\n"
    start = datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert times(text, started_at=start) == [0, 1740, 1800, 5460]


@given(
    st.sampled_from(
        [
            datetime(2026, 3, 28, 23, 0, tzinfo=UTC),
            datetime(2026, 10, 24, 22, 0, tzinfo=UTC),
        ]
    ),
    st.integers(0, 240),
    st.lists(st.integers(1, 29), min_size=30, max_size=60),
    st.sampled_from(["{:%Y-%m-%d %H:%M}", "{:%d.%m.%Y %H:%M:%S}", "{:%H:%M:%S}"]),
)
def test_a_clock_that_is_changed_with_the_zone_comes_back_exactly(
    evening, begin_min, steps, form
):
    start = evening + timedelta(minutes=begin_min)
    elapsed = np.cumsum([0, *steps]) * 60
    walls = [
        form.format((start + timedelta(seconds=int(after))).astimezone(BERLIN))
        for after in elapsed
    ]
    title = "Time of day" if form == "{:%H:%M:%S}" else "Date"
    text = f"{title};Temp C\n" + "".join(f"{wall};500\n" for wall in walls)
    assert times(text, started_at=start) == elapsed.tolist()


# --- what is refused, and how ---


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b" \r\n \n", "empty"),
        (b"\xef\xbb\xbf", "no readings"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "not a text file"),
        (b"PK\x03\x04\x14\x00\x06\x00", "not a text file"),
        (b"\xff\xfea", "no readings"),
        (bytes(range(256)) * 40, "not a text file"),
        (b"Seconds,Temp C\n", "no readings"),
        (b"Seconds,Temp C\n0,20\n", "one reading"),
        (b"0,20\n", "one reading"),
        (b"hello\nworld\nagain\n", "No column of times"),
        (b"Temp C,Power\n20,1\n21,2\n", "No column of times"),
        (b"Seconds,Power\n0,1\n1,2\n", "No column of temperatures"),
        (b"Seconds,Set point (C)\n0,1\n1,2\n", "No column of temperatures"),
        (b'Seconds,Temp C\n0,20\n1,"21' + b"9" * 140_000, "Line 3 is longer"),
    ],
)
def test_files_that_are_no_log(data, words):
    assert words in str(refusal(data))


def test_a_file_over_the_limit_is_refused_unread():
    problem = refusal(b"\x00" * 2_000_001, limit_bytes=2_000_000)
    assert "at most 2.0 can be read" in str(problem)


def test_a_start_without_a_zone_is_refused():
    naive = datetime(2026, 3, 4)  # noqa: DTZ001
    assert "needs a time zone" in str(refusal(PLAIN, started_at=naive))


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("60,", "'' is not a temperature"),
        ("60,----", "'----' is not a temperature"),
        ("60,nan", "'nan' is not a temperature"),
        ("60,inf", "'inf' is not a temperature"),
        ("60,1_0", "'1_0' is not a temperature"),
        ("60,1..5", "'1..5' is not a temperature"),
        ("60,1701", "no kiln temperature"),
        ("60,-51", "no kiln temperature"),
        ("60,1e99", "no kiln temperature"),
        (",25", "'' is not a time"),
        ("soon,25", "'soon' is not a time"),
        ("60", "'' is not a temperature"),
        ("60,23,5", "3 values for 2 columns"),
        ("-1,25", "'-1' goes backwards"),
        ('60,25,"', "quotation mark"),
    ],
)
def test_a_bad_row_is_named_and_nothing_is_imported(row, words):
    problem = refusal(f"Seconds,Temp C\n0,20\n\n{row}\n120,30\n180,40\n")
    assert problem.count == 1
    ((line, text),) = problem.problems
    assert line == 4
    assert words in text
    assert "1 line cannot be read. Line 4: " in str(problem)


@pytest.mark.parametrize(
    "stamp",
    [
        "2026-02-30 10:00",
        "2026-13-01 10:00",
        "2026-03-04 24:00",
        "2026-03-04 10:60",
        "2026-03-04",
        "04.03.2026T",
    ],
)
def test_a_date_that_does_not_exist_is_named(stamp):
    problem = refusal(
        stamped("2026-03-04 10:00", "2026-03-04 10:01", stamp, "2026-03-04 10:03")
    )
    assert problem.problems == [(4, f"{stamp!r} is not a date and time.")]


def test_times_of_day_by_the_twelve_hour_clock():
    text = "Time,Temp C\n{},20\n11:59 AM,20\n12:01 p.m.,20\n1:00:30 PM,21\n"
    assert times(text.format("10:00 am")) == [0, 7140, 7260, 10_830]
    problem = refusal(text.format("13:00 am"))
    assert problem.problems == [(2, "'13:00 am' is not a time.")]


def test_a_first_row_without_a_time_is_named():
    text = "Time of day,Temp C\nsoon,20\n10:01,20\n10:02,20\n"
    assert refusal(text).problems == [(2, "'soon' is not a time.")]


def test_an_offset_in_some_rows_only_is_named():
    text = stamped("2026-03-04T10:00Z", "2026-03-04T10:01Z", "2026-03-04T10:02")
    assert "lacks the offset" in str(refusal(text))


def test_a_clock_cell_that_is_none_is_named():
    text = "Time of day,Temp C\n10:00,20\n10:01,20\n10:75,20\n10:05,20\n"
    assert refusal(text).problems == [(4, "'10:75' is not a time.")]


def test_equal_times_are_allowed():
    assert times("Seconds,Temp C\n0,20\n60,21\n60,22\n") == [0, 60, 60]


def test_the_first_twenty_bad_rows_are_named_and_all_are_counted():
    rows = "".join(f"{at},{'x' if at % 2 else 20}\n" for at in range(100))
    problem = refusal("Seconds,Temp C\n" + rows + "100,20\n")
    assert problem.count == 50
    assert len(problem.problems) == 20
    assert problem.problems[0] == (3, "'x' is not a temperature.")
    assert "50 lines cannot be read" in str(problem)


# --- what is written comes back ---


@given(
    st.lists(
        st.tuples(st.integers(0, 3600), st.floats(-49, 1699)), min_size=2, max_size=40
    ),
    st.sampled_from("CF"),
    st.sampled_from(["iso", "dotted", "seconds", "epoch"]),
    st.sampled_from([(",", "."), (";", ","), ("\t", ",")]),
    st.datetimes(datetime(2026, 1, 1), datetime(2026, 12, 31)),  # noqa: DTZ001
)
def test_a_written_log_is_read_back(steps, unit, form, marks, begun):
    delimiter, point = marks
    start = begun.replace(microsecond=0, tzinfo=UTC)
    expected_s = np.cumsum([step for step, _ in steps])
    lines = [
        delimiter.join(("Seconds" if form == "seconds" else "Time", f"Temp ({unit})"))
    ]
    for elapsed, (_, celsius) in zip(expected_s, steps, strict=True):
        instant = start + timedelta(seconds=int(elapsed))
        moment = {
            "iso": instant.isoformat(),
            "dotted": f"{instant:%d.%m.%Y %H:%M:%S}",
            "seconds": str(elapsed),
            "epoch": str(int(instant.timestamp())),
        }[form]
        shown = celsius if unit == "C" else celsius * 1.8 + 32
        lines.append(
            f"{moment}{delimiter}{shown:.4f}".replace(".", point)
            if form != "dotted"
            else f"{moment}{delimiter}{f'{shown:.4f}'.replace('.', point)}"
        )
    log = read("\n".join(lines), started_at=start, zone=ZoneInfo("UTC"))
    assert log.unit == unit
    assert log.readings.time_s == pytest.approx(expected_s)
    assert log.readings.temperature_c == pytest.approx(
        [celsius for _, celsius in steps], abs=1e-4
    )


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused_never_a_crash(data):
    try:
        log = read(data)
    except LogProblem:
        return
    assert np.all(np.isfinite(log.readings.temperature_c))


@given(st.text(alphabet='0123456789:.,;/-T \n\t"CFZx°#', max_size=200))
def test_any_scrambled_log_is_read_or_refused_never_a_crash(text):
    for data in (text, "Time (s),Temp C\n" + text, "Date;Temp F\n" + text):
        try:
            log = read(data, unit=None)
        except LogProblem:
            continue
        assert np.all(np.isfinite(log.readings.temperature_c))
        assert np.all(np.diff(log.readings.time_s) >= 0)


# --- times that no firing has ---


@pytest.mark.parametrize(
    "text",
    [
        "Hours,Temp (°C)\n0,20\n500000000,30\n",
        "Seconds,Temp (°C)\n0,20\n9e99,30\n",
        "Time,Temp (°C)\n4e15,20\n4000000000000001,30\n",
        "Time,Temp (°C)\n2026-03-04 10:00,20\n9999-12-31 23:59,30\n",
    ],
)
def test_a_time_years_away_is_named_by_its_line(text):
    problem = refusal(text)
    assert "years away" in problem.problems[-1][1]
    assert problem.problems[-1][0] == 3


def test_a_file_of_last_year_is_read():
    """Whether it belongs to the firing is asked by whoever knows the firing."""
    text = "Time,Temp (°C)\n2025-01-04 10:00,20\n2025-01-04 10:01,30\n"
    assert len(times(text)) == 2
