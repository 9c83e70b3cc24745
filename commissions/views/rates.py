"""The page of the studio's rates."""

from dataclasses import fields

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from commissions.forms.rates import RatesForm
from commissions.selectors.rates import StudioRates, studio_rates
from commissions.services.rates import set_rates, take_over_record
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    render_page,
    requires,
)
from studio.roles import Can
from studio.selectors.bench_times import OwnRecord, own_records
from studio.viewer import Viewer


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_STUDIO)
def rates_edit(request: StudioRequest) -> HttpResponse:
    """Set the rates that the next quote starts from."""
    now, records = studio_rates(request.studio), own_records(request.studio)
    if request.POST.get("take") in records:
        return _take_over(request, records[request.POST["take"]])
    shown = {f.name: getattr(now, f.name) for f in fields(now) if f.name != "tasks"}
    form = RatesForm(
        request.POST if request.method == "POST" else None,
        currency=request.studio.currency,
        tasks=now.tasks,
        records=records,
        viewer=Viewer.of_studio(request.studio),
        initial=RatesForm.tidy(shown),
    )
    if request.method != "POST":
        return _page(request, form)
    status = attempt(
        form,
        lambda: set_rates(
            studio=request.studio,
            rates=StudioRates(**form.rates),
            by=request.user,
            at=timezone.now(),
        ),
    )
    if status != OK:
        return _page(request, form, status=status)
    messages.success(request, "The rates are saved. Quotes already made keep theirs.")
    return redirect("commissions:rates_edit")


def _take_over(request: StudioRequest, record: OwnRecord) -> HttpResponse:
    """Let the studio's own records be the rule of their task; nothing else is saved."""
    task = record.taken_over
    take_over_record(
        studio=request.studio, task=task, by=request.user, at=timezone.now()
    )
    messages.success(request, f"{task.name} goes by your own times now.")
    return redirect("commissions:rates_edit")


def _page(request: StudioRequest, form: RatesForm, status: int = OK) -> HttpResponse:
    return render_page(
        request, "commissions/rates_form.html", {"form": form}, status=status
    )
