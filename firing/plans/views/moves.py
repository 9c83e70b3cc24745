"""Moving a booking: a page that works without scripts, and the answers for a drag."""

from datetime import datetime
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from firing.kiln_time.selectors.booking_loads import booking_name
from firing.kiln_time.selectors.kiln_time import booking_href
from firing.kiln_time.selectors.move_words import drawn, nearest_words, span_words
from firing.kiln_time.selectors.moving import MoveVerdict, judge_move, why_fixed
from firing.kiln_time.views.lookups import booking_or_404
from firing.plans.forms.moves import MoveForm, PlaceForm
from firing.plans.services.moves import move_booking
from studio.errors import StudioError
from studio.http import (
    FILLED_IN_WRONGLY,
    OK,
    REFUSED,
    StudioRequest,
    attempt,
    posted,
    render_page,
    requires,
    viewer_for,
)
from studio.roles import Can
from studio.viewer import Viewer

if TYPE_CHECKING:
    from firing.models import Booking


@require_http_methods(["GET", "POST"])
@requires(Can.BOOK_KILNS)
def booking_move(request: StudioRequest, pk: int) -> HttpResponse:
    """Say what a move would do (GET with a start), or move it (POST)."""
    now = timezone.now()
    booking = booking_or_404(request, pk)
    asked = request.GET if "starts_at" in request.GET else None
    form = MoveForm(
        posted(request) or asked,
        studio=request.studio,
        initial={"kiln": booking.kiln_id, "starts_at": booking.starts_at},
    )
    status, verdict = OK, None
    if request.method == "POST":
        status = attempt(form, lambda: _move(request, booking, form, now))
        if status == OK:
            return redirect(booking_href(booking))
    if form.is_bound and status != FILLED_IN_WRONGLY and not _is_unread(form):
        verdict = _asked(booking, form, viewer_for(request), now)
    context = {
        "booking": booking,
        "name": booking_name(booking),
        "back_url": booking_href(booking),
        "form": form,
        "fixed": why_fixed(booking, now),
        "verdict": verdict,
    }
    return render_page(
        request, "firing/plans/booking_move.html", context, status=status
    )


def _move(
    request: StudioRequest, booking: "Booking", form: MoveForm, now: datetime
) -> None:
    moved = move_booking(
        booking=booking,
        kiln=form.cleaned_data["kiln"],
        starts_at=form.cleaned_data["starts_at"],
        by=request.user,
        at=now,
    )
    messages.success(request, _moved_words(moved, booking, viewer_for(request), now))


def _moved_words(
    moved: "Booking", before: "Booking", viewer: Viewer, now: datetime
) -> str:
    words = (
        f"“{moved.title}” is moved: {moved.kiln}, "
        f"{viewer.moment(moved.starts_at, now)}."
    )
    if before.is_provisional and not moved.is_provisional:
        words += " It is confirmed with that, so that no plan moves it."
    return words


def _is_unread(form: MoveForm) -> bool:
    """Return whether a field could not be read; a refusal leaves the fields readable."""
    return any(name in form.errors for name in form.fields)


def _asked(
    booking: "Booking", form: MoveForm, viewer: Viewer, now: datetime
) -> dict[str, Any]:
    """Return what to show for a start that was typed."""
    verdict = judge_move(
        booking,
        kiln=form.cleaned_data["kiln"],
        starts_at=form.cleaned_data["starts_at"],
        viewer=viewer,
        now=now,
    )
    return {
        "is_permitted": verdict.is_permitted and not verdict.is_where_it_is,
        "is_where_it_is": verdict.is_where_it_is,
        "words": span_words(verdict, viewer, now),
        "problems": verdict.problems,
        "nearest_words": nearest_words(verdict, viewer, now),
        "nearest": verdict.nearest,
        "consequences": verdict.consequences,
        "lands_elsewhere": verdict.snap_to not in {None, verdict.starts_at},
        "kiln": verdict.kiln,
        "starts_at": verdict.starts_at,
    }


@require_http_methods(["GET", "POST"])
@requires(Can.BOOK_KILNS)
def booking_place(request: StudioRequest, pk: int) -> JsonResponse:
    """Judge a place on the ribbon (GET), or take it or the nearest one (POST).

    A refusal answers 409 and leaves the booking where it is.
    """
    now = timezone.now()
    booking = booking_or_404(request, pk)
    form = PlaceForm(
        request.POST if request.method == "POST" else request.GET,
        studio=request.studio,
    )
    if not form.is_valid():
        words = "That is no place in a kiln of this studio. The booking stays."
        return JsonResponse({"place": "", "words": words}, status=FILLED_IN_WRONGLY)
    viewer, kiln = viewer_for(request), form.cleaned_data["kiln"]
    verdict = judge_move(
        booking, kiln=kiln, starts_at=form.starts_at, viewer=viewer, now=now
    )
    if request.method == "GET":
        return JsonResponse(drawn(verdict, viewer, now))
    return _take(request, verdict, viewer, now)


def _take(
    request: StudioRequest, verdict: MoveVerdict, viewer: Viewer, now: datetime
) -> JsonResponse:
    booking, told = verdict.booking, drawn(verdict, viewer, now)
    stays = verdict.kiln.pk == booking.kiln_id and verdict.snap_to == booking.starts_at
    if verdict.snap_to is None or stays:
        words = f"{told['words']} It stays where it was."
        return JsonResponse({**told, "words": words}, status=REFUSED)
    try:
        moved = move_booking(
            booking=booking,
            kiln=verdict.kiln,
            starts_at=verdict.snap_to,
            by=request.user,
            at=now,
        )
    except StudioError as problem:
        words = f"{problem} It stays where it was."
        return JsonResponse({**told, "words": words}, status=REFUSED)
    parts = [*verdict.consequences]
    if verdict.problems:
        asked = viewer.moment(verdict.starts_at, now)
        parts.insert(0, f"Not {asked}: {' '.join(verdict.problems)}")
    place = _moved_words(moved, booking, viewer, now)
    return JsonResponse({**told, "place": place, "words": " ".join(parts)})
