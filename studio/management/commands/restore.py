"""Puts a backup back in place."""

from argparse import ArgumentParser
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.errors import StudioError
from studio.management.commands.up import take_lock, telling_of_the_disk
from studio.services.backups.restoring import restore


class Command(BaseCommand):
    """``python3 manage.py restore FILE``: with Slowcool stopped."""

    help = "Put a backup back. What is here is set aside first, and only if you say so."
    # The database may be damaged or missing; no check may ask it.
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("archive", type=Path, help="the backup's file")
        parser.add_argument(
            "--replace",
            action="store_true",
            help="set aside the data that is here and put the backup in its place",
        )

    def handle(self, *, archive: Path, replace: bool, **_: object) -> None:
        with telling_of_the_disk():
            settings.VAR_DIR.mkdir(parents=True, exist_ok=True)
            lock = (settings.VAR_DIR / "up.lock").open("a+")
        with lock:
            take_lock(lock)
            try:
                done = restore(
                    archive=archive,
                    replace=replace,
                    at=timezone.now(),
                    tell=self.stdout.write,
                )
            except StudioError as problem:
                raise CommandError(f"{problem} Nothing was restored.") from problem
            call_command("migrate", interactive=False, verbosity=0)
        rows = sum(done.manifest.tables.values())
        self.stdout.write(
            f"Restored {rows:,} rows and {len(done.manifest.files):,} files as they "
            f"were on {done.manifest.made_at[:16].replace('T', ' at ')} UTC."
        )
        if done.set_aside is not None:
            self.stdout.write(f"What was here before is in {done.set_aside}")
