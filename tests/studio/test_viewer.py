"""How a reader sees numbers, money and moments."""

import datetime as dt
from decimal import Decimal

import pytest

from studio.viewer import Viewer, count_words, viewer_of
from tests.cast import NOW

HOUR = dt.timedelta(hours=1)
DAY = dt.timedelta(days=1)


def test_members_read_in_their_own_units_and_papers_in_the_studios(cast, strangers):
    american, european = cast.viewer(), strangers.viewer()
    assert american.temperature(482) == "900 °F"
    assert american.length(36.5) == "1.44 in"
    assert european.temperature(815.6) == "816 °C"
    assert american.length(60.325) == "2 3/8 in"
    assert european.size(305, 203) == "305 × 203 mm"
    assert american.rate(15) == "27 °F/h"
    assert Viewer.of_studio(cast.studio).temperature(50) == "122 °F"
    assert european.duration(9000) == "2 h 30 min"


@pytest.mark.parametrize(
    ("c_per_h", "american", "european"),
    [
        (48.48, "87 °F/h", "48 °C/h"),
        (15.15, "27 °F/h", "15 °C/h"),
        (5.4, "9.7 °F/h", "5.4 °C/h"),
        (0.42, "0.76 °F/h", "0.42 °C/h"),
        (0.004, "0.01 °F/h", "0 °C/h"),
    ],
)
def test_rates_have_no_more_figures_than_a_kiln_follows(
    cast, strangers, c_per_h, american, european
):
    assert cast.viewer().rate(c_per_h) == american
    assert strangers.viewer().rate(c_per_h) == european


def test_two_rates_that_differ_never_read_the_same(cast, strangers):
    assert cast.viewer().rates(15.0, 15.15) == ["27 °F/h", "27.3 °F/h"]
    assert strangers.viewer().rates(15.0, 15.15) == ["15 °C/h", "15.2 °C/h"]
    assert cast.viewer().rates(15.0, 15.0) == ["27 °F/h", "27 °F/h"]


@pytest.mark.parametrize(
    ("minutes", "words"),
    [(0, "0 min"), (45, "45 min"), (120, "2 h"), (1870, "31 h 10 min")],
)
def test_labour_is_hours_and_never_days(cast, minutes, words):
    assert cast.viewer().labour(minutes) == words


def test_money_takes_the_studios_currency_unless_another_is_said(cast, strangers):
    assert cast.viewer().money(Decimal("1234.5")) == "$1,234.50"
    assert strangers.viewer().money(Decimal(3)) == "€3.00"
    assert cast.viewer().money(Decimal(3), "EUR") == "€3.00"


@pytest.mark.parametrize(
    ("away", "words"),
    [
        (dt.timedelta(), "today 04:00"),
        (DAY, "tomorrow 04:00"),
        (-DAY, "yesterday 04:00"),
        (3 * DAY, "Sat 04:00"),
        (-6 * DAY, "Thu 04:00"),
        (5 * DAY, "Mon 05:00"),  # the clocks went forward on Sunday
        (7 * DAY, "Wed 11 Mar 05:00"),
        (400 * DAY, "Thu 8 Apr 2027 05:00"),
    ],
)
def test_moments_are_near_words_in_the_studios_zone(cast, away, words):
    assert cast.viewer().moment(NOW + away, NOW) == words


def test_tomorrow_is_told_by_the_studios_midnight_not_by_utc(cast):
    late = dt.datetime(2026, 3, 4, 23, 30, tzinfo=dt.UTC)  # 18:30 in the studio
    assert cast.viewer().moment(late + 4 * HOUR, late) == "today 22:30"
    assert cast.viewer().day(late + 4 * HOUR) == "Wed 4 Mar 2026"
    assert cast.viewer().clock(late) == "18:30"


@pytest.mark.parametrize(
    ("away", "words"),
    [
        (-HOUR, "now"),
        (dt.timedelta(), "now"),
        (dt.timedelta(seconds=20), "1 min"),
        (dt.timedelta(minutes=119), "119 min"),
        (38 * HOUR, "38 h"),
    ],
)
def test_time_left(cast, away, words):
    assert cast.viewer().left(NOW + away, NOW) == words


def test_abilities_follow_the_role_and_papers_have_none(cast):
    assert cast.viewer("owner").may_manage_studio
    assert cast.viewer("maker").may_see_money
    assert not cast.viewer("helper").may_see_money
    assert cast.viewer("helper").may_record_work
    assert not cast.viewer("technician").may_record_work
    assert cast.viewer("technician").may_manage_kilns
    assert not Viewer.of_studio(cast.studio).may_see_money


def test_nobody_signed_in_is_no_viewer():
    assert viewer_of(object()) is None


def test_one_is_one_and_the_rest_are_many():
    assert count_words(1, "firing") == "1 firing"
    assert count_words(0, "firing") == "0 firings"
    assert count_words(2, "pass", "passes") == "2 passes"
