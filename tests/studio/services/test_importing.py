"""A studio is imported whole or not at all, and nobody gains a right by it."""

import io
import json
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from studio.archive import ArchiveReader, Writer
from studio.errors import Refused
from studio.models import HistoryEntry, Kiln, Membership, Person, Picture, Piece, Studio
from studio.selectors import kinds
from studio.services.exporting import write_archive
from studio.services.importing import import_studio
from studio.services.leaving import delete_studio
from tests import make
from tests.cast import NOW

WEBP = b"RIFF\x04\x00\x00\x00WEBPinvented"


def silent(_):
    pass


@pytest.fixture
def archive(cast, tmp_path):
    """The cast's studio with a piece, a picture and a line of history."""
    piece = make.piece(studio=cast.studio, glass=cast.glass, by=cast.owner)
    Picture.across_studios.create(
        studio=cast.studio,
        piece=piece,
        image=ContentFile(WEBP, name="x.webp"),
        thumbnail=ContentFile(WEBP, name="x.webp"),
        width_px=4,
        height_px=3,
        at=NOW,
    )
    path = tmp_path / "studio.zip"
    write_archive(studio=cast.studio, path=path, told=silent, at=NOW)
    return path


def brought_in(path, **more):
    return import_studio(path=path, at=NOW, told=silent, **more)


def files_on_disk(media_folder):
    return {path for path in Path(media_folder).rglob("*") if path.is_file()}


def changed(archive, label="", change=None, *, manifest=None, files=None):
    """Write an archive again with one kind's records changed: hashes fit again."""
    path = archive.with_name("changed.zip")
    with ArchiveReader(archive) as old, Writer(path) as new:
        for name in old.files:
            if name == f"records/{label}.jsonl":
                records = list(old.lines(name))
                new.lines(name, change(records) or records)
            else:
                data = b"".join(old.chunks(name))
                new.copy(name, io.BytesIO((files or {}).get(name, data)))
        about = {k: v for k, v in old.manifest.items() if k not in {"files", "format"}}
        new.finish(about | (manifest or {}))
    return path


def gone(cast):
    """Delete the studio, and with it its people, so that the archive meets nobody."""
    delete_studio(studio=cast.studio)
    assert not Studio.objects.filter(name="Gullmarsh").exists()


def test_into_a_database_without_it_the_owner_gets_a_link(cast, archive, client):
    email = cast.owner.email
    gone(cast)
    assert not Person.objects.filter(email=email).exists()
    arrived = brought_in(archive)
    owner = Person.objects.get(email=email)
    assert list(arrived.links) == [email]
    assert not owner.has_usable_password()
    assert client.get(arrived.links[email])["Location"].endswith("/set-password/")
    maker = Person.objects.get(email=cast.maker.email)
    assert not maker.has_usable_password()
    assert (
        Membership.owned.for_studio(arrived.studio).filter(is_active=True).count() == 4
    )
    assert arrived.waiting == []


def test_an_account_that_is_here_is_neither_changed_nor_let_in(
    cast, strangers, archive
):
    other = strangers.owner
    taken = cast.helper.email
    Person.objects.filter(pk=cast.owner.pk).update(is_superuser=True)
    gone(cast)
    Person.objects.filter(pk=other.pk).update(email=taken, name="Somebody else")
    before = Person.objects.filter(pk=other.pk).values().get()

    arrived = brought_in(archive, admitted=[cast.owner.email])

    assert Person.objects.filter(pk=other.pk).values().get() == before
    assert arrived.waiting == [taken]
    assert arrived.links == {}
    # Nothing here names the person: somebody of the archive's name stands for them.
    members = Membership.owned.for_studio(arrived.studio)
    assert not members.filter(person=other).exists()
    member = members.get(person__name="Gullmarsh Helper")
    assert not member.is_active
    assert not member.person.is_active
    assert member.person.email.endswith("@imported.invalid")


def test_people_who_are_the_same_are_admitted_by_name(cast, archive):
    emails = [cast.owner.email.upper(), cast.helper.email]
    arrived = brought_in(archive, admitted=emails, again=True)
    active = Membership.owned.for_studio(arrived.studio).filter(is_active=True)
    assert {m.person_id for m in active} == {cast.owner.pk, cast.helper.pk}


def test_without_an_owner_who_may_come_in_nothing_comes_in(cast, archive, media_folder):
    files = files_on_disk(media_folder)
    with pytest.raises(Refused, match="--admit"):
        brought_in(archive, again=True)
    assert Studio.objects.count() == 1
    assert files_on_disk(media_folder) == files


def test_no_archive_makes_somebody_a_power_over_the_server(cast, archive):
    gone(cast)

    def more(records):
        for record in records:
            record["is_superuser"] = True

    with pytest.raises(Refused, match="'is_superuser' that is not ours"):
        brought_in(changed(archive, "studio.person", more))
    assert not Person.objects.filter(is_superuser=True).exists()


def test_the_same_studio_comes_twice_only_when_that_is_said(cast, archive):
    with pytest.raises(Refused, match="is here already"):
        brought_in(archive, admitted=[cast.owner.email])
    brought_in(archive, admitted=[cast.owner.email], again=True)
    assert Studio.objects.filter(name="Gullmarsh").count() == 2


def set_first(**values):
    def change(records):
        records[0] |= values

    return change


def take_first(name):
    def change(records):
        del records[0][name]

    return change


def double_first(records):
    records.append(dict(records[0], id=9999))


