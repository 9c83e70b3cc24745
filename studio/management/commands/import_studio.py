"""Brings a studio in from an archive that export_studio made."""

from argparse import ArgumentParser
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.errors import StudioError
from studio.services.importing import import_studio


class Command(BaseCommand):
    """``manage.py import_studio ebbside.zip``: all of it, or nothing."""

    help = "Import a studio from an archive, beside those that are here."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("archive", type=Path)
        parser.add_argument(
            "--admit",
            action="append",
            default=[],
            metavar="ADDRESS",
            help="somebody with an account here already who is the same person",
        )
        parser.add_argument(
            "--again", action="store_true", help="even if the studio is here already"
        )

    def handle(
        self, *_: object, archive: Path, admit: list[str], again: bool, **__: object
    ) -> None:
        if not archive.is_file():
            raise CommandError(f"There is no file {archive}.")
        try:
            arrived = import_studio(
                path=archive,
                at=timezone.now(),
                told=self.stderr.write,
                admitted=admit,
                again=again,
            )
        except StudioError as problem:
            raise CommandError(f"{problem} Nothing was brought in.") from problem
        self.stdout.write(f"{arrived.studio.name} is here.")
        for email, path in arrived.links.items():
            self.stdout.write(
                f"Owner {email} sets a password within a day at this server's address, "
                f"then {path}"
            )
        if arrived.links:
            self.stdout.write(
                "Everybody else gets such a link from an owner, under Settings."
            )
        for email in arrived.waiting:
            self.stdout.write(
                f"{email} has an account here and was not admitted: an owner can invite "
                "them under Settings. Their past work stays under the archive's name."
            )
        if arrived.lost_files:
            self.stdout.write(
                f"{arrived.lost_files} pictures or papers were missing when the archive "
                "was made."
            )
        self.stdout.write(
            "Clients need new links, and loggers new tokens: the old ones open nothing "
            "here."
        )
