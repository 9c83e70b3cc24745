"""A backup's file: a zip of the database, every picture and paper, and a manifest.

The manifest says what the rest must be, with a hash of each part. Nothing here knows
about databases; `sqlite` and `postgres` do.
"""

import hashlib
import json
import os
import zipfile
import zlib
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path, PurePosixPath
from typing import IO

from studio.errors import StudioError

FORMAT = 1
PROGRAM = "slowcool backup"
MANIFEST = "manifest.json"
DATABASE = "database"
MEDIA = "media/"
CHUNK_B = 1 << 20
# Pictures and PostgreSQL's dump are compressed already; level 1 handles most of the
# rest.
LEVEL = 1


class BadBackup(StudioError):
    """The file is not a backup that this program can use."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest:
    """What a backup holds: rows by table, and hashes of the database and each file."""

    engine: str
    made_at: str
    migrations: list[str]
    tables: dict[str, int]
    database_sha256: str
    files: dict[str, str]
    format: int = FORMAT
    program: str = PROGRAM


def write_archive(
    path: Path,
    *,
    engine: str,
    made_at: str,
    migrations: list[str],
    tables: dict[str, int],
    database: Path,
    files: dict[str, Path],
) -> Manifest:
    """Write the backup and flush it to disk; return its manifest."""
    with path.open("xb") as out:
        os.chmod(path, 0o600)
        with zipfile.ZipFile(out, "w", compresslevel=LEVEL) as archive:
            pack = zipfile.ZIP_DEFLATED if engine == "sqlite" else zipfile.ZIP_STORED
            manifest = Manifest(
                engine=engine,
                made_at=made_at,
                migrations=migrations,
                tables=tables,
                database_sha256=_add(archive, DATABASE, database, pack),
                files={
                    name: _add(archive, MEDIA + name, files[name], zipfile.ZIP_STORED)
                    for name in sorted(files)
                },
            )
            archive.writestr(MANIFEST, json.dumps(asdict(manifest), indent=1))
        out.flush()
        os.fsync(out.fileno())
    return manifest


def check_archive(path: Path) -> Manifest:
    """Read the whole file and compare every part with its hash; return the manifest.

    Raises
    ------
    BadBackup
        Saying in what way the file cannot be used.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            manifest = _read_manifest(archive, path)
            expected = {MEDIA + name: value for name, value in manifest.files.items()}
            expected[DATABASE] = manifest.database_sha256
            if {*archive.namelist()} != {MANIFEST, *expected}:
                raise BadBackup(f"{path.name} is damaged: parts are missing or added.")
            for name, sha256 in expected.items():
                with archive.open(name) as part:
                    if _hash(part) != sha256:
                        raise BadBackup(f"{path.name} is damaged: {name} has changed.")
    except FileNotFoundError:
        raise BadBackup(f"There is no file {path}.") from None
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError) as problem:
        raise BadBackup(
            f"{path.name} is no backup by Slowcool, or it was cut short or damaged on "
            "the way here. Use another one, or copy it again."
        ) from problem
    except OSError as problem:
        raise BadBackup(f"{path.name} cannot be read: {problem.strerror}.") from problem
    return manifest


def extract(path: Path, name: str, target: Path) -> None:
    """Write one part of a checked backup to a file and flush it to disk."""
    target.parent.mkdir(parents=True, exist_ok=True)
    with (
        zipfile.ZipFile(path) as archive,
        archive.open(name) as part,
        target.open("wb") as out,
    ):
        while chunk := part.read(CHUNK_B):
            out.write(chunk)
        out.flush()
        os.fsync(out.fileno())


def sha256_of(path: Path) -> str:
    """Return the hash of a file's bytes."""
    with path.open("rb") as file:
        return _hash(file)


def fsync_folder(folder: Path) -> None:
    """Make a new or removed name in the folder permanent."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _add(archive: zipfile.ZipFile, name: str, source: Path, pack: int) -> str:
    info = zipfile.ZipInfo.from_file(source, name, strict_timestamps=False)
    info.compress_type = pack
    info.external_attr = 0o600 << 16
    digest = hashlib.sha256()
    with source.open("rb") as file, archive.open(info, "w", force_zip64=True) as out:
        while chunk := file.read(CHUNK_B):
            digest.update(chunk)
            out.write(chunk)
    return digest.hexdigest()


def _hash(file: IO[bytes]) -> str:
    digest = hashlib.sha256()
    while chunk := file.read(CHUNK_B):
        digest.update(chunk)
    return digest.hexdigest()


def _read_manifest(archive: zipfile.ZipFile, path: Path) -> Manifest:
    foreign = BadBackup(f"{path.name} was not made by Slowcool's backup.")
    try:
        told = json.loads(archive.read(MANIFEST))
    except (KeyError, ValueError):
        raise foreign from None
    if not isinstance(told, dict) or told.get("program") != PROGRAM:
        raise foreign
    if told.get("format") != FORMAT:
        raise BadBackup(newer(path.name))
    try:
        manifest = Manifest(**told)
        names_are_plain = all(map(_is_plain, manifest.files))
    except (TypeError, AttributeError):
        raise foreign from None
    if not names_are_plain:
        raise BadBackup(f"{path.name} names files outside its own folder.")
    return manifest


def _is_plain(name: str) -> bool:
    parts: Iterable[str] = PurePosixPath(name).parts
    return not name.startswith("/") and ".." not in parts and "\\" not in name


def newer(name: str) -> str:
    """Return the sentence about a backup of a later version of the program."""
    return (
        f"{name} was made by a newer Slowcool. Bring this one up to date, then restore "
        "it."
    )
