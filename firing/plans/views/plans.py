"""The kiln plan: the one that stands, the one on offer, accepting it, and why."""

from datetime import datetime
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from firing.kiln_time.selectors.ruled_out import bookings_ruled_out
from firing.loads.selectors.planned import standing_plan
from firing.plans.selectors.changes import changes_words
from firing.plans.selectors.holding import overdue_words
from firing.plans.selectors.plans import (
    failed_plan,
    is_forgotten,
    making_plan,
    nothing_waits,
    plans,
    ready_plan,
)
from firing.plans.selectors.record import taken_record
from firing.plans.selectors.sheet import option_sheet, standing_sheet
from firing.plans.selectors.why import why_of
from firing.plans.selectors.words import OPTION_TITLES, quality_words
from firing.plans.services.acceptance import PlanOutdated, accept_plan
from firing.plans.services.confirmation import confirm
from firing.plans.services.plans import ask_for_plan, refuse_plan, stop_plan
from studio.errors import StudioError
from studio.http import (
    REFUSED,
    StudioRequest,
    piece_or_404,
    render_page,
    requires,
    viewer_for,
)
from studio.roles import Can
from studio.viewer import Viewer

if TYPE_CHECKING:
    from firing.models import Plan

NEW, AGAIN = "new", "again"


@require_safe
@requires(Can.SEE_WORK)
def plan_page(request: StudioRequest) -> HttpResponse:
    """Show the standing plan, and what needs attention; htmx asks only for the search."""
    making = making_plan(request.studio)
    if request.htmx and not request.htmx.boosted:
        response = render_page(
            request,
            "firing/plans/_plan_job.html",
            {"job": _job(making), "making": making},
        )
        if making is None:
            # A finished plan changes the whole page.
            response["HX-Refresh"] = "true"
        return response
    return _page(request, making)


def _page(
    request: StudioRequest, making: "Plan | None", *, status: int = 200
) -> HttpResponse:
    now, viewer = timezone.now(), viewer_for(request)
    standing, ready = standing_plan(request.studio), ready_plan(request.studio)
    failed = failed_plan(request.studio) if making is None else None
    context: dict[str, Any] = {
        "standing": standing,
        "ready": ready,
        "failed": failed,
        "making": making,
        "job": _job(making),
        "nothing_waits": nothing_waits(request.studio),
        "ruled_out": bookings_ruled_out(viewer, now),
    }
    if ready is not None:
        context["ready_words"] = quality_words(ready, ready.options[0])
    if standing is not None:
        record = taken_record(standing)
        late = overdue_words(standing, now)
        troubles = [*late, *(t for t in standing.troubles if t not in late)]
        context |= {
            "sheet": standing_sheet(
                standing, record.get("deliveries", {}), viewer=viewer, now=now
            ),
            "holds": standing.holds and not late,
            "troubles": troubles if late or not standing.holds else [],
            "words": _standing_words(standing),
            "accepted": _accepted(standing, viewer, now),
        }
    return render_page(request, "firing/plans/plan.html", context, status=status)


def _standing_words(standing: "Plan") -> list[str]:
    taken = next(
        (one for one in standing.options if one["name"] == standing.taken), None
    )
    return quality_words(standing, taken) if taken is not None else []


def _accepted(plan: "Plan", viewer: Viewer, now: datetime) -> str:
    who = f" by {plan.closed_by}" if plan.closed_by else ""
    when = f", {viewer.moment(plan.closed_at, now)}" if plan.closed_at else ""
    return f"{plan}, accepted{who}{when}"


def _job(plan: "Plan | None") -> dict[str, str]:
    if plan is None:
        return {"state": "ready", "text": "The plan is ready."}
    progress = plan.job.progress if plan.job is not None else ""
    text = f"{progress or 'The plan waits for its turn'}."
    if plan.stop_asked_at is not None:
        text = f"Stopping with the best plan so far. {text if progress else ''}".strip()
    return {"state": "making", "text": text}


@require_POST
@requires(Can.BOOK_KILNS)
def plan_make(request: StudioRequest) -> HttpResponse:
    """Order a plan from the worker."""
    wish = AGAIN if request.POST.get("wish") == AGAIN else NEW
    now = timezone.now()
    try:
        ask_for_plan(studio=request.studio, wish=wish, by=request.user, at=now)
    except StudioError as problem:
        messages.error(request, str(problem))
        return _page(request, making_plan(request.studio), status=REFUSED)
    return redirect("firing:plan")


@require_POST
@requires(Can.BOOK_KILNS)
def plan_confirm(request: StudioRequest) -> HttpResponse:
    """Confirm one provisional booking of the plan, or all of them."""
    one = request.POST.get("booking")
    chosen = None if one is None else [int(one)] if one.isdecimal() else []
    try:
        count = confirm(
            studio=request.studio,
            bookings=chosen,
            by=request.user,
            at=timezone.now(),
        )
    except StudioError as problem:
        messages.error(request, str(problem))
        return _page(request, making_plan(request.studio), status=REFUSED)
    more = ""
    if one and count > 1:
        more = " What must be fired before it is confirmed with it."
    messages.success(
        request,
        f"{count} booking{'' if count == 1 else 's'} confirmed: "
        f"{'it' if count == 1 else 'they'} will not move.{more}",
    )
    is_from_kilns = request.POST.get("back") == "kilns"
    return redirect("firing:kiln_list" if is_from_kilns else "firing:plan")


