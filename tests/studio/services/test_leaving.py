"""Deleting a studio: asked for by name, a week to change one's mind, then gone."""

from datetime import timedelta

import pytest
from axes.models import AccessAttempt
from django.core.files.base import ContentFile
from django.db.models import ProtectedError

from studio import jobs
from studio.errors import Refused
from studio.models import (
    Document,
    Export,
    HistoryEntry,
    Job,
    Membership,
    Person,
    Piece,
    Role,
    Studio,
)
from studio.services.leaving import (
    GRACE,
    ask_to_delete,
    delete_due,
    delete_studio,
    keep_studio,
)
from tests import make
from tests.cast import NOW


def ask(cast, name="Gullmarsh"):
    ask_to_delete(studio=cast.studio, typed_name=name, by=cast.owner, at=NOW)
    cast.studio.refresh_from_db()


def is_there(cast):
    return Studio.objects.filter(pk=cast.studio.pk).exists()


@pytest.mark.parametrize("name", ["", "gullmarsh", "Gullmarsh 2", "Fernhaven"])
def test_another_name_deletes_nothing(cast, strangers, name):
    with pytest.raises(Refused, match="type its name: Gullmarsh"):
        ask(cast, name)
    cast.studio.refresh_from_db()
    assert cast.studio.delete_at is None


def test_a_week_passes_before_anything_goes(cast, strangers):
    make.piece(studio=cast.studio, glass=cast.glass, by=cast.owner)
    ask(cast, " Gullmarsh ")
    assert cast.studio.delete_at == NOW + GRACE
    assert delete_due(NOW + GRACE - timedelta(seconds=1)) == 0
    assert is_there(cast)
    assert delete_due(NOW + GRACE) == 1
    assert not is_there(cast)
    assert list(Studio.objects.all()) == [strangers.studio]


def test_asking_again_does_not_begin_the_week_anew(cast):
    ask(cast)
    ask_to_delete(
        studio=cast.studio,
        typed_name="Gullmarsh",
        by=cast.owner,
        at=NOW + timedelta(days=3),
    )
    cast.studio.refresh_from_db()
    assert cast.studio.delete_at == NOW + GRACE
    assert HistoryEntry.owned.for_studio(cast.studio).count() == 1


def test_an_owner_can_keep_it(cast):
    ask(cast)
    keep_studio(studio=cast.studio, by=cast.owner, at=NOW)
    assert delete_due(NOW + 2 * GRACE) == 0
    assert is_there(cast)
    told = [entry.what for entry in HistoryEntry.owned.for_studio(cast.studio)]
    assert sorted(told) == ["Asked to delete the studio", "Decided to keep the studio"]


def test_the_workers_beat_deletes_what_is_due(cast):
    ask(cast)
    jobs.forget_old(now=NOW + GRACE)
    assert not is_there(cast)


def test_what_protects_what_it_rests_on_does_not_stop_it(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, by=cast.owner)
    other = make.piece(studio=cast.studio, glass=cast.glass)
    Piece.owned.for_studio(cast.studio).filter(pk=piece.pk).update(maquette_of=other)
    with pytest.raises(ProtectedError):
        cast.studio.delete()
    delete_studio(studio=cast.studio)
    assert not is_there(cast)


def test_people_of_other_studios_and_of_the_server_stay(cast, strangers):
    Membership.across_studios.create(
        studio=strangers.studio, person=cast.maker, role=Role.HELPER, is_active=False
    )
    Person.objects.filter(pk=cast.helper.pk).update(is_staff=True)
    for person in (cast.owner, cast.maker):
        AccessAttempt.objects.create(username=person.email, failures_since_start=1)
    theirs = set(
        Membership.owned.for_studio(strangers.studio).values_list("person", flat=True)
    )
    delete_studio(studio=cast.studio)
    left = set(Person.objects.values_list("pk", flat=True))
    assert left == theirs | {cast.maker.pk, cast.helper.pk}
    assert [one.username for one in AccessAttempt.objects.all()] == [cast.maker.email]


def test_files_go_only_when_the_rows_are_surely_gone(
    cast, media_folder, django_capture_on_commit_callbacks
):
    file = ContentFile(b"%PDF-", name="x.pdf")
    Document.across_studios.create(
        studio=cast.studio,
        kind="quote",
        subject_id=1,
        title="Quote",
        inputs_sha256="a" * 64,
        file=file,
        made_at=NOW,
    )
    Export.across_studios.create(
        studio=cast.studio, asked_at=NOW, made_at=NOW, file=ContentFile(b"PK", name="x")
    )

    def there():
        return [path for path in media_folder.rglob("*") if path.is_file()]

    with django_capture_on_commit_callbacks() as waiting:
        delete_studio(studio=cast.studio)
    assert len(there()) == 2
    for act in waiting:
        act()
    assert there() == []
    assert list(media_folder.glob("*/*")) == [], "Empty folders go too."


def test_a_job_under_way_ends_without_an_effect(cast):
    @jobs.handler(f"tests.leaving {cast.studio.pk}")
    def slow(studio, *, lease, **_):
        delete_studio(studio=Studio.objects.get(pk=studio.pk))
        return lambda: pytest.fail("The studio is gone.")

    job = jobs.enqueue(studio=cast.studio, name=f"tests.leaving {cast.studio.pk}")
    assert jobs.run(job.pk, clock=lambda: NOW + timedelta(days=365)) is None
    assert not Job.across_studios.exists()
