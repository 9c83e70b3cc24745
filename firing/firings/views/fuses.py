"""From a checked stack to a booked kiln: choose a schedule, then a start."""

from contextlib import suppress
from datetime import datetime
from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods

from firing.firings.forms.loads import FuseBookForm, FuseForm, KilnChoiceForm
from firing.firings.services.firings import book_fuse
from firing.firings.views.starts import booked, start_context
from firing.kiln_time.selectors import fuses
from firing.kiln_time.selectors.bookings import next_booking_of
from firing.kiln_time.selectors.kiln_time import booking_href
from firing.schedules.selectors.design_orders import OutOfTime
from firing.schedules.selectors.designs import (
    asked_for_piece,
    compute_designs,
    is_ready,
)
from firing.schedules.selectors.fuse_anneal import name_of
from firing.schedules.selectors.stacks import FUSES, kind_choices, table_kinds
from firing.schedules.selectors.tables import CAUTIONS
from firing.schedules.services.designs import order_design
from firing.schedules.services.schedules import compute_fuse_schedule
from firing.schedules.views.lookups import schedule_or_404
from firing.schedules.views.within_budget import within_the_budget
from studio.errors import StudioError
from studio.http import (
    OK,
    REFUSED,
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
def fuse_plan(request: StudioRequest, pk: int) -> HttpResponse:
    """Compare kilns and rules for a piece, and save the chosen schedule."""
    now = timezone.now()
    view = piece_or_404(request, pk)
    kinds = table_kinds(view)
    if not kinds or next_booking_of(view.piece) is not None:
        return _not_now(request, view)
    form = FuseForm(posted(request), studio=request.studio, kinds=kinds)
    status = OK
    if request.method == "POST":
        made: list[Schedule] = []
        if form.is_valid() and (ordered := _ordered(request, view, form)):
            return ordered
        status = attempt(
            form,
            lambda: made.append(
                compute_fuse_schedule(
                    piece=view.piece,
                    kiln=form.cleaned_data["kiln"],
                    rule=form.cleaned_data["rule"],
                    kind=form.cleaned_data["kind"],
                    limits=form.limits,
                    by=request.user,
                    at=now,
                )
            ),
        )
        if status == OK:
            book = reverse("firing:fuse_book", args=[pk])
            return redirect(f"{book}?schedule={made[0].pk}")
    return _plan_page(request, view, form, kinds, now, status)


def _ordered(
    request: StudioRequest, view: PieceView, form: FuseForm
) -> HttpResponse | None:
    """Go to the tension page if a computed schedule is not ready in time."""
    chosen = form.cleaned_data
    asked = asked_for_piece(
        view, kiln=chosen["kiln"], kind=chosen["kind"], limits=form.limits
    )
    if chosen["rule"] != fuses.COMPUTED or is_ready(asked):
        return None
    where = urlencode({"kiln": str(asked.kiln.pk), "kind": asked.kind})
    href = (
        f"{reverse('firing:fuse_stress', args=[view.piece.pk])}?{where}"
        f"{_limits_query(request)}"
    )
    try:
        # The service shows the model's refusal beside the form.
        with suppress(StudioError):
            compute_designs(asked, within_the_budget())
    except OutOfTime:
        order_design(studio=request.studio, asked=asked, href=href)
        messages.info(
            request, "The schedule is being computed. Use it when it is there."
        )
        return redirect(href)
    return None


def _plan_page(
    request: StudioRequest,
    view: PieceView,
    form: FuseForm,
    kinds: tuple[str, ...],
    now: datetime,
    status: int,
) -> HttpResponse:
    asked = request.POST if form.is_bound else request.GET
    kind = asked.get("kind", "")
    plan = fuses.plan_fuse(
        view,
        kind=kind if kind in kinds else kinds[0],
        kiln=KilnChoiceForm(asked, studio=request.studio).chosen,
        viewer=viewer_for(request),
        now=now,
        rule=form.cleaned_data.get("rule", "") if form.is_bound else "",
    )
    context = {
        "view": view,
        "piece": view.piece,
        "plan": plan,
        "kinds": kind_choices(kinds),
        "form": form,
        "limits_query": _limits_query(request),
        "cautions": CAUTIONS,
        "place": "pieces",
    }
    return render_page(
        request,
        "firing/firings/fuse_plan.html",
        context,
        fragment="plan",
        status=status,
    )


def _limits_query(request: StudioRequest) -> str:
    """Return the limits sent with a computed schedule, so that they are kept."""
    names = ("temporary_mpa", "residual_mpa", "warning_mpa")
    kept = {name: request.POST[name] for name in names if name in request.POST}
    return f"&{urlencode(kept)}" if kept else ""


def _not_now(request: StudioRequest, view: PieceView) -> HttpResponse:
    """Say why there is nothing to compute for a piece now."""
    booking = next_booking_of(view.piece)
    context = {
        "view": view,
        "piece": view.piece,
        "booking": booking,
        "booking_url": booking_href(booking) if booking is not None else "",
        "place": "pieces",
    }
    status = REFUSED if request.method == "POST" else OK
    return render_page(
        request, "firing/firings/fuse_not_now.html", context, status=status
    )


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
