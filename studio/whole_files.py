"""Keeps files whole: one that breaks off while it is written, as on a full disk, goes."""

from contextlib import suppress
from typing import Any

from django.core.files.storage import FileSystemStorage


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
        return saved
