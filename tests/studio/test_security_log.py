"""The log tells who came in, who was kept out and who asked for too much; no secrets."""

import logging

import pytest
from django.test import Client, RequestFactory
from django.urls import reverse

from studio.security_log import refused


@pytest.fixture
def told(caplog):
    caplog.set_level(logging.INFO, logger="studio.security_log")
    return lambda: [
        record.getMessage()
        for record in caplog.records
        if record.name == "studio.security_log"
    ]


PASSWORD = "copper-foil-and-rain"


@pytest.fixture
def maker(cast):
    cast.maker.set_password(PASSWORD)
    cast.maker.save()
    return cast.maker


def sign_in(browser, name, password):
    asked = {"username": name, "password": password}
    return browser.post(reverse("studio:sign_in"), asked)


def test_signing_in_and_out_is_told(maker, told):
    browser = Client()
    sign_in(browser, maker.email, PASSWORD)
    browser.post(reverse("studio:sign_out"))
    who = f"Person {maker.pk} signed"
    assert told() == [f"{who} in from 127.0.0.1", f"{who} out from 127.0.0.1"]


def test_whoever_is_kept_out_is_told_of_without_what_was_typed(maker, told):
    sign_in(Client(), maker.email, "not the right password")
    sign_in(Client(), "a password by mistake", "x")
    assert told() == [
        f"Not let in as person {maker.pk} from 127.0.0.1",
        "Not let in as a name that nobody has from 127.0.0.1",
    ]


def test_asking_for_too_much_is_told(cast, signed_in, told):
    signed_in("helper").get(reverse("commissions:commission_list"))
    assert told()[-1] == (
        f"Person {cast.helper.pk} at 127.0.0.1: GET /commissions/: "
        "Your role may not see money."
    )


def test_a_form_from_elsewhere_is_told(maker, told):
    browser = Client(enforce_csrf_checks=True)
    sign_in(browser, maker.email, PASSWORD)
    (line,) = told()
    assert line.startswith("Nobody signed in at 127.0.0.1: POST /sign-in/: CSRF")


def test_no_address_makes_a_second_line(told):
    refused(RequestFactory().get("/a%0a2026-11-27 ERROR forged/"), "not yours")
    (line,) = told()
    assert "\n" not in line
    assert line.endswith("GET /a%0A2026-11-27%20ERROR%20forged/: not yours")
