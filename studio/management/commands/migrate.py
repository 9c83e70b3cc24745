"""Django's migrate, which says in words that a database is too old for this code."""

from django.core.management.base import CommandError
from django.core.management.commands import migrate
from django.db import connections
from django.db.migrations.recorder import MigrationRecorder

from studio.migration_steps import TOO_OLD, is_half_way


class Command(migrate.Command):
    """Bring a database to the tables of this code."""

    help = migrate.Command.help

    def handle(self, *args: object, **options: str) -> None:
        """Refuse a database half-way through steps that are one step now."""
        connection = connections[options["database"]]
        if is_half_way(MigrationRecorder(connection).applied_migrations()):
            raise CommandError(
                f"This database {TOO_OLD}, run python3 manage.py migrate there, come "
                "back (git checkout main) and run it again."
            )
        super().handle(*args, **options)
