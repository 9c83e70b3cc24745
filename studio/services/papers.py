"""Files a finished paper, once for the same words."""

import contextlib
import hashlib
from datetime import datetime

from django.core.files.base import ContentFile
from django.db import IntegrityError, transaction

from studio.documents import PaperKey, document_of, order
from studio.models import Document


@transaction.atomic
def ask_for(*, key: PaperKey, job_name: str, **arguments: object) -> None:
    """Have a PDF made, unless it exists or is being made."""
    order(key, job_name=job_name, **arguments)


def file_paper(*, key: PaperKey, title: str, pdf: bytes, at: datetime) -> None:
    """Save a PDF; called in the transaction that ends its job."""
    if document_of(key) is not None:
        return
    # Another worker may have filed the same paper meanwhile: then that one counts.
    with contextlib.suppress(IntegrityError), transaction.atomic():
        Document.across_studios.create(
            studio=key.studio,
            kind=key.kind,
            subject_id=key.subject_id,
            title=title[:200],
            inputs_sha256=key.sha256,
            pdf_sha256=hashlib.sha256(pdf).hexdigest(),
            file=ContentFile(pdf, name="paper.pdf"),
            made_at=at,
        )
