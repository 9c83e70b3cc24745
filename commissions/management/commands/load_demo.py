"""Fills a database with the invented demo studios, once, from a seed."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.db import transaction
from django.utils import timezone

from commissions.demo import works, workshops
from studio.models import Studio

DEMO_SIGN_INS = [
    ("wren@example.org", workshops.PASSWORD, "owner, Ebbside Kilns"),
    ("tobin@example.org", workshops.PASSWORD, "maker, Ebbside Kilns"),
    ("isla@example.org", workshops.PASSWORD, "helper, Ebbside Kilns"),
    ("odo@example.org", workshops.PASSWORD, "technician, Ebbside Kilns"),
    ("benta@example.org", workshops.PASSWORD, "owner, Saltpan Glass"),
]


class Command(BaseCommand):
    """``manage.py load_demo``: all of it or nothing; a second time nothing happens."""

    help = "Load the invented demo studios, if they are not there yet."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--seed", type=int, default=7, help="of all chance")

    def handle(self, *, seed: int, **_: Any) -> None:
        if Studio.objects.filter(is_demo=True).exists():
            self.stdout.write("The demo studios are there already.")
            return
        now = timezone.now()
        with transaction.atomic():
            estuary = workshops.estuary(at=now - 120 * works.DAY)
            works.spring_tide(estuary, now=now, seed=seed)
            works.groyne(estuary, now=now, seed=seed)
            works.mud_flats(estuary, now=now, seed=seed)
            works.herring_fleet(estuary, now=now)
            works.other_kiln_time(estuary, now=now)
            saltpan = workshops.saltpan(at=now - 60 * works.DAY)
            works.salt_pans(saltpan, now=now, seed=seed)
        self.stdout.write("Loaded the demo studios: invented people and work.")
