"""Finished papers: the file, its subject and the inputs it was made from."""

import secrets

from django.db import models

from studio.tenancy import StudioOwned


def document_path(document: "Document", filename: str) -> str:
    """Return a random name, so that nobody can guess a paper's place on disk."""
    return f"documents/{document.studio_id}/{secrets.token_urlsafe(18)}.pdf"


class Document(StudioOwned):
    """One PDF, made once for the same subject and the same inputs."""

    kind = models.CharField(max_length=40)
    subject_id = models.PositiveBigIntegerField()
    title = models.CharField(max_length=200)
    inputs_sha256 = models.CharField(max_length=64)
    file = models.FileField(upload_to=document_path, max_length=200)
    pdf_sha256 = models.CharField(
        max_length=64,
        blank=True,
        help_text="Of the file itself, to tell it is the one.",
    )
    made_at = models.DateTimeField()

    class Meta(StudioOwned.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "kind", "subject_id", "inputs_sha256"],
                name="document_made_once",
            )
        ]

    def __str__(self) -> str:
        return self.title
