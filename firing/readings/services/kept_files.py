"""Keeps a file that was sent with something open about it, so it is sent only once.

It lies among the media under a random name, which the page carries signed; nobody's
record names it, so it is swept away after a week like every such file.
"""

import secrets
import zlib
from typing import NamedTuple

from django.core import signing
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from firing.models import Firing
from studio.services.left_files import KEPT_FOR

FOLDER = "readings"
SALT = "firing.kept readings"


class KeptFile(NamedTuple):
    """A file as it was sent."""

    data: bytes
    name: str


def keep_file(*, firing: Firing, data: bytes, name: str) -> str:
    """Keep a file for one firing; return the token by which it is found again."""
    wanted = f"{FOLDER}/{firing.studio_id}/{secrets.token_urlsafe(18)}.z"
    stored = default_storage.save(wanted, ContentFile(zlib.compress(data)))
    return signing.dumps([firing.pk, stored, name[-200:]], salt=SALT)


def find_kept(*, firing: Firing, token: str) -> KeptFile | None:
    """Return the firing's file that the token stands for, or none."""
    try:
        of, stored, name = signing.loads(token, salt=SALT, max_age=KEPT_FOR)
        if of != firing.pk:
            return None
        with default_storage.open(stored) as file:
            return KeptFile(zlib.decompress(file.read()), name)
    except (signing.BadSignature, FileNotFoundError):
        return None
