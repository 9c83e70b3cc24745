"""Background work of the firing app: handlers that the worker calls by name."""

from contextlib import suppress
from typing import Any

from django.utils import timezone

from firing import documents
from firing.physics.schedule import PhysicsProblem
from firing.selectors.design_orders import DESIGN_JOB, from_arguments
from firing.selectors.designs import compute_designs
from firing.selectors.firings import firings
from firing.selectors.judging import JUDGE_JOB, inputs_sha256, judge_firing
from firing.services.judging import keep_judgement
from studio.documents import document_of
from studio.jobs import Finish, handler
from studio.pdf import render_pdf
from studio.services.papers import file_paper

TOLD_EVERY = 10


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


@handler(DESIGN_JOB)
def design_schedule(studio: Any, *, lease: Any, **given: Any) -> None:
    """Compute a design and keep it where the pages look for it.

    Keeping it twice keeps the same, so there is nothing that must happen only once.
    """
    asked = from_arguments(studio, given)
    if asked is None:
        return

    def told(tries: int) -> None:
        if tries % TOLD_EVERY == 0:
            lease.renew(f"{tries} schedules tried so far" if tries else "Heating up")

    # What the model refuses is kept as the answer, which the page shows.
    with suppress(PhysicsProblem):
        compute_designs(asked, told)


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
