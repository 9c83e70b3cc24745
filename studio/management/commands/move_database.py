"""Carries everything from this machine's SQLite file to PostgreSQL."""

from argparse import ArgumentParser

import dj_database_url
from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from studio.errors import StudioError
from studio.management.commands.up import take_lock, telling_of_the_disk
from studio.services.backups.moving import move_database, target_database


class Command(BaseCommand):
    """``python3 manage.py move_database --to postgres://...``: with Slowcool stopped.

    A password that is left out of the address is taken from PGPASSWORD.
    """

    help = "Copy everything from SQLite to an empty PostgreSQL database, and compare."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--to", required=True, help="postgres://user@host:5432/name, an empty one"
        )

    def handle(self, *, to: str, **_: object) -> None:
        try:
            configuration = dj_database_url.parse(to)
        except ValueError as problem:
            raise CommandError(f"{to!r} names no database: {problem}") from problem
        with telling_of_the_disk():
            lock = (settings.VAR_DIR / "up.lock").open("a+")
        with lock, target_database(dict(configuration)) as target:
            take_lock(lock)
            try:
                moved = move_database(
                    source="default", target=target, tell=self.stdout.write
                )
            except StudioError as problem:
                raise CommandError(f"{problem} Nothing was moved.") from problem
        rows = sum(table.rows for table in moved.values())
        self.stdout.write(
            f"Moved {rows:,} rows in {len(moved)} tables; each table has the same count "
            "and hash in both. Start with STUDIO_DATABASE_URL naming the new database; "
            f"pictures and papers stay in {settings.MEDIA_ROOT}. The SQLite file is as "
            "it was."
        )
