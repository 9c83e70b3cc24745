"""The controller sheet: sent where it is made already, ordered where it is not."""

from typing import Any

from django.http import FileResponse, Http404, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from firing import documents
from firing.documents import SheetState
from firing.services.papers import ask_for_sheet
from firing.views.found import firing_or_404
from studio.http import StudioRequest, render_page, requires
from studio.roles import Can

TEXTS = {
    "ready": "The controller sheet is ready.",
    "making": "The controller sheet is being made.",
    "failed": "The controller sheet could not be made.",
}


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_WORK)
def controller_sheet(request: StudioRequest, pk: int) -> HttpResponse | FileResponse:
    """Send the PDF; have it made first where it is not there. POST asks anew."""
    firing = firing_or_404(request, pk)
    path = reverse("firing:firing_detail", args=[pk])
    origin = request.build_absolute_uri("/").rstrip("/")
    sheet = documents.controller_sheet(firing, path=path, origin=origin)
    state = documents.sheet_state(firing, sheet)
    asks = request.GET.get("state") or request.htmx
    if state.document is not None and not asks and request.method == "GET":
        return _send(state.document, name=f"controller-sheet-{firing.pk}.pdf")
    if state.name == "none" or (state.name == "failed" and request.method == "POST"):
        ask_for_sheet(firing=firing, sheet=sheet, origin=origin)
        state = documents.sheet_state(firing, sheet)
    context = {"firing": firing, "job": _job(pk, state)}
    if request.htmx:
        return render_page(request, "firing/_sheet_job.html", context)
    return render_page(request, "firing/controller_sheet.html", context)


def _job(pk: int, state: SheetState) -> dict[str, str]:
    url = reverse("firing:controller_sheet", args=[pk])
    text = TEXTS[state.name]
    if state.name == "failed" and state.job is not None:
        text = f"{text} {state.job.error}"
    return {"state": state.name, "text": text, "url": url}


def _send(document: Any, *, name: str) -> FileResponse:
    try:
        opened = document.file.open("rb")
    except FileNotFoundError as problem:
        raise Http404("The PDF's file is gone.") from problem
    response = FileResponse(opened, content_type="application/pdf", filename=name)
    response["Cache-Control"] = "private, no-store"
    response["X-Content-Type-Options"] = "nosniff"
    return response
