"""What is done to a firing's controller sheet: ordered from the worker, filed once."""

import contextlib
from datetime import datetime

from django.core.files.base import ContentFile
from django.db import IntegrityError, transaction

from firing import documents
from firing.documents import ControllerSheet
from firing.models import Firing
from studio.models import Document


@transaction.atomic
def ask_for_sheet(*, firing: Firing, sheet: ControllerSheet, origin: str) -> None:
    """Have the sheet's PDF made in the background, unless it is there or under way."""
    documents.order_sheet(firing, sheet, origin=origin)


def file_sheet(
    *, firing: Firing, sha256: str, title: str, pdf: bytes, at: datetime
) -> None:
    """Keep a PDF, once for the same words; called in the transaction that ends the job."""
    if documents.document_of(firing, sha256) is not None:
        return
    # Another worker may have filed the same paper since the look: then that one counts.
    with contextlib.suppress(IntegrityError), transaction.atomic():
        Document.across_studios.create(
            studio=firing.studio,
            kind=documents.KIND,
            subject_id=firing.pk,
            title=title[:200],
            inputs_sha256=sha256,
            file=ContentFile(pdf, name="controller-sheet.pdf"),
            made_at=at,
        )
