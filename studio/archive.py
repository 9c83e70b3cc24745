"""The file in which a studio travels: a zip of JSON lines, tables, pictures and papers.

Pure: names, sizes and hashes. `studio.services.exporting` and `importing` decide what
the lines say. Every archive is read as if a stranger had made it.
"""

import csv
import hashlib
import io
import json
import re
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from studio.errors import Refused

FORMAT = "slowcool studio archive"
VERSION = 1
MANIFEST = "manifest.json"

LARGEST = 50 * 1024**3
LARGEST_MANIFEST = 64 * 1024**2
MOST_FILES = 500_000
LONGEST_LINE = 32 * 1024**2
# Lines of readings shrink to a twentieth; only a trap shrinks to a two-hundredth.
MOST_SHRUNK = 200
NAME = re.compile(r"[a-z0-9]+(?:[._/-][a-z0-9]+)*\.[a-z0-9]+", re.IGNORECASE)
KNOWN_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
CHUNK = 1024**2

# OWASP, "CSV Injection": a cell that begins with one of these is a formula to a
# spreadsheet, however it is quoted; a single quote before it makes it text. The last
# four are the wide forms that some spreadsheets read in the same way.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\0", "＝", "＋", "－", "＠")


def harmless(cell: object) -> object:
    """Return a cell that no spreadsheet computes; numbers stay numbers."""
    if isinstance(cell, str) and cell.startswith(FORMULA_STARTS):
        return f"'{cell}"
    return cell


class Writer:
    """Writes an archive; a manifest at its end lists what was written."""

    def __init__(self, path: Path) -> None:
        self._zip = zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED)
        self.files: dict[str, dict[str, Any]] = {}

    def __enter__(self) -> "Writer":
        return self

    def __exit__(self, *_: object) -> None:
        self._zip.close()

    def lines(self, name: str, records: Iterable[Mapping[str, Any]]) -> int:
        """Write one JSON object per line; return how many."""
        count = 0
        with self._entry(name) as put:
            for record in records:
                text = json.dumps(record, ensure_ascii=False, allow_nan=False)
                put(text.encode() + b"\n")
                count += 1
        return count

    def table(self, name: str, rows: Iterable[Iterable[object]]) -> None:
        """Write a table that a spreadsheet opens as it is, without computing anything."""
        with self._entry(name) as put:
            put("\ufeff".encode())  # Without it, some take UTF-8 for something else.
            for row in rows:
                line = io.StringIO()
                csv.writer(line).writerow([harmless(cell) for cell in row])
                put(line.getvalue().encode())

    def text(self, name: str, text: str) -> None:
        """Write a text."""
        with self._entry(name) as put:
            put(text.encode())

    def copy(self, name: str, source: IO[bytes]) -> None:
        """Copy a picture or a paper; compressing it would not make it smaller."""
        with self._entry(name, method=zipfile.ZIP_STORED) as put:
            while chunk := source.read(CHUNK):
                put(chunk)

    def finish(self, about: Mapping[str, Any]) -> None:
        """Write the manifest."""
        told = {"format": FORMAT, "version": VERSION, **about, "files": self.files}
        self._zip.writestr(MANIFEST, json.dumps(told, ensure_ascii=False, indent=1))

    @contextmanager
    def _entry(
        self, name: str, *, method: int = zipfile.ZIP_DEFLATED
    ) -> Iterator[Callable[[bytes], None]]:
        digest, size = hashlib.sha256(), 0
        info = zipfile.ZipInfo(name)
        info.compress_type = method
        with self._zip.open(info, "w", force_zip64=True) as entry:

            def put(data: bytes) -> None:
                nonlocal size
                entry.write(data)
                digest.update(data)
                size += len(data)

            yield put
        self.files[name] = {"bytes": size, "sha256": digest.hexdigest()}


