"""Saved schedules: the list, saving a design, and booking a kiln by one."""

from datetime import datetime
from typing import TYPE_CHECKING

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from firing.firings.forms.loads import WorkForm
from firing.firings.services.firings import book_fuse, book_work
from firing.firings.views.starts import booked, start_context
from firing.kiln_time.selectors.fuses import COMPUTED
from firing.loads.selectors.saved_schedules import is_enamel, kept_rows, kept_schedules
from firing.schedules.forms.stress import DesignForm
from firing.schedules.selectors.design_orders import OutOfTime, recent_orders
from firing.schedules.selectors.designs import compute_designs, is_ready
from firing.schedules.selectors.refusal_words import refusal_words
from firing.schedules.services.designs import order_design
from firing.schedules.services.schedules import keep_design
from firing.schedules.views.lookups import schedule_or_404
from firing.schedules.views.within_budget import within_the_budget
from studio.errors import StudioError
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
    from firing.models import Firing, Schedule

PAGE_LENGTH = 30
AND_BOOK = "book"


@require_safe
@requires(Can.SEE_WORK)
def schedule_list(request: StudioRequest) -> HttpResponse:
    """Show the newest version of each saved schedule, and designs in the making."""
    page = Paginator(kept_schedules(request.studio), PAGE_LENGTH).get_page(
        request.GET.get("page")
    )
    viewer = viewer_for(request)
    context = {
        "page_obj": page,
        "rows": kept_rows(page, viewer),
        "orders": recent_orders(request.studio, timezone.now())
        if viewer.may_book_kilns
        else [],
        "place": "kilns",
    }
    return render_page(request, "firing/firings/schedule_list.html", context)


@require_POST
@requires(Can.BOOK_KILNS)
def schedule_keep(request: StudioRequest) -> HttpResponse:
    """Save the schedule that the designer shows, by `rule`.

    `then=book` goes on to the kiln.
    """
    form = DesignForm(request.POST, studio=request.studio, viewer=viewer_for(request))
    form.ask_for_rule(is_required=False)
    designer = _designer_address(request)
    if not form.is_valid():
        return redirect(designer)
    asked = form.request_parts(rule=COMPUTED)
    try:
        if asked.rule == COMPUTED and not is_ready(asked):
            compute_designs(asked, within_the_budget())
        kept = keep_design(
            studio=request.studio,
            asked=asked,
            by=request.user,
            at=timezone.now(),
            rule=asked.rule,
        )
    except OutOfTime:
        order_design(studio=request.studio, asked=asked, href=designer)
        messages.info(
            request, "The schedule is being computed. Save it when it is there."
        )
        return redirect(designer)
    except StudioError as problem:
        messages.error(request, refusal_words(problem, viewer_for(request)))
        return redirect(designer)
    messages.success(request, f"“{kept.name}” is saved as version {kept.version}.")
    if request.POST.get("then") == AND_BOOK:
        return redirect("firing:schedule_book", kept.pk)
    return redirect("firing:schedule_detail", kept.pk)


def _designer_address(request: StudioRequest) -> str:
    values = request.POST.copy()
    for name in ("csrfmiddlewaretoken", "then"):
        values.pop(name, None)
    return f"{reverse('firing:schedule_designer')}?{values.urlencode()}"


@require_http_methods(["GET", "POST"])
@requires(Can.BOOK_KILNS)
def schedule_book(request: StudioRequest, pk: int) -> HttpResponse:
    """Book a kiln by a saved schedule: for a piece, or for other work in words."""
    now = timezone.now()
    schedule = schedule_or_404(request, pk)
    if schedule.piece_id is not None:
        book = reverse("firing:fuse_book", args=[schedule.piece_id])
        return redirect(f"{book}?schedule={pk}")
    form = WorkForm(posted(request), schedule=schedule, now=now)
    status = OK
    if request.method == "POST":
        made: list[Firing] = []
        status = attempt(form, lambda: made.append(_book(request, schedule, form, now)))
        if status == OK:
            return booked(request, made[0])
    return _book_page(request, schedule, form, now, status)


def _book(
    request: StudioRequest, schedule: "Schedule", form: WorkForm, now: datetime
) -> "Firing":
    chosen = form.cleaned_data
    piece = chosen.get("piece")
    common = {
        "schedule": schedule,
        "starts_at": chosen["starts_at"],
        "by": request.user,
        "at": now,
    }
    if piece is not None:
        return book_fuse(piece=piece, kiln=schedule.kiln, **common)
    return book_work(
        things=chosen["things"], kiln_user=chosen.get("kiln_user"), **common
    )


def _book_page(
    request: StudioRequest,
    schedule: "Schedule",
    form: WorkForm,
    now: datetime,
    status: int,
) -> HttpResponse:
    try:
        context = start_context(request, schedule, form, now=now, status=status)
    except StudioError as problem:
        messages.error(request, f"{problem} Design the schedule again.")
        return redirect("firing:schedule_detail", schedule.pk)
    load = reverse("firing:load_new")
    where = urlencode({"kiln": schedule.kiln_id or "", "schedule": schedule.pk})
    context |= {
        "load_url": f"{load}?{where}" if is_enamel(schedule) else "",
        "place": "kilns",
    }
    return render_page(
        request, "firing/firings/schedule_book.html", context, status=status
    )
