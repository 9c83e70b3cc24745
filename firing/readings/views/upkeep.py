"""A kiln's upkeep: what is done to it now and then."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from firing.readings.forms.kiln_book import UpkeepForm
from firing.readings.selectors.hot_hours import HOT_C
from firing.readings.selectors.upkeep import upkeep
from firing.readings.services.kiln_book import (
    keep_upkeep,
    remove_upkeep,
    upkeep_done,
)
from firing.readings.views.entries import BOOK, part_url
from firing.schedules.views.lookups import kiln_or_404
from studio.answers import FormPage, answer_form
from studio.http import StudioRequest, posted, requires, say_done, viewer_for
from studio.roles import Can


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_KILNS)
def upkeep_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Have something asked for after so many firings, hours or months."""
    kiln, now, viewer = kiln_or_404(request, pk), timezone.now(), viewer_for(request)
    form = UpkeepForm(posted(request), viewer=viewer, now=now)
    page = FormPage(
        title="Add upkeep",
        submit="Save",
        back_url=part_url(pk, BOOK),
        back_label=str(kiln),
        place="kilns",
        intro="It comes on Today when it is due. Hours hot are hours above "
        f"{viewer.temperature(HOT_C)}.",
    )
    return answer_form(
        request,
        page,
        form,
        lambda: keep_upkeep(kiln=kiln, by=request.user, at=now, **form.cleaned_data),
        told="It is in the kiln book.",
    )


@require_POST
@requires(Can.MANAGE_KILNS)
def upkeep_is_done(request: StudioRequest, pk: int) -> HttpResponse:
    """Record that upkeep was done today."""
    rule = get_object_or_404(upkeep(request.studio), pk=pk)
    now = timezone.now()
    made = upkeep_done(
        rule=rule,
        on=now.astimezone(viewer_for(request).zone).date(),
        by=request.user,
        at=now,
    )
    undo = reverse("firing:kiln_change_remove", args=[made.pk])
    say_done(request, f"{rule.what}: done.", undo_url=undo)
    return redirect(part_url(rule.kiln_id, BOOK))


@require_POST
@requires(Can.MANAGE_KILNS)
def upkeep_remove(request: StudioRequest, pk: int) -> HttpResponse:
    """Ask for something no more."""
    rule = get_object_or_404(upkeep(request.studio), pk=pk)
    kiln_pk = rule.kiln_id
    remove_upkeep(rule=rule, by=request.user, at=timezone.now())
    messages.success(request, "It is not asked for any more.")
    return redirect(part_url(kiln_pk, BOOK))
