"""Asks for what a new studio needs and makes it, with its owner."""

import getpass
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.errors import StudioError
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


class Command(BaseCommand):
    """``python3 manage.py make_studio``: asks for whatever was not given."""

    help = "Make a studio and its owner."

    def add_arguments(self, parser: ArgumentParser) -> None:
        for name, question in QUESTIONS:
            parser.add_argument(f"--{name.replace('_', '-')}", help=question)

    def handle(self, *_: Any, **options: Any) -> None:
        try:
            answers = {
                name: options[name] or input(f"{question}: ").strip()
                for name, question in QUESTIONS
            }
            password = getpass.getpass("The owner's password: ")
        except (EOFError, KeyboardInterrupt) as stop:
            raise CommandError("Stopped: nothing was made.") from stop
        answers["temperature_unit"] = answers["temperature_unit"].upper()
        try:
            studio = open_studio(**answers, password=password, at=timezone.now())
        except StudioError as problem:
            raise CommandError(f"{problem} Nothing was made.") from problem
        self.stdout.write(f"{studio.name} is ready. Sign in and add a kiln and glass.")
