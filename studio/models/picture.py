"""Photographs of work, re-encoded on upload, served only through views."""

import secrets

from django.db import models

from studio.tenancy import StudioOwned


def picture_path(record: StudioOwned, filename: str) -> str:
    """Return a random name: an upload's own name is never used on disk."""
    return f"pictures/{record.studio_id}/{secrets.token_urlsafe(18)}.webp"


class Picture(StudioOwned):
    """A photograph of a layer's pass, of a piece, or of neither yet."""

    piece = models.ForeignKey(
        "studio.Piece",
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        related_name="pictures",
    )
    layer = models.ForeignKey(
        "studio.Layer",
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        related_name="pictures",
    )
    # "pass" is a keyword of the language.
    of_pass = models.ForeignKey(
        "studio.Pass",
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        related_name="pictures",
    )
    image = models.FileField(upload_to=picture_path)
    thumbnail = models.FileField(upload_to=picture_path)
    # For the depth view: small, and white where the glass is clear. Made by the worker.
    depth = models.FileField(upload_to=picture_path, blank=True)
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    caption = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    is_shown_to_client = models.BooleanField(default=False)
    # Made up by the phone that took it: a shot that is sent again is not kept again.
    shot = models.UUIDField(null=True, editable=False)

    class Meta(StudioOwned.Meta):
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["studio", "shot"], name="shot_kept_once")
        ]

    def __str__(self) -> str:
        return self.caption or f"Picture {self.pk}"
