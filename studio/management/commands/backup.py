"""Makes a backup of everything, while people work."""

from argparse import ArgumentParser
from pathlib import Path

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.errors import StudioError
from studio.services.backups.making import make_backup


class Command(BaseCommand):
    """``python3 manage.py backup``: one file with the database, pictures and papers."""

    help = "Back up the database and the files into one file, and check it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--to",
            type=Path,
            default=settings.BACKUP_DIR,
            help="folder for it (default: %(default)s)",
        )

    def handle(self, *, to: Path, **_: object) -> None:
        try:
            made = make_backup(at=timezone.now(), folder=to)
        except StudioError as problem:
            raise CommandError(f"{problem} No backup was made.") from problem
        size_mb = made.stat().st_size / 1e6
        self.stdout.write(f"Made and checked {made} ({size_mb:,.1f} MB).")
