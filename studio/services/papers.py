"""Lays out a paper and files it, once for the same words."""

import contextlib
import hashlib
from collections.abc import Callable, Mapping
from datetime import datetime
from typing import TYPE_CHECKING

from django.core.files.base import ContentFile
from django.db import IntegrityError, transaction

from studio.documents import PaperKey, document_of, order, state_of
from studio.models import Document
from studio.pdf import render_pdf

if TYPE_CHECKING:
    from studio.jobs import Finish, Lease


@transaction.atomic
def ask_for(*, key: PaperKey, job_name: str, **arguments: object) -> None:
    """Have a PDF made, unless it exists or is being made."""
    order(key, job_name=job_name, **arguments)


def lay_out(
    *,
    key: PaperKey,
    lease: "Lease",
    template: str,
    title: str,
    context: Callable[[], Mapping[str, object]],
    clock: Callable[[], datetime],
    variant: str = "",
) -> "Finish | None":
    """Lay out a paper, unless it is there or was agreed and is lost; its finish files it.

    `context` is worked out only if the paper is made; `variant` as in `render_pdf`.
    """
    if state_of(key).name in {"ready", "lost"}:
        return None
    lease.renew("Laying out the pages")
    pdf = render_pdf(template, context(), title=title, variant=variant)
    return lambda: file_paper(key=key, title=title, pdf=pdf, at=clock())


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
