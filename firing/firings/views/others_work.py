"""Other work in a load: added, and corrected."""

from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from firing.firings.forms.others_work import WorkAddedForm, WorkChangedForm
from firing.firings.services.others_work import add_work, change_work
from firing.loads.selectors.firings import load_items, title_of
from firing.loads.views.lookups import firing_or_404
from studio.answers import FormPage, answer_form
from studio.http import StudioRequest, posted, requires
from studio.roles import Can

if TYPE_CHECKING:
    from firing.models import Firing


@require_http_methods(["GET", "POST"])
@requires(Can.RUN_FIRINGS)
def work_add(request: StudioRequest, pk: int) -> HttpResponse:
    """Add another thing to a load, in words."""
    firing = firing_or_404(request, pk)
    form = WorkAddedForm(posted(request), studio=request.studio)
    return answer_form(
        request,
        _page("Add other work", firing),
        form,
        lambda: add_work(
            firing=firing, by=request.user, at=timezone.now(), **_chosen(form)
        ),
        told="It is in the load.",
    )


@require_http_methods(["GET", "POST"])
@requires(Can.RUN_FIRINGS)
def work_change(request: StudioRequest, pk: int) -> HttpResponse:
    """Correct what a thing in a load is and whose."""
    items = load_items(request.studio).select_related("kiln_user")
    item = get_object_or_404(items, pk=pk)
    if not item.description:
        messages.error(request, f"{item} is a piece's: its maker is on the piece.")
        return redirect("firing:firing_detail", item.firing_id)
    form = WorkChangedForm(
        posted(request),
        studio=request.studio,
        now=item.kiln_user,
        initial={"description": item.description, "kiln_user": item.kiln_user},
    )
    return answer_form(
        request,
        _page(f"Change {item}", item.firing),
        form,
        lambda: change_work(
            item=item, by=request.user, at=timezone.now(), **_chosen(form)
        ),
        told="The load is corrected.",
    )


def _chosen(form: WorkAddedForm) -> dict[str, Any]:
    return {"kiln_user": None} | form.cleaned_data


def _page(title: str, firing: "Firing") -> FormPage:
    return FormPage(
        title=title,
        submit="Save",
        back_url=reverse("firing:firing_detail", args=[firing.pk]),
        back_label=title_of(firing),
        place="kilns",
    )
