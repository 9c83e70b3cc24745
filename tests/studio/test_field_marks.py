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


def test_a_field_that_has_an_answer_is_not_asked_for():
    class Asked(forms.Form):
        title = forms.CharField()
        tall = forms.CharField(initial="3 in")
        layers = forms.MultipleChoiceField(choices=[("1", "1")], initial=["1"])
        glass = forms.ChoiceField(choices=[("clear", "Clear")])
        kiln = forms.ChoiceField(choices=[("", "Choose one"), ("teal", "Teal")])
        notes = forms.CharField(required=False)
        client = forms.CharField(required=False)
        wanted = forms.CharField(required=False)

    form = Asked()
    marked = [name for name in form.fields if field_mark(form[name]) == "required"]
    assert marked == ["title", "kiln"]
