"""What is done to a quote's paper: ordered from the worker, and filed once."""

import contextlib
from datetime import datetime

from django.core.files.base import ContentFile
from django.db import IntegrityError, transaction

from commissions import documents
from commissions.models import Quote
from studio.models import Document


@transaction.atomic
def ask_for_paper(*, quote: Quote) -> None:
    """Have the quote's PDF made in the background, unless it is there or under way."""
    documents.order_paper(quote)


def file_paper(
    *, quote: Quote, sha256: str, title: str, pdf: bytes, at: datetime
) -> None:
    """Keep a PDF, once for the same words; called in the transaction that ends the job."""
    if documents.document_of(quote, sha256) is not None:
        return
    # Another worker may have filed the same paper since the look: then that one counts.
    with contextlib.suppress(IntegrityError), transaction.atomic():
        Document.across_studios.create(
            studio=quote.studio,
            kind=documents.KIND,
            subject_id=quote.pk,
            title=title[:200],
            inputs_sha256=sha256,
            file=ContentFile(pdf, name="quote.pdf"),
            made_at=at,
        )
