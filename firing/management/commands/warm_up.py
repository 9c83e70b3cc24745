"""Compiles the heat and stress engine, so that the first visitor need not wait."""

import time

from django.core.management.base import BaseCommand

from firing.physics.slab.warm import warm_up


class Command(BaseCommand):
    """``manage.py warm_up``: for a set-up or an image; later runs take a second."""

    help = "Compile the heat and stress engine once, ahead of its first use."

    def handle(self, **_: object) -> None:
        began = time.monotonic()
        warm_up()
        self.stdout.write(
            f"The heat and stress engine is ready ({time.monotonic() - began:.0f} s)."
        )
