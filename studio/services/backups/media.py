"""The files in the media folder: held still for a backup, put back from one."""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from studio.services.backups.archive import MEDIA, extract, fsync_folder, sha256_of

HELD = ".backup-under-way"


def media_files(root: Path) -> dict[str, Path]:
    """Return the files by name; a dot at the top of the folder marks nobody's work."""
    return {
        path.relative_to(root).as_posix(): path
        for path in sorted(root.rglob("*"))
        if path.is_file() and not path.relative_to(root).parts[0].startswith(".")
    }


class Held:
    """Second names for files, which stay when the first ones are removed."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.folder = root / HELD

    def hold(self) -> None:
        """Hold every file that is there and not held yet."""
        for name, path in media_files(self.root).items():
            second = self.folder / name
            if not second.exists():
                second.parent.mkdir(parents=True, exist_ok=True)
                try:
                    _link(path, second)
                except FileNotFoundError:
                    continue  # Somebody removed it between the look and this.

    def files(self) -> dict[str, Path]:
        """Return what is held, by name."""
        return media_files(self.folder)


@contextmanager
def held_media(root: Path) -> Iterator[Held]:
    """Hold the files as they are now, and let them go at the end.

    A picture removed during the backup leaves the disk at once, though the copied
    database may still name it. Files never change, so holding them is enough.
    """
    held = Held(root)
    shutil.rmtree(held.folder, ignore_errors=True)  # A killed backup left it.
    try:
        held.hold()
        yield held
    finally:
        shutil.rmtree(held.folder, ignore_errors=True)


def put_back(archive: Path, files: dict[str, str], root: Path) -> None:
    """Put every file of a backup in its place, each by one rename."""
    there = media_files(root)
    for name, sha256 in files.items():
        if name in there and sha256_of(there[name]) == sha256:
            continue
        target = root / name
        draft = target.with_name(f".{target.name}.restoring")
        extract(archive, MEDIA + name, draft)
        draft.replace(target)
        fsync_folder(target.parent)


def remove_others(files: dict[str, str], root: Path) -> None:
    """Remove the files that are not in a backup."""
    for name, path in media_files(root).items():
        if name not in files:
            path.unlink()


def _link(path: Path, second: Path) -> None:
    try:
        os.link(path, second)
    except FileNotFoundError:
        raise
    except OSError:  # A file system without second names.
        shutil.copy2(path, second)
