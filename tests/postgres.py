"""A PostgreSQL server for tests that need one whatever database the run itself uses."""

import contextlib
import os
import shutil
import uuid
from urllib.parse import urlsplit, urlunsplit

import psycopg
import pytest

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
