"""Booking a kiln by a schedule of the piece."""

from datetime import datetime
from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from firing.firings.forms.loads import FuseBookForm
from firing.firings.services.firings import book_fuse
from firing.firings.views.starts import booked, start_context
from firing.schedules.selectors.fuse_anneal import name_of
from firing.schedules.selectors.stacks import FUSES
from firing.schedules.views.lookups import schedule_or_404
from studio.errors import StudioError
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    piece_or_404,
    posted,
    render_page,
    requires,
    viewer_for,
)
from studio.roles import Can
from studio.selectors.before_work import hindrances
from studio.selectors.pieces import PieceView
from studio.stages import WorkKind

if TYPE_CHECKING:
    from firing.models import Firing, Schedule


@require_http_methods(["GET", "POST"])
@requires(Can.BOOK_KILNS)
def fuse_book(request: StudioRequest, pk: int) -> HttpResponse:
    """Propose the earliest start for a schedule, and book the whole cycle."""
    now = timezone.now()
    view = piece_or_404(request, pk)
    asked = request.POST if request.method == "POST" else request.GET
    if not asked.get("schedule", "").isdecimal() or len(asked["schedule"]) > 18:
        return redirect("firing:fuse_plan", pk)
    schedule = schedule_or_404(request, int(asked["schedule"]))
    if schedule.piece_id != view.piece.pk:
        raise Http404("That schedule is not one of this piece's.")
    form = FuseBookForm(posted(request), piece=view.piece, now=now)
    status = OK
    if request.method == "POST":
        made: list[Firing] = []
        status = attempt(
            form,
            lambda: made.append(
                book_fuse(
                    piece=view.piece,
                    kiln=schedule.kiln,
                    schedule=form.cleaned_data["schedule"],
                    starts_at=form.cleaned_data["starts_at"],
                    by=request.user,
                    at=now,
                )
            ),
        )
        if status == OK:
            return booked(request, made[0])
    return _book_page(request, view, schedule, form, now, status)


def _book_page(
    request: StudioRequest,
    view: PieceView,
    schedule: "Schedule",
    form: FuseBookForm,
    now: datetime,
    status: int,
) -> HttpResponse:
    form.initial["schedule"] = schedule.pk
    try:
        context = start_context(request, schedule, form, now=now, status=status)
    except StudioError as problem:
        messages.error(request, f"{problem} Compute the schedule again.")
        return redirect("firing:fuse_plan", view.piece.pk)
    context |= {
        "view": view,
        "piece": view.piece,
        "rule_name": name_of(schedule, viewer_for(request)),
        "hindrances": [
            one.words
            for one in hindrances(
                WorkKind.FUSE,
                view.piece,
                may_see_money=viewer_for(request).may_see_money,
            )
            if schedule.kind in FUSES
        ],
        "place": "pieces",
    }
    return render_page(request, "firing/firings/fuse_book.html", context, status=status)
