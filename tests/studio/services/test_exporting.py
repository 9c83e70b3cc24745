"""What an archive says about itself, and that all of it is from one instant."""

import json
import threading

import pytest
from django.db import connection

from studio.archive import ArchiveReader
from studio.models import Kiln, Piece
from studio.selectors import kinds
from studio.services.exporting import one_instant, write_archive
from tests import make
from tests.cast import NOW


@pytest.fixture
def archive_reader(cast, tmp_path):
    make.piece(studio=cast.studio, glass=cast.glass, by=cast.owner, title="=Low water")
    path = tmp_path / "studio.zip"
    write_archive(studio=cast.studio, path=path, told=lambda _: None, at=NOW)
    with ArchiveReader(path) as archive_reader:
        yield archive_reader


def text_of(archive_reader, name):
    return b"".join(archive_reader.chunks(name)).decode("utf-8-sig")


def test_every_kind_and_field_is_explained(archive_reader):
    told = json.loads(text_of(archive_reader, "fields.json"))
    assert set(told) == {
        "studio.studio",
        "studio.person",
        *(model._meta.label_lower for model in kinds.owned_models()),
    }
    kiln = told["studio.kiln"]
    assert kiln["meaning"].startswith("A kiln: what fits")
    assert kiln["fields"]["opening_temperature_c"] == {
        "type": "FloatField",
        "null": False,
        "meaning": "Below this the kiln may be opened.",
    }
    assert told["studio.layer"]["fields"]["piece"]["refers_to"] == "studio.piece"
    assert told["studio.membership"]["fields"]["role"]["values"]["owner"] == "Owner"
    assert "password" in told["studio.person"]["left behind"]
    assert "worker" in told["studio.job"]["left behind"]


def test_the_manifest_counts_what_is_there(archive_reader, cast):
    manifest = archive_reader.manifest
    assert manifest["studio"] == "Gullmarsh"
    assert manifest["counts"]["studio.piece"] == 1
    assert manifest["counts"]["studio.membership"] == 4
    for label, count in manifest["counts"].items():
        assert len(list(archive_reader.lines(f"records/{label}.jsonl"))) == count, label
    assert all(
        manifest["migrations"][app] for app in ("studio", "firing", "commissions")
    )
    assert "manage.py import_studio" in text_of(archive_reader, "README.txt")


def test_lists_are_in_the_studios_units_and_hold_no_formula(archive_reader):
    heading, row = text_of(archive_reader, "lists/pieces.csv").splitlines()
    assert heading.startswith("Piece,Stage,Width (in),Height (in)")
    assert row.startswith("'=Low water,Planned,11.811,7.874")
    assert "Anneal soak (°F)" in text_of(archive_reader, "lists/stock-glass.csv")


@pytest.mark.django_db(transaction=True)
def test_what_others_write_meanwhile_is_neither_kept_from_them_nor_read(cast):
    def write():
        try:
            make.kiln(studio=cast.studio, name="Meanwhile")
        finally:
            connection.close()

    with one_instant():
        before = Kiln.owned.for_studio(cast.studio).count()
        thread = threading.Thread(target=write)
        thread.start()
        thread.join()
        assert Kiln.owned.for_studio(cast.studio).count() == before
    assert Kiln.owned.for_studio(cast.studio).count() == before + 1
    make.piece(studio=cast.studio, glass=cast.glass)
    assert Piece.owned.for_studio(cast.studio).exists(), "Writing works as before."
