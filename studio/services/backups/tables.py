"""What a table holds, as a count and a hash that do not depend on the database.

Equal values give equal hashes on SQLite and PostgreSQL, in any order of rows.
"""

import datetime as dt
import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass

from django.apps import apps
from django.db import models

ROWS_AT_ONCE = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Fingerprint:
    """How many rows a table has, and the hash of all their values."""

    rows: int
    sha256: str


def every_model() -> list[type[models.Model]]:
    """Return every model with a table of its own, including many-to-many tables."""
    return [
        model
        for model in apps.get_models(include_auto_created=True)
        if model._meta.managed and not model._meta.proxy
    ]


def fingerprints(*, using: str) -> dict[str, Fingerprint]:
    """Return the fingerprint of every table."""
    return {
        model._meta.db_table: fingerprint(model, using=using) for model in every_model()
    }


def fingerprint(model: type[models.Model], *, using: str) -> Fingerprint:
    """Return the fingerprint of one table: the sum of its rows' hashes, and how many."""
    total = count = 0
    for row in rows_of(model, using=using):
        digest = hashlib.sha256(_canonical(row).encode()).digest()
        total = (total + int.from_bytes(digest)) % (1 << 256)
        count += 1
    return Fingerprint(rows=count, sha256=f"{total:064x}")


def rows_of(model: type[models.Model], *, using: str) -> Iterator[tuple[object, ...]]:
    """Yield all rows of a table, as Python values in the order of its columns."""
    names = [field.attname for field in model._meta.concrete_fields]
    everything = model._base_manager.using(using).order_by()
    return everything.values_list(*names).iterator(chunk_size=ROWS_AT_ONCE)


def _canonical(row: tuple[object, ...]) -> str:
    return json.dumps([_plain(value) for value in row], sort_keys=True)


def _plain(value: object) -> object:
    """Write a value so that equal ones look equal, wherever they were kept.

    PostgreSQL stores 1e22 in a JSON field as the whole number, and has no -0.
    """
    if isinstance(value, float):
        return int(value) if value.is_integer() else value
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_plain(inner) for inner in value]
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat(timespec="microseconds")
    return f"{type(value).__name__} {value}"
