"""Mail as it leaves: by the mail server, or as files where none is set."""

import secrets
from pathlib import Path
from shutil import rmtree

from django.conf import settings
from django.core.mail import EmailMessage

KEPT_FILES = 200


def hand_over(mail: EmailMessage, *, studio_id: int, name: str) -> None:
    """Give a mail to the server; without one, write it where the owner finds it.

    Under the same name it is written once, however often it is handed over.

    Raises
    ------
    OSError
        When the server cannot be reached or refuses it, or the disk does.
    """
    if settings.MAIL_IS_SET:
        mail.send()
        return
    folder = outbox_folder(studio_id)
    folder.mkdir(parents=True, exist_ok=True)
    unfinished = folder / f".{name}.{secrets.token_hex(4)}"
    unfinished.write_bytes(mail.message().as_bytes())
    unfinished.rename(folder / f"{name}.eml")
    for old in letters_in(studio_id)[KEPT_FILES:]:
        old.unlink(missing_ok=True)


def outbox_folder(studio_id: int) -> Path:
    """Return where a studio's letters lie while no mail server is set."""
    return Path(settings.MEDIA_ROOT) / "letters" / str(studio_id)


def remove_letters(studio_id: int) -> None:
    """Remove a studio's letters with it."""
    rmtree(outbox_folder(studio_id), ignore_errors=True)


def letters_in(studio_id: int) -> list[Path]:
    """Return those files, the newest first."""
    folder = outbox_folder(studio_id)
    return sorted(folder.glob("*.eml"), reverse=True) if folder.is_dir() else []
