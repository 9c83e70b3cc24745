"""Shared by the pages that book a kiln by a schedule, for a piece or for other work."""

from datetime import datetime
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect

from firing.kiln_time.selectors.bookings import is_attended
from firing.kiln_time.selectors.offers import offer_for
from firing.loads.selectors.firings import title_of
from firing.plans.views.booked import say_booked
from firing.schedules.selectors.tables import CAUTIONS, segment_rows
from studio.http import FILLED_IN_WRONGLY, StudioRequest, viewer_for

if TYPE_CHECKING:
    from firing.models import Firing, Schedule


def start_context(
    request: StudioRequest,
    schedule: "Schedule",
    form: Form,
    *,
    now: datetime,
    status: int,
) -> dict[str, Any]:
    """Return the schedule and its times, from the typed or the proposed start.

    Raises
    ------
    StudioError
        When the kiln cannot run the schedule any more.
    """
    typed = None
    if form.is_bound and status != FILLED_IN_WRONGLY:
        typed = form.cleaned_data.get("starts_at")
    offer = offer_for(schedule, starts_at=typed, now=now)
    if offer is not None:
        form.initial.setdefault("starts_at", offer.earliest)
    return {
        "schedule": schedule,
        "rows": segment_rows(schedule, viewer_for(request)),
        "form": form,
        "offer": offer,
        "cautions": CAUTIONS,
    }


def booked(request: StudioRequest, firing: "Firing") -> HttpResponse:
    """Say that the kiln is booked, and whether somebody is in to load it."""
    told = f"{firing.kiln} is booked for {title_of(firing)}."
    say_booked(request, firing.booking, told, at=firing.made_at)
    lasts_s = firing.booking.planned_curve[1][0]
    if not is_attended(request.studio, firing.booking.starts_at, lasts_s):
        messages.warning(request, "The studio is closed when it is to be loaded.")
    return redirect("firing:firing_detail", firing.pk)
