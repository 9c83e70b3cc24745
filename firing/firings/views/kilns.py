"""The kilns: what each is doing, day by day."""

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from firing.firings.selectors.kiln_facts import kiln_facts
from firing.kiln_time.selectors import kiln_time
from firing.kiln_time.selectors.kiln_time import KilnState
from firing.kiln_time.views.calendar import calendar_context
from firing.readings.selectors.kiln_book import book_view
from firing.readings.selectors.kiln_record import (
    kiln_record,
    measured_view,
    offset_record,
)
from firing.readings.selectors.loggers import clock_words, loggers_of, token_of
from firing.readings.services.kilns import use_measured_values
from firing.schedules.selectors.fits import kilns
from firing.schedules.views.lookups import kiln_or_404
from studio.errors import StudioError
from studio.http import (
    OK,
    REFUSED,
    StudioRequest,
    render_page,
    requires,
    viewer_for,
)
from studio.roles import Can

if TYPE_CHECKING:
    from firing.kiln_time.selectors.calendar import Calendar
    from studio.models import Kiln


@require_safe
@requires(Can.SEE_WORK)
def kiln_list(request: StudioRequest) -> HttpResponse:
    """Show every kiln over some days; `firing.kiln_time.views.calendar` reads which."""
    now = timezone.now()
    viewer = viewer_for(request)
    rows = list(kilns(request.studio))
    shown = calendar_context(request, rows, viewer=viewer, now=now, key="kilns")
    return render_page(
        request,
        "firing/firings/kiln_list.html",
        {"kilns": rows, **shown},
        fragment="days",
    )


@require_safe
@requires(Can.SEE_WORK)
def kiln_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """Show one kiln: what it is, what it is doing, what is booked."""
    return _page(request, kiln_or_404(request, pk))


@require_POST
@requires(Can.MANAGE_KILNS)
def kiln_use_measured(request: StudioRequest, pk: int) -> HttpResponse:
    """Set a kiln to what its recorded firings say."""
    kiln = kiln_or_404(request, pk)
    try:
        use_measured_values(kiln=kiln, by=request.user, at=timezone.now())
    except StudioError as problem:
        messages.error(request, str(problem))
        return _page(request, kiln, status=REFUSED)
    messages.success(request, f"{kiln} is set to the measured values.")
    return redirect("firing:kiln_detail", pk)


def _page(request: StudioRequest, kiln: "Kiln", *, status: int = OK) -> HttpResponse:
    now = timezone.now()
    viewer = viewer_for(request)
    shown = calendar_context(
        request, [kiln], viewer=viewer, now=now, key="kiln", of_studio=False
    )
    calendar: Calendar = shown["calendar"]
    context = {
        "kiln": kiln,
        "state": _with_links(calendar.states[0]),
        "facts": kiln_facts(kiln, viewer),
        "coming": _with_notes(calendar),
        "loggers": _loggers(kiln) if viewer.may_manage_kilns else (),
        "push_url": request.build_absolute_uri(reverse("firing:readings_push")),
        "measured": measured_view(kiln, kiln_record(kiln), offset_record(kiln), viewer),
        "book": book_view(kiln, viewer, now),
        **shown,
    }
    return render_page(
        request,
        "firing/firings/kiln_detail.html",
        context,
        fragment="days",
        status=status,
    )


def _loggers(kiln: "Kiln") -> list[dict[str, object]]:
    """Return the loggers of a kiln, for those who manage kilns."""
    return [
        {"logger": one, "token": token_of(one), "clock": clock_words(one)}
        for one in loggers_of(kiln)
    ]


def _with_notes(calendar: "Calendar") -> list[dict[str, object]]:
    """Return what is coming with its pages and notes."""
    return [
        {
            "booking": booking,
            "href": kiln_time.booking_href(booking),
            "notes": calendar.notes.get(booking.pk, []),
        }
        for booking in calendar.coming
    ]


def _with_links(state: KilnState) -> dict[str, object]:
    booking = state.booking
    return {
        "state": state,
        "href": kiln_time.booking_href(booking) if booking is not None else "",
        "following_href": kiln_time.booking_href(state.following)
        if state.following is not None
        else "",
    }
