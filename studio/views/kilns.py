"""Kilns, the hours when they may be loaded, and closures."""

from dataclasses import replace
from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from studio.answers import FormPage, answer_form, form_page
from studio.forms.kilns import AccessHoursForm, ClosureForm, KilnForm
from studio.http import (
    OK,
    StudioRequest,
    posted,
    requires,
    viewer_for,
)
from studio.panels import PanelRequest, closure_warnings
from studio.roles import Can
from studio.selectors import kilns
from studio.services.hours import add_access_hours
from studio.services.keeping import remove
from studio.views.saving import save_form

if TYPE_CHECKING:
    from studio.models import AccessHours, Closure, Kiln


def _page(title: str, submit: str, intro: str = "") -> FormPage:
    return FormPage(
        title=title,
        submit=submit,
        intro=intro,
        back_url=reverse("studio:settings"),
        back_label="Settings",
    )


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_KILNS)
def kiln_new(request: StudioRequest) -> HttpResponse:
    """Add a kiln."""
    return _edit(
        request, None, replace(_page("Add a kiln", "Add the kiln"), is_paired=True)
    )


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_KILNS)
def kiln_edit(request: StudioRequest, pk: int) -> HttpResponse:
    """Change a kiln."""
    found = get_object_or_404(kilns.kilns(request.studio), pk=pk)
    page = replace(_page(f"Change {found}", "Save the kiln"), is_paired=True)
    return _edit(request, found, page)


def _edit(request: StudioRequest, kiln: "Kiln | None", page: FormPage) -> HttpResponse:
    form = KilnForm(
        posted(request),
        instance=kiln,
        studio=request.studio,
        viewer=viewer_for(request),
    )
    status = OK
    if request.method == "POST":
        status = save_form(request, form)
        if status == OK:
            messages.success(request, f"{form.instance} is saved.")
            return redirect("studio:settings")
    return form_page(request, page, form, status)


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_KILNS)
def access_add(request: StudioRequest) -> HttpResponse:
    """Add hours when kilns may be loaded, to one or several weekdays."""
    form = AccessHoursForm(posted(request))
    intro = "When somebody can load, unload or open a kiln. Times are the studio's own."
    return answer_form(
        request,
        _page("Add access hours", "Add the hours", intro),
        form,
        lambda: add_access_hours(
            studio=request.studio,
            by=request.user,
            at=timezone.now(),
            **form.cleaned_data,
        ),
        told="The hours are added.",
    )


@require_POST
@requires(Can.MANAGE_KILNS)
def access_remove(request: StudioRequest, pk: int) -> HttpResponse:
    """Remove a span of access hours."""
    return _remove(
        request, get_object_or_404(kilns.access_hours(request.studio), pk=pk)
    )


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_KILNS)
def closure_add(request: StudioRequest) -> HttpResponse:
    """Close a kiln, or the whole studio, for a span."""
    asked = PanelRequest(viewer=viewer_for(request), now=timezone.now())
    form = ClosureForm(
        posted(request), studio=request.studio, viewer=asked.viewer, now=asked.now
    )
    status = OK
    if request.method == "POST":
        status = save_form(request, form)
        if status == OK:
            messages.success(request, "The closure is added.")
            for told in closure_warnings(asked, form.instance):
                messages.warning(request, told)
            return redirect("studio:settings")
    return form_page(request, _page("Add a closure", "Add the closure"), form, status)


@require_POST
@requires(Can.MANAGE_KILNS)
def closure_remove(request: StudioRequest, pk: int) -> HttpResponse:
    """Remove a closure."""
    return _remove(request, get_object_or_404(kilns.closures(request.studio), pk=pk))


def _remove(request: StudioRequest, record: "AccessHours | Closure") -> HttpResponse:
    told = str(record)
    remove(studio=request.studio, record=record, by=request.user, at=timezone.now())
    messages.success(request, f"Removed: {told}.")
    return redirect("studio:settings")
