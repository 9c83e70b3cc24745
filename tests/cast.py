"""The standing cast of the tests: two studios, one person of each role, their clients.

Fixtures only; builders with arguments are in `tests.make`.
"""

import datetime as dt
from dataclasses import dataclass

import pytest
from django.test import Client as Browser

from studio.models import Glass, Kiln, Membership, Person, Role, Studio
from studio.viewer import Viewer
from tests import make

NOW = dt.datetime(2026, 3, 4, 9, 0, tzinfo=dt.UTC)
"""A Wednesday morning: the instant at which most tests happen."""


@dataclass(frozen=True, kw_only=True)
class Cast:
    """One studio with everybody in it."""

    studio: Studio
    owner: Person
    maker: Person
    helper: Person
    technician: Person
    glass: Glass
    kiln: Kiln

    def person(self, role: str) -> Person:
        return getattr(self, role)

    def membership(self, role: str) -> Membership:
        return Membership.owned.for_studio(self.studio).get(
            person=self.person(role), role=role
        )

    def viewer(self, role: str = "owner") -> Viewer:
        return Viewer.of_member(self.membership(role))


def gather(name: str, *, in_fahrenheit: bool) -> Cast:
    studio = make.studio(name=name, in_fahrenheit=in_fahrenheit)
    people = {
        role.value: make.member(studio=studio, role=role, name=f"{name} {role.label}")
        for role in Role
    }
    return Cast(
        studio=studio,
        glass=make.glass(studio=studio, name=f"{name} clear"),
        kiln=make.kiln(studio=studio),
        **people,
    )


@pytest.fixture
def cast(db) -> Cast:
    """The studio that most tests are about: dollars, °F and inches."""
    return gather("Gullmarsh", in_fahrenheit=True)


@pytest.fixture
def strangers(db) -> Cast:
    """Another studio, whose records must never show: euro, °C and mm."""
    return gather("Fernhaven", in_fahrenheit=False)


@pytest.fixture
def signed_in(cast):
    """Return a function that gives a test client signed in under a role."""

    def sign_in(role: str = "owner", where: Cast = cast) -> Browser:
        browser = Browser()
        browser.force_login(
            where.person(role), backend="django.contrib.auth.backends.ModelBackend"
        )
        return browser

    return sign_in
