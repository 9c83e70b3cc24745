"""A field's value as JSON and back: what a form would not take is refused."""

import datetime as dt
from decimal import Decimal

import pytest
from django.db import models

from studio.errors import Refused
from studio.selectors.stored_values import as_json, from_json

EAST = dt.timezone(dt.timedelta(hours=2))
TEXT = models.CharField(max_length=5, choices={"one": "1", "two": "2"})
NOTE = models.TextField(blank=True)


def taken(field, raw):
    field.set_attributes_from_name("it")
    return from_json(field, raw, "row 3")


@pytest.mark.parametrize(
    ("field", "value", "stored"),
    [
        (
            models.DateTimeField(),
            dt.datetime(2026, 3, 4, 11, 30, tzinfo=EAST),
            "2026-03-04T09:30:00+00:00",
        ),
        (models.DateField(), dt.date(2026, 3, 4), "2026-03-04"),
        (models.TimeField(), dt.time(8, 30), "08:30:00"),
        (
            models.DecimalField(max_digits=9, decimal_places=4),
            Decimal("0.1000"),
            "0.1000",
        ),
        (models.FloatField(), 0.1, 0.1),
        (models.IntegerField(), 7, 7),
        (models.BooleanField(), False, False),
        (models.JSONField(), {"a": [1, None, "x"]}, {"a": [1, None, "x"]}),
        (TEXT, "two", "two"),
        (NOTE, "", ""),
    ],
)
def test_there_and_back(field, value, stored):
    assert as_json(value) == stored
    assert taken(field, stored) == value


def test_nothing_is_only_taken_where_a_field_may_be_empty():
    assert taken(models.IntegerField(null=True), None) is None
    with pytest.raises(Refused, match=r"^row 3 is empty\.$"):
        taken(models.IntegerField(), None)


@pytest.mark.parametrize(
    ("field", "raw", "told"),
    [
        (TEXT, "three", "none of its values"),
        (TEXT, ["one"], "several values"),
        (NOTE, {"a": 1}, "several values"),
        (NOTE, "a\0b", "a character that is none"),
        (models.IntegerField(), "seven", "integer"),
        (models.IntegerField(), 10**30, "or less"),
        (models.FloatField(), float("nan"), "no number"),
        (models.FloatField(), "inf", "no number"),
        (models.DecimalField(max_digits=4, decimal_places=2), "1.234", "decimal"),
        (models.DateTimeField(), "2026-03-04T09:30:00", "no offset from UTC"),
        (models.DateField(), "2026-02-30", "invalid date"),
        (models.JSONField(), {"a": [{"b\0": 1}]}, "a character that is none"),
        (models.JSONField(), [1, [float("inf")]], "no number"),
    ],
)
@pytest.mark.filterwarnings("ignore:DateTimeField")
def test_what_a_field_could_not_hold_is_refused_with_its_place(field, raw, told):
    with pytest.raises(Refused, match=f"^row 3 cannot be taken: .*{told}"):
        taken(field, raw)


def test_what_is_nested_without_end_is_refused():
    endless = []
    endless.append(endless)
    with pytest.raises(Refused, match="cannot be taken"):
        taken(models.JSONField(), endless)
