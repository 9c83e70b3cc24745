"""Putting right what a logger sent of a firing."""

from dataclasses import replace
from typing import TYPE_CHECKING

from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from firing.loads.selectors.firings import title_of
from firing.loads.views.lookups import firing_or_404
from firing.readings.forms.pushed import PushedForm
from firing.readings.selectors.pushed import (
    PushedRow,
    change_words,
    pushed_in,
    pushed_of,
    span_words,
)
from firing.readings.services.pushed import correct_pushed
from studio.answers import FormPage, answer_form, form_page
from studio.http import OK, REFUSED, StudioRequest, posted, requires, viewer_for
from studio.roles import Can

if TYPE_CHECKING:
    from firing.models import Firing


@require_http_methods(["GET", "POST"])
@requires(Can.RUN_FIRINGS)
def readings_pushed(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """Remove a logger's readings of a span, or say in which unit they were sent.

    The first answer says what that would be; the second does it.
    """
    firing, now, viewer = (
        firing_or_404(request, pk),
        timezone.now(),
        viewer_for(request),
    )
    pushed = pushed_of(firing, number)
    whole = None if pushed is None else pushed_in(firing, pushed)
    if pushed is None or whole is None:
        # All that it sent was removed, or it never sent anything of this firing.
        return redirect("firing:firing_detail", pk)
    page = _page(firing, whole, span_words(whole, viewer=viewer, now=now))
    form = PushedForm(posted(request), zone=firing.studio.time_zone)
    if request.method == "GET" or not form.is_valid():
        return form_page(request, page, form, 422 if form.errors else 200)
    cleaned = form.cleaned_data
    span = replace(pushed, first_at=cleaned["first_at"], last_at=cleaned["last_at"])
    found = pushed_in(firing, span)
    if found is None:
        form.add_error("first_at", "Nothing was sent in this time.")
        return form_page(request, page, form, 422)
    if cleaned["seen"] != found.mark:
        shown = PushedForm(
            {**request.POST.dict(), "seen": found.mark}, zone=firing.studio.time_zone
        )
        if cleaned["seen"]:
            shown.add_error(None, "These readings were changed since you looked.")
        asking = replace(
            page,
            intro=change_words(found, cleaned["change"], viewer=viewer, now=now),
            submit=f"Do it to these {found.count:,} readings",
        )
        return form_page(request, asking, shown, REFUSED if cleaned["seen"] else OK)
    return answer_form(
        request,
        page,
        form,
        lambda: correct_pushed(
            firing=firing,
            pushed=span,
            change=cleaned["change"],
            seen=cleaned["seen"],
            by=request.user,
            at=now,
        ),
        told=f"{found.count:,} readings are put right.",
    )


def _page(firing: "Firing", whole: PushedRow, words: str) -> FormPage:
    return FormPage(
        title=f"Readings from {whole.name}",
        submit="Show what this changes",
        back_url=reverse("firing:firing_detail", args=[firing.pk]),
        back_label=title_of(firing),
        facts=(words,),
        intro="Set the logger itself too: what it sends from now on is read as before.",
    )
