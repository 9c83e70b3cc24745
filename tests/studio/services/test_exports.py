"""Archives are made by the worker, kept for a week, one at a time."""

import zipfile
from datetime import timedelta

from django.utils import timezone

from studio import jobs
from studio.errors import Refused
from studio.models import Export, Job, JobState
from studio.selectors.exports import newest_export
from studio.services import exports as services
from tests import make
from tests.cast import NOW
from tests.worker import run_waiting_jobs


def ask(cast, at=NOW):
    return services.ask_for_export(studio=cast.studio, by=cast.owner, at=at)


def files(media_folder):
    return [path for path in media_folder.rglob("*.zip") if path.is_file()]


def test_the_worker_makes_it_and_says_how_far_it_is(cast, media_folder, monkeypatch):
    make.piece(studio=cast.studio, glass=cast.glass, by=cast.owner)
    told = []
    monkeypatch.setattr(
        jobs.Lease, "renew", lambda _, text=None: told.append(text) if text else None
    )
    export = ask(cast)
    assert newest_export(cast.studio).name == "making"
    assert run_waiting_jobs() == [JobState.DONE]
    state = newest_export(cast.studio)
    assert state.name == "ready"
    assert state.export.pk == export.pk
    assert state.export.size_bytes == state.export.file.size
    with zipfile.ZipFile(state.export.file.path) as opened:
        assert opened.testzip() is None
        assert "records/studio.piece.jsonl" in opened.namelist()
    assert told == ["Reading the records", "Putting the archive in its place"]
    assert len(files(media_folder)) == 1


def test_while_one_is_made_no_second_is_ordered(cast):
    assert ask(cast).pk == ask(cast).pk
    assert Job.across_studios.count() == 1


def test_a_new_one_takes_the_place_of_the_last(
    cast, media_folder, django_capture_on_commit_callbacks
):
    ask(cast)
    run_waiting_jobs()
    first = files(media_folder)
    ask(cast)
    with django_capture_on_commit_callbacks(execute=True):
        run_waiting_jobs()
    assert Export.across_studios.count() == 1
    assert len(files(media_folder)) == 1
    assert files(media_folder) != first


def test_after_a_week_it_is_removed(
    cast, strangers, media_folder, django_capture_on_commit_callbacks
):
    ask(cast)
    ask(strangers, at=NOW + timedelta(days=2))
    run_waiting_jobs()
    with django_capture_on_commit_callbacks(execute=True):
        jobs.forget_old(now=NOW + services.KEPT_FOR)
    assert len(files(media_folder)) == 2
    with django_capture_on_commit_callbacks(execute=True):
        jobs.forget_old(now=NOW + services.KEPT_FOR + timedelta(seconds=1))
    assert Export.across_studios.get().studio == strangers.studio
    assert len(files(media_folder)) == 1


def test_what_went_wrong_is_told_and_can_be_tried_again(cast, monkeypatch):
    def full(**_):
        raise Refused("The disk is full.")

    ask(cast)
    with monkeypatch.context() as patch:
        patch.setattr(services, "write_archive", full)
        assert run_waiting_jobs() == [JobState.FAILED]
    state = newest_export(cast.studio)
    assert (state.name, state.problem) == ("failed", "The disk is full.")
    ask(cast, at=timezone.now())
    assert run_waiting_jobs() == [JobState.DONE]
    assert newest_export(cast.studio).name == "ready"
