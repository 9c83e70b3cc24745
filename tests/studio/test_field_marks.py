"""A form marks what is required or what is optional, whichever is rarer."""

import pytest
from django import forms

from studio.templatetags.slowcool import field_mark


def marks(*required):
    names = [f"f{number}" for number in range(len(required))]
    fields = {
        name: forms.CharField(required=one)
        for name, one in zip(names, required, strict=True)
    }
    tick = {"tick": forms.BooleanField(required=False)}
    form = type("Asked", (forms.Form,), fields | tick)()
    return [field_mark(form[name]) for name in names]


@pytest.mark.parametrize(
    ("required", "shown"),
    [
        ([True, True, False], ["", "", "optional"]),
        ([True, False], ["", "optional"]),
        ([True, False, False], ["required", "", ""]),
        ([True, True], ["", ""]),
        ([False, False], ["", ""]),
    ],
)
def test_the_rarer_is_marked(required, shown):
    assert marks(*required) == shown
