"""Copies everything from SQLite to an empty PostgreSQL and compares it afterwards.

All rows go in one transaction, so the target gets all of them or none. The source is
only read.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import psycopg
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import DatabaseError, connections, models, transaction
from django.db.migrations.executor import MigrationExecutor

from studio.errors import Refused
from studio.services.backups.tables import (
    Fingerprint,
    every_model,
    fingerprints,
    rows_of,
)

TARGET = "move_target"
# What a migrate fills in an empty database; the source's own rows replace it.
FILLED_BY_MIGRATE = {"django_migrations", "django_content_type", "auth_permission"}
Tell = Callable[[str], object]


@contextmanager
def target_database(configuration: dict[str, Any]) -> Iterator[str]:
    """Add a database for a while, under the given name."""
    connections.databases[TARGET] = connections.configure_settings(
        {"default": {}, TARGET: configuration}
    )[TARGET]
    try:
        yield TARGET
    finally:
        connections[TARGET].close()
        del connections[TARGET]
        del connections.databases[TARGET]


def move_database(*, source: str, target: str, tell: Tell) -> dict[str, Fingerprint]:
    """Copy every table to the target; return what both have.

    Raises
    ------
    Refused
        In words; the source is as it was, and the target holds nobody's work.
    """
    if connections[source].vendor != "sqlite":
        raise Refused("What is here is no SQLite database; there is nothing to move.")
    if connections[target].vendor != "postgresql":
        raise Refused("The target must be a PostgreSQL database: postgres://...")
    _refuse_outdated(source)
    try:
        _refuse_work(target)
    except DatabaseError as problem:
        raise Refused(f"The target does not answer: {problem}") from problem
    tell("Making the tables.")
    call_command("migrate", database=target, interactive=False, verbosity=0)
    with transaction.atomic(using=source), transaction.atomic(using=target):
        models_here = every_model()
        _empty(models_here, target)
        for model in models_here:
            _copy(model, source=source, target=target)
        _reset_sequences(models_here, target)
        tell("Comparing.")
        before = fingerprints(using=source)
        after = fingerprints(using=target)
        if different := sorted(name for name in before if before[name] != after[name]):
            raise Refused(f"Not the same afterwards: {', '.join(different)}.")
    return after


def _refuse_outdated(source: str) -> None:
    executor = MigrationExecutor(connections[source])
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        raise Refused(
            "This database is not up to date. Run python3 manage.py migrate first."
        )


def _refuse_work(target: str) -> None:
    """Refuse a database that has anything except what migrate fills in."""
    connection = connections[target]
    with connection.cursor() as cursor:
        for name in connection.introspection.table_names(cursor):
            if name in FILLED_BY_MIGRATE:
                continue
            quoted = connection.ops.quote_name(name)
            cursor.execute(f"SELECT 1 FROM {quoted} LIMIT 1")  # noqa: S608 - quoted
            if cursor.fetchone():
                raise Refused(
                    f"The target is not empty: {name} has rows. Make a new database "
                    "and name that."
                )


def _empty(these: list[type[models.Model]], target: str) -> None:
    names = ", ".join(
        connections[target].ops.quote_name(model._meta.db_table) for model in these
    )
    with connections[target].cursor() as cursor:
        cursor.execute(f"TRUNCATE {names}")


def _copy(model: type[models.Model], *, source: str, target: str) -> None:
    """Stream one table over, each value as its field writes it for PostgreSQL."""
    connection = connections[target]
    fields = model._meta.concrete_fields
    quote = connection.ops.quote_name
    table = quote(model._meta.db_table)
    columns = ", ".join(quote(str(field.column)) for field in fields)
    try:
        with (
            connection.cursor() as cursor,
            cursor.copy(f"COPY {table} ({columns}) FROM STDIN") as copy,
        ):
            for row in rows_of(model, using=source):
                copy.write_row(
                    [
                        field.get_db_prep_save(value, connection)
                        for field, value in zip(fields, row, strict=True)
                    ]
                )
    except (DatabaseError, psycopg.Error) as problem:
        # Errors while it streams are psycopg's own; Django wraps only calls.
        raise Refused(
            f"PostgreSQL does not take a row of {model._meta.db_table}: {problem}"
        ) from problem


def _reset_sequences(these: list[type[models.Model]], target: str) -> None:
    connection = connections[target]
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), these):
            cursor.execute(statement)
