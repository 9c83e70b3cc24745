"""Deletes the invented demo studios, with their people, work and pictures."""

from django.core.management.base import BaseCommand

from studio.services.leaving import delete_demo


class Command(BaseCommand):
    """``manage.py remove_demo``: a second time nothing happens."""

    help = "Delete the demo studios at once; real studios are not touched."

    def handle(self, *_: object, **__: object) -> None:
        if count := delete_demo():
            self.stdout.write(f"Deleted {count} demo studios and all they held.")
        else:
            self.stdout.write("There is no demo here.")
