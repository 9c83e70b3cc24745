"""Importing controllers' files: whole or not at all, quickly, and removing them."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from firing.controller_log import LogProblem, LogQuestions
from firing.firings.services import running
from firing.models import Reading, ReadingImport
from firing.readings.services import readings
from studio.errors import Refused
from tests import make
from tests.cast import NOW
from tests.firing import build
from tests.patience import in_form

HOUR = dt.timedelta(hours=1)


@pytest.fixture
def firing(cast):
    planned = build.enamel(kiln=cast.kiln, glass=cast.glass)
    return running.start_firing(firing=planned, by=None, at=NOW)


def take(firing, text, *, unit=None, name="kiln.csv", **more):
    return readings.import_readings(
        firing=firing,
        data=text.encode() if isinstance(text, str) else text,
        file_name=name,
        unit=unit,
        by=None,
        at=NOW + HOUR,
        **more,
    )


def stored(firing):
    return Reading.owned.for_studio(firing.studio).order_by("at", "pk")


def test_semicolons_and_fahrenheit(firing):
    source = take(
        firing,
        "Elapsed (min);Temp °F\n0;68\n30;212\n60;392,9\n",
    )
    rows = list(stored(firing))
    assert [r.temperature_c for r in rows] == pytest.approx([20, 100, 200.5])
    assert [r.at for r in rows] == [NOW, NOW + HOUR / 2, NOW + HOUR]
    assert source.row_count == 3
    assert source.highest_c == pytest.approx(200.5)
    assert source.thin_curve[-1] == [3600.0, 200.5]


def test_the_unit_is_asked_when_it_cannot_be_told(firing):
    text = "Elapsed (min),Temp\n0,68\n30,212\n"
    with pytest.raises(LogProblem, match="°C or in °F"):
        take(firing, text)
    assert not stored(firing).exists()
    take(firing, text, unit="F")
    assert stored(firing).last().temperature_c == pytest.approx(100)


def test_bad_rows_are_named_and_nothing_is_imported(firing):
    text = "Elapsed (min),Temp °C\n0,20\n1,twenty\n2,22\n3,9999\n4,23\n"
    with pytest.raises(LogProblem) as caught:
        take(firing, text)
    assert [line for line, _ in caught.value.problems] == [3, 5]
    assert not stored(firing).exists()
    assert not ReadingImport.owned.for_studio(firing.studio).exists()


def test_many_thousand_rows_go_in_by_few_statements(
    firing, django_assert_max_num_queries
):
    count = in_form(20_000, 100_000)
    lines = ["Elapsed (s),Temp °C"]
    lines += [f"{n},{20 + n / 200:.2f}" for n in range(count)]
    with django_assert_max_num_queries(count // 100):
        source = take(firing, "\n".join(lines))
    assert source.row_count == count
    assert stored(firing).count() == count
    assert len(source.thin_curve) <= 800


def test_the_same_file_twice_is_refused(firing):
    text = "Elapsed (min),Temp °C\n0,20\n30,100\n"
    take(firing, text, name="first.csv")
    with pytest.raises(Refused, match=r"here already, from first\.csv"):
        take(firing, text, name="again.csv")
    assert stored(firing).count() == 2


def test_two_files_of_one_firing_stand_side_by_side(firing):
    take(firing, "Elapsed (min),Temp °C\n0,20\n30,100\n")
    take(firing, "Elapsed (min),Temp °C\n40,120\n50,140\n")
    assert stored(firing).count() == 4


def test_a_file_is_taken_out_with_its_readings_only(firing):
    first = take(firing, "Elapsed (min),Temp °C\n0,20\n30,100\n")
    take(firing, "Elapsed (min),Temp °C\n40,120\n50,140\n")
    readings.remove_import(source=first, by=None, at=NOW)
    assert [r.temperature_c for r in stored(firing)] == [120, 140]


def test_a_firing_that_was_not_started_takes_no_readings(cast):
    planned = build.enamel(kiln=cast.kiln, glass=cast.glass)
    with pytest.raises(Refused, match="not started"):
        take(planned, "Elapsed (min),Temp °C\n0,20\n30,100\n")


def test_readings_of_another_week_are_refused(firing):
    text = "Time,Temp °C\n2026-02-01 10:00:00,20\n2026-02-01 11:00:00,50\n"
    with pytest.raises(Refused, match="begin on Sun 1 Feb 2026"):
        take(firing, text)
    assert not stored(firing).exists()


@pytest.mark.parametrize(
    "data", [b"", b"\x00\x01\x02binary\xff" * 9, b"PK\x03\x04zip", b"hello\nworld\n"]
)
def test_what_is_no_log_is_refused(firing, data):
    with pytest.raises(LogProblem):
        take(firing, data)


# --- what a file does not say ---

TWO = "Elapsed (min),Left (°C),Right (°C)\n0,20,25\n30,300,390\n{},600,790\n"


def columns_asked(firing, text, **more):
    with pytest.raises(LogQuestions) as caught:
        take(firing, text, **more)
    return [question.name for question in caught.value.questions]


def test_us_dates_are_told_by_the_firing_and_nothing_is_asked(firing):
    day = NOW.astimezone(ZoneInfo(firing.studio.time_zone))
    rows = "".join(f"{day:%m/%d/%Y} {day:%H}:{m:02},{70 + m}\n" for m in range(40))
    source = take(firing, f"Date,Temp (F)\n{rows}")
    assert source.first_at == NOW
    assert source.description.endswith(", month first.")


def test_the_channel_is_asked_once_for_a_logger_of_a_kiln(cast, firing):
    assert columns_asked(firing, TWO.format(60)) == ["temperature_column"]
    take(firing, TWO.format(60), temperature_column="Right (°C)")
    later = take(firing, TWO.format(90))
    assert later.highest_c == 790
    assert "“Right (°C)”" in later.description
    kiln = make.kiln(studio=cast.studio, name="Heron")
    other = build.enamel(kiln=kiln, glass=cast.glass)
    other = running.start_firing(firing=other, by=None, at=NOW)
    assert columns_asked(other, TWO.format(60)) == ["temperature_column"]


def test_removing_a_file_takes_its_answers_back(firing):
    source = take(firing, TWO.format(60), temperature_column="Left (°C)")
    readings.remove_import(source=source, by=None, at=NOW)
    assert columns_asked(firing, TWO.format(90)) == ["temperature_column"]


def test_the_scale_is_proposed_as_it_was_and_asked_all_the_same(firing):
    """A controller's scale is a setting, and the wrong one would cost the glass."""
    text = "Elapsed (min),Temp\n0,68\n30,212\n{},392\n"
    take(firing, text.format(60), unit="F")
    with pytest.raises(LogQuestions) as caught:
        take(firing, text.format(90))
    (question,) = caught.value.questions
    assert (question.name, question.likely) == ("unit", "F")


def test_what_is_left_out_is_kept_with_the_import(firing):
    text = "Elapsed (min),Temp °C\n0,20\n1,ERR\n2,22\n3,23\n"
    with pytest.raises(readings.LinesLeftOut) as caught:
        take(firing, text)
    told = caught.value
    assert (told.reading_count, told.highest_c) == (3, 23)
    assert (told.first_at, told.last_at) == (NOW, NOW + HOUR / 20)
    source = take(firing, text, leave_out=1)
    source.refresh_from_db()
    assert source.read_as["left_out"] == [[3, "'ERR' is not a temperature."]]
    assert source.row_count == 3
