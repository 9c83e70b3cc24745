"""Files of readings: importing, asking what the file does not say, removing."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from firing.controller_log import LogProblem, LogQuestions, Question
from firing.loads.views.lookups import firing_or_404
from firing.readings.forms.readings import AnswersForm, ReadingsForm
from firing.readings.selectors.imports import told_of
from firing.readings.services.kept_files import KeptFile, find_kept, keep_file
from firing.readings.services.readings import (
    LinesLeftOut,
    import_readings,
    remove_import,
)
from firing.readings.views.lookups import import_or_404
from studio.errors import StudioError
from studio.http import (
    FILLED_IN_WRONGLY,
    OK,
    REFUSED,
    StudioRequest,
    render_page,
    requires,
    viewer_for,
)
from studio.roles import Can

if TYPE_CHECKING:
    from firing.models import Firing


@require_http_methods(["GET", "POST"])
@requires(Can.RUN_FIRINGS)
def readings_import(request: StudioRequest, pk: int) -> HttpResponse:
    """Import a controller's file, asking about it once at most if it can be done."""
    firing = firing_or_404(request, pk)
    if request.method == "GET":
        return _page(request, firing, ReadingsForm())
    if "kept" in request.POST:
        return _answered(request, firing, AnswersForm(request.POST))
    form = ReadingsForm(request.POST, request.FILES)
    if not form.is_valid():
        return _page(request, firing, form, status=FILLED_IN_WRONGLY)
    upload = form.cleaned_data["file"]
    file = KeptFile(upload.read(), upload.name or "readings")
    return _import(request, firing, form, file, kept="", answers={}, leave_out=0)


def _answered(
    request: StudioRequest, firing: "Firing", answered: AnswersForm
) -> HttpResponse:
    """Import a file that was sent before, as its sender now says."""
    answers, known = answered.answers, answered.cleaned_data
    kept, form = known.get("kept", ""), ReadingsForm(request.POST)
    file = find_kept(firing=firing, token=kept)
    if file is None:
        form.errors["file"] = form.error_class(
            ["This file is no longer kept here. Choose it again."]
        )
        return _page(request, firing, form, status=FILLED_IN_WRONGLY)
    form.errors.clear()
    leave_out = known.get("leave_out") or 0
    return _import(
        request, firing, form, file, kept=kept, answers=answers, leave_out=leave_out
    )


def _import(
    request: StudioRequest,
    firing: "Firing",
    form: ReadingsForm,
    file: KeptFile,
    *,
    kept: str,
    answers: dict[str, Any],
    leave_out: int,
) -> HttpResponse:
    try:
        source = import_readings(
            firing=firing,
            data=file.data,
            file_name=file.name,
            by=request.user,
            at=timezone.now(),
            leave_out=leave_out,
            **answers,
        )
    except (LogQuestions, LinesLeftOut) as doubt:
        kept = kept or keep_file(firing=firing, data=file.data, name=file.name)
        return _confirm(request, firing, file.name, doubt, answers | {"kept": kept})
    except LogProblem as problem:
        form.add_error(None, str(problem))
        return _page(request, firing, form, problem, status=FILLED_IN_WRONGLY)
    except StudioError as problem:
        form.add_error(None, str(problem))
        return _page(request, firing, form, status=REFUSED)
    told = told_of(source, viewer=viewer_for(request), now=timezone.now())
    messages.success(request, told)
    return redirect("firing:firing_detail", firing.pk)


def _confirm(
    request: StudioRequest,
    firing: "Firing",
    file_name: str,
    doubt: LogQuestions | LinesLeftOut,
    initial: dict[str, Any],
) -> HttpResponse:
    """Ask what the file does not say, or whether it will do without its bad lines."""
    questions: Sequence[Question] = ()
    facts: list[tuple[str, str]] = []
    if isinstance(doubt, LogQuestions):
        questions = doubt.questions
    else:
        initial |= {"leave_out": doubt.count}
        viewer, now = viewer_for(request), timezone.now()
        facts = [
            ("File", file_name),
            ("Readings", f"{doubt.reading_count:,}"),
            ("First", viewer.moment(doubt.first_at, now)),
            ("Last", viewer.moment(doubt.last_at, now)),
            ("Highest", viewer.temperature(doubt.highest_c)),
        ]
    context = {
        "firing": firing,
        "form": AnswersForm(initial=initial, questions=questions),
        "file_name": file_name,
        "doubt": doubt,
        "facts": facts,
    }
    return render_page(
        request,
        "firing/readings/readings_confirm.html",
        context,
        status=FILLED_IN_WRONGLY,
    )


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
