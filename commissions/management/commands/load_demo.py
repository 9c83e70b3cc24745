"""Fills a database with the invented demo studios, once, from a seed."""

from argparse import ArgumentParser

from django.core.management.base import BaseCommand
from django.utils import timezone

from commissions.demo.load import load
from commissions.demo.workshops import PASSWORD

DEMO_SIGN_INS = [
    ("wren@example.org", PASSWORD, "owner, Ebbside Kilns"),
    ("tobin@example.org", PASSWORD, "maker, Ebbside Kilns"),
    ("isla@example.org", PASSWORD, "helper, Ebbside Kilns"),
    ("odo@example.org", PASSWORD, "technician, Ebbside Kilns"),
    ("benta@example.org", PASSWORD, "owner, Saltpan Glass"),
]


class Command(BaseCommand):
    """``manage.py load_demo``: all of it or nothing; a second time nothing happens."""

    help = "Load the invented demo studios, if they are not there yet."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--seed", type=int, default=7, help="seed of everything random"
        )

    def handle(self, *, seed: int, **_: object) -> None:
        if load(now=timezone.now(), seed=seed):
            self.stdout.write("Loaded the demo studios: invented people and work.")
        else:
            self.stdout.write("The demo studios are there already.")
