"""Firings: the list, one firing, and its steps: start, finish, cancel."""

from datetime import datetime
from typing import TYPE_CHECKING

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from firing.firings.forms.finish import FinishForm
from firing.firings.forms.put_right import StartForm
from firing.firings.selectors.proposals import drawing_of
from firing.firings.selectors.search import search_firings
from firing.firings.services.firings import cancel_firing
from firing.firings.services.running import Upload, finish_firing, start_firing
from firing.kiln_time.forms.bookings import CancelForm
from firing.kiln_time.selectors.booking_notes import notes_of
from firing.loads.selectors.firings import (
    FiringView,
    load_items,
    looks_of_items,
    title_of,
    view_firing,
    view_firings,
    with_curves,
)
from firing.loads.views.lookups import firing_or_404
from firing.readings.selectors.imports import imports
from firing.readings.selectors.pushed import pushed_lines
from firing.readings.selectors.sent_files import sent_of
from firing.readings.selectors.typed_words import typed_words
from firing.readings.selectors.verdict_faults import cuts_of
from firing.readings.selectors.verdict_inputs import judging_of
from firing.readings.selectors.warnings import with_warnings
from firing.readings.views.judging import verdict_of
from firing.schedules.selectors.charts import charts_of
from firing.schedules.selectors.stacks import FUSES
from firing.schedules.selectors.tables import CAUTIONS, segment_rows
from firing.watch.selectors.events import faults_of
from firing.watch.selectors.words import event_words
from studio.answers import answer_shot
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    done_at,
    go_to,
    posted,
    render_page,
    requires,
    say_done,
    viewer_for,
)
from studio.roles import Can
from studio.selectors.before_work import hindrances
from studio.stages import WorkKind
from studio.viewer import Viewer

if TYPE_CHECKING:
    from firing.models import Firing

PAGE_LENGTH = 15
HOT_CAUTIONS = (
    "A kiln stays hot long after it was switched off; wear gloves and a face shield.",
    "Glass taken out too warm breaks by thermal shock. Wait for the opening temperature.",
    *CAUTIONS,
)


@require_safe
@requires(Can.SEE_WORK)
def firing_list(request: StudioRequest) -> HttpResponse:
    """Show the firings, those in a kiln first, then the newest."""
    now = timezone.now()
    viewer = viewer_for(request)
    search = search_firings(request.studio, request.GET)
    runs = Q(started_at__isnull=False, finished_at__isnull=True)
    running = view_firings(search.found.filter(runs), viewer=viewer, now=now)
    others = search.found.exclude(pk__in=[view.firing.pk for view in running])
    page = Paginator(others, PAGE_LENGTH).get_page(request.GET.get("page"))
    context = {
        "search": search,
        "running": with_curves(with_warnings(running, viewer), request.studio),
        "page_obj": page,
        "rows": with_curves(
            with_warnings(view_firings(page, viewer=viewer, now=now), viewer),
            request.studio,
        ),
    }
    return render_page(request, "firing/firings/firing_list.html", context)


@require_safe
@requires(Can.SEE_WORK)
def firing_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """Show a firing: its load, its schedule, planned and recorded temperature."""
    return _detail(request, firing_or_404(request, pk), CancelForm())


def _detail(
    request: StudioRequest,
    firing: "Firing",
    cancel_form: CancelForm,
    status: int = OK,
    *,
    start_form: StartForm | None = None,
) -> HttpResponse:
    now = timezone.now()
    viewer = viewer_for(request)
    view = view_firing(firing, viewer=viewer, now=now)
    state = judging_of(firing)
    charts = charts_of(
        firing,
        viewer=viewer,
        now=now,
        part=request.GET.get("part", ""),
        cuts=cuts_of(state.judgement) if state.judgement else (),
    )
    is_over = firing.finished_at is not None
    context = {
        "view": view,
        "firing": firing,
        "happened": [
            event_words(one, viewer=viewer, now=now, is_over=is_over)
            for one in (faults_of(firing) if firing.started_at else ())
        ],
        "booking": firing.booking,
        "facts": _facts(firing, view, viewer, now),
        "charts": charts,
        "rows": segment_rows(firing.schedule, viewer),
        "typed": typed_words(firing, viewer=viewer, now=now),
        "drawing": drawing_of(firing, viewer=viewer),
        "notes": notes_of([firing.booking], viewer=viewer, now=now).get(
            firing.booking_id, []
        )
        if view.is_planned or view.is_running
        else [],
        "hindrances": _hindrances(view, viewer),
        "imports": imports(request.studio).filter(firing=firing),
        "sent": sent_of(firing, viewer=viewer, now=now) if firing.started_at else (),
        "pushed": pushed_lines(firing, viewer=viewer, now=now)
        if firing.started_at
        else (),
        "cancel_form": cancel_form,
        "start_form": start_form or StartForm(),
        "verdict": verdict_of(state, viewer),
        "cautions": HOT_CAUTIONS,
    }
    return render_page(
        request, "firing/firings/firing_detail.html", context, status=status
    )


def _hindrances(view: FiringView, viewer: Viewer) -> list[str]:
    """Say what should come before a fuse that is still to be started."""
    if not view.is_planned or view.firing.kind not in FUSES:
        return []
    return [
        one.words
        for piece in view.pieces
        for one in hindrances(WorkKind.FUSE, piece, may_see_money=viewer.may_see_money)
    ]


