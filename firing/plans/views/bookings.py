"""Kiln time without a firing: rented out, or blocked for work on the kiln."""

from datetime import datetime
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from firing.kiln_time.forms.bookings import BookingForm, CancelForm, RentedForm
from firing.kiln_time.selectors.booking_loads import booking_name
from firing.kiln_time.selectors.booking_notes import notes_of
from firing.kiln_time.selectors.bookings import first_proposal
from firing.kiln_time.selectors.kiln_time import booking_href
from firing.kiln_time.services.bookings import record_rented
from firing.kiln_time.views.lookups import booking_or_404
from firing.plans.selectors.sheet import planned_of
from firing.plans.services.replace_planned import book_over_plan, cancel_and_put_back
from firing.plans.views.booked import say_booked
from firing.schedules.selectors.fits import kilns
from studio.answers import FormPage, answer_form, answer_undo
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
    from firing.models import Booking

BY_MISTAKE = "Booked by mistake"


@require_http_methods(["GET", "POST"])
@requires(Can.BOOK_KILNS)
def booking_new(request: StudioRequest) -> HttpResponse:
    """Rent a kiln out, or block it for maintenance."""
    now = timezone.now()
    form = BookingForm(
        posted(request), studio=request.studio, initial=_initial(request, now)
    )
    status = OK
    if request.method == "POST":
        made: list[Booking] = []
        status = attempt(
            form,
            lambda: made.append(
                book_over_plan(
                    studio=request.studio, by=request.user, at=now, **form.cleaned_data
                )
            ),
        )
        if status == OK:
            say_booked(request, made[0], f"{made[0].kiln} is booked.", at=now)
            return redirect("firing:booking_detail", made[0].pk)
    context = {"form": form, "has_no_kiln": not kilns(request.studio).exists()}
    return render_page(
        request, "firing/plans/booking_form.html", context, status=status
    )


def _initial(request: StudioRequest, now: datetime) -> dict[str, Any]:
    """Fill in the form from the address: a free span that was found elsewhere."""
    filled = {
        name: request.GET[name]
        for name in ("kiln", "starts_at", "ends_at", "title")
        if name in request.GET
    }
    return {"starts_at": first_proposal(now), **filled}


@require_safe
@requires(Can.SEE_WORK)
def booking_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """Show what a kiln is held for."""
    return _detail(request, booking_or_404(request, pk), CancelForm())


@require_POST
@requires(Can.BOOK_KILNS)
def booking_cancel(request: StudioRequest, pk: int) -> HttpResponse:
    """Give kiln time back."""
    booking = booking_or_404(request, pk)
    form = CancelForm(request.POST)
    told = [f"“{booking_name(booking)}” is cancelled."]
    status = attempt(
        form,
        lambda: told.extend(
            cancel_and_put_back(
                booking=booking,
                reason=form.cleaned_data["reason"],
                by=request.user,
                at=timezone.now(),
            )
        ),
    )
    if status == OK:
        messages.success(request, " ".join(told))
        return redirect("firing:kiln_list")
    return _detail(request, booking, form, status)


@require_http_methods(["GET", "POST"])
@requires(Can.BOOK_KILNS)
def booking_undo(request: StudioRequest, pk: int) -> HttpResponse:
    """Undo a booking, and put back into the plan what gave way to it."""
    booking, now = booking_or_404(request, pk), timezone.now()
    page = FormPage(
        title=f"Undo the booking of {booking.kiln}",
        submit="Undo the booking",
        back_url=booking_href(booking),
        back_label=booking_name(booking),
        place="kilns",
    )
    return answer_undo(
        request,
        page,
        lambda reason: cancel_and_put_back(
            booking=booking, reason=reason or BY_MISTAKE, by=request.user, at=now
        ),
        recorded_at=booking.booked_at,
        now=now,
        told=f"“{booking_name(booking)}” is not booked any more.",
    )


@require_http_methods(["GET", "POST"])
@requires(Can.BOOK_KILNS)
def booking_used(request: StudioRequest, pk: int) -> HttpResponse:
    """Say who rented a kiln, and what of it they used."""
    booking = booking_or_404(request, pk)
    form = RentedForm(
        posted(request),
        booking=booking,
        initial={
            "kiln_user": booking.kiln_user,
            "used_hours": booking.used_hours,
            "used_kwh": booking.used_kwh,
        },
    )
    page = FormPage(
        title="What was used",
        submit="Save",
        back_url=booking_href(booking),
        back_label=booking_name(booking),
        place="kilns",
    )
    return answer_form(
        request,
        page,
        form,
        lambda: record_rented(
            booking=booking,
            by=request.user,
            at=timezone.now(),
            **{"kiln_user": None} | form.cleaned_data,
        ),
        told="Saved.",
    )


def _detail(
    request: StudioRequest, booking: "Booking", form: CancelForm, status: int = OK
) -> HttpResponse:
    viewer = viewer_for(request)
    now = timezone.now()
    firing = getattr(booking, "firing", None)
    facts = [
        ("Kiln", str(booking.kiln)),
        ("From", viewer.moment(booking.starts_at, now)),
        ("Until", viewer.moment(booking.ends_at, now)),
        ("For", booking.get_kind_display()),
        ("Booked", viewer.moment(booking.booked_at, now)),
    ]
    if booking.booked_by is not None:
        facts.append(("By", str(booking.booked_by)))
    if booking.kiln_user is not None:
        facts.append(("Rented to", str(booking.kiln_user)))
    if booking.used_hours is not None:
        facts.append(("Used", f"{booking.used_hours:g} h"))
    if booking.used_kwh is not None:
        facts.append(("Electricity", f"{booking.used_kwh:g} kWh"))
    context = {
        "booking": booking,
        "name": booking_name(booking),
        "facts": facts,
        "notes": notes_of([booking], viewer=viewer, now=now).get(booking.pk, []),
        "is_rented": booking.kind == "rental" and booking.cancelled_at is None,
        "planned": planned_of(booking, viewer=viewer, now=now),
        "form": form,
        "firing_url": booking_href(booking) if firing is not None else "",
        "may_cancel": booking.cancelled_at is None
        and (firing is None or firing.started_at is None)
        and viewer.may_book_kilns,
    }
    return render_page(
        request,
        "firing/plans/booking_detail.html",
        context,
        fragment="card",
        status=status,
    )
