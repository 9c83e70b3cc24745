"""Making up an enamel firing from the waiting painted layers."""

from datetime import datetime
from typing import TYPE_CHECKING

from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from firing.firings.forms.loads import KilnChoiceForm, LoadForm
from firing.firings.selectors import proposals
from firing.firings.services.firings import make_up_enamel_firing
from firing.plans.views.booked import say_booked
from firing.schedules.selectors.fits import kilns
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    posted,
    render_page,
    requires,
    viewer_for,
)
from studio.roles import Can

if TYPE_CHECKING:
    from firing.models import Firing


@require_http_methods(["GET", "POST"])
@requires(Can.BOOK_KILNS)
def load_new(request: StudioRequest) -> HttpResponse:
    """Propose a load for a kiln, and book it with the maker's changes."""
    now = timezone.now()
    form = LoadForm(posted(request), studio=request.studio, now=now)
    status = OK
    if request.method == "POST":
        made: list[Firing] = []
        status = attempt(form, lambda: made.append(_make_up(request, form, now)))
        if status == OK:
            booking = made[0].booking
            say_booked(request, booking, f"“{booking.title}” is booked.", at=now)
            return redirect("firing:firing_detail", made[0].pk)
    return _page(request, form, now, status)


def _make_up(request: StudioRequest, form: LoadForm, now: datetime) -> "Firing":
    chosen = form.cleaned_data
    return make_up_enamel_firing(
        studio=request.studio,
        kiln=chosen["kiln"],
        passes=list(chosen["passes"]),
        schedule=chosen["schedule"],
        starts_at=chosen["starts_at"],
        by=request.user,
        at=now,
    )


def _page(
    request: StudioRequest, form: LoadForm, now: datetime, status: int
) -> HttpResponse:
    asked = request.POST if request.method == "POST" else request.GET
    viewer = viewer_for(request)
    kiln = KilnChoiceForm(asked, studio=request.studio).chosen
    proposal = proposals.propose_load(
        studio=request.studio,
        kilns=list(kilns(request.studio)),
        kiln=kiln,
        # Another programme was chosen: what was ticked and typed so far stays.
        ticked=asked.getlist("passes") if form.is_bound or "passes" in asked else None,
        viewer=viewer,
        now=now,
        by=asked.get("schedule", ""),
    )
    typed = form["starts_at"].value() if form.is_bound else asked.get("starts_at")
    if typed and not form.is_bound:
        form.initial["starts_at"] = typed
    if typed is None and proposal is not None:
        form.initial["starts_at"] = proposal.offer and proposal.offer.earliest
    context = {"form": form, "proposal": proposal, "moment": form["starts_at"]}
    return render_page(
        request,
        "firing/firings/load_form.html",
        context,
        fragment="load",
        status=status,
    )
