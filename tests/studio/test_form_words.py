"""What forms say and show: plain words, plain numbers, whole degrees, no dashes."""

from decimal import Decimal

import pytest
from axes.models import AccessAttempt
from django import forms

from commissions.forms.client import ClientForm
from commissions.forms.commission import CommissionForm
from studio.fields import DayField, MoneyField
from studio.forms.invitations import ForgottenForm, InviteForm
from studio.forms.stock import GlassForm, MaterialForm, begun_glass
from studio.forms.words import speak_plainly
from studio.models import Material
from tests import make
from tests.studio.views.pages import address, text_of


class Asked(forms.Form):
    count = forms.IntegerField(min_value=1, max_value=60)
    name = forms.CharField(max_length=5)
    email = forms.EmailField()
    amount = forms.DecimalField(max_digits=6, decimal_places=2)
    day = DayField()
    yen = MoneyField("JPY", label="Yen")
    dinar = MoneyField("KWD", label="Dinar")
    place = forms.ChoiceField(choices=[("", "Choose one"), ("shore", "Shore")])


@pytest.mark.parametrize(
    ("field", "typed", "told"),
    [
        ("count", "61", "Write 60 or less."),
        ("count", "0", "Write 1 or more."),
        ("count", "twelve", "Write a whole number."),
        ("name", "", "Fill this in."),
        ("place", "", "Choose one."),
        ("name", "reed bed", "Write at most 5 characters; these are 8."),
        ("email", "nia", "Write an e-mail address, such as name@example.org."),
        ("amount", "much", "Write a number, such as 2.5."),
        ("amount", "1.234", "Write at most 2 decimals."),
        ("amount", "1e400", "Write at most 6 digits."),
        ("amount", "12345.6", "Write at most 4 digits before the decimal point."),
        ("day", "soon", "Write a day, such as 2026-03-04."),
        ("day", "0001-01-01", "Write a year between 2000 and 2200."),
        ("day", "9999-12-31", "Write a year between 2000 and 2200."),
        ("yen", "12.5", "JPY has no decimals. Write a whole amount."),
        ("yen", "much", "Write an amount, such as 1250."),
        ("dinar", "1.2345", "Write at most 3 decimals."),
        ("dinar", "much", "Write an amount, such as 1250.500."),
    ],
)
def test_a_field_says_what_to_write(field, typed, told):
    speak_plainly()
    assert Asked({field: typed}).errors[field] == [told]


LONG_ADDRESS = f"{'n' * 60}@{'heron.' * 32}example.org"


@pytest.mark.parametrize(
    ("form", "field"),
    [
        (InviteForm, "email"),
        (ForgottenForm, "email"),
        (ClientForm, "email"),
        (CommissionForm, "client_email"),
    ],
)
def test_no_address_is_longer_than_its_column(form, field):
    assert len(LONG_ADDRESS) > 254
    with pytest.raises(forms.ValidationError, match="Write at most 254 characters"):
        form.base_fields[field].clean(LONG_ADDRESS)


def test_nor_is_one_that_signs_in(client, db):
    sent = {"username": LONG_ADDRESS, "password": "a guess"}
    page = text_of(client.post(address("sign_in"), sent))
    assert "Write at most 254 characters" in page
    assert not AccessAttempt.objects.exists()


def test_a_new_glass_starts_from_whole_degrees_and_an_open_family(cast):
    begun = begun_glass({"family": "90-expansion"}, cast.viewer())
    form = GlassForm(initial=begun, studio=cast.studio, viewer=cast.viewer())
    html = form.as_p()
    assert 'value="1100 °F"' in html
    assert 'value="1500 °F"' in html
    assert 'value="2.5"' in html
    html = GlassForm(studio=cast.studio, viewer=cast.viewer()).as_p()
    assert "Choose one" in html
    assert 'value="1500' not in html, "of no family yet"
    assert "-----" not in html


def test_numbers_are_shown_without_idle_zeros_and_are_not_changed_by_that(cast):
    glass = make.glass(studio=cast.studio)
    glass.refresh_from_db()
    form = GlassForm(instance=glass, studio=cast.studio, viewer=cast.viewer())
    shown = {name: form[name].value() for name in form.fields}
    assert str(shown["cost_per_m2"]) == "8.3613", "a square foot, at 90 a square metre"
    assert str(shown["density_kg_m3"]) == "2.5"
    material = Material.across_studios.create(
        studio=cast.studio,
        name="Wash",
        kind="kiln wash",
        unit="g",
        cost_per_unit="0.0200",
        on_hand=Decimal(30),
    )
    material.refresh_from_db()
    kept = MaterialForm(instance=material, studio=cast.studio, viewer=cast.viewer())
    assert str(kept["on_hand"].value()) == "1.058", "ounces"
    sent = {name: kept[name].value() for name in kept.fields if name != "is_retired"}
    again = MaterialForm(
        sent, instance=material, studio=cast.studio, viewer=cast.viewer()
    )
    assert again.is_valid(), again.errors
    assert again.changed_words == []


def test_a_new_person_is_a_helper_unless_somebody_says_otherwise():
    assert InviteForm()["role"].value() == "helper"
