"""PostgreSQL's part of backing up: its own tools, found on the PATH.

They get passwords through the environment, never as an argument that others on the
machine can see.
"""

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

import psycopg
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.utils import CursorWrapper
from psycopg import sql
from psycopg.rows import TupleRow

from studio.errors import Refused
from studio.services.backups.archive import BadBackup

ENGINE = "postgresql"
BARE = ["--no-owner", "--no-privileges"]
# Those of triggers; what an extension brought stays with it.
FUNCTIONS = """
SELECT oid::regprocedure::text FROM pg_proc
WHERE pronamespace = current_schema()::regnamespace AND prokind = 'f' AND NOT EXISTS (
    SELECT FROM pg_depend WHERE objid = pg_proc.oid AND deptype = 'e'
)
"""
TABLES = (
    "SELECT tablename FROM pg_tables WHERE schemaname = current_schema() "
    "ORDER BY tablename"
)
MISSING = (
    "{tool} is not on the PATH. Install PostgreSQL's client programs of at least the "
    "server's version; on Debian: apt-get install postgresql-client"
)


def size_b(connection: BaseDatabaseWrapper) -> int:
    """Return about how many bytes a dump takes at most."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_database_size(current_database())")
        return int(cursor.fetchone()[0])


def dump(connection: BaseDatabaseWrapper, target: Path) -> dict[str, int]:
    """Let pg_dump write what one snapshot shows; return that snapshot's rows."""
    with _snapshot(connection) as (name, tables):
        _run(
            connection,
            ["pg_dump", "--format=custom", f"--snapshot={name}", *BARE],
            [f"--file={target}"],
        )
    check(target, tables)
    return tables


def check(dumped: Path, tables: dict[str, int]) -> None:
    """Refuse a dump that pg_restore cannot read or that has other rows than these."""
    _done([tool("pg_restore"), "--list", str(dumped)], stdout=subprocess.DEVNULL)
    with _script(["--data-only", str(dumped)]) as script:
        rows = _rows_in(script)
    if rows != tables:
        raise BadBackup("The database in it has other rows than were counted.")


def load(connection: BaseDatabaseWrapper, dumped: Path) -> None:
    """Replace the existing tables with a dump, in one transaction."""
    tool("pg_restore")
    with connection.cursor() as cursor:
        _refuse_company(cursor)
        cursor.execute(TABLES)
        names = [sql.Identifier(name) for (name,) in cursor.fetchall()]
        drop = sql.SQL("DROP TABLE {} CASCADE;").format(sql.SQL(", ").join(names))
        text = drop.as_string(cursor.connection) if names else ""
        cursor.execute(FUNCTIONS)
        # PostgreSQL writes the names itself, quoted where they must be.
        text += "".join(
            f"DROP FUNCTION {name} CASCADE;" for (name,) in cursor.fetchall()
        )
    connection.close()
    _play(connection, dumped, f"BEGIN;\n{text}\n")


def tool(name: str) -> str:
    """Return where one of PostgreSQL's programs is.

    Raises
    ------
    Refused
        Saying what to install.
    """
    found = shutil.which(name)
    if found is None:
        raise Refused(MISSING.format(tool=name))
    return found


def _refuse_company(cursor: CursorWrapper) -> None:
    cursor.execute(
        "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() "
        "AND pid <> pg_backend_pid() AND backend_type = 'client backend'"
    )
    if cursor.fetchone()[0]:
        raise Refused(
            "Other programs are connected to the database. Stop the web server, the "
            "workers and the scheduler, then do this again."
        )


def _play(connection: BaseDatabaseWrapper, dumped: Path, first: str) -> None:
    """Feed psql, and let it commit only when pg_restore has finished."""
    command = [tool("psql"), "--no-psqlrc", "--quiet", "--set=ON_ERROR_STOP=1"]
    command += ["--output", os.devnull, *_where(connection)]
    with tempfile.TemporaryFile() as said:
        psql = subprocess.Popen(  # noqa: S603 - PostgreSQL's program, our words
            command, env=_environment(connection), stdin=subprocess.PIPE, stderr=said
        )
        assert psql.stdin is not None  # noqa: S101 - asked for above
        try:
            with _script([*BARE, str(dumped)]) as script:
                psql.stdin.write(first.encode())
                shutil.copyfileobj(script, psql.stdin)
            psql.stdin.write(b"\nCOMMIT;\n")
            psql.stdin.flush()
        except BrokenPipeError:
            pass  # It ended early; its own text below says why.
        except BaseException:
            psql.kill()
            raise
        finally:
            with suppress(BrokenPipeError):
                psql.stdin.close()
            code = psql.wait()
        if code:
            said.seek(0)
            raise BadBackup(f"PostgreSQL refuses it: {_last_words(said)}")


