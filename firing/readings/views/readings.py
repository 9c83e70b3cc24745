"""Files of readings: sending, asking what the file does not say, removing."""

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from firing.controller_log import LogProblem
from firing.loads.views.lookups import firing_or_404
from firing.readings.forms.readings import AnswersForm, ReadingsForm
from firing.readings.selectors.imports import told_of
from firing.readings.selectors.sent_files import sent_file, view_sent
from firing.readings.services.readings import remove_import
from firing.readings.services.sent_files import (
    answer_file,
    keep_file,
    take_away,
    take_file,
)
from firing.readings.views.lookups import import_or_404
from studio.errors import StudioError
from studio.http import (
    FILLED_IN_WRONGLY,
    OK,
    REFUSED,
    StudioRequest,
    go_to,
    posted,
    render_page,
    requires,
    viewer_for,
)
from studio.roles import Can

if TYPE_CHECKING:
    from firing.models import Firing, ReadingImport, SentFile


@require_http_methods(["GET", "POST"])
@requires(Can.RUN_FIRINGS)
def readings_import(request: StudioRequest, pk: int) -> HttpResponse:
    """Send a controller's file, and be asked about it once at most."""
    firing = firing_or_404(request, pk)
    if request.method == "GET":
        return _page(request, firing, ReadingsForm())
    form, now = ReadingsForm(request.POST, request.FILES), timezone.now()
    if not form.is_valid():
        return _page(request, firing, form, status=FILLED_IN_WRONGLY)
    try:
        sent = keep_file(
            firing=firing, upload=form.cleaned_data["file"], by=request.user, at=now
        )
        source = take_file(sent=sent, at=now)
    except LogProblem as problem:
        form.add_error(None, str(problem))
        return _page(request, firing, form, problem, status=FILLED_IN_WRONGLY)
    except StudioError as problem:
        form.add_error(None, str(problem))
        return _page(request, firing, form, status=REFUSED)
    return _went_on(request, sent, source)


@require_http_methods(["GET", "POST"])
@requires(Can.RUN_FIRINGS)
def readings_sent(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """Show what becomes of a file that was sent, and ask what it does not say.

    Once its readings are in it is no longer here, and this leads to its firing.
    """
    firing, now = firing_or_404(request, pk), timezone.now()
    sent = sent_file(firing, number)
    if sent is None:
        return go_to(request, "firing:firing_detail", pk)
    view = view_sent(sent, viewer=viewer_for(request), now=now)
    if request.htmx and request.method == "GET" and view.state != "reading":
        return HttpResponse(headers={"HX-Refresh": "true"})
    # What is left without the bad lines is taken only as it was shown.
    shown = {"leave_out": view.count if view.facts else 0}
    form = AnswersForm(posted(request), questions=view.questions, initial=shown)
    if request.method == "POST" and form.is_valid():
        try:
            source = answer_file(
                sent=sent,
                answers=form.answers,
                leave_out=form.cleaned_data["leave_out"] or 0,
                at=now,
            )
        except StudioError as problem:
            messages.error(request, str(problem))
            return redirect("firing:readings_import", pk)
        return _went_on(request, sent, source)
    return render_page(
        request,
        "firing/readings/readings_sent.html",
        {"firing": firing, "view": view, "form": form, "address": request.path},
        fragment="reading",
        status=FILLED_IN_WRONGLY if form.errors else OK,
    )


def _went_on(
    request: StudioRequest, sent: "SentFile", source: "ReadingImport | None"
) -> HttpResponse:
    """Go on to the firing when a file is in, else to what becomes of it."""
    if source is None:
        return redirect("firing:readings_sent", sent.firing_id, sent.pk)
    told = told_of(source, viewer=viewer_for(request), now=timezone.now())
    messages.success(request, told)
    return redirect("firing:firing_detail", source.firing_id)


@require_POST
@requires(Can.RUN_FIRINGS)
def readings_sent_drop(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """Take a file away that was sent and is not read in."""
    firing = firing_or_404(request, pk)
    sent = sent_file(firing, number)
    if sent is not None and take_away(sent=sent):
        messages.success(request, f"{sent} is taken away. Nothing was imported.")
    else:
        messages.error(request, "This file was read in or taken away meanwhile.")
    return redirect("firing:firing_detail", pk)


def _page(
    request: StudioRequest,
    firing: "Firing",
    form: ReadingsForm,
    problem: LogProblem | None = None,
    *,
    status: int = OK,
) -> HttpResponse:
    context = {"firing": firing, "form": form, "problem": problem}
    return render_page(
        request, "firing/readings/readings_form.html", context, status=status
    )


@require_POST
@requires(Can.RUN_FIRINGS)
def readings_remove(request: StudioRequest, pk: int) -> HttpResponse:
    """Remove a file's readings."""
    source = import_or_404(request, pk)
    firing_pk = source.firing_id
    remove_import(source=source, by=request.user, at=timezone.now())
    messages.success(request, f"The readings from {source.file_name} are removed.")
    return redirect("firing:firing_detail", firing_pk)
