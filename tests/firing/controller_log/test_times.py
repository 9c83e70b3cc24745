"""From cells of time to seconds since the start of the firing."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.controller_log.problems import Doubts, LogProblem
from firing.controller_log.times import Clock, read_times
from tests.firing.controller_log.tables import table_of

BERLIN = ZoneInfo("Europe/Berlin")
START = datetime(2026, 3, 4, 9, 0, tzinfo=UTC)  # 10:00 in Berlin
HOUR = 3600.0


def table(title, cells):
    return table_of([title], [[cell] for cell in cells])


def clock(started_at=START, **known):
    asked = {
        "date_order": None,
        "elapsed_unit": None,
        "lasted_s": None,
        "doubts": Doubts(),
    } | known
    return Clock(started_at=started_at, zone=BERLIN, **asked)


def read(kind, title, *cells, **known):
    one = table(title, cells)
    found = read_times(one, [0], kind, clock(**known))
    assert one.problems == {}
    return found


def blamed(kind, title, *cells, **known):
    one = table(title, cells)
    found = read_times(one, [0], kind, clock(**known))
    assert [bool(nan) for nan in np.isnan(found.time_s)] == [
        line in one.problems for line in range(2, len(cells) + 2)
    ]
    return one.problems


@pytest.mark.parametrize(
    ("title", "known", "scale"),
    [
        ("time (s)", {}, 1),
        ("minutes", {}, 60),
        ("time", {"elapsed_unit": "h"}, 3600),
        ("time (s)", {"elapsed_unit": "h"}, 1),  # the file knows better
    ],
)
def test_plain_numbers_are_in_the_unit_of_the_name_or_of_the_person(
    title, known, scale
):
    found = read("number", title, "0", "1,5", "2.5", **known)
    assert found.time_s.tolist() == [0, 1.5 * scale, 2.5 * scale]


def test_a_unit_that_nobody_says_is_asked():
    doubts = Doubts()
    read("number", "time", "0", "600", doubts=doubts, lasted_s=11 * HOUR)
    (question,) = doubts.questions
    assert "(up to 600) seconds, minutes or hours" in question.text
    assert question.likely == "min", "ten hours have been, and six hundred not"


def test_large_numbers_are_seconds_or_milliseconds_since_1970():
    at = int(START.timestamp())
    assert read("number", "time", str(at), str(at + 60)).time_s.tolist() == [0, 60]
    in_ms = [f"{(at + s) * 1000}" for s in (0, 60)]
    assert read("number", "time (s)", *in_ms).time_s.tolist() == [0, 60]
    assert read("number", "time (s)", "999999999").time_s.tolist() == [999_999_999]


def test_a_time_of_day_is_counted_from_the_start_and_on_over_midnight():
    found = read("clock", "time", "10:30", "23:30", "00:30", "11:00")
    assert found.how == "time of day in Europe/Berlin"
    assert found.time_s.tolist() == [h * HOUR for h in (0.5, 13.5, 14.5, 25)]


def test_half_a_day_back_is_no_midnight_and_a_second_more_is():
    half = read("clock", "time of day", "20:00:00", "08:00:00")
    assert np.diff(half.time_s) == [-12 * HOUR]
    more = read("clock", "time of day", "20:00:00", "07:59:59")
    assert np.diff(more.time_s) == [12 * HOUR - 1]


def test_what_begins_near_nought_is_elapsed_unless_the_firing_began_at_midnight():
    assert read("clock", "time", "0:10", "2:00").time_s.tolist() == [600, 2 * HOUR]
    midnight = START - timedelta(hours=10)  # 0:00 in Berlin
    found = read("clock", "time", "0:10", "2:00", started_at=midnight)
    assert found.how.startswith("time of day")
    assert found.time_s.tolist() == [600, 2 * HOUR]
    named = read("clock", "time of day", "0:10", "2:00")
    assert named.how.startswith("time of day")


def test_past_a_day_it_is_no_time_of_day():
    assert read("clock", "time", "10:00", "25:00").how == "time since the start"


@pytest.mark.parametrize(
    ("title", "cell", "seconds"),
    [
        ("elapsed", "2:03", 2 * HOUR + 180),
        ("elapsed mm:ss", "2:03", 123),
        ("elapsed hh:mm", "2:03", 2 * HOUR + 180),
        ("elapsed", "1:02:03,5", HOUR + 123.5),
        ("elapsed ddd:hh:mm", "1:02:03", 26 * HOUR + 180),
        ("elapsed", "001:02:03", 26 * HOUR + 180),
        ("elapsed", "1:02:03:04", 26 * HOUR + 184),
        ("elapsed", "12:05 am", 300),
    ],
)
def test_marks_between_digits_mean_what_the_name_says(title, cell, seconds):
    assert read("clock", title, cell, cell).time_s.tolist() == [seconds, seconds]


@pytest.mark.parametrize("cell", ["1:60", "1:00:60", "13:00 pm", "0:10 am", "?", ""])
def test_a_time_that_there_is_not_is_blamed(cell):
    assert list(blamed("clock", "elapsed", "0:00", cell)) == [3]
    assert list(blamed("number", "time (s)", "0", "1:00")) == [3]


@pytest.mark.parametrize(
    ("cell", "hours"),
    [
        ("2026-03-04 11:00", 1),
        ("2026/3/4 11:00:00", 1),
        ("04.03.2026 11:00", 1),
        ("4.3.26, 11:00", 1),
        ("3/13/26 9:00 am", 9 * 24 - 1),
        ("13/3/26 9:00 am", 9 * 24 - 1),
    ],
)
def test_dates_in_many_forms(cell, hours):
    assert read("stamp", "", cell).time_s.tolist() == [hours * HOUR]


def test_a_date_that_can_be_two_is_asked_unless_a_row_tells():
    doubts = Doubts()
    read("stamp", "", "3/4/2026 10:00", doubts=doubts)
    assert "such as 3/4/2026?" in doubts.questions[0].text
    told = read("stamp", "", "3/4/2026 10:00", date_order="mdy")
    assert told.time_s.tolist() == [0]
    rows = ("3/4/2026 10:00", "3/13/2026 10:00")
    assert read("stamp", "", *rows).time_s.tolist() == [0, 9 * 24 * HOUR]
    with pytest.raises(LogProblem, match="one form of dates"):
        read("stamp", "", "13/3/2026 10:00", "3/13/2026 10:00")


@pytest.mark.parametrize(
    ("days", "lasted_days", "hours", "is_asked"),
    [
        (["3/4/2026", "3/5/2026"], 2, [0, 24], False),
        (["4/3/2026", "5/3/2026"], 2, [0, 24], False),
        # One day is of another time either way, and the other one tells.
        (["3/4/2026", "4/4/2026"], 2, [0, 31 * 24 - 1], False),
        (["3/4/2026"], 60, None, True),  # 4 March and 3 April are both of it
        (["6/7/2026"], 2, None, True),  # neither is
    ],
)
def test_day_or_month_first_is_what_fits_the_firing(days, lasted_days, hours, is_asked):
    doubts = Doubts()
    cells = [f"{day} 10:00" for day in days]
    lasted_s = lasted_days * 24 * HOUR
    found = read("stamp", "", *cells, lasted_s=lasted_s, doubts=doubts)
    assert bool(doubts.questions) is is_asked
    if hours is not None:
        assert (found.time_s / HOUR).tolist() == hours


def test_what_fits_the_firing_counts_more_than_an_old_answer():
    found = read("stamp", "", "3/4/2026 10:00", lasted_s=HOUR, date_order="dmy")
    assert found.time_s.tolist() == [0]
    assert found.how.endswith(", month first")


def test_noon_and_midnight_need_their_am_or_pm():
    texts = ["3/13/2026 11:59 AM", "3/13/2026 12:05"]
    assert "lacks the AM or PM" in blamed_texts(*texts)[3]


def test_an_offset_counts_instead_of_the_zone():
    found = read("stamp", "", "2026-03-04T11:00Z", "2026-03-04 11:00-0130")
    assert found.how == "dates and times with their offset"
    assert found.time_s.tolist() == [2 * HOUR, 3.5 * HOUR]
    lacking = blamed_texts("2026-03-04T11:00Z", "2026-03-04 11:00")
    assert list(lacking) == [3]
    assert "lacks the offset" in lacking[3]


def blamed_texts(*cells):
    one = table("", cells)
    read_times(one, [0], "stamp", clock())
    return one.problems


@pytest.mark.parametrize("cell", ["2026-02-30 10:00", "2026-13-01 10:00", "2026-03-04"])
def test_a_day_that_there_is_not_is_blamed(cell):
    assert list(blamed("stamp", "", "2026-03-04 10:00", cell)) == [3]


def test_a_date_and_a_time_may_stand_in_two_columns():
    one = table_of(["time", "date"], [["10:30", "2026-03-04"], ["0:30", "2026-03-05"]])
    found = read_times(one, [1, 0], "stamp", clock())
    assert found.time_s.tolist() == [0.5 * HOUR, 14.5 * HOUR]


steps = st.lists(st.integers(0, 6 * 3600), min_size=1, max_size=20)


@given(steps, st.integers(-7200, 7200))
def test_dates_and_times_are_the_instants_that_were_written(gaps, begins):
    """Over a year without a clock change in the log, both forms give the same."""
    seconds = np.cumsum([begins, *gaps])
    instants = [START + timedelta(seconds=int(s)) for s in seconds]
    local = [f"{at.astimezone(BERLIN):%Y-%m-%d %H:%M:%S}" for at in instants]
    exact = [f"{at:%Y-%m-%dT%H:%M:%SZ}" for at in instants]
    assert read("stamp", "", *local).time_s.tolist() == seconds.tolist()
    assert read("stamp", "", *exact).time_s.tolist() == seconds.tolist()


@given(st.lists(st.integers(1, 11 * 3600), min_size=1, max_size=20))
def test_times_of_day_lose_no_midnight(gaps):
    seconds = np.cumsum([0, *gaps])
    instants = [START + timedelta(seconds=int(s)) for s in seconds]
    of_day = [f"{at.astimezone(BERLIN):%H:%M:%S}" for at in instants]
    assert read("clock", "time of day", *of_day).time_s.tolist() == seconds.tolist()
