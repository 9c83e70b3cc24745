"""Opening a studio: the service and the command that asks for it."""

import pytest
from django.contrib.auth import authenticate
from django.core.management import CommandError, call_command

from studio.errors import Refused
from studio.models import AccessHours, Membership, Person, Role, Studio
from studio.services.workshops import open_studio
from tests.make import NOW

GOOD = {
    "name": "Reedmouth",
    "currency": "eur",
    "time_zone": "Europe/Lisbon",
    "temperature_unit": "C",
    "length_unit": "mm",
    "owner_name": "Ilda Quay",
    "owner_email": "Ilda@Example.org",
}
PASSWORD = "a slow and steady anneal"


@pytest.mark.django_db
def test_a_new_studio_has_an_owner_who_can_sign_in_and_hours_on_every_day(rf):
    studio = open_studio(**GOOD, password=PASSWORD, at=NOW)
    owner = Membership.owned.for_studio(studio).get()
    assert (owner.role, owner.length_unit, studio.currency) == (Role.OWNER, "mm", "EUR")
    assert studio.paper_size == "A4"
    signed_in = authenticate(
        rf.post("/"), username="ilda@example.ORG", password=PASSWORD
    )
    assert signed_in == owner.person
    assert AccessHours.owned.for_studio(studio).count() == 7


@pytest.mark.django_db
def test_a_studio_that_measures_in_inches_prints_on_us_letter():
    studio = open_studio(**GOOD | {"length_unit": "in"}, password=PASSWORD, at=NOW)
    assert studio.paper_size == "letter"


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("field", "bad", "told"),
    [
        ("currency", "QQQ", "ISO 4217"),
        ("time_zone", "Middle/Nowhere", "time zone"),
        ("temperature_unit", "K", "choice"),
        ("owner_email", "nobody", "e-mail|email"),
        ("name", "", "blank"),
    ],
)
def test_a_value_that_cannot_be_used_is_named_and_nothing_is_made(field, bad, told):
    with pytest.raises(Refused, match=told):
        open_studio(**(GOOD | {field: bad}), password=PASSWORD, at=NOW)
    assert not Studio.objects.exists()
    assert not Person.objects.exists()


@pytest.mark.django_db
def test_a_weak_password_is_refused():
    with pytest.raises(Refused, match="too short"):
        open_studio(**GOOD, password="glass", at=NOW)


@pytest.mark.django_db
def test_the_command_asks_for_what_was_not_given(monkeypatch, capsys):
    given = {name: value for name, value in GOOD.items() if name != "name"}
    monkeypatch.setattr("builtins.input", lambda question: "Asked For")
    monkeypatch.setattr("getpass.getpass", lambda question: PASSWORD)
    call_command("make_studio", **given)
    assert Studio.objects.get().name == "Asked For"
    assert "Asked For is ready" in capsys.readouterr().out


@pytest.mark.django_db
def test_the_command_says_what_is_wrong(monkeypatch):
    monkeypatch.setattr("getpass.getpass", lambda question: "short")
    with pytest.raises(CommandError, match="Nothing was made"):
        call_command("make_studio", **GOOD)


@pytest.mark.django_db
def test_one_slip_is_asked_again_and_loses_no_other_answer(monkeypatch, capsys):
    typed = iter(
        ["", "Reedmouth", "QQQ", "eur", "Middle/Nowhere", "Europe/Lisbon", "K", "°c"]
        + ["cubits", "MM", "Ilda Quay", "nobody", "Ilda@Example.org"]
    )
    passwords = iter(["short", PASSWORD])
    monkeypatch.setattr("builtins.input", lambda question: next(typed))
    monkeypatch.setattr("getpass.getpass", lambda question: next(passwords))
    call_command("make_studio")
    studio = Studio.objects.get()
    assert (studio.currency, studio.temperature_unit, studio.length_unit) == (
        "EUR",
        "C",
        "mm",
    )
    told = capsys.readouterr()
    assert "Write C or F." in told.err
    assert "Write mm or in." in told.err
    assert "too short" in told.err
    assert "Sign in as ilda@example.org" in told.out


@pytest.mark.django_db
def test_the_command_stops_at_ctrl_c_and_makes_nothing(monkeypatch):
    def stop(question):
        raise KeyboardInterrupt

    monkeypatch.setattr("builtins.input", stop)
    with pytest.raises(CommandError, match="nothing was made"):
        call_command("make_studio")
    assert not Studio.objects.exists()
