"""Files that no record names: found, left alone for a week, then removed."""

import io
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.apps import apps
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction
from django.db.models import FileField
from PIL import Image

from studio.models import Document, Picture
from studio.services.left_files import FOLDERS, remove_left_files
from studio.services.pictures import add_picture
from tests import make
from tests.cast import NOW


def add(cast, **of):
    out = io.BytesIO()
    Image.new("RGB", (40, 30), "teal").save(out, "PNG")
    out.seek(0)
    return add_picture(
        studio=cast.studio, upload=out, name="a.png", by=None, at=NOW, **of
    )


def files(media_folder) -> list[Path]:
    return sorted(path for path in media_folder.rglob("*") if path.is_file())


def age(media_folder, days):
    then = (datetime.now(UTC) - timedelta(days=days)).timestamp()
    for path in files(media_folder):
        os.utime(path, (then, then))


def in_use(media_folder) -> list[Path]:
    return sorted(
        media_folder / name
        for picture in Picture.across_studios.all()
        for name in (picture.image.name, picture.thumbnail.name)
    )


@pytest.mark.django_db(transaction=True)
def test_a_picture_that_was_rolled_back_leaves_nothing_for_good(cast, media_folder):
    kept = add(cast)
    with transaction.atomic():
        add(cast)
        transaction.set_rollback(True)
    assert len(files(media_folder)) == 4
    age(media_folder, days=8)
    assert remove_left_files(now=datetime.now(UTC)) == 2
    assert files(media_folder) == in_use(media_folder)
    with kept.image.open("rb") as file:
        assert file.read()


def test_pictures_go_with_their_piece(cast, media_folder):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    add(cast, piece=piece)
    add(cast)
    piece.delete()
    age(media_folder, days=8)
    assert remove_left_files(now=datetime.now(UTC)) == 2
    assert files(media_folder) == in_use(media_folder) != []


def test_papers_in_use_stay_and_others_go(cast, media_folder):
    paper = Document.across_studios.create(
        studio=cast.studio,
        kind="quote",
        subject_id=1,
        title="Quote",
        inputs_sha256="0" * 64,
        file=ContentFile(b"%PDF", name="paper.pdf"),
        made_at=NOW,
    )
    default_storage.save(f"documents/{cast.studio.pk}/lost.pdf", ContentFile(b"%PDF"))
    age(media_folder, days=8)
    assert remove_left_files(now=datetime.now(UTC)) == 1
    assert files(media_folder) == [media_folder / paper.file.name]


def test_what_is_younger_than_a_week_may_still_get_its_record(cast, media_folder):
    default_storage.save(f"pictures/{cast.studio.pk}/new.webp", ContentFile(b"new"))
    age(media_folder, days=6.9)
    assert remove_left_files(now=datetime.now(UTC)) == 0
    assert len(files(media_folder)) == 1


def test_no_other_folder_is_touched(cast, media_folder):
    default_storage.save("somebody's/own.txt", ContentFile(b"mine"))
    age(media_folder, days=800)
    assert remove_left_files(now=datetime.now(UTC)) == 0
    assert len(files(media_folder)) == 1


def test_every_records_files_lie_where_the_sweep_looks(cast):
    found = [
        (model, field)
        for model in apps.get_models()
        for field in model._meta.get_fields()
        if isinstance(field, FileField)
    ]
    assert len(found) >= 3
    for model, field in found:
        path = field.generate_filename(model(studio=cast.studio), "a.bin")
        assert path.split("/")[0] in FOLDERS, (model, field)