def _facts(
    firing: "Firing", view: FiringView, viewer: Viewer, now: datetime
) -> list[str]:
    """Return where and when it was fired, in one line."""
    facts = [str(firing.kiln)]
    if firing.started_at is None:
        facts.append(f"Loading begins {viewer.moment(firing.booking.starts_at, now)}")
    else:
        by = f" by {firing.started_by}" if firing.started_by else ""
        facts.append(f"Started {viewer.moment(firing.started_at, now)}{by}")
    if firing.finished_at is None:
        facts.append(f"May be opened {_opens(view, viewer, now)}")
    else:
        by = f" by {firing.finished_by}" if firing.finished_by else ""
        at = viewer.moment(firing.finished_at, now)
        kiln = ""
        if firing.unloaded_at_c is not None:
            kiln = f", the kiln showed {viewer.temperature(firing.unloaded_at_c)}"
        facts.append(f"Unloaded {at}{by}{kiln}")
    return facts


def _opens(view: FiringView, viewer: Viewer, now: datetime) -> str:
    """Say when the kiln may be opened, and below what."""
    below = viewer.temperature(view.booking.opens_below_c)
    if view.known is not None:
        return f"below {below}"
    return f"{viewer.moment(view.booking.opens_at, now)}, below {below}"


@require_POST
@requires(Can.RUN_FIRINGS)
def firing_start(request: StudioRequest, pk: int) -> HttpResponse:
    """Record that the controller was started."""
    firing, now = firing_or_404(request, pk), done_at(request, timezone.now())
    form = StartForm(request.POST)
    started: list[Firing] = []
    status = attempt(
        form,
        lambda: started.append(
            start_firing(
                firing=firing,
                started_at=form.cleaned_data["started_at"],
                by=request.user,
                at=now,
            )
        ),
    )
    if status != OK:
        now_is = firing_or_404(request, pk)
        if now_is.started_at is not None or now_is.cancelled_at is not None:
            # Its page has no such form any more that could say it.
            for told in form.non_field_errors():
                messages.error(request, str(told))
        return _detail(request, now_is, CancelForm(), status, start_form=form)
    say_done(
        request,
        f"“{title_of(firing)}” is started.",
        undo_url=reverse("firing:firing_not_started", args=[pk]),
    )
    if started[0].note:
        messages.warning(request, started[0].note)
    return redirect("firing:firing_detail", pk)


@require_http_methods(["GET", "POST"])
@requires(Can.RUN_FIRINGS)
def firing_finish(request: StudioRequest, pk: int) -> HttpResponse:
    """Record how everything in the load came out."""
    now = done_at(request, timezone.now())
    firing = firing_or_404(request, pk)
    if request.method == "GET" and not (firing.started_at and not firing.finished_at):
        return redirect("firing:firing_detail", pk)
    viewer = viewer_for(request)
    (view,) = with_warnings([view_firing(firing, viewer=viewer, now=now)], viewer)
    form = FinishForm(
        posted(request),
        request.FILES or None,
        items=view.items,
        pictures=looks_of_items(request.studio, view.items),
        may_be_hot=view.known is not None and not view.known.is_cold,
        viewer=viewer,
    )
    status = OK
    if request.method == "POST":
        status = attempt(form, lambda: _finish(request, firing, form, now))
        if status == OK:
            say_done(
                request,
                f"“{title_of(firing)}” is unloaded.",
                undo_url=reverse("firing:firing_not_unloaded", args=[pk]),
            )
            return go_to(request, "firing:firing_detail", pk)
    context = {
        "firing": firing,
        "view": view,
        "form": form,
        "cautions": HOT_CAUTIONS[:2],
    }
    return render_page(
        request,
        "firing/firings/firing_finish.html",
        context,
        fragment="form",
        status=status,
    )


@require_POST
@requires(Can.RUN_FIRINGS)
def item_shot(request: StudioRequest, pk: int) -> HttpResponse:
    """Keep a picture of something in a load, taken while it is unloaded."""
    item = get_object_or_404(load_items(request.studio), pk=pk)
    return answer_shot(
        request,
        piece=item.piece,
        of_pass=item.of_pass,
        caption=f"{item} out of the kiln",
        at=timezone.now(),
    )


def _finish(
    request: StudioRequest, firing: "Firing", form: FinishForm, now: datetime
) -> None:
    finish_firing(
        firing=firing,
        outcomes=form.outcomes,
        pictures_of={
            pk: Upload(file=sent, name=sent.name) for pk, sent in form.uploads.items()
        },
        by=request.user,
        at=now,
        hand=form.hand,
    )


@require_POST
@requires(Can.BOOK_KILNS)
def firing_cancel(request: StudioRequest, pk: int) -> HttpResponse:
    """Cancel a planned firing and give its kiln time back."""
    firing = firing_or_404(request, pk)
    form = CancelForm(request.POST)
    told = [f"“{title_of(firing)}” is cancelled."]
    status = attempt(
        form,
        lambda: told.extend(
            cancel_firing(
                firing=firing,
                reason=form.cleaned_data["reason"],
                by=request.user,
                at=timezone.now(),
            )
        ),
    )
    if status == OK:
        messages.success(request, " ".join(told))
        return redirect("firing:firing_detail", pk)
    return _detail(request, firing, form, status)
