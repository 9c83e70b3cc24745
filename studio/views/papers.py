"""A paper that is chosen by a form: its address says which, POST has it made."""

from collections.abc import Callable
from dataclasses import dataclass

from django.forms import Form
from django.http import FileResponse, HttpResponse
from django.shortcuts import redirect
from django.utils.http import urlencode

from studio.documents import PaperKey, state_of
from studio.http import (
    FILLED_IN_WRONGLY,
    OK,
    StudioRequest,
    render_page,
    send_document,
)
from studio.services.papers import ask_for


@dataclass(frozen=True, slots=True, kw_only=True)
class ChosenPage:
    """The words of the page on which a paper is chosen."""

    title: str
    intro: str
    back_url: str
    back_label: str
    file_name: str
    hint: str = ""
    """What to mind when it is printed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """A paper as it was chosen: its key, and what its job is told."""

    key: PaperKey
    job_name: str
    arguments: dict[str, object]


def chosen(request: StudioRequest, field: str) -> object:
    """Return what was chosen, once the address has a field that is always sent."""
    return request.GET if field in request.GET else None


def answer_chosen(
    request: StudioRequest, page: ChosenPage, form: Form, order: Callable[[], Order]
) -> HttpResponse | FileResponse:
    """Show the choice, have what was chosen made, tell how far it is, and send it."""
    context: dict[str, object] = {"page": page, "form": form, "place": "pieces"}
    template = "studio/chosen_paper.html"
    if not form.is_bound or not form.is_valid():
        status = FILLED_IN_WRONGLY if form.is_bound else OK
        return render_page(request, template, context, status=status)
    asked = order()
    url = f"{request.path}?{urlencode(request.GET, doseq=True)}"
    if request.method == "POST":
        ask_for(key=asked.key, job_name=asked.job_name, **asked.arguments)
        return redirect(url)
    state = state_of(asked.key)
    if state.document is not None and "file" in request.GET:
        return send_document(state.document, name=page.file_name)
    hint = page.hint if state.document is not None else ""
    context["job"] = {
        "state": state.name,
        "text": f"{state.words} {hint}".strip(),
        "url": url,
        "result": f"{url}&file=1",
    }
    return render_page(request, template, context, fragment="job")
