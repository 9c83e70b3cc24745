"""Papers of a firing: sent if they are made already; POST orders them."""

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import FileResponse, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from firing.firings import documents
from firing.loads.views.lookups import firing_or_404
from firing.readings import verdict_sheet
from firing.readings.selectors.verdict_inputs import judging_of
from studio.answers import PaperPage, answer_paper
from studio.http import StudioRequest, origin_of, requires
from studio.roles import Can

if TYPE_CHECKING:
    from studio.documents import PaperKey


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_WORK)
def controller_sheet(request: StudioRequest, pk: int) -> HttpResponse | FileResponse:
    """Send the PDF if it is there. POST has it made; looking never does."""
    firing, where = firing_or_404(request, pk), _where(request, pk)
    sheet = documents.controller_sheet(firing, **where)
    key = documents.sheet_key(firing, sheet)
    job = documents.RENDER_JOB
    page = _page(pk, "controller_sheet", "Controller sheet", key, job, **where)
    return answer_paper(request, page)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_WORK)
def door_sign(request: StudioRequest, pk: int) -> HttpResponse | FileResponse:
    """Send the sign for the kiln's door if it is there. POST has it made."""
    firing, where = firing_or_404(request, pk), _where(request, pk)
    key = documents.sign_key(firing, documents.door_sign(firing, **where))
    page = _page(pk, "door_sign", "Door sign", key, documents.SIGN_JOB, **where)
    return answer_paper(request, page)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_WORK)
def verdict_paper(request: StudioRequest, pk: int) -> HttpResponse | FileResponse:
    """Send the verdict's PDF if it is there. POST has it made; looking never does."""
    firing = firing_or_404(request, pk)
    judgement = judging_of(firing).judgement
    if judgement is None:
        messages.warning(request, "There is no verdict to print yet.")
        return redirect("firing:firing_judgement", pk)
    if judgement.lacks_options:
        messages.warning(request, "What to do next is computed first. Print it then.")
        return redirect("firing:firing_judgement", pk)
    sheet = verdict_sheet.verdict_sheet(firing, judgement)
    key = verdict_sheet.sheet_key(firing, sheet)
    page = _page(pk, "verdict_paper", "Verdict", key, verdict_sheet.RENDER_JOB)
    return answer_paper(request, page)


def _where(request: StudioRequest, pk: int) -> dict[str, str]:
    """Return what the code on a paper opens."""
    path = reverse("firing:firing_detail", args=[pk])
    return {"path": path, "origin": origin_of(request)}


def _page(
    pk: int, name: str, title: str, key: "PaperKey", job_name: str, **told: str
) -> PaperPage:
    return PaperPage(
        title=title,
        file_name=f"{title.lower().replace(' ', '-')}-{pk}.pdf",
        key=key,
        job_name=job_name,
        arguments={"firing_id": pk, **told},
        url=reverse(f"firing:{name}", args=[pk]),
        back_url=reverse("firing:firing_detail", args=[pk]),
        back_label="Firing",
        place="kilns",
    )
