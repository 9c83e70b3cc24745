"""Orders a studio's archive from the worker, keeps it for a while, and removes it."""

from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from django.core.files.base import File
from django.core.files.storage import default_storage
from django.db import transaction

from studio.jobs import Finish, enqueue, on_forget
from studio.models import Export, Person, Studio
from studio.selectors.exports import EXPORT_JOB, exports, newest_export
from studio.services import history
from studio.services.exporting import Told, write_archive
from studio.services.locks import held
from studio.whole_files import remove_after_commit

KEPT_FOR = timedelta(days=7)


@transaction.atomic
def ask_for_export(*, studio: Studio, by: Person | None, at: datetime) -> Export:
    """Order an archive; while one is being made, that one is returned."""
    held(Studio.objects).get(pk=studio.pk)
    newest = newest_export(studio)
    if newest.export is not None and newest.name == "making":
        return newest.export
    export: Export = Export.across_studios.create(
        studio=studio, asked_at=at, asked_by=by
    )
    export.job = enqueue(studio=studio, name=EXPORT_JOB, export_id=export.pk)
    export.save(update_fields=["job"])
    history.record(
        studio=studio, by=by, at=at, what="Asked for an archive of the studio's data"
    )
    return export


def make_export(*, export: Export, told: Told, at: datetime) -> Finish:
    """Write an archive to its place; return what makes it the studio's only one."""
    with TemporaryDirectory(prefix="slowcool-export-") as folder:
        path = Path(folder) / "studio.zip"
        write_archive(studio=export.studio, path=path, told=told, at=at)
        told("Putting the archive in its place")
        size = path.stat().st_size
        with path.open("rb") as source:
            name = default_storage.save(
                Export._meta.get_field("file").generate_filename(export, path.name),
                File(source),
            )

    def finish() -> None:
        older = exports(export.studio).exclude(pk=export.pk)
        _remove(list(older))
        Export.across_studios.filter(pk=export.pk).update(
            file=name, size_bytes=size, made_at=at
        )

    return finish


@on_forget
@transaction.atomic
def forget_exports(now: datetime) -> int:
    """Remove archives that are a week old; return how many."""
    old = list(Export.across_studios.filter(asked_at__lt=now - KEPT_FOR))
    _remove(old)
    return len(old)


def _remove(old: list[Export]) -> None:
    for export in old:
        if name := export.file.name:
            remove_after_commit(name)
        export.delete()
