"""Lets somebody back in whom nobody else can let in: the only owner, for instance."""

from argparse import ArgumentParser

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.errors import StudioError
from studio.services.accounts import let_back_in, password_link


class Command(BaseCommand):
    """``manage.py new_password_link ilda@example.org``."""

    help = "Print a link by which a person sets a new password: once, within a day."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("email", help="the address the person signs in with")
        parser.add_argument(
            "--without-second-step",
            action="store_true",
            help="turn off their second step too, when phone and codes are lost",
        )
        parser.add_argument(
            "--address",
            default=settings.ADDRESS or "http://127.0.0.1:8000",
            help="where the browser finds Slowcool",
        )

    def handle(
        self,
        *_: object,
        email: str,
        without_second_step: bool,
        address: str,
        **__: object,
    ) -> None:
        try:
            person = let_back_in(
                email=email,
                without_second_step=without_second_step,
                at=timezone.now(),
            )
        except StudioError as problem:
            raise CommandError(str(problem)) from problem
        if without_second_step:
            self.stdout.write(f"{person} signs in without a second step.")
        self.stdout.write(
            f"Give this to {person} alone. It works once, within a day:\n"
            f"{address.rstrip('/')}{password_link(person)}"
        )
