"""Quantity fields: either unit in, SI out, what was typed kept, nothing drifts."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from django import forms
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from studio.fields import (
    DurationField,
    LengthField,
    MomentField,
    QuantityForm,
    RateField,
    TemperatureField,
)
from studio.units import LengthUnit, TemperatureUnit
from studio.viewer import Viewer


class Form(QuantityForm):
    length = LengthField()
    temperature = TemperatureField()
    rate = RateField()
    time = DurationField(required=False)


def viewer(*, imperial: bool) -> Viewer:
    return Viewer(
        temperature_unit=TemperatureUnit.F if imperial else TemperatureUnit.C,
        length_unit=LengthUnit.IN if imperial else LengthUnit.MM,
        zone=None,
        currency="USD",
        studio=None,
    )


GOOD = {"length": "2 3/8", "temperature": "1500", "rate": "27", "time": "1:30"}


def test_a_bare_number_takes_the_readers_unit():
    form = Form(GOOD, viewer=viewer(imperial=True))
    assert form.is_valid()
    assert form.cleaned_data == pytest.approx(
        {"length": 60.325, "temperature": 815.5555556, "rate": 15, "time": 5400}
    )


def test_a_written_unit_wins_over_the_viewers():
    typed = {"length": "60 mm", "temperature": "815 C", "rate": "15 °C/h"}
    form = Form(typed, viewer=viewer(imperial=True))
    assert form.is_valid()
    assert form.cleaned_data == {
        "length": 60,
        "temperature": 815,
        "rate": 15,
        "time": None,
    }


@pytest.mark.parametrize(
    ("name", "typed"),
    [
        ("length", "tall"),
        ("length", "-3 mm"),
        ("length", "nan"),
        ("length", "1e999"),
        ("temperature", "hot"),
        ("temperature", "99999 C"),
        ("rate", "-5"),
        ("time", "soon"),
        ("length", "<script>"),
        ("length", "\N{ARABIC-INDIC DIGIT FIVE} mm"),
    ],
)
def test_nonsense_is_refused_with_what_to_write_and_stays_typed(name, typed):
    form = Form(GOOD | {name: typed}, viewer=viewer(imperial=False))
    assert not form.is_valid()
    assert set(form.errors) == {name}
    assert "Write a" in form.errors[name][0]
    assert form[name].value() == typed


def test_a_stored_number_is_shown_in_the_readers_unit():
    stored = {"length": 60.325, "temperature": 815.5555556, "rate": 15, "time": 5400}
    shown = Form(initial=stored, viewer=viewer(imperial=True))
    assert shown["length"].value() == "2 3/8 in"
    assert shown["temperature"].value() == "1500 °F"
    assert shown["rate"].value() == "27 °F/h"
    assert shown["time"].value() == "1 h 30 min"


@given(
    length=st.floats(0.01, 9_999),
    temperature=st.floats(-40, 1690),
    rate=st.floats(0.02, 9_900),
)
def test_saving_what_was_only_looked_at_changes_nothing(length, temperature, rate):
    stored = {"length": length, "temperature": temperature, "rate": rate}
    form = Form(initial=stored, viewer=viewer(imperial=True))
    typed = {name: form[name].value() for name in stored}
    again = Form(typed, initial=stored, viewer=viewer(imperial=True))
    assert again.is_valid(), again.errors
    assert {name: again.cleaned_data[name] for name in stored} == stored
    assert not again.has_changed()


def test_a_changed_text_is_read_anew():
    stored = {"length": 60.0, "temperature": 482.0, "rate": 15.0}
    again = Form(
        {"length": "60 mm", "temperature": "900 F", "rate": "27"},
        initial=stored,
        viewer=viewer(imperial=True),
    )
    assert again.is_valid()
    assert again.cleaned_data["length"] == 60
    assert again.cleaned_data["temperature"] == pytest.approx(482.2222222)
    assert "temperature" in again.changed_data


# Instants -----------------------------------------------------------------------------

NEW_YORK = ZoneInfo("America/New_York")


def test_an_instant_is_typed_by_the_studios_clock_and_kept_in_utc():
    with timezone.override(NEW_YORK):
        moment = MomentField().clean("2026-03-07T20:00")
    assert moment == dt.datetime(2026, 3, 8, 1, tzinfo=dt.UTC)
    assert moment.tzinfo is dt.UTC, "so that hours added to it are true hours"


@pytest.mark.parametrize("typed", ["2026-03-08T02:30", "2026-11-01T01:30"])
def test_an_hour_that_is_missing_or_doubled_is_told_so(typed):
    with (
        timezone.override(NEW_YORK),
        pytest.raises(forms.ValidationError, match="Clocks change in that hour"),
    ):
        MomentField().clean(typed)
