"""Asks for what a new studio needs and makes it, with its owner."""

import getpass
from argparse import ArgumentParser
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.errors import StudioError
from studio.models import Person, Studio
from studio.services.passwords import refuse_expected
from studio.services.workshops import open_studio

QUESTIONS = (
    ("name", "The studio's name"),
    ("currency", "Currency (ISO 4217, such as EUR)"),
    ("time_zone", "Time zone (such as Europe/Lisbon)"),
    ("temperature_unit", "Temperatures in C or F"),
    ("length_unit", "Lengths in mm or in"),
    ("owner_name", "The owner's name"),
    ("owner_email", "The owner's e-mail address, to sign in with"),
)
ONE_OF = {"temperature_unit": ("C", "F"), "length_unit": ("mm", "in")}
FIELDS = {
    **{field.name: field for field in Studio._meta.fields},
    **{f"owner_{field.name}": field for field in Person._meta.fields},
}
PASSWORD_TRIES = 3


class Command(BaseCommand):
    """``python3 manage.py make_studio``: asks for whatever was not given."""

    help = "Make a studio and its owner."

    def add_arguments(self, parser: ArgumentParser) -> None:
        for name, question in QUESTIONS:
            parser.add_argument(f"--{name.replace('_', '-')}", help=question)

    def handle(self, *_: object, **options: Any) -> None:
        try:
            answers = {
                name: tidy(name, options[name])
                if options[name]
                else self.ask(name, question)
                for name, question in QUESTIONS
            }
            password = self.ask_password(answers)
            studio = open_studio(**answers, password=password, at=timezone.now())
        except (EOFError, KeyboardInterrupt) as stop:
            raise CommandError("Stopped: nothing was made.") from stop
        except ValidationError as problem:
            words = " ".join(problem.messages)
            raise CommandError(f"{words} Nothing was made.") from problem
        except StudioError as problem:
            raise CommandError(f"{problem} Nothing was made.") from problem
        self.stdout.write(
            f"{studio.name} is ready. Sign in as {answers['owner_email']} and add a "
            "kiln and glass."
        )

    def ask(self, name: str, question: str) -> str:
        """Ask until the answer is usable, so that one mistake loses no other answer."""
        while True:
            try:
                return tidy(name, input(f"{question}: "))
            except ValidationError as problem:
                self.stderr.write(" ".join(problem.messages))

    def ask_password(self, answers: dict[str, str]) -> str:
        """Ask for a password; a weak one may be improved twice."""
        owner = Person(email=answers["owner_email"], name=answers["owner_name"])
        left = PASSWORD_TRIES
        while True:
            left -= 1
            password = getpass.getpass("The owner's password (not shown): ")
            try:
                validate_password(password, user=owner)
                refuse_expected(password, [answers["name"]])
            except ValidationError as problem:
                if not left:
                    raise
                self.stderr.write(" ".join(problem.messages))
            else:
                return password


def tidy(name: str, typed: str) -> str:
    """Return an answer as it is stored.

    Raises
    ------
    ValidationError
        Saying what to write.
    """
    typed = typed.strip()
    if name in ONE_OF:
        plain = typed.removeprefix("°").lower()
        for choice in ONE_OF[name]:
            if plain == choice.lower():
                return choice
        raise ValidationError(f"Write {' or '.join(ONE_OF[name])}.")
    if name == "currency":
        typed = typed.upper()
    if name == "owner_email":
        typed = typed.lower()
    return str(FIELDS[name].clean(typed, None))
