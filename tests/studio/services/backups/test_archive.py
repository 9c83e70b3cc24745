"""The file of a backup: what is written can be read, and nothing else is accepted as
one.
"""

import json
import zipfile

import pytest

from studio.services.backups.archive import (
    DATABASE,
    MANIFEST,
    BadBackup,
    check_archive,
    extract,
    write_archive,
)


@pytest.fixture
def archive(tmp_path):
    (tmp_path / "db").write_bytes(b"rows " * 1000)
    (tmp_path / "a.webp").write_bytes(b"picture")
    written = write_archive(
        tmp_path / "made.zip",
        engine="sqlite",
        made_at="2026-03-04T09:00:00+00:00",
        migrations=["studio.0001_initial"],
        tables={"studio_studio": 2},
        database=tmp_path / "db",
        files={"pictures/1/a.webp": tmp_path / "a.webp"},
    )
    assert check_archive(tmp_path / "made.zip") == written
    return tmp_path / "made.zip"


def rewrite(archive, **changes):
    """Write the archive again with other parts; None takes one away."""
    with zipfile.ZipFile(archive) as old:
        parts = {name: old.read(name) for name in old.namelist()}
    parts |= changes
    with zipfile.ZipFile(archive, "w") as new:
        for name, data in parts.items():
            if data is not None:
                new.writestr(name, data)


def manifest_with(archive, **changes):
    with zipfile.ZipFile(archive) as old:
        told = json.loads(old.read(MANIFEST))
    rewrite(archive, **{MANIFEST: json.dumps(told | changes)})


def test_parts_come_out_as_they_went_in(archive, tmp_path):
    extract(archive, DATABASE, tmp_path / "out" / "db")
    assert (tmp_path / "out" / "db").read_bytes() == b"rows " * 1000
    assert archive.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("length", [0, 10, 100, 400, -1])
def test_a_cut_file_is_refused(archive, length):
    archive.write_bytes(archive.read_bytes()[:length])
    with pytest.raises(BadBackup, match="cut short"):
        check_archive(archive)


def test_every_changed_byte_of_what_was_backed_up_is_noticed(archive):
    whole = archive.read_bytes()
    at = whole.index(b"picture", whole.index(b"a.webp") + 6)
    archive.write_bytes(whole[:at] + b"P" + whole[at + 1 :])
    with pytest.raises(BadBackup, match="damaged"):
        check_archive(archive)


def test_a_part_that_is_another_is_refused(archive):
    rewrite(archive, **{DATABASE: b"other rows"})
    with pytest.raises(BadBackup, match="database has changed"):
        check_archive(archive)


@pytest.mark.parametrize("extra", [{"added": b"x"}, {DATABASE: None}])
def test_parts_too_many_or_missing_are_refused(archive, extra):
    rewrite(archive, **extra)
    with pytest.raises(BadBackup, match="missing or added"):
        check_archive(archive)


@pytest.mark.parametrize("manifest", [None, b"", b"[]", b"{}", b"\xff", b'{"a": 1}'])
def test_a_foreign_zip_is_refused(archive, manifest):
    rewrite(archive, **{MANIFEST: manifest})
    with pytest.raises(BadBackup, match="was not made by Slowcool"):
        check_archive(archive)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"format": 2}, "newer Slowcool"),
        ({"program": "another"}, "was not made by Slowcool"),
        ({"added": 1}, "was not made by Slowcool"),
        ({"files": {"../outside": ""}}, "outside its own folder"),
        ({"files": {"/etc/outside": ""}}, "outside its own folder"),
    ],
)
def test_manifests_that_cannot_be_followed_are_refused(archive, changes, words):
    manifest_with(archive, **changes)
    with pytest.raises(BadBackup, match=words):
        check_archive(archive)


def test_no_file_is_told_of(tmp_path):
    with pytest.raises(BadBackup, match="There is no file"):
        check_archive(tmp_path / "nothing.zip")
    with pytest.raises(BadBackup, match="cannot be read"):
        check_archive(tmp_path)
