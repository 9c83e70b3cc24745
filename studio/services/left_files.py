"""Removes files that no record names any more, or never did.

A killed worker, a record deleted with another and a file that could not be removed leave
some behind; `studio.whole_files` removes those of what is rolled back.
"""

from collections.abc import Iterator
from datetime import datetime, timedelta

from django.apps import apps
from django.core.files.storage import default_storage
from django.db.models import FileField

# The only folders to look into: those of records' files, and of files sent for a while.
FOLDERS = ("pictures", "documents", "exports", "readings")
# Long enough that no transaction is still running, and that a database restored from a
# recent backup can still be moved forward again.
KEPT_FOR = timedelta(days=7)


def remove_left_files(*, now: datetime) -> int:
    """Remove files at least a week old that no record names; return how many."""
    old = {
        name
        for folder in FOLDERS
        for name in _names_in(folder)
        if now - default_storage.get_modified_time(name) >= KEPT_FOR
    }
    # Looked up after the files, so a record made meanwhile keeps its own.
    left = old - _named_by_records() if old else old
    for name in left:
        default_storage.delete(name)
    return len(left)


def _names_in(folder: str) -> Iterator[str]:
    if not default_storage.exists(folder):
        return
    folders, files = default_storage.listdir(folder)
    for name in files:
        yield f"{folder}/{name}"
    for name in folders:
        yield from _names_in(f"{folder}/{name}")


def _named_by_records() -> set[str]:
    return {
        name
        for model in apps.get_models()
        for field in model._meta.get_fields()
        if isinstance(field, FileField)
        for name in model._base_manager.values_list(field.name, flat=True)
    }
