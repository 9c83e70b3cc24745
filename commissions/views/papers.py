"""How a paper is shown while the worker makes it, and how it is sent."""

from typing import Any

from django.http import FileResponse, Http404

from commissions.documents import PaperState


def paper_job(state: PaperState, *, result_url: str, poll_url: str) -> dict[str, Any]:
    """Return what `_job.html` needs; no order yet counts as nothing to show."""
    if state.document is None and state.job is None:
        return {"state": "none", "result_url": result_url}
    texts = {
        "ready": "The PDF is ready.",
        "making": "The PDF is being made.",
        "failed": f"The PDF could not be made. {state.problem}",
    }
    return {
        "state": state.name,
        "text": texts[state.name],
        "result_url": result_url,
        "poll_url": poll_url,
        "retry_url": result_url,
    }


def send_pdf(document: Any, *, name: str) -> FileResponse:
    """Send a PDF to whoever was found allowed to read it."""
    try:
        opened = document.file.open("rb")
    except FileNotFoundError as problem:
        raise Http404("The PDF's file is gone.") from problem
    response = FileResponse(opened, content_type="application/pdf", filename=name)
    response["Cache-Control"] = "private, no-store"
    response["X-Content-Type-Options"] = "nosniff"
    return response