BROKEN = {
    "a key that is not there": (
        "studio.layer",
        set_first(piece=4711),
        "names studio.piece",
    ),
    "a key that is none": ("studio.layer", set_first(piece="1"), "cannot be taken"),
    "a needed value that is empty": ("studio.piece", set_first(title=None), "is empty"),
    "a needed value that is missing": (
        "studio.piece",
        take_first("title"),
        "lacks title",
    ),
    "a word for a number": (
        "studio.kiln",
        set_first(power_w="much"),
        "cannot be taken",
    ),
    "a value that is none of the choices": (
        "studio.membership",
        set_first(role="emperor"),
        "none of its values",
    ),
    "a time zone that is none": (
        "studio.studio",
        set_first(time_zone="Moon/Tranquility"),
        "is no time zone",
    ),
    "a text too long": ("studio.kiln", set_first(name="x" * 81), "at most 80"),
    "a nul": ("studio.kiln", set_first(name="a\0b"), "cannot be taken"),
    "a nul inside": (
        "studio.piece",
        set_first(note="a\0b"),
        "cannot be taken",
    ),
    "an instant without offset": (
        "studio.piece",
        set_first(created_at="2026-03-04T09:00:00"),
        "no offset",
    ),
    "what a constraint forbids": (
        "studio.kiln",
        set_first(shelf_width_mm=9000.0),
        "do not go together",
    ),
    "the same thing twice": ("studio.kiln", double_first, "do not go together"),
    "a field of nobody": ("studio.kiln", set_first(studio=1), "is not ours"),
    "no key": ("studio.kiln", take_first("id"), "has no key"),
    "two studios": ("studio.studio", double_first, "more than one"),
    "a picture from elsewhere": (
        "studio.picture",
        set_first(image="../../secret.webp"),
        "no picture and no paper",
    ),
    "a picture that is a script": (
        "studio.picture",
        set_first(image="files/x.html"),
        "no picture and no paper",
    ),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_forged_archive_is_refused_and_leaves_nothing(
    cast, archive, media_folder, name
):
    label, change, words = BROKEN[name]
    path = changed(archive, label, change)
    rows = {model: model.across_studios.count() for model in kinds.owned_models()}
    people, files = Person.objects.count(), files_on_disk(media_folder)
    with pytest.raises(Refused, match=words):
        brought_in(path, admitted=[cast.owner.email], again=True)
    assert {m: m.across_studios.count() for m in kinds.owned_models()} == rows
    assert (Studio.objects.count(), Person.objects.count()) == (1, people)
    assert files_on_disk(media_folder) == files


def test_what_is_no_picture_is_refused(cast, archive, media_folder):
    with ArchiveReader(archive) as archive_reader:
        name = next(
            one for one in archive_reader.files if one.endswith("thumbnail.webp")
        )
    path = changed(archive, files={name: b"<script>alert(1)</script>"})
    files = files_on_disk(media_folder)
    with pytest.raises(Refused, match="no picture and no paper"):
        brought_in(path, admitted=[cast.owner.email], again=True)
    assert files_on_disk(media_folder) == files


def test_an_archive_of_a_newer_program_is_refused(cast, archive):
    path = changed(archive, manifest={"migrations": {"studio": ["9999_from_ahead"]}})
    with pytest.raises(Refused, match="newer program, which has studio 9999"):
        brought_in(path, admitted=[cast.owner.email], again=True)


def test_an_older_archive_takes_the_defaults_of_what_it_lacks(cast, archive):
    path = changed(archive, "studio.kiln", take_first("offset_uncertainty_k"))
    arrived = brought_in(path, admitted=[cast.owner.email], again=True)
    assert Kiln.owned.for_studio(arrived.studio).get().offset_uncertainty_k == 5.0


def test_a_picture_lost_before_stays_a_record_and_is_counted(cast, tmp_path, archive):
    picture = Picture.owned.for_studio(cast.studio).get()
    default_storage.delete(picture.thumbnail.name)
    path = tmp_path / "lost.zip"
    write_archive(studio=cast.studio, path=path, told=silent, at=NOW)
    with ArchiveReader(path) as archive_reader:
        assert len(archive_reader.manifest["missing"]) == 1
    arrived = brought_in(path, admitted=[cast.owner.email], again=True)
    assert arrived.lost_files == 1
    again = Picture.owned.for_studio(arrived.studio).get()
    with again.image.open("rb") as opened:
        assert opened.read() == WEBP


def test_history_names_nothing_that_the_archive_does_not_hold(cast, archive):
    def elsewhere(records):
        records[0]["subject"] = "kiln 123456"
        records[0]["what"] = "Sold"

    path = changed(archive, "studio.historyentry", elsewhere)
    arrived = brought_in(path, admitted=[cast.owner.email], again=True)
    entry = HistoryEntry.owned.for_studio(arrived.studio).get(what="Sold")
    assert entry.subject == ""


def test_an_archive_holds_no_row_of_another_studio(cast, strangers, archive):
    make.piece(studio=strangers.studio, glass=strangers.glass, title="Not theirs")
    with ArchiveReader(archive) as archive_reader:
        text = b"".join(
            chunk
            for name in archive_reader.files
            for chunk in archive_reader.chunks(name)
        ).decode("utf-8", errors="replace")
        records = [json.loads(line) for line in text.splitlines() if line[:2] == '{"']
    assert Piece.owned.for_studio(cast.studio).get().title in text
    for secret in ("Not theirs", "Fernhaven", strangers.owner.email, "md5$"):
        assert secret not in text
    assert records