class ArchiveReader:
    """Reads an archive that may be incomplete, changed or harmful.

    Nothing is unpacked: entries are read, never past the size the manifest gives.

    Raises
    ------
    Refused
        By the constructor and every method, saying what is wrong.
    """

    def __init__(self, path: Path) -> None:
        self._size = path.stat().st_size
        try:
            self._zip = zipfile.ZipFile(path)
        except (zipfile.BadZipFile, OSError) as problem:
            raise Refused(
                "This is no whole archive: it was cut short on the way, or it is "
                "another kind of file. Fetch it again."
            ) from problem
        try:
            self.manifest = self._manifest()
            self.files: dict[str, dict[str, Any]] = self.manifest["files"]
            self._look_at_entries()
        except BaseException:
            self._zip.close()
            raise

    def __enter__(self) -> "ArchiveReader":
        return self

    def __exit__(self, *_: object) -> None:
        self._zip.close()

    def check(self, told: Callable[[str], None]) -> None:
        """Read every file once and compare it with the manifest."""
        for number, name in enumerate(self.files, start=1):
            if number % 100 == 1:
                told(f"Checking file {number} of {len(self.files)}")
            for _ in self.chunks(name):
                pass

    def chunks(self, name: str) -> Iterator[bytes]:
        """Return a file's bytes; at its end they must match the manifest."""
        expected = self.files[name]
        digest, left = hashlib.sha256(), expected["bytes"]
        try:
            with self._zip.open(name) as entry:
                while chunk := entry.read(CHUNK):
                    left -= len(chunk)
                    if left < 0:
                        break
                    digest.update(chunk)
                    yield chunk
        except (zipfile.BadZipFile, zlib.error, EOFError, OSError) as problem:
            raise _changed(name) from problem
        if left != 0 or digest.hexdigest() != expected["sha256"]:
            raise _changed(name)

    def lines(self, name: str) -> Iterator[dict[str, Any]]:
        """Return the JSON objects of a file, one a line."""
        rest = b""
        for chunk in self.chunks(name):
            *whole, rest = (rest + chunk).split(b"\n")
            if len(rest) > LONGEST_LINE:
                raise Refused(f"{name} has a line too long to be one of ours.")
            for line in whole:
                yield _object(line, name)
        if rest:
            yield _object(rest, name)

    def _manifest(self) -> dict[str, Any]:
        try:
            info = self._zip.getinfo(MANIFEST)
        except KeyError as problem:
            raise _foreign() from problem
        if info.file_size > LARGEST_MANIFEST or not _is_plain(info):
            raise _foreign()
        try:
            with self._zip.open(info) as entry:
                told = json.loads(entry.read(LARGEST_MANIFEST))
        except (ValueError, zipfile.BadZipFile, zlib.error, EOFError) as problem:
            raise _foreign() from problem
        if not isinstance(told, dict) or told.get("format") != FORMAT:
            raise _foreign()
        version = told.get("version")
        if not isinstance(version, int) or version < 1:
            raise _foreign()
        if version > VERSION:
            raise Refused(
                f"This archive has form {version}, and this program reads up to "
                f"{VERSION}: it was made by a newer one. Update this one first."
            )
        if not _is_list_of_files(told.get("files")):
            raise _foreign()
        return told

    def _look_at_entries(self) -> None:
        """Refuse names, sizes and compression that we never write, before reading any."""
        entries = self._zip.infolist()
        names = [info.filename for info in entries]
        if len(names) > MOST_FILES or len(set(names)) < len(names):
            raise Refused("The archive names files twice, or far too many of them.")
        listed = {*self.files, MANIFEST}
        if missing := sorted(listed - set(names)):
            raise Refused(f"The archive is not whole: {missing[0]} is missing.")
        if strange := sorted(set(names) - listed):
            raise Refused(
                f"The archive holds {strange[0][:80]!r}, which its manifest does not "
                "name: somebody added it."
            )
        for info in entries:
            if not _is_plain(info):
                raise Refused(f"{info.filename} is packed in a way that is not ours.")
            if info.filename != MANIFEST:
                self._look_at(info)
        if sum(info.compress_size for info in entries) > self._size:
            raise Refused("Files of the archive lie over each other: it is a trap.")

    def _look_at(self, info: zipfile.ZipInfo) -> None:
        if not NAME.fullmatch(info.filename):
            raise Refused(f"{info.filename[:80]!r} is no name of a file of ours.")
        if info.file_size != self.files[info.filename]["bytes"]:
            raise _changed(info.filename)
        if info.file_size > MOST_SHRUNK * max(info.compress_size, 1024):
            raise Refused(
                f"{info.filename} would grow to {MOST_SHRUNK} times its size and more: "
                "it is a trap."
            )


def _is_plain(info: zipfile.ZipInfo) -> bool:
    """Return whether an entry is compressed like ours: unencrypted, by a known method."""
    return not info.flag_bits & 1 and info.compress_type in KNOWN_METHODS


def _is_list_of_files(files: object) -> bool:
    """Return whether a manifest lists files with possible sizes."""
    if not isinstance(files, dict):
        return False
    total = 0
    for told in files.values():
        if not isinstance(told, dict) or not isinstance(told.get("sha256"), str):
            return False
        size = told.get("bytes")
        if not isinstance(size, int) or size < 0:
            return False
        total += size
    if total > LARGEST:
        raise Refused(f"The archive holds more than {LARGEST // 1024**3} GB.")
    return True


def _object(line: bytes, name: str) -> dict[str, Any]:
    try:
        found = json.loads(line, parse_constant=_no_number)
    except (ValueError, RecursionError) as problem:
        raise _changed(name) from problem
    if not isinstance(found, dict):
        raise _changed(name)
    return found


def _no_number(word: str) -> float:
    raise ValueError(f"{word} is no number.")


def _foreign() -> Refused:
    return Refused(
        "This is no archive of a studio: it has no manifest of ours. Choose the zip "
        "that export_studio or the page “Your data” made."
    )


def _changed(name: str) -> Refused:
    return Refused(
        f"{name} is not as it was written: the archive was changed or damaged. Fetch "
        "it again."
    )
