"""Phrases that ask for kiln time; what is not understood is given back."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.planning.spans.span_words import MONTHS, Size, read_wish

TODAY = date(2026, 11, 25)  # a Wednesday
KILNS = ["Heron", "Long shelf", "Long"]


def read(phrase, today=TODAY):
    return read_wish(phrase, kilns=KILNS, today=today)


@pytest.mark.parametrize(
    ("phrase", "hours"),
    [
        ("5 days", 120),
        ("5d", 120),
        ("36 h", 36),
        ("36hrs please", 36),
        ("two days and 6 hours", 54),
        ("a week", 168),
        ("1.5 days", 36),
        ("1,5 days", 36),
        ("an hour", 1),
        ("five nights", 120),
        ("0 days", None),
        ("5", None),
        ("days", None),
        ("-5 days", None),
        ("1e9 days", None),
        ("9999999999 days", None),
    ],
)
def test_lengths(phrase, hours):
    found = read(phrase).lasts_s
    assert found == (None if hours is None else hours * 3600)


@pytest.mark.parametrize(
    ("phrase", "kiln", "size"),
    [
        ("in the large kiln", "", Size.LARGE),
        ("the smallest one", "", Size.SMALL),
        ("any kiln", "", Size.ANY),
        ("in heron", "Heron", Size.ANY),
        ("in the Long shelf", "Long shelf", Size.ANY),
        ("in the long", "Long", Size.ANY),
    ],
)
def test_kilns_by_size_or_by_the_longest_name_that_fits(phrase, kiln, size):
    found = read(phrase)
    assert (found.kiln, found.size) == (kiln, size)


@pytest.mark.parametrize(
    ("phrase", "first", "too_late"),
    [
        ("before March", None, "2027-03-01"),
        ("by March", None, "2027-04-01"),
        ("before 5 March", None, "2027-03-05"),
        ("by the 5th of March", None, "2027-03-06"),
        ("until March 5th 2028", None, "2028-03-06"),
        ("after 5 December", "2026-12-06", None),
        ("from december 5", "2026-12-05", None),
        ("after March", "2027-04-01", None),
        ("in March", "2027-03-01", "2027-04-01"),
        ("in november", "2026-11-01", "2026-12-01"),
        ("before november", None, "2027-11-01"),
        ("in feb 2028", "2028-02-01", "2028-03-01"),
        ("on 29 february", "2028-02-29", "2028-03-01"),
        ("next week", "2026-11-30", "2026-12-07"),
        ("this week", "2026-11-23", "2026-11-30"),
        ("next month", "2026-12-01", "2027-01-01"),
        ("tomorrow", "2026-11-26", "2026-11-27"),
        ("before Friday", None, "2026-11-27"),
        ("by next wed", None, "2026-12-03"),
        ("after 2027-01-05", "2027-01-06", None),
        ("between 3 March and 10 March", "2027-03-03", "2027-03-11"),
        ("from next week until 10 Jan", "2026-11-30", "2027-01-11"),
    ],
)
def test_days(phrase, first, too_late):
    found = read(f"2 days {phrase}")
    told = [
        None if day is None else day.isoformat()
        for day in (found.not_before, found.before)
    ]
    assert told == [first, too_late]
    assert found.not_understood == ()
    assert found.lasts_s == 2 * 86400


def test_a_number_before_its_unit_is_no_day_of_a_month():
    found = read("before March 5 days")
    assert found.before == date(2027, 3, 1)
    assert found.lasts_s == 5 * 86400


@pytest.mark.parametrize(
    ("phrase", "left"),
    [
        ("5 purple days", ("5", "purple", "days")),
        ("5 days in the kitchen", ("kitchen",)),
        ("5 days before", ("before",)),
        ("5 days by May by June", ("by", "june")),
        ("between 3 March", ("between",)),
        ("5 days on 31 april", ("31",)),
        ("before 9999-12-31", ("before", "9999-12-31")),
        ("heron heron", ("heron",)),
    ],
)
def test_what_is_not_understood_is_given_back(phrase, left):
    assert read(phrase).not_understood == left


@given(st.text(max_size=400))
def test_any_text_is_read_without_complaint(phrase):
    found = read(phrase)
    assert found.lasts_s is None or found.lasts_s > 0
    assert all(found.not_understood)


@given(
    st.integers(min_value=1, max_value=60),
    st.sampled_from(MONTHS),
    st.dates(min_value=date(2020, 1, 1), max_value=date(2090, 1, 1)),
)
def test_before_a_month_is_always_ahead_and_within_a_year(count, month, today):
    found = read(f"{count} days before {month}", today)
    assert found.lasts_s == count * 86400
    assert timedelta() < found.before - today <= timedelta(days=366)
    assert found.before.day == 1


@given(st.permutations(["5 days", "in the small kiln", "before March", "after 2 Jan"]))
def test_the_order_of_the_parts_does_not_matter(parts):
    found = read(" ".join(parts))
    assert found == read("5 days in the small kiln before March after 2 Jan")
    assert found.not_understood == ()
