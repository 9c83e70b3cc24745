"""Writes everything a studio owns into one archive, as it was at one instant.

`studio.selectors.kinds` says, kind by kind, what is carried and what stays behind.
"""

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path, PurePosixPath
from typing import Any

from django.core.files.storage import default_storage
from django.db import connection, transaction
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import FileField, ManyToManyField, Model, QuerySet

from studio.archive import Writer
from studio.models import Person, Studio
from studio.selectors import kinds
from studio.selectors.kinds import Kind, carried_kinds, field_words, people_named
from studio.selectors.lists import tables
from studio.selectors.stored_values import as_json
from studio.tenancy import StudioOwned

Told = Callable[[str], None]

ROWS_AT_ONCE = 2000
APPS = ("studio", "firing", "commissions")

ABOUT = """\
This is everything that {studio} keeps in Slowcool, as it was on {day}.

lists/      tables for a spreadsheet, in the studio's units and by its clock ({zone}).
            A single quote before a word keeps a spreadsheet from computing it.
files/      pictures (WebP) and papers (PDF), named after their records.
records/    every record, one JSON object a line. "id" is the record's key; a field that
            names another record holds that one's key. Lengths are mm, temperatures °C,
            times UTC, amounts of money decimal text.
fields.json says of every kind of record what its fields mean, and what stays behind.
manifest.json lists all files with their size and SHA-256.

No password, logger's token, client's link or other secret is in here. To bring the
studio into a server, whoever runs it types: manage.py import_studio THIS-FILE
"""


def write_archive(
    *, studio: Studio, path: Path, told: Told, at: datetime
) -> dict[str, int]:
    """Write a studio's archive to a path; return how many records of each kind."""
    with Writer(path) as writer:
        told("Reading the records")
        with one_instant():
            counts, files = _write_records(studio, writer)
            for table in tables():
                writer.table(f"lists/{table.name}.csv", table.lines(studio))
            migrations = applied_migrations()
        missing = _copy_files(files, writer, told)
        writer.text("fields.json", _fields_text())
        day = f"{at:%-d %B %Y}"
        writer.text(
            "README.txt",
            ABOUT.format(studio=studio.name, day=day, zone=studio.time_zone),
        )
        writer.finish(
            {
                "studio": studio.name,
                "made_at": at.isoformat(),
                "program": _program(),
                "migrations": migrations,
                "counts": counts,
                "missing": missing,
            }
        )
    return counts


@contextmanager
def one_instant() -> Iterator[None]:
    """Read everything inside as of one instant, without keeping anybody from writing."""
    if connection.in_atomic_block:
        yield
        return
    if connection.vendor == "sqlite":
        # A deferred transaction that only reads holds a snapshot of the write-ahead
        # log. The usual immediate one would keep every writer waiting.
        engine: Any = connection  # Only SQLite has this attribute.
        usual, engine.transaction_mode = engine.transaction_mode, "DEFERRED"
        try:
            with transaction.atomic():
                yield
        finally:
            engine.transaction_mode = usual
        return
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        yield


def applied_migrations() -> dict[str, list[str]]:
    """Return the names of the migrations applied to the database, by app."""
    applied = MigrationRecorder(connection).applied_migrations()
    return {app: sorted(name for one, name in applied if one == app) for app in APPS}


def records_of(kind: Kind, studio: Studio) -> QuerySet[Model]:
    """Return the rows of a kind that a studio takes along."""
    if issubclass(kind.model, StudioOwned):
        return kind.model.owned.for_studio(studio)
    if kind.model is Person:
        return Person.objects.filter(pk__in=people_named(studio))
    return Studio.objects.filter(pk=studio.pk)


def file_path(kind: Kind, key: int, field: FileField, stored: str) -> str:
    """Return a record's file name inside an archive."""
    return f"files/{kind.label}/{key}-{field.name}{PurePosixPath(stored).suffix}"


def _write_records(
    studio: Studio, writer: Writer
) -> tuple[dict[str, int], dict[str, str]]:
    """Write every record; return the counts, and which files to copy."""
    counts, files = {}, dict[str, str]()
    for kind in carried_kinds():
        counts[kind.label] = writer.lines(kind.path, _records(kind, studio, files))
    return counts, files


def _records(
    kind: Kind, studio: Studio, files: dict[str, str]
) -> Iterator[dict[str, Any]]:
    fields = kind.fields()
    many = [one for one in fields if isinstance(one, ManyToManyField)]
    single = [one for one in fields if one not in many]
    rows = records_of(kind, studio)
    lists = {one: _lists(kind, one, studio) for one in many}
    names = [one.attname for one in single]
    for key, *values in (
        rows.order_by("pk").values_list("pk", *names).iterator(chunk_size=ROWS_AT_ONCE)
    ):
        record: dict[str, Any] = {"id": key}
        for field, value in zip(single, values, strict=True):
            if isinstance(field, FileField):
                value, stored = (
                    file_path(kind, key, field, value) if value else "",
                    value,
                )
                if stored:
                    files[value] = stored
            record[field.name] = as_json(value)
        for field in many:
            record[field.name] = lists[field].get(key, [])
        yield record


def _lists(
    kind: Kind, field: "ManyToManyField[Any, Any]", studio: Studio
) -> dict[int, list[int]]:
    """Return each record's values of a many-to-many field."""
    own, other = field.m2m_column_name(), field.m2m_reverse_name()
    through: Any = field.remote_field.through  # never none once models are loaded
    pairs = through._default_manager.filter(
        **{f"{field.m2m_field_name()}__studio": studio}
    )
    found: dict[int, list[int]] = {}
    for key, listed in pairs.order_by("pk").values_list(own, other):
        found.setdefault(key, []).append(listed)
    return found


def _copy_files(files: dict[str, str], writer: Writer, told: Told) -> list[str]:
    """Copy pictures and papers; return the names of those missing on disk."""
    missing = []
    for number, (name, stored) in enumerate(files.items(), start=1):
        if number % 25 == 1:
            told(f"Adding picture or paper {number} of {len(files)}")
        try:
            with default_storage.open(stored, "rb") as source:
                writer.copy(name, source)
        except FileNotFoundError:
            missing.append(name)
    return missing


def _fields_text() -> str:
    told: dict[str, dict[str, Any]] = {}
    models: list[type[Model]] = [Studio, Person]
    for model in models + kinds.in_order(kinds.owned_models()):
        kind = kinds.kind_of(model)
        if kind.left_whole:
            told[kind.label] = {"left behind": kind.left_whole}
            continue
        told[kind.label] = {
            "meaning": " ".join((model.__doc__ or "").split()),
            "fields": {one.name: field_words(one) for one in kind.fields()},
            "left behind": dict(kind.left),
        }
    return json.dumps(told, ensure_ascii=False, indent=1)


def _program() -> str:
    try:
        return version("slowcool")
    except PackageNotFoundError:
        return "from source"