@contextmanager
def _script(arguments: list[str]) -> Iterator[IO[bytes]]:
    """Yield pg_restore's SQL as it comes, and fail if it did not finish."""
    with tempfile.TemporaryFile() as said:
        command = [tool("pg_restore"), "--file=-", *arguments]
        with subprocess.Popen(  # noqa: S603 - PostgreSQL's program, our words
            command, stdout=subprocess.PIPE, stderr=said
        ) as process:
            assert process.stdout is not None  # noqa: S101 - asked for above
            yield process.stdout
        if process.returncode:
            said.seek(0)
            raise BadBackup(f"The database in it is damaged. {_last_words(said)}")


def _rows_in(script: IO[bytes]) -> dict[str, int]:
    """Count the lines of each COPY: a line is a row, breaks inside it are escaped."""
    rows: dict[str, int] = {}
    table = ""
    for line in script:
        if table:
            if line == b"\\.\n":
                table = ""
            else:
                rows[table] += 1
        elif line.startswith(b"COPY "):
            table = line.split()[1].decode().rpartition(".")[2].strip('"')
            rows[table] = 0
    return rows


@contextmanager
def _snapshot(connection: BaseDatabaseWrapper) -> Iterator[tuple[str, dict[str, int]]]:
    """Hold one view of the data; yield its name and each table's number of rows."""
    own: psycopg.Connection[TupleRow] = connection.get_new_connection(
        connection.get_connection_params()
    )
    try:
        own.autocommit = False
        own.isolation_level = psycopg.IsolationLevel.REPEATABLE_READ
        with own.cursor() as cursor:
            ((name,),) = cursor.execute("SELECT pg_export_snapshot()").fetchall()
            cursor.execute(TABLES)
            tables = {}
            for (table,) in cursor.fetchall():
                count = sql.SQL("SELECT count(*) FROM {}").format(sql.Identifier(table))
                ((tables[table],),) = cursor.execute(count).fetchall()
            yield name, tables
    finally:
        own.close()


def _run(connection: BaseDatabaseWrapper, command: list[str], more: list[str]) -> None:
    _done(
        [tool(command[0]), *command[1:], *_where(connection), *more],
        env=_environment(connection),
    )


def _done(
    command: list[str], *, env: dict[str, str] | None = None, stdout: int | None = None
) -> None:
    done = subprocess.run(  # noqa: S603 - PostgreSQL's program, our words
        command, env=env, stdout=stdout, stderr=subprocess.PIPE, check=False
    )
    if done.returncode:
        words = done.stderr.decode(errors="replace").strip() or "It gave no reason."
        raise BadBackup(f"{Path(command[0]).name} refuses: {words}")


def _where(connection: BaseDatabaseWrapper) -> list[str]:
    is_at = connection.settings_dict
    options = {"host": "HOST", "port": "PORT", "username": "USER", "dbname": "NAME"}
    told = [f"--{key}={is_at[name]}" for key, name in options.items() if is_at[name]]
    return [*told, "--no-password"]


def _environment(connection: BaseDatabaseWrapper) -> dict[str, str]:
    is_at = connection.settings_dict
    given = {
        f"PG{key.upper()}": str(value)
        for key, value in is_at["OPTIONS"].items()
        if key.startswith("ssl")
    }
    if is_at["PASSWORD"]:
        given["PGPASSWORD"] = is_at["PASSWORD"]
    return {**os.environ, **given}


def _last_words(said: IO[bytes]) -> str:
    return said.read().decode(errors="replace").strip()[-500:] or "It gave no reason."
