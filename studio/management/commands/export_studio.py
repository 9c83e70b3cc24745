"""Writes everything one studio owns into an archive."""

from argparse import ArgumentParser
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.errors import StudioError
from studio.selectors.studios import find_studio
from studio.services.exporting import write_archive


class Command(BaseCommand):
    """``manage.py export_studio "Ebbside Kilns" ebbside.zip``."""

    help = "Write everything a studio owns into one archive."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("studio", help="its name, or its number")
        parser.add_argument("archive", type=Path, help="the zip file to write")

    def handle(self, *_: object, studio: str, archive: Path, **__: object) -> None:
        try:
            found = find_studio(studio)
        except StudioError as problem:
            raise CommandError(str(problem)) from problem
        if archive.exists():
            raise CommandError(f"{archive} is there already. Choose another name.")
        unfinished = archive.with_name(f"{archive.name}.part")
        try:
            counts = write_archive(
                studio=found, path=unfinished, told=self.stderr.write, at=timezone.now()
            )
            unfinished.rename(archive)
        except OSError as problem:
            raise CommandError(f"{archive} cannot be written: {problem}") from problem
        finally:
            unfinished.unlink(missing_ok=True)
        total = sum(counts.values())
        self.stdout.write(f"{archive} holds {found.name}: {total:,} records.")
