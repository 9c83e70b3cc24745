"""A firing put right: its start, its unloading, how things came out."""

from typing import TYPE_CHECKING

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from firing.firings.forms.put_right import OutcomeForm, StartedForm
from firing.firings.services.put_right import (
    change_outcome,
    change_start,
    not_started,
    not_unloaded,
)
from firing.loads.selectors.firings import load_items, title_of
from firing.loads.views.lookups import firing_or_404
from studio.answers import FormPage, WayBack, answer_form, answer_undo
from studio.http import StudioRequest, posted, requires
from studio.roles import Can
from studio.undo import needs_reason

if TYPE_CHECKING:
    from firing.models import Firing


@require_http_methods(["GET", "POST"])
@requires(Can.RUN_FIRINGS)
def firing_started(request: StudioRequest, pk: int) -> HttpResponse:
    """Correct when a firing was started."""
    firing, now = firing_or_404(request, pk), timezone.now()
    recorded_at = firing.start_recorded_at or firing.started_at or now
    form = StartedForm(
        posted(request),
        needs_reason=needs_reason(recorded_at, now),
        started_at=firing.started_at or now,
    )
    page = FormPage(title="When was it started?", submit="Save", **_back(firing))
    return answer_form(
        request,
        page,
        form,
        lambda: change_start(
            firing=firing, by=request.user, at=now, **form.cleaned_data
        ),
        told="The start is corrected.",
    )


@require_http_methods(["GET", "POST"])
@requires(Can.RUN_FIRINGS)
def firing_not_started(request: StudioRequest, pk: int) -> HttpResponse:
    """Record that a firing was not started after all."""
    firing, now = firing_or_404(request, pk), timezone.now()
    page = FormPage(
        title="Not started after all",
        submit="It was not started",
        intro="The kiln is booked as before.",
        is_danger=True,
        **_back(firing),
    )
    return answer_undo(
        request,
        page,
        lambda reason: not_started(
            firing=firing, reason=reason, by=request.user, at=now
        ),
        recorded_at=firing.start_recorded_at or firing.started_at or now,
        now=now,
        told="Taken back: it was not started.",
    )


@require_http_methods(["GET", "POST"])
@requires(Can.RUN_FIRINGS)
def firing_not_unloaded(request: StudioRequest, pk: int) -> HttpResponse:
    """Record that a kiln was not unloaded after all."""
    firing, now = firing_or_404(request, pk), timezone.now()
    page = FormPage(
        title="Not unloaded after all",
        submit="It was not unloaded",
        intro="The firing goes on, and nothing is known of how it came out.",
        is_danger=True,
        **_back(firing),
    )
    return answer_undo(
        request,
        page,
        lambda reason: not_unloaded(
            firing=firing, reason=reason, by=request.user, at=now
        ),
        recorded_at=firing.finished_at or now,
        now=now,
        told="Taken back: it was not unloaded.",
    )


@require_http_methods(["GET", "POST"])
@requires(Can.RUN_FIRINGS)
def item_outcome(request: StudioRequest, pk: int) -> HttpResponse:
    """Correct how one thing came out of the kiln."""
    item, now = get_object_or_404(load_items(request.studio), pk=pk), timezone.now()
    form = OutcomeForm(
        posted(request),
        needs_reason=needs_reason(item.firing.finished_at or now, now),
        initial={"outcome": item.outcome, "note": item.outcome_note},
    )
    page = FormPage(title=f"How {item} came out", submit="Save", **_back(item.firing))
    return answer_form(
        request,
        page,
        form,
        lambda: change_outcome(item=item, by=request.user, at=now, **form.cleaned_data),
        told=f"{item}: corrected.",
    )


def _back(firing: "Firing") -> WayBack:
    return {
        "back_url": reverse("firing:firing_detail", args=[firing.pk]),
        "back_label": title_of(firing),
        "place": "kilns",
    }
