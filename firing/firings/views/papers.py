"""Papers of a firing: sent if they are made already; POST orders them."""

from django.contrib import messages
from django.http import FileResponse, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from firing.firings import documents
from firing.firings.services.papers import ask_for_sheet, ask_for_verdict
from firing.loads.views.lookups import firing_or_404
from firing.readings import verdict_sheet
from firing.readings.selectors.verdict_inputs import judging_of
from studio.documents import PaperState, state_of
from studio.http import StudioRequest, render_page, requires, send_document
from studio.roles import Can

TEXTS = {
    "none": "The controller sheet is not made yet.",
    "ready": "The controller sheet is ready.",
    "making": "The controller sheet is being made.",
    "failed": "The controller sheet could not be made.",
}
VERDICT_TEXTS = {
    "none": "The verdict is not laid out yet.",
    "ready": "The verdict is ready.",
    "making": "The verdict is being laid out.",
    "failed": "The verdict could not be laid out.",
}


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_WORK)
def controller_sheet(request: StudioRequest, pk: int) -> HttpResponse | FileResponse:
    """Send the PDF if it is there. POST has it made; looking never does."""
    firing = firing_or_404(request, pk)
    path = reverse("firing:firing_detail", args=[pk])
    origin = request.build_absolute_uri("/").rstrip("/")
    sheet = documents.controller_sheet(firing, path=path, origin=origin)
    key = documents.sheet_key(firing, sheet)
    state = state_of(key)
    if request.method == "POST":
        if state.is_to_be_made:
            ask_for_sheet(firing=firing, sheet=sheet, origin=origin)
        return redirect("firing:controller_sheet", pk)
    if state.document is not None and not request.htmx:
        return send_document(state.document, name=f"controller-sheet-{firing.pk}.pdf")
    context = {"firing": firing, "job": _job(pk, state)}
    if request.htmx:
        return render_page(request, "firing/_sheet_job.html", context)
    return render_page(request, "firing/firings/controller_sheet.html", context)


def _job(pk: int, state: PaperState) -> dict[str, str]:
    url = reverse("firing:controller_sheet", args=[pk])
    text = f"{TEXTS[state.name]} {state.problem}".strip()
    return {"state": state.name, "text": text, "url": url}


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
    state = state_of(verdict_sheet.sheet_key(firing, sheet))
    if request.method == "POST":
        if state.is_to_be_made:
            ask_for_verdict(firing=firing, sheet=sheet)
        return redirect("firing:verdict_paper", pk)
    if state.document is not None and not request.htmx:
        return send_document(state.document, name=f"verdict-{firing.pk}.pdf")
    text = f"{VERDICT_TEXTS[state.name]} {state.problem}".strip()
    url = reverse("firing:verdict_paper", args=[pk])
    context = {
        "firing": firing,
        "job": {"state": state.name, "text": text, "url": url},
    }
    if request.htmx:
        return render_page(request, "firing/_sheet_job.html", context)
    return render_page(request, "firing/readings/verdict_paper.html", context)
