"""Keeps files whole, and none that nothing came of: those of what fails are removed."""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from typing import Any

from django.core.files.storage import FileSystemStorage, default_storage
from django.db import transaction

_written: ContextVar[list[str] | None] = ContextVar("_written", default=None)


@contextmanager
def without_left_files() -> Iterator[list[str]]:
    """Remove the files written meanwhile when this fails; they are in the list."""
    if (outer := _written.get()) is not None:
        yield outer
        return
    names: list[str] = []
    token = _written.set(names)
    try:
        yield names
    except BaseException:
        for name in names:
            default_storage.delete(name)
        raise
    finally:
        _written.reset(token)


@contextmanager
def with_its_files() -> Iterator[None]:
    """Run a transaction; when it is rolled back, it leaves no file behind."""
    with without_left_files() as names, transaction.atomic():
        # What goes wrong after the commit takes no file from a record.
        transaction.on_commit(names.clear)
        yield


def remove_after_commit(*names: str) -> None:
    """Remove files once their records are gone; what cannot be removed is swept later."""

    def remove() -> None:
        for name in names:
            with suppress(OSError):
                default_storage.delete(name)

    transaction.on_commit(remove)


class WholeFiles(FileSystemStorage):
    """Removes what was written of a file that does not become whole."""

    def _save(self, name: str, content: Any) -> str:
        try:
            saved: str = super()._save(name, content)  # type: ignore[misc]
        except BaseException:
            # It is ours: a name is random, and nobody else's file has it.
            with suppress(OSError):
                self.delete(name)
            raise
        if (names := _written.get()) is not None:
            names.append(saved)
        return saved
