"""Django's migrate, which says in words that a database is too old for this code."""

from django.core.management.base import CommandError
from django.core.management.commands import migrate
from django.db import connections
from django.db.migrations.recorder import MigrationRecorder

from studio.migration_steps import TOO_OLD, is_half_way, newer_steps


class Command(migrate.Command):
    """Bring a database to the tables of this code."""

    help = migrate.Command.help

    def handle(self, *args: object, **options: str) -> None:
        """Refuse a database that is newer, or half-way through what is one step now."""
        connection = connections[options["database"]]
        taken = MigrationRecorder(connection).applied_migrations()
        if unknown := newer_steps(taken):
            raise CommandError(
                f"This database was made by a newer version of Slowcool, which took the "
                f"step {'.'.join(unknown[0])}. Nothing was changed. Update the program "
                "(git pull), or restore the backup that was made before the update."
            )
        if is_half_way(taken):
            raise CommandError(
                f"This database {TOO_OLD}, run python3 manage.py migrate there, come "
                "back (git checkout main) and run it again."
            )
        super().handle(*args, **options)