@require_safe
@requires(Can.SEE_WORK)
def plan_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """Show a plan on offer: what it changes, and what it fires when."""
    return _detail(request, _plan_or_404(request, pk))


def _plan_or_404(request: StudioRequest, pk: int) -> "Plan":
    return get_object_or_404(plans(request.studio), pk=pk)


def _detail(request: StudioRequest, plan: "Plan", *, status: int = 200) -> HttpResponse:
    now, viewer = timezone.now(), viewer_for(request)
    is_first = plan.based_on_id is None
    options = [
        {
            "name": option["name"],
            "title": OPTION_TITLES.get(option["name"], "What was taken"),
            "is_recommended": number == 0 and len(plan.options) > 1,
            "words": quality_words(plan, option),
            "moves": option["moves"],
            "changes": []
            if is_first
            else changes_words(option, viewer=viewer, now=now),
            "sheet": option_sheet(option["record"], viewer=viewer, now=now),
        }
        for number, option in enumerate(plan.options)
    ]
    context = {
        "plan": plan,
        "options": options,
        "is_first": is_first,
        "may_take": plan.state == "ready" and viewer.may_book_kilns,
        "is_forgotten": is_forgotten(plan),
        "state_words": plan.get_state_display(),
        "ticked": set(request.POST.getlist("pieces")),
    }
    return render_page(request, "firing/plans/plan_detail.html", context, status=status)


@require_POST
@requires(Can.BOOK_KILNS)
def plan_stop(request: StudioRequest, pk: int) -> HttpResponse:
    """End the search and keep the best plan found so far."""
    stop_plan(plan=_plan_or_404(request, pk), at=timezone.now())
    return redirect("firing:plan")


@require_POST
@requires(Can.BOOK_KILNS)
def plan_refuse(request: StudioRequest, pk: int) -> HttpResponse:
    """Reject a plan."""
    plan = _plan_or_404(request, pk)
    try:
        refuse_plan(plan=plan, by=request.user, at=timezone.now())
    except StudioError as problem:
        messages.error(request, str(problem))
        return _detail(request, plan, status=REFUSED)
    messages.success(request, f"{plan} is put aside. Nothing was booked.")
    return redirect("firing:plan")


@require_POST
@requires(Can.BOOK_KILNS)
def plan_accept(request: StudioRequest, pk: int) -> HttpResponse:
    """Accept a plan, whole or only the ticked changes."""
    plan, now = _plan_or_404(request, pk), timezone.now()
    ticked = [int(one) for one in request.POST.getlist("pieces") if one.isdecimal()]
    is_part = request.POST.get("take") == "ticked"
    if is_part and not ticked:
        messages.error(request, "Tick at least one piece whose changes you take.")
        return _detail(request, plan, status=REFUSED)
    try:
        taken = accept_plan(
            plan=plan,
            option=request.POST.get("option", ""),
            by=request.user,
            at=now,
            pieces=ticked if is_part else None,
        )
    except PlanOutdated as problem:
        messages.error(request, f"{problem} {_made_anew(request, now)}")
        for change in problem.changes:
            messages.warning(request, change)
        return redirect("firing:plan")
    except StudioError as problem:
        messages.error(request, str(problem))
        return _detail(request, plan, status=REFUSED)
    messages.success(request, _taken_words(taken, ticked if is_part else None))
    return redirect("firing:plan")


def _made_anew(request: StudioRequest, now: datetime) -> str:
    """Order a plan to replace an outdated one, and say so, or why not."""
    try:
        plan = ask_for_plan(studio=request.studio, wish=AGAIN, by=request.user, at=now)
    except StudioError as problem:
        return str(problem)
    return f"{plan} is being made from how things are now."


def _taken_words(plan: "Plan", ticked: list[int] | None) -> str:
    words = (
        f"{plan} stands. Its firings are provisional bookings until you confirm them."
    )
    if ticked is None:
        return words
    changed = {one["piece"] for one in _option(plan, plan.taken)["changes"]}
    more = len(changed - set(ticked))
    if more:
        words += (
            f" {more} more piece{'' if more == 1 else 's'} had to change with what you "
            "ticked."
        )
    return words


def _option(plan: "Plan", name: str) -> dict[str, Any]:
    found: dict[str, Any] | None = next(
        (one for one in plan.options if one["name"] == name), None
    )
    if found is None:
        raise Http404("This plan has no such option.")
    return found


@require_safe
@requires(Can.SEE_WORK)
def plan_why(request: StudioRequest, pk: int) -> HttpResponse:
    """Say why a piece is ready on its day; `?plan=7&option=wider` asks about an offer."""
    now, viewer = timezone.now(), viewer_for(request)
    piece = piece_or_404(request, pk).piece
    number, record = request.GET.get("plan", ""), None
    back = reverse("firing:plan")
    if number.isdecimal():
        plan = _plan_or_404(request, int(number))
        record = _option(plan, request.GET.get("option", ""))["record"]
        back = reverse("firing:plan_detail", args=[plan.pk])
    context: dict[str, Any] = {"back": back}
    status = 200
    try:
        why = why_of(
            studio=request.studio,
            piece=piece.pk,
            standing=standing_plan(request.studio),
            record=record,
            viewer=viewer,
            now=now,
        )
        context |= {
            "why": why,
            "chain": [
                (viewer.moment(link.until, now), link.what, link.notes)
                for link in why.reasons
            ],
        }
    except StudioError as problem:
        context["problem"], status = str(problem), REFUSED
    return render_page(request, "firing/plans/plan_why.html", context, status=status)
