"""Pages that hold one form and little else."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import NotRequired, TypedDict

from django.forms import BaseForm
from django.http import FileResponse, HttpResponse
from django.shortcuts import redirect

from studio.documents import PaperKey, state_of
from studio.fields import UndoForm
from studio.forms.pictures import ShotForm
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    posted,
    render_page,
    say_done,
    send_document,
)
from studio.models import Pass, Piece
from studio.services.papers import ask_for
from studio.services.pictures import keep_shot
from studio.undo import needs_reason


class WayBack(TypedDict):
    """Where a one-form page leads back to, and its place in the navigation."""

    back_url: str
    back_label: str
    place: NotRequired[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class FormPage:
    """A page with one form."""

    title: str
    submit: str
    back_url: str
    back_label: str
    place: str = ""
    intro: str = ""
    is_danger: bool = False
    caution_title: str = ""
    caution_points: tuple[str, ...] = ()
    facts: tuple[str, ...] = ()
    is_paired: bool = False
    """Fields side by side where there is room, for a form of many short ones."""


def form_page(
    request: StudioRequest, page: FormPage, form: BaseForm, status: int = OK
) -> HttpResponse:
    """Show a form, or show it again with everything typed and what is wrong."""
    context = {"page": page, "form": form, "place": page.place}
    return render_page(request, "studio/form_page.html", context, status=status)


def answer_form(
    request: StudioRequest,
    page: FormPage,
    form: BaseForm,
    act: Callable[[], object],
    *,
    told: str,
    undo_url: str | Callable[[], str] = "",
) -> HttpResponse:
    """Show a form; once it is sent, act, say what was done and go back.

    A wrong or refused form is shown again with everything that was typed. With
    `undo_url`, what was done can be undone with one tap; it may be called for once done.
    """
    status = OK
    if request.method == "POST":
        status = attempt(form, act)
        if status == OK:
            undo = undo_url if isinstance(undo_url, str) else undo_url()
            say_done(request, told, undo_url=undo)
            return redirect(page.back_url)
    return form_page(request, page, form, status)


def answer_undo(
    request: StudioRequest,
    page: FormPage,
    act: Callable[[str], object],
    *,
    recorded_at: datetime,
    now: datetime,
    told: str,
    undo_url: str = "",
) -> HttpResponse:
    """Put a recorded fact right: at once while it is fresh, later with a reason.

    `act` gets the reason, which may be empty while it is fresh. With `undo_url`, the
    correction can be undone as well.
    """
    form = UndoForm(posted(request), needs_reason=needs_reason(recorded_at, now))
    return answer_form(
        request,
        page,
        form,
        lambda: act(form.cleaned_data["reason"]),
        told=told,
        undo_url=undo_url,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperPage:
    """A paper and the page on which it is waited for.

    `url` takes the POST that has it made by the job of this name with these arguments.
    """

    title: str
    file_name: str
    key: PaperKey
    job_name: str
    arguments: Mapping[str, object]
    url: str
    back_url: str
    back_label: str
    place: str


def answer_paper(
    request: StudioRequest, page: PaperPage
) -> HttpResponse | FileResponse:
    """Send a paper's PDF if it is there. POST has it made; looking never does."""
    if request.method == "POST":
        ask_for(key=page.key, job_name=page.job_name, **page.arguments)
        return redirect(page.url)
    state = state_of(page.key)
    if state.document is not None and not request.htmx:
        return send_document(state.document, name=page.file_name)
    job = {"state": state.name, "text": state.words, "url": page.url}
    context = {"page": page, "job": job, "place": page.place}
    return render_page(request, "studio/paper_page.html", context, fragment="job")


def answer_shot(
    request: StudioRequest,
    *,
    at: datetime,
    piece: Piece | None = None,
    of_pass: Pass | None = None,
    caption: str = "",
) -> HttpResponse:
    """Keep a shot that a page of the bench sends; what is refused is told in plain words."""
    form = ShotForm(request.POST, request.FILES)
    status = attempt(
        form,
        lambda: keep_shot(
            shot=form.cleaned_data["shot"],
            studio=request.studio,
            upload=form.cleaned_data["picture"],
            name=form.cleaned_data["picture"].name,
            piece=piece,
            of_pass=of_pass,
            caption=caption,
            by=request.user,
            at=at,
        ),
    )
    told = " ".join(str(one) for each in form.errors.values() for one in each)
    return HttpResponse(told, status=status, content_type="text/plain; charset=utf-8")
