"""The file a studio travels in: what is written comes out, tampered files do not."""

import csv
import hashlib
import io
import json
import zipfile

import pytest

from studio.archive import MANIFEST, VERSION, ArchiveReader, Writer, harmless
from studio.errors import Refused

RECORDS = [{"id": 1, "name": "Heron"}, {"id": 2, "name": "Grüße, “Möwe”\n"}]


@pytest.fixture
def archive(tmp_path):
    path = tmp_path / "studio.zip"
    with Writer(path) as writer:
        writer.lines("records/studio.kiln.jsonl", RECORDS)
        writer.table("lists/kilns.csv", [["Kiln", "°C"], ["=1+1", -5.0]])
        writer.copy("files/studio.picture/1-image.webp", io.BytesIO(b"RIFFxxxxWEBP"))
        writer.finish({"studio": "Gullmarsh"})
    return path


def rewritten(archive, change=None, *, drop=(), more=()):
    """Return a copy of an archive with entries changed, left out or added."""
    path = archive.with_name("other.zip")
    with zipfile.ZipFile(archive) as old, zipfile.ZipFile(path, "w") as new:
        for name in old.namelist():
            if name in drop:
                continue
            data = old.read(name)
            if change is not None:
                data = change(name, data)
            new.writestr(name, data, zipfile.ZIP_DEFLATED)
        for name, data in more:
            new.writestr(name, data, zipfile.ZIP_DEFLATED)
    return path


def with_manifest(archive, change, **rest):
    def in_manifest(name, data):
        if name != MANIFEST:
            return data
        manifest = json.loads(data)
        change(manifest)
        return json.dumps(manifest).encode()

    return rewritten(archive, in_manifest, **rest)


def listed(name, data):
    """Return a change that lists a file in the manifest as if it were ours."""

    def change(manifest):
        digest = hashlib.sha256(data).hexdigest()
        manifest["files"][name] = {"bytes": len(data), "sha256": digest}

    return change


def read(path):
    with ArchiveReader(path) as archive_reader:
        archive_reader.check(lambda _: None)


def test_what_was_written_comes_out(archive):
    with ArchiveReader(archive) as archive_reader:
        archive_reader.check(lambda _: None)
        assert list(archive_reader.lines("records/studio.kiln.jsonl")) == RECORDS
        assert archive_reader.manifest["studio"] == "Gullmarsh"


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "＝"])
def test_a_cell_that_a_spreadsheet_would_compute_becomes_text(start):
    assert harmless(f"{start}HYPERLINK(1)") == f"'{start}HYPERLINK(1)"


def test_numbers_and_plain_words_stay_as_they_are():
    assert harmless(-5.0) == -5.0
    assert harmless("Sea-grass = green") == "Sea-grass = green"
    assert harmless("") == ""


def test_the_tables_of_an_archive_hold_no_formula(archive):
    with zipfile.ZipFile(archive) as opened:
        text = opened.read("lists/kilns.csv").decode("utf-8-sig")
    assert list(csv.reader(io.StringIO(text))) == [["Kiln", "°C"], ["'=1+1", "-5.0"]]


@pytest.mark.parametrize("share", [0.2, 0.6, 0.99])
def test_an_archive_that_was_cut_is_refused(archive, share):
    whole = archive.read_bytes()
    archive.write_bytes(whole[: int(len(whole) * share)])
    with pytest.raises(Refused, match="no whole archive"):
        read(archive)


def test_a_changed_byte_is_found(archive):
    whole = bytearray(archive.read_bytes())
    at = whole.index(b"RIFFxxxxWEBP")
    whole[at + 5] ^= 1
    archive.write_bytes(whole)
    with pytest.raises(Refused, match="changed or damaged"):
        read(archive)


def test_other_words_of_the_same_length_are_found(archive):
    path = rewritten(archive, lambda _, data: data.replace(b"Heron", b"Stork"))
    with pytest.raises(Refused, match="not as it was written"):
        read(path)


def test_a_file_that_is_missing_is_named(archive):
    path = rewritten(archive, drop=["records/studio.kiln.jsonl"])
    with pytest.raises(Refused, match=r"studio\.kiln\.jsonl is missing"):
        read(path)


def test_a_file_that_was_added_is_named(archive):
    path = rewritten(archive, more=[("lists/more.csv", b"x")])
    with pytest.raises(Refused, match="does not name"):
        read(path)


@pytest.mark.parametrize(
    "name",
    ["../../secret.txt", "/etc/passwd.txt", "files/../x.webp", "a\\b.webp", ".x"],
)
def test_a_name_that_leads_elsewhere_is_refused(archive, name):
    path = with_manifest(archive, listed(name, b"x"), more=[(name, b"x")])
    with pytest.raises(Refused, match="no name of a file of ours"):
        read(path)


def test_a_file_that_would_grow_beyond_measure_is_refused(archive):
    name, data = "files/bomb.webp", b"\0" * 30_000_000
    path = with_manifest(archive, listed(name, data), more=[(name, data)])
    assert path.stat().st_size < 100_000
    with pytest.raises(Refused, match="trap"):
        read(path)


def test_a_file_larger_than_the_manifest_says_is_refused(archive):
    path = with_manifest(
        archive, listed("lists/x.csv", b"x"), more=[("lists/x.csv", b"xxxxx")]
    )
    with pytest.raises(Refused, match="changed or damaged"):
        read(path)


def test_more_than_fits_is_refused_by_what_the_manifest_says(archive):
    def change(manifest):
        manifest["files"]["lists/kilns.csv"]["bytes"] = 10**15

    with pytest.raises(Refused, match="more than 50 GB"):
        read(with_manifest(archive, change))


def test_a_newer_form_is_refused(archive):
    path = with_manifest(archive, lambda told: told.update(version=VERSION + 1))
    with pytest.raises(Refused, match="Update this one first"):
        read(path)


@pytest.mark.parametrize(
    "manifest", [b"[]", b"not json", b'{"format": "another"}', b"{}", b"\xff\xfe"]
)
def test_a_foreign_zip_is_refused(archive, manifest):
    path = rewritten(archive, lambda name, data: manifest if name == MANIFEST else data)
    with pytest.raises(Refused, match="no archive of a studio"):
        read(path)


def test_another_kind_of_file_is_refused(tmp_path):
    path = tmp_path / "photo.webp"
    path.write_bytes(b"RIFF....WEBP" * 100)
    with pytest.raises(Refused, match="another kind of file"):
        read(path)


def test_a_line_that_is_no_object_is_refused(tmp_path):
    for text in (b"[1]\n", b"{\n", b'{"a": NaN}\n', b"[" * 100_000):
        path = tmp_path / "studio.zip"
        with Writer(path) as writer:
            writer.copy("records/x.jsonl", io.BytesIO(text))
            writer.finish({})
        with ArchiveReader(path) as archive_reader, pytest.raises(Refused):
            list(archive_reader.lines("records/x.jsonl"))
