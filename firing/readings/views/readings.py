"""Files of readings: importing, asking what the file does not say, removing."""

from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from firing.controller_log import LogProblem
from firing.loads.views.lookups import firing_or_404
from firing.readings.forms.readings import ReadingsForm
from firing.readings.selectors.logs import Said, open_questions
from firing.readings.services.readings import import_readings, remove_import
from firing.readings.views.lookups import import_or_404
from studio.errors import StudioError
from studio.http import (
    FILLED_IN_WRONGLY,
    OK,
    REFUSED,
    StudioRequest,
    render_page,
    requires,
)
from studio.roles import Can

if TYPE_CHECKING:
    from firing.models import Firing


@require_http_methods(["GET", "POST"])
@requires(Can.RUN_FIRINGS)
def readings_import(request: StudioRequest, pk: int) -> HttpResponse:
    """Import a controller's file, whole or not at all."""
    firing = firing_or_404(request, pk)
    if request.method == "GET":
        return _page(request, firing, ReadingsForm())
    form = ReadingsForm(request.POST, request.FILES)
    if not form.is_valid():
        return _page(request, firing, form, status=FILLED_IN_WRONGLY)
    said = _said(form)
    data, name = form.cleaned_data["data"], form.cleaned_data["name"]
    try:
        source = import_readings(
            firing=firing,
            data=data,
            file_name=name,
            by=request.user,
            at=timezone.now(),
            **said,
        )
    except LogProblem as problem:
        return _problem(request, firing, form, problem, said)
    except StudioError as problem:
        form.add_error(None, str(problem))
        return _page(request, firing, form, status=REFUSED)
    messages.success(request, f"{source.row_count:,} readings are in.")
    return redirect("firing:firing_detail", pk)


def _said(form: ReadingsForm) -> Said:
    typed = form.cleaned_data
    return {
        "unit": typed.get("unit") or None,
        "date_order": typed.get("date_order") or None,
        "elapsed_unit": typed.get("elapsed_unit") or None,
        "temperature_column": typed.get("temperature_column") or None,
    }


def _problem(
    request: StudioRequest,
    firing: "Firing",
    form: ReadingsForm,
    problem: LogProblem,
    said: Said,
) -> HttpResponse:
    """Show what is wrong, line by line, or ask what the file does not say."""
    data, name = form.cleaned_data["data"], form.cleaned_data["name"]
    form.add_error(None, str(problem))
    if not problem.problems and firing.started_at is not None:
        asked = open_questions(
            data,
            started_at=firing.started_at,
            zone=ZoneInfo(request.studio.time_zone),
            said=said,
        )
        form.ask(asked)
        form.keep(data, name)
    return _page(request, firing, form, problem=problem, status=FILLED_IN_WRONGLY)


def _page(
    request: StudioRequest,
    firing: "Firing",
    form: ReadingsForm,
    *,
    problem: LogProblem | None = None,
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
