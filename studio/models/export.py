"""Archives of a studio that its owner asked for, each kept for a while."""

import secrets

from django.db import models

from studio.tenancy import StudioOwned


def archive_path(export: "Export", filename: str) -> str:
    """Return a random name, so that nobody can guess an archive's place on disk."""
    return f"exports/{export.studio_id}/{secrets.token_urlsafe(18)}.zip"


class Export(StudioOwned):
    """One archive of everything the studio owns; it has no file until it is made."""

    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    job = models.ForeignKey(
        "studio.Job", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    file = models.FileField(upload_to=archive_path, max_length=200, blank=True)
    size_bytes = models.PositiveBigIntegerField(default=0)
    made_at = models.DateTimeField(null=True, blank=True)

    class Meta(StudioOwned.Meta):
        ordering = ["-asked_at", "-pk"]

    def __str__(self) -> str:
        return f"Archive of {self.studio}"
