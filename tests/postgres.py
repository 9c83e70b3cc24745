"""A PostgreSQL server for tests that need one whatever database the run itself uses."""

import contextlib
import hashlib
import os
import shutil
import uuid
from urllib.parse import urlsplit, urlunsplit

import psycopg
import pytest

from tests.run import one_process, shared_folder

ADDRESS = "postgres://postgres@127.0.0.1:5432/postgres"


def server_or_skip() -> str:
    """Return the address of a server that answers and whose tools are here."""
    named = os.environ.get("STUDIO_DATABASE_URL", "")
    address = (
        database_of(named, "postgres") if named.startswith("postgres") else ADDRESS
    )
    try:
        psycopg.connect(address, connect_timeout=5).close()
    except psycopg.OperationalError as problem:
        pytest.skip(f"No PostgreSQL answers: {problem}")
    for tool in ("pg_dump", "pg_restore", "psql"):
        if shutil.which(tool) is None:
            pytest.skip(f"{tool} is not installed on this machine.")
    return address


def database_of(address: str, name: str) -> str:
    """Return the address with another database's name."""
    return urlunsplit(urlsplit(address)._replace(path=f"/{name}"))


def kept_database(what, fill):
    """Return the address of a database of the whole run, and what its filling told.

    The first process to ask has it filled by `fill`, a function of the address.
    """
    server = server_or_skip()
    url = database_of(server, f"{run_prefix()}_{what}")
    with one_process(f"database-{what}") as done:
        if not done.exists():
            with psycopg.connect(server, autocommit=True) as connection:
                connection.execute(f"CREATE DATABASE {url.rpartition('/')[2]}")
            done.write_text(fill(url))
        return url, done.read_text()


def run_prefix():
    """Return how the names of this run's kept databases begin."""
    run = hashlib.sha256(str(shared_folder()).encode()).hexdigest()[:12]
    return f"slowcool_test_{run}"


def remove_kept_databases():
    """Remove what `kept_database` made in this run."""
    made = sorted(shared_folder().glob("database-*.lock"))
    if made:
        with psycopg.connect(server_or_skip(), autocommit=True) as connection:
            for lock in made:
                name = f"{run_prefix()}_{lock.stem.removeprefix('database-')}"
                connection.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


@contextlib.contextmanager
def new_database(*, template: str = ""):
    """Give the address of a database of the test's own, and remove it afterwards."""
    server = server_or_skip()
    name = f"slowcool_test_{uuid.uuid4().hex[:12]}"
    like = f" TEMPLATE {template.rpartition('/')[2]}" if template else ""
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}{like}")
        try:
            yield database_of(server, name)
        finally:
            connection.execute(f"DROP DATABASE {name} WITH (FORCE)")
