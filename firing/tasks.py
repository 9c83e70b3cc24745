"""Background work of the firing app: handlers that the worker calls by name."""

from typing import Any

from django.utils import timezone

from firing import documents
from firing.selectors.firings import firings
from firing.selectors.judging import JUDGE_JOB, inputs_sha256, judge_firing
from firing.services.judging import keep_judgement
from studio.documents import document_of
from studio.jobs import Finish, handler
from studio.pdf import render_pdf
from studio.services.papers import file_paper


@handler(JUDGE_JOB)
def judge_readings(
    studio: Any, *, lease: Any, firing_id: int, **_: Any
) -> Finish | None:
    """Compute what a firing did to its glass; keeping that is the finish."""
    firing = firings(studio).filter(pk=firing_id).first()
    if firing is None or not firing.readings.exists():
        return None
    sha256 = inputs_sha256(firing)
    lease.renew("Computing heat and stress")
    found = judge_firing(firing)

    def finish() -> None:
        keep_judgement(firing=firing, sha256=sha256, found=found, at=timezone.now())

    return finish


@handler(documents.RENDER_JOB)
def render_controller_sheet(
    studio: Any, *, lease: Any, firing_id: int, path: str, origin: str, **_: Any
) -> Finish | None:
    """Lay out a controller sheet's PDF; filing it is the finish."""
    firing = firings(studio).filter(pk=firing_id).first()
    if firing is None:
        return None
    sheet = documents.controller_sheet(firing, path=path, origin=origin)
    key = documents.sheet_key(firing, sheet)
    if document_of(key) is not None:
        return None
    lease.renew("Laying out the sheet")
    title = f"Controller sheet: {sheet.title}"
    context = documents.sheet_context(firing, sheet)
    pdf = render_pdf(documents.TEMPLATE, context, title=title)

    def finish() -> None:
        file_paper(key=key, title=title, pdf=pdf, at=timezone.now())

    return finish
