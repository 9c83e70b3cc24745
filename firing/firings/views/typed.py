"""What somebody typed into a running firing's controller: said with one tap, undone too."""

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from firing.firings.services.typed import record_typed, take_back_typed
from firing.loads.selectors.firings import title_of
from firing.loads.views.lookups import firing_or_404
from firing.readings.forms.typed import TypedForm
from firing.readings.views.judging import type_now_page
from firing.schedules.selectors.typed import all_typed
from studio.answers import FormPage, answer_undo
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    requires,
    say_done,
    viewer_for,
)
from studio.roles import Can

if TYPE_CHECKING:
    from datetime import datetime

    from firing.models import Firing, TypedProgramme


@require_http_methods(["GET", "POST"])
@requires(Can.RUN_FIRINGS)
def firing_typed(request: StudioRequest, pk: int) -> HttpResponse:
    """Record that what the page showed was typed, now or at the given time."""
    firing, now = firing_or_404(request, pk), timezone.now()
    if request.method == "GET":
        return redirect("firing:firing_judgement", pk)
    form = TypedForm(request.POST, firing=firing)
    recorded: list[TypedProgramme] = []
    status = attempt(form, lambda: recorded.append(_record(request, firing, form, now)))
    if status != OK:
        action = request.GET.get("do", "")
        return type_now_page(request, firing, action, form=form, status=status)
    typed = recorded[0]
    when = viewer_for(request).moment(typed.at, now)
    say_done(
        request,
        f"From {when} on this firing follows what you typed.",
        undo_url=reverse("firing:typed_take_back", args=[typed.pk]),
    )
    if typed.said:
        messages.warning(request, typed.said)
    return redirect("firing:firing_detail", pk)


def _record(
    request: StudioRequest, firing: "Firing", form: TypedForm, now: "datetime"
) -> "TypedProgramme":
    action, programme = form.cleaned_data["what"]
    return record_typed(
        firing=firing,
        action=action,
        programme=programme,
        typed_at=form.cleaned_data["typed_at"] or now,
        by=request.user,
        at=now,
    )


@require_http_methods(["GET", "POST"])
@requires(Can.RUN_FIRINGS)
def typed_take_back(request: StudioRequest, pk: int) -> HttpResponse:
    """Record that it was not typed after all."""
    typed = get_object_or_404(all_typed(request.studio), pk=pk)
    now, viewer = timezone.now(), viewer_for(request)
    firing = typed.firing
    page = FormPage(
        title=f"Not typed {viewer.moment(typed.at, now)}",
        submit="It was not typed",
        back_url=reverse("firing:firing_detail", args=[firing.pk]),
        back_label=title_of(firing),
        intro="The firing follows its plan as it was before.",
        is_danger=True,
    )
    return answer_undo(
        request,
        page,
        lambda reason: take_back_typed(
            typed=typed, reason=reason, by=request.user, at=now
        ),
        recorded_at=typed.made_at,
        now=now,
        told="Taken back: this firing follows its plan as it was before.",
    )
